//! Tests of what is known of a note, and of what is then not measured again. All data are made up.

use super::*;
use crate::job::{Correction, ItemState, Job, ReplicaId, Setup};
use crate::note::Sections;
use crate::trade::{MeasureId, Verdict};
use crate::unit::Turns;

const PHONE: ReplicaId = ReplicaId::new(7);
const BENCH: Place = Place::Bench;

fn n(number: i64) -> Note {
    Note::new(number).unwrap()
}

fn act(job: &mut Job, kind: EntryKind) {
    let entry = job.draft(PHONE, 0, kind);
    assert!(job.apply(entry));
}

fn read(job: &mut Job, measure: &'static str, number: i64, hundredths: i64) {
    let value = Value::Nm(Length::from_mm_hundredths(hundredths));
    let (id, on) = (MeasureId::of(measure), Subject::Note(n(number)));
    let entry = job.reading(PHONE, 0, id, on, BENCH, Occasion::Working, value, "");
    assert!(job.apply(entry));
}

fn turn(job: &mut Job, measure: &'static str, number: i64, in_64ths: i64) -> Vec<EntryKind> {
    let on = Subject::Note(n(number));
    let made = Correction::Turned(Turns::from_64ths(in_64ths));
    let measure = MeasureId::of(measure);
    let kind = EntryKind::Correction {
        measure: measure.clone(),
        on,
        place: BENCH,
        made,
    };
    act(job, kind);
    let known = after_correction(job.state(), measure.as_str(), on, BENCH);
    known.iter().for_each(|kind| act(job, kind.clone()));
    known
}

fn set_by_eye(job: &mut Job, measure: &'static str, number: i64) {
    let kind = EntryKind::Correction {
        measure: MeasureId::of(measure),
        on: Subject::Note(n(number)),
        place: BENCH,
        made: Correction::ByEye,
    };
    act(job, kind);
}

/// Ten let-offs of a screw of 5 mm a turn, measured again after each turn.
fn well_known() -> Job {
    let mut job = Job::new();
    for k in 0..10 {
        let wide = 170 + 25 * k;
        read(&mut job, "let_off", 30 + k, wide);
        turn(&mut job, "let_off", 30 + k, -6);
        read(&mut job, "let_off", 30 + k, wide - 47);
    }
    job
}

fn state_of(job: &Job, number: i64) -> ItemState<'_> {
    let step = job.state().step("let_off").unwrap();
    let item = Item {
        measure: MeasureId::of("let_off"),
        on: Subject::Note(n(number)),
    };
    job.state().item_state(step, &item)
}

#[test]
fn a_turn_that_is_known_is_not_measured_again_and_is_never_called_measured() {
    let mut job = well_known();
    read(&mut job, "let_off", 50, 240);
    let before = job.state().progress(0);
    let known = turn(&mut job, "let_off", 50, -5);
    let [
        EntryKind::NotRemeasured {
            note, expected_nm, ..
        },
    ] = &known[..]
    else {
        panic!("{known:?}");
    };
    assert_eq!(*note, n(50));
    assert!((expected_nm.mm() - 2.03).abs() < 0.05, "{expected_nm:?}");
    let ItemState::Swept(sweep) = state_of(&job, 50) else {
        panic!("{:?}", state_of(&job, 50));
    };
    assert_eq!(sweep.expected, Some(*expected_nm));
    let of = |all: &[(Step, crate::job::Progress)]| {
        let found = all.iter().find(|(s, _)| s.id.as_str() == "let_off");
        found.unwrap().1.clone()
    };
    let after = of(&job.state().progress(0));
    assert_eq!(
        (after.read, after.swept, after.turned),
        (of(&before).read, 1, 1)
    );
    let said = crate::analysis::handover::handover(&job, 0).swept;
    assert_eq!(
        said,
        ["Let-off: 1 turned and not measured again, 10 measured."]
    );
    let file = crate::analysis::job_file::export(&job, 0);
    let file: serde_json::Value = serde_json::from_str(&file).unwrap();
    assert_eq!(
        file["notes"][49]["not_remeasured"],
        serde_json::json!(["let_off"])
    );
    assert_eq!(
        file["notes"][49]["bench"]["let_off_mm"],
        serde_json::json!(2.4)
    );
    assert!(file["notes"][49]["verdicts"].get("let_off").is_none());
    let table = crate::job::readings_csv(&job);
    assert!(
        table.contains(r#""not_remeasured","false","true""#),
        "{table}"
    );
    // What is proposed at the end, and the words beside the note.
    let step = job.state().step("let_off").unwrap();
    assert_eq!(
        final_look(job.state(), step).map(|look| look.items.len()),
        Some(1)
    );
    let advised =
        crate::analysis::advice::advice(job.state(), "let_off", Subject::Note(n(50)), BENCH);
    let advised = advised.unwrap();
    assert_eq!(
        advised.words(crate::unit::LengthUnit::Millimeter),
        NOT_AGAIN
    );
    assert_eq!(advised.made(), None);
    // A reading says more.
    read(&mut job, "let_off", 50, 205);
    assert!(
        matches!(state_of(&job, 50), ItemState::Read(_, Some(j)) if j.verdict == Verdict::OnTarget)
    );
    assert_eq!(
        final_look(job.state(), job.state().step("let_off").unwrap()),
        None
    );
}

#[test]
fn taking_the_turn_back_takes_back_that_it_is_known() {
    let mut job = well_known();
    read(&mut job, "let_off", 50, 240);
    turn(&mut job, "let_off", 50, -5);
    let latest = job.undoable(&[PHONE]).unwrap();
    assert!(matches!(latest.kind, EntryKind::Correction { .. }));
    let entry = latest.id;
    act(&mut job, EntryKind::Undo { entry });
    assert!(matches!(state_of(&job, 50), ItemState::Read(r, _) if r.value.base() == 2_400_000));
}

#[test]
fn later_work_makes_it_to_measure_again() {
    let mut job = well_known();
    read(&mut job, "let_off", 50, 240);
    turn(&mut job, "let_off", 50, -5);
    set_by_eye(&mut job, "let_off", 50);
    assert!(matches!(state_of(&job, 50), ItemState::Remeasure(..)));
}

#[test]
fn few_measured_turns_a_large_turn_and_a_wish_for_every_note_all_ask_for_a_reading() {
    let mut job = Job::new();
    for (number, wide) in [(30, 240), (31, 245)] {
        read(&mut job, "let_off", number, wide);
        assert_eq!(turn(&mut job, "let_off", number, -6), []);
        read(&mut job, "let_off", number, wide - 47);
    }
    let mut job = well_known();
    read(&mut job, "let_off", 50, 500);
    assert_eq!(turn(&mut job, "let_off", 50, -38), []);
    // Never measured: a turn by feel tells nothing.
    assert_eq!(turn(&mut job, "let_off", 51, -5), []);
    let set = Box::new(Setup {
        measure_all: Some(true),
        ..Setup::default()
    });
    act(&mut job, EntryKind::Setup { set });
    read(&mut job, "let_off", 52, 240);
    assert_eq!(turn(&mut job, "let_off", 52, -5), []);
}

#[test]
fn a_job_that_was_begun_before_changes_by_its_next_turn_and_not_by_being_opened() {
    let mut job = well_known();
    // A release that measured every note recorded the turn alone.
    read(&mut job, "let_off", 50, 240);
    let kind = EntryKind::Correction {
        measure: MeasureId::of("let_off"),
        on: Subject::Note(n(50)),
        place: BENCH,
        made: Correction::Turned(Turns::from_64ths(-5)),
    };
    act(&mut job, kind);
    let opened = Job::from_entries(job.log().entries().to_vec());
    assert!(matches!(state_of(&opened, 50), ItemState::Remeasure(..)));
    // The next turn settles its own note.
    read(&mut job, "let_off", 51, 240);
    assert_eq!(turn(&mut job, "let_off", 51, -5).len(), 1);
    assert!(matches!(state_of(&job, 50), ItemState::Remeasure(..)));
    // What was settled stays settled if every note is asked for from here on.
    let set = Box::new(Setup {
        measure_all: Some(true),
        ..Setup::default()
    });
    act(&mut job, EntryKind::Setup { set });
    assert!(state_of(&job, 51).should_read().is_some());
}

#[test]
fn each_section_needs_its_own_turns() {
    let mut job = well_known();
    let set = Box::new(Setup {
        sections: Sections::new([n(45)]).ok(),
        ..Setup::default()
    });
    act(&mut job, EntryKind::Setup { set });
    read(&mut job, "let_off", 50, 240);
    assert_eq!(turn(&mut job, "let_off", 50, -5), []);
    read(&mut job, "let_off", 40, 240);
    assert_eq!(turn(&mut job, "let_off", 40, -5).len(), 1);
}

#[test]
fn readings_that_fall_wrong_sound_the_alarm_and_all_is_measured() {
    let mut job = well_known();
    for number in [60, 61, 62] {
        read(&mut job, "let_off", number, 240);
        turn(&mut job, "let_off", number, -5);
        read(&mut job, "let_off", number, 240);
    }
    let beliefs = Beliefs::of(job.state(), "let_off", BENCH).unwrap();
    assert!(beliefs.alarm().sounds());
    read(&mut job, "let_off", 50, 240);
    assert_eq!(turn(&mut job, "let_off", 50, -5), []);
}

#[test]
fn a_turn_of_the_let_off_moves_the_drop_and_the_aftertouch_with_their_doubt() {
    let mut job = well_known();
    read(&mut job, "drop", 50, 200);
    read(&mut job, "aftertouch", 50, 110);
    read(&mut job, "let_off", 50, 240);
    let before = |measure| {
        Beliefs::of(job.state(), measure, BENCH)
            .unwrap()
            .note(n(50))
            .unwrap()
    };
    let [drop, after] = ["drop", "aftertouch"].map(before);
    turn(&mut job, "let_off", 50, -6);
    let now = |measure| {
        Beliefs::of(job.state(), measure, BENCH)
            .unwrap()
            .note(n(50))
            .unwrap()
    };
    // The let-off loses some 0.45 mm: the drop gains half of it, the aftertouch loses it over the ratio.
    let change = now("drop").mean - drop.mean;
    assert!((0.19..0.26).contains(&change), "{change}");
    assert!(now("drop").variance > drop.variance + (0.2f64 * 0.4).powi(2));
    let change = now("aftertouch").mean - after.mean;
    assert!((-0.12..-0.06).contains(&change), "{change}");
    // Work of which no amount is known leaves nothing known.
    set_by_eye(&mut job, "let_off", 50);
    assert!(
        Beliefs::of(job.state(), "drop", BENCH)
            .unwrap()
            .note(n(50))
            .is_none()
    );
}

#[test]
fn what_lies_at_the_edge_is_to_measure_once_more_and_not_again_and_again() {
    let mut job = well_known();
    read(&mut job, "let_off", 50, 240);
    let again = |job: &Job| {
        let step = job.state().step("let_off").unwrap();
        let all = doubtful(job.state(), step);
        all.iter().any(|i| i.on == Subject::Note(n(50)))
    };
    assert!(again(&job));
    read(&mut job, "let_off", 50, 240);
    assert!(!again(&job));
}

#[test]
fn what_is_open_or_out_is_an_exception_of_the_final_look() {
    let mut job = well_known();
    for number in [50, 54] {
        read(&mut job, "let_off", number, 240);
        assert_eq!(turn(&mut job, "let_off", number, -5).len(), 1);
    }
    read(&mut job, "let_off", 51, 400);
    read(&mut job, "let_off", 52, 200);
    let look = final_look(job.state(), job.state().step("let_off").unwrap()).unwrap();
    let notes = &look.sweep.notes;
    assert_eq!((notes.from, notes.to), (n(50), n(54)));
    assert_eq!(notes.except, [n(51), n(53)]);
    assert!(look.sentence().contains("2 notes were not measured again"));
}

#[test]
fn twelve_notes_are_offered_to_read_twice_and_then_said_to_repeat() {
    let mut job = Job::new();
    let offered = |job: &Job| twice(job.state(), job.state().step("let_off").unwrap());
    for number in 1..=12 {
        assert_eq!(offered(&job), None);
        read(&mut job, "let_off", number, 200);
    }
    assert!(matches!(offered(&job), Some(Err(items)) if items.len() == 12));
    (1..=12).for_each(|number| read(&mut job, "let_off", number, 200));
    let says = "Your readings repeat to 0.07 mm.".to_owned();
    assert_eq!(offered(&job), Some(Ok(says)));
}

fn looked_along(job: &mut Job, measure: &'static str, from: i64, to: i64) {
    let notes = crate::job::SweptNotes {
        from: n(from),
        to: n(to),
        except: Vec::new(),
    };
    let kind = EntryKind::Swept {
        measure: MeasureId::of(measure),
        notes,
        place: BENCH,
        occasion: Occasion::Working,
    };
    act(job, kind);
}

#[test]
fn a_note_that_was_looked_along_is_known_as_well_as_the_look_sees() {
    let mut job = Job::new();
    for measure in ["blow", "drop", "let_off", "spring"] {
        looked_along(&mut job, measure, 40, 44);
    }
    let known = |job: &Job, measure| Beliefs::of(job.state(), measure, BENCH)?.note(n(42));
    let sd = |measure| known(&job, measure).unwrap().variance.sqrt();
    assert!((0.35..0.41).contains(&sd("blow")), "{}", sd("blow"));
    assert!((0.26..0.30).contains(&sd("drop")), "{}", sd("drop"));
    assert!((0.17..0.21).contains(&sd("let_off")), "{}", sd("let_off"));
    assert_eq!(known(&job, "spring"), None);
    assert_eq!(known(&job, "blow").unwrap().mean, 45.0);
    // A reading says more, and what was set by no known amount leaves nothing.
    read(&mut job, "blow", 42, 4530);
    assert!((known(&job, "blow").unwrap().mean - 45.28).abs() < 0.03);
    set_by_eye(&mut job, "drop", 42);
    assert_eq!(known(&job, "drop"), None);
}

#[test]
fn a_turn_of_the_let_off_moves_a_drop_that_was_looked_along() {
    let mut job = well_known();
    looked_along(&mut job, "drop", 48, 52);
    let drop = |job: &Job| Beliefs::of(job.state(), "drop", BENCH)?.note(n(50));
    let before = drop(&job).unwrap();
    read(&mut job, "let_off", 50, 240);
    // No turn of a drop screw was measured here, so the drop is looked along again.
    assert_eq!(turn(&mut job, "let_off", 50, -5).len(), 1);
    let step = job.state().step("drop").unwrap();
    let item = Item {
        measure: MeasureId::of("drop"),
        on: Subject::Note(n(50)),
    };
    let now = job.state().item_state(step, &item);
    assert!(matches!(now, ItemState::SweepAgain(..)));
    let after = drop(&job).unwrap();
    assert!((after.mean - before.mean - 0.19).abs() < 0.05, "{after:?}");
    assert!(after.variance > before.variance + (0.2f64 * 0.3).powi(2));
}

#[test]
fn the_final_look_makes_what_is_known_more_certain() {
    let mut job = well_known();
    read(&mut job, "let_off", 50, 240);
    turn(&mut job, "let_off", 50, -5);
    let variance = |job: &Job| {
        let known = Beliefs::of(job.state(), "let_off", BENCH).unwrap();
        known.note(n(50)).unwrap().variance
    };
    let before = variance(&job);
    looked_along(&mut job, "let_off", 50, 50);
    assert!(variance(&job) < before);
}

#[test]
fn the_profile_holds_what_should_be_read_in_the_place_of_a_reading_that_no_longer_holds() {
    let mut job = well_known();
    for number in [50, 51] {
        read(&mut job, "let_off", number, 240);
    }
    turn(&mut job, "let_off", 50, -5);
    let step = job.state().step("let_off").unwrap();
    let profile =
        crate::analysis::profile::Profile::of(job.state(), step, &MeasureId::of("let_off"));
    let swept = |number: usize| profile.as_ref().unwrap().lines[number - 1].swept;
    let reads = swept(50).and_then(|s| s.expected).unwrap();
    assert!((reads.mm() - 2.03).abs() < 0.05, "{reads:?}");
    assert_eq!(swept(51), None);
}

#[test]
fn what_moved_a_measure_before_it_was_first_read_changes_nothing_that_is_known_of_it() {
    let mut job = well_known();
    let mut plain = Job::new();
    for job in [&mut job, &mut plain] {
        read(job, "aftertouch", 30, 120);
    }
    let of = |job: &Job| {
        let known = Beliefs::of(job.state(), "aftertouch", BENCH).unwrap();
        known.note(n(30)).unwrap()
    };
    assert_eq!(of(&job), of(&plain));
    // A turn after it moves it, by all that was learned before.
    turn(&mut job, "let_off", 30, 6);
    let (before, after) = (of(&plain), of(&job));
    assert!((after.mean - before.mean - 0.96 * 5.0 * 6.0 / 64.0 / 5.0).abs() < 0.03);
    assert!(after.variance > before.variance);
}
