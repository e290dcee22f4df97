//! Tests of sweeps: rows looked along or done in one stroke. All data are made up.

use super::*;

fn swept(
    phone: &mut Phone,
    measure: &'static str,
    (from, to): (i64, i64),
    except: &[i64],
) -> Entry {
    let note = |number: &i64| Note::new(*number).unwrap();
    let kind = EntryKind::Swept {
        measure: MeasureId::of(measure),
        notes: SweptNotes {
            from: note(&from),
            to: note(&to),
            except: except.iter().map(note).collect(),
        },
        place: BENCH,
        occasion: Occasion::Working,
    };
    phone.act(kind)
}

fn marked(phone: &mut Phone, measure: &'static str, number: i64, out: bool) -> Entry {
    phone.act(EntryKind::MarkedOut {
        measure: MeasureId::of(measure),
        on: on(number),
        place: BENCH,
        occasion: Occasion::Working,
        out,
    })
}

/// A letter for each note from 20 to 26: not measured, measured, to re-measure, swept, to look along again, out and not
/// measured.
fn row(phone: &Phone, step: &str) -> String {
    let step = phone.state().step(step).unwrap();
    let items = phone.state().items(step).into_iter();
    let near = items.filter(|i| i.on.note().is_some_and(|n| (20..=26).contains(&n.number())));
    near.map(|item| match phone.state().item_state(step, &item) {
        ItemState::NotRead => '.',
        ItemState::Read(..) => 'm',
        ItemState::Remeasure(..) => 'r',
        ItemState::Swept(_) => 's',
        ItemState::SweepAgain(..) => 'a',
        ItemState::MarkedOut(_) => 'o',
    })
    .collect()
}

#[test]
fn a_row_is_swept_but_for_its_exceptions_and_a_measured_note_keeps_its_value() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    phone.read("blow", on(22), BENCH, 45_100_000);
    swept(&mut phone, "blow", (21, 25), &[24]);
    assert_eq!(row(&phone, "blow"), ".sms.s.");
    phone.read("blow", on(24), BENCH, 47_000_000);
    assert_eq!(row(&phone, "blow"), ".smsms.");
    let progress = phone.progress("blow");
    assert_eq!((progress.read, progress.swept), (5, 3));
    assert_eq!((progress.on_target, progress.out), (4, 1));
    // A number takes the place of a look.
    phone.read("blow", on(23), BENCH, 45_200_000);
    assert_eq!(row(&phone, "blow"), ".smmms.");
    assert_eq!(phone.progress("blow").swept, 2);
    // The other way round is no range, and names no note.
    swept(&mut phone, "drop", (25, 21), &[]);
    assert_eq!(row(&phone, "drop"), ".......");
}

#[test]
fn what_was_swept_and_spoiled_is_looked_along_again() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    phone.read("let_off", on(22), BENCH, 2_000_000);
    swept(&mut phone, "let_off", (20, 26), &[22]);
    assert_eq!(row(&phone, "let_off"), "ssmssss");
    // The jack of two notes was moved: neither look nor number holds there.
    for number in [21, 22] {
        phone.correct("jack_position", on(number), BENCH);
    }
    assert_eq!(row(&phone, "let_off"), "sarssss");
    assert_eq!(phone.progress("let_off").to_remeasure, 2);
    swept(&mut phone, "let_off", (20, 26), &[]);
    assert_eq!(row(&phone, "let_off"), "sssssss");
    // Turning a note's own button makes its look old, too.
    phone.correct("let_off", on(25), BENCH);
    assert_eq!(row(&phone, "let_off"), "sssssas");
    phone.read("let_off", on(25), BENCH, 2_000_000);
    assert_eq!(row(&phone, "let_off"), "sssssms");
}

#[test]
fn an_undo_takes_a_sweep_back_whole_and_brings_it_back() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    let before = phone.progress("checking");
    let sweep = swept(&mut phone, "checking", (1, 88), &[]);
    assert_eq!(phone.progress("checking").swept, 88);
    let undo = phone.undo(&sweep);
    assert_eq!(phone.progress("checking"), before);
    phone.undo(&undo);
    assert_eq!(phone.progress("checking").swept, 88);
    // As when it is read from its file.
    let entries = phone.job.log().entries().to_vec();
    assert_eq!(Job::from_entries(entries).state(), phone.state());
}

#[test]
fn a_stroke_over_parts_is_work_on_each_of_them_and_a_look_is_none() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    phone.read("aftertouch", on(21), BENCH, 1_150_000);
    phone.read("aftertouch", on(25), BENCH, 1_150_000);
    // A look along the let-off moves nothing.
    swept(&mut phone, "let_off", (20, 26), &[]);
    assert_eq!(row(&phone, "aftertouch"), ".m...m.");
    // Hammers that are shaped are shorter.
    let stroke = swept(&mut phone, "hammers_shaped", (20, 23), &[]);
    assert_eq!(row(&phone, "aftertouch"), ".r...m.");
    assert_eq!(row(&phone, "let_off"), "aaaasss");
    phone.undo(&stroke);
    assert_eq!(row(&phone, "aftertouch"), ".m...m.");
    assert_eq!(row(&phone, "let_off"), "sssssss");
}

#[test]
fn sweeps_of_two_phones_are_one_and_hide_no_number() {
    let mut stack = Phone::new(1);
    stack.pass("action_out");
    let mut keys = stack.copy(2);
    stack.read("blow", on(21), BENCH, 47_000_000);
    swept(&mut keys, "blow", (20, 23), &[]);
    swept(&mut stack, "blow", (22, 26), &[24]);
    let (a, b) = (
        stack.job.log().entries().to_vec(),
        keys.job.log().entries().to_vec(),
    );
    stack.job.merge(b);
    keys.job.merge(a);
    assert_eq!(stack.state(), keys.state());
    assert_eq!(row(&stack, "blow"), "smss.ss");
    assert_eq!(stack.progress("blow").out, 1);
    // The number is no conflict with the look.
    assert!(stack.job.concurrent().is_empty());
}

#[test]
fn what_was_found_out_and_swept_since_is_neither_out_nor_open() {
    use crate::analysis::open_points::{conclusions, values_out};
    let mut phone = Phone::new(1);
    phone.read_as(Occasion::AsFound, "let_off", on(40), PIANO, 3_500_000);
    phone.read_as(
        Occasion::AsFound,
        "wear_hammers",
        Subject::Section(0),
        PIANO,
        1,
    );
    let worn = |phone: &Phone| {
        let points = conclusions(&phone.job, phone.at_ms).open_points;
        points
            .iter()
            .any(|p| p.text.contains("ammers") && p.text.contains("worn"))
    };
    assert_eq!(values_out(phone.state()).len(), 1);
    assert!(worn(&phone));
    phone.pass("action_out");
    swept(&mut phone, "let_off", (1, 88), &[]);
    let stroke = swept(&mut phone, "hammers_shaped", (1, 88), &[]);
    swept(&mut phone, "let_off", (1, 88), &[]);
    assert_eq!(values_out(phone.state()), []);
    assert!(!worn(&phone));
    phone.undo(&stroke);
    assert!(worn(&phone));
}

#[test]
fn a_number_taken_in_the_piano_counts_before_a_look_on_the_bench() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    swept(&mut phone, "blow", (1, 88), &[]);
    phone.read("blow", on(40), PIANO, 47_000_000);
    let looked = phone.state().looked("blow");
    assert!(looked.swept_now(on(40)).is_none());
    assert!(looked.swept_now(on(41)).is_some());
    // A sharp has no natural dip, so no sweep of it counts there.
    swept(&mut phone, "natural_dip", (1, 88), &[]);
    let looked = phone.state().looked("natural_dip");
    assert!(looked.swept_now(on(40)).is_some() && looked.swept_now(on(41)).is_none());
}

#[test]
fn a_tick_that_is_removed_after_a_stroke_leaves_the_note_to_do() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    swept(&mut phone, "checks_brushed", (20, 26), &[]);
    phone.read("checks_brushed", on(23), BENCH, 0);
    assert_eq!(row(&phone, "checks_brushed"), "sss.sss");
}

#[test]
fn the_rest_of_a_sample_is_swept_without_the_notes_between() {
    use crate::analysis::sweep::{SweepReach, sweep_notes};
    let mut phone = Phone::new(1);
    // Nothing in it disturbs the whole row before.
    let [touch_up, ..] = crate::trade::JobKind::built_in(Instrument::Grand);
    let kind = Box::new(touch_up);
    phone.act(EntryKind::KindChosen { kind });
    let step = phone.state().step("found_sample").cloned().unwrap();
    let sample = phone.state().samples().to_vec();
    let item = |measure: &'static str, note: Note| Item {
        measure: MeasureId::of(measure),
        on: Subject::Note(note),
    };
    let offered = |phone: &Phone, measure, reach| {
        sweep_notes(phone.state(), &step, &item(measure, sample[0]), reach)
    };
    let row = offered(&phone, "let_off", SweepReach::Row).unwrap();
    assert!(row.notes.iter().eq(sample.iter().copied()));
    assert_eq!(row.count, sample.len());
    assert_eq!(offered(&phone, "let_off", SweepReach::Section), None);
    // Without a target nothing is on it, and weights are numbers in pairs.
    for measure in ["sharp_dip", "down_weight", "up_weight"] {
        let none = offered(&phone, measure, SweepReach::Row);
        assert_eq!(none, None, "{measure}");
    }
    // The exception first: it keeps its value, and the estimate counts those swept as in tolerance.
    let (found, on) = (Occasion::AsFound, Subject::Note(sample[3]));
    phone.read_as(found, "let_off", on, PIANO, 4_000_000);
    let rest = offered(&phone, "let_off", SweepReach::Row).unwrap();
    assert_eq!(rest.count, sample.len() - 1);
    phone.act(EntryKind::Swept {
        measure: MeasureId::of("let_off"),
        notes: rest.notes,
        place: PIANO,
        occasion: found,
    });
    let of_let_off = |i: &Item| i.measure.as_str() == "let_off";
    let mut items = phone.state().items(&step);
    items.retain(of_let_off);
    assert_eq!(
        items.len(),
        sample.len(),
        "no note between joins the sample"
    );
    assert!(
        items
            .iter()
            .all(|i| phone.state().item_state(&step, i).is_valid())
    );
    let estimate = crate::analysis::estimate::estimate(&phone.job);
    let line = estimate
        .lines
        .iter()
        .find(|l| l.step.id.as_str() == "let_off");
    let read = sample.len() as u32;
    let basis = crate::analysis::estimate::Basis::Sampled { out: 1, read };
    assert_eq!(line.unwrap().basis, basis);
    assert_eq!(estimate.sample, sample.len());
    let all = crate::analysis::compare::compared(&phone.job);
    assert_eq!(
        all[0].found.in_tolerance(None),
        Some((sample.len() - 1, sample.len()))
    );
}

#[test]
fn a_row_that_was_found_in_part_and_then_swept_alone_counts_as_in_tolerance() {
    let mut phone = Phone::new(1);
    phone.read_as(Occasion::AsFound, "drop", on(3), PIANO, 4_000_000);
    swept(&mut phone, "drop", (1, 88), &[3]);
    let all = crate::analysis::compare::compared(&phone.job);
    let drop = all.iter().find(|c| c.measure.id.as_str() == "drop");
    let drop = drop.expect("the drop is compared");
    assert_eq!(drop.found.in_tolerance(None), Some((0, 1)));
    assert_eq!(drop.left.in_tolerance(None), Some((87, 87)));
}

#[test]
fn a_swept_row_is_looked_at_again_where_a_measured_one_would_be() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    swept(&mut phone, "drop", (1, 88), &[]);
    let looks = |phone: &Phone| {
        let looks = phone.state().looks();
        looks
            .iter()
            .any(|l| l.measure.as_str() == "drop" && l.on.contains(&on(40)))
    };
    assert!(!looks(&phone));
    // A set spring moves the drop a little.
    phone.correct("spring", on(40), BENCH);
    assert!(looks(&phone));
    swept(&mut phone, "drop", (1, 88), &[]);
    assert!(!looks(&phone));
}

#[test]
fn a_sweep_is_work_at_its_step() {
    let mut phone = Phone::new(1);
    let step = step_id("checks_squared");
    phone.act(EntryKind::PassOpened {
        step: step.clone(),
        utc_offset_minutes: None,
    });
    phone.wait(2);
    swept(&mut phone, "checks_squared", (1, 88), &[]);
    assert_eq!(phone.state().spent_ms("checks_squared"), 2 * MINUTE_MS);
}

#[test]
fn a_note_marked_out_is_to_do_until_it_is_measured_or_swept() {
    use crate::analysis::open_points::conclusions;
    use crate::analysis::sweep::{SweepReach, sweep_notes};
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    phone.read("blow", on(22), BENCH, 45_100_000);
    marked(&mut phone, "blow", 22, true);
    let mark = marked(&mut phone, "blow", 24, true);
    marked(&mut phone, "blow", 25, true);
    // A measured note keeps its value.
    assert_eq!(row(&phone, "blow"), "..m.oo.");
    let progress = phone.progress("blow");
    assert_eq!(
        (progress.read, progress.marked_out, progress.out),
        (1, 2, 0)
    );
    assert_eq!(progress.left(), 87);
    let open = |phone: &Phone| {
        let points = conclusions(&phone.job, phone.at_ms).open_points;
        points.into_iter().map(|p| p.text).collect::<Vec<_>>()
    };
    let said = "Hammer line: 2 out, not measured. G♯2 and A2.";
    let said = said.replace("Hammer line", &phone.state().step("blow").unwrap().name);
    assert!(open(&phone).contains(&said), "{:?}", open(&phone));
    // A sweep of the rest leaves it out.
    let step = phone.state().step("blow").unwrap();
    let item = &phone.state().items(step)[0];
    let range = SweepReach::Range(Note::new(26).unwrap(), Note::new(21).unwrap());
    let offered = sweep_notes(phone.state(), step, item, range).unwrap();
    assert_eq!(offered.count, 3);
    assert_eq!(
        offered.notes.except,
        [24, 25].map(|n| Note::new(n).unwrap())
    );
    swept(&mut phone, "blow", (20, 26), &[24, 25]);
    assert_eq!(row(&phone, "blow"), "ssmsoos");
    // Set by eye and looked at, measured, or the mark taken off.
    phone.correct("blow", on(24), BENCH);
    assert_eq!(row(&phone, "blow"), "ssmsoos");
    swept(&mut phone, "blow", (24, 24), &[]);
    phone.read("blow", on(25), BENCH, 45_000_000);
    assert_eq!(row(&phone, "blow"), "ssmssms");
    let again = marked(&mut phone, "blow", 26, true);
    assert_eq!(row(&phone, "blow"), "ssmssmo");
    marked(&mut phone, "blow", 26, false);
    assert_eq!(row(&phone, "blow"), "ssmssms");
    for taken_back in [mark, again] {
        phone.undo(&taken_back);
    }
    let entries = phone.job.log().entries().to_vec();
    assert_eq!(Job::from_entries(entries).state(), phone.state());
}

#[test]
fn an_undo_takes_a_mark_back_and_brings_it_back() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    let mark = marked(&mut phone, "checking", 24, true);
    assert_eq!(row(&phone, "checking"), "....o..");
    let undo = phone.undo(&mark);
    assert_eq!(row(&phone, "checking"), ".......");
    phone.undo(&undo);
    assert_eq!(row(&phone, "checking"), "....o..");
    let table = crate::job::readings_csv(&phone.job);
    let rows: Vec<&str> = table.lines().filter(|r| r.contains("marked_out")).collect();
    assert_eq!(rows.len(), 1);
    assert!(
        rows[0].contains(r#""marked_out","false","true","false""#),
        "{}",
        rows[0]
    );
}

#[test]
fn the_samples_point_to_their_neighbors_and_leave_the_rest_to_the_hand() {
    use crate::analysis::sweep::beyond_samples;
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    let weights = phone.state().step("weights").unwrap().clone();
    assert_eq!(beyond_samples(phone.state(), &weights), None);
    let samples = phone.state().samples().to_vec();
    let up = MeasureId::of("up_weight");
    let read = |phone: &mut Phone, measure: &str, at: usize, grams: i64| {
        let on = Subject::Note(samples[at]);
        phone.read(measure, on, BENCH, grams * 1_000);
    };
    for (at, _) in samples.iter().enumerate() {
        read(&mut phone, "down_weight", at, 50);
        read(&mut phone, "up_weight", at, 25);
    }
    let beyond = beyond_samples(phone.state(), &weights).unwrap();
    assert_eq!(beyond.pointed_to, []);
    let counts = beyond.rest.iter().map(|(_, sweep)| sweep.count);
    assert!(counts.eq([88 - samples.len(); 2]));
    // What lies between the sample that is out and its neighbors is to be measured.
    read(&mut phone, "up_weight", 1, 5);
    let beyond = beyond_samples(phone.state(), &weights).unwrap();
    let pointed = beyond.pointed_to.iter();
    let notes: Vec<Note> = pointed.filter_map(|i| i.on.note()).collect();
    let between = |n: &Note| samples[0] < *n && *n < samples[2] && *n != samples[1];
    assert_eq!(notes, Note::all().filter(between).collect::<Vec<_>>());
    assert!(beyond.pointed_to.iter().all(|i| i.measure == up));
    let (_, rest) = beyond.rest.iter().find(|(i, _)| i.measure == up).unwrap();
    assert_eq!(rest.count, 88 - samples.len() - notes.len());
    assert!(
        rest.notes
            .iter()
            .all(|n| !samples.contains(&n) && !notes.contains(&n))
    );
    // A sweep of the rest is part of the step from then on.
    phone.act(EntryKind::Swept {
        measure: up.clone(),
        notes: rest.notes.clone(),
        place: BENCH,
        occasion: Occasion::Working,
    });
    let beyond = beyond_samples(phone.state(), &weights).unwrap();
    assert!(beyond.rest.iter().all(|(i, _)| i.measure != up));
    assert_eq!(phone.progress("weights").swept, rest_count(&phone, &up));
}

fn rest_count(phone: &Phone, measure: &MeasureId) -> usize {
    let looked = phone.state().looked(measure.as_str());
    let all = Note::all().map(Subject::Note);
    all.filter(|on| looked.swept_now(*on).is_some()).count()
}
