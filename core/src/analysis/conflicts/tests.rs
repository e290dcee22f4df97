//! Tests of open conflicts, one for each kind of statement. All data are made up.
//! The file is long because each kind of statement has its test.

use super::*;
use crate::analysis::handover::handover;
use crate::analysis::job_file::{conflicts_csv, export, open};
use crate::job::tests::{BENCH, MINUTE_MS, NINE_MS, Phone, on, step_id};
use crate::job::{Details, Scope, Setup, WorkDay, readings_csv};
use crate::note::{Note, Sections};
use crate::trade::{Band, Target};

const STACK: &str = "S. Stack";
const KEYS: &str = "K. Keys";

fn detail(set: Details) -> EntryKind {
    EntryKind::Details { set: Box::new(set) }
}

fn named(phone: &mut Phone, name: &str) {
    phone.act(detail(Details {
        technician: Some(name.to_owned()),
        ..Details::default()
    }));
}

/// Two phones with names that share a job; neither will know what the other says from here on.
fn apart() -> (Phone, Phone) {
    let mut stack = Phone::new(1);
    named(&mut stack, STACK);
    let mut keys = stack.copy(2);
    named(&mut keys, KEYS);
    stack.at_ms += 10 * MINUTE_MS;
    keys.at_ms += 20 * MINUTE_MS;
    (stack, keys)
}

fn entries(phone: &Phone) -> Vec<Entry> {
    phone.job.log().entries().to_vec()
}

/// Merges in both directions, and checks that both phones then have the same state, conflicts and file.
fn together(a: &mut Phone, b: &mut Phone) {
    let of_a = entries(a);
    a.job.merge(entries(b));
    b.job.merge(of_a);
    assert_eq!(a.state(), b.state());
    assert_eq!(conflicts(&a.job), conflicts(&b.job));
    assert_eq!(export(&a.job, NINE_MS), export(&b.job, NINE_MS));
}

/// The values of a conflict, the one in effect first.
fn values(conflict: &Conflict) -> Vec<&str> {
    let values = conflict.statements.iter();
    values.map(|s| s.value.as_str()).collect()
}

fn reading(mm_hundredths: i64) -> impl Fn(&mut Phone) {
    move |phone| {
        phone.read("let_off", on(40), BENCH, mm_hundredths * 10_000);
    }
}

fn act(kind: EntryKind) -> impl Fn(&mut Phone) {
    move |phone| {
        phone.act(kind.clone());
    }
}

/// Has two technicians state something apart from each other, and checks all that is told of it, and that each way
/// of settling it does. `said` are the words of what the first and the second said.
fn conflict_is_told_and_settled(
    first: impl Fn(&mut Phone),
    second: impl Fn(&mut Phone),
    about: &str,
    said: [&str; 2],
) {
    let (mut stack, mut keys) = apart();
    first(&mut stack);
    second(&mut keys);
    assert_eq!(conflicts(&stack.job), []);
    together(&mut stack, &mut keys);

    let all = conflicts(&stack.job);
    assert_eq!(all.len(), 1, "{about}");
    assert_eq!(all[0].about, about);
    let mut told: Vec<(&str, Option<&str>, i64)> = all[0]
        .statements
        .iter()
        .map(|s| (s.value.as_str(), s.technician.as_deref(), s.at_ms))
        .collect();
    told.sort_by_key(|(.., at_ms)| *at_ms);
    let expected = [
        (said[0], Some(STACK), NINE_MS + 10 * MINUTE_MS),
        (said[1], Some(KEYS), NINE_MS + 20 * MINUTE_MS),
    ];
    assert_eq!(told, expected);
    assert_eq!(
        conflict_about(&stack.job, &all[0].topic).as_ref(),
        all.first()
    );

    // The handover, the file and the table tell of it; so does the job when its file is opened again.
    assert_eq!(handover(&stack.job, NINE_MS).conflicts, all);
    let file = export(&stack.job, NINE_MS);
    let opened = open(file.as_bytes()).expect("its own file");
    assert_eq!(opened.notices, Vec::<String>::new());
    assert_eq!(conflicts(&Job::from_entries(opened.entries)), all);
    let part: serde_json::Value = serde_json::from_str(&file).expect("JSON");
    let statements = &part["conflicts"][0]["statements"];
    assert_eq!(part["conflicts"][0]["about"], about);
    for (at, statement) in all[0].statements.iter().enumerate() {
        assert_eq!(statements[at]["value"], statement.value);
        assert_eq!(
            statements[at]["technician"],
            statement.technician.as_deref().unwrap()
        );
        assert_eq!(statements[at]["at_ms"], statement.at_ms);
        assert_eq!(statements[at]["in_force"], at == 0);
    }
    let table = conflicts_csv(&stack.job);
    assert_eq!(table.lines().count(), 3, "{table}");
    assert!(table.contains(STACK) && table.contains(KEYS), "{table}");

    // Keep this, keep that: on either phone, and then on both.
    for at in [0, 1] {
        let (mut stack, mut keys) = (stack.clone(), keys.clone());
        let kept = &all[0].statements[at];
        keys.wait(5);
        let settled = keys.act(kept.keep.clone().expect("a value that can be kept"));
        together(&mut stack, &mut keys);
        assert_eq!(conflicts(&stack.job), []);
        let now = stack
            .job
            .log()
            .get(kept.entry)
            .unwrap()
            .kind
            .about(&all[0].topic);
        assert_eq!(settled.kind.about(&all[0].topic), now);
        // Taken back, it is open again.
        stack.undo(&settled);
        assert_eq!(conflicts(&stack.job), all);
    }
    // Said or measured once more.
    for again in [&first as &dyn Fn(&mut Phone), &second] {
        let (mut stack, mut keys) = (stack.clone(), keys.clone());
        stack.wait(30);
        again(&mut stack);
        together(&mut stack, &mut keys);
        assert_eq!(conflicts(&keys.job), []);
    }

    // Who knew what the other had said contradicts nobody.
    let (mut stack, mut keys) = apart();
    first(&mut stack);
    keys.job.merge(entries(&stack));
    keys.wait(30);
    second(&mut keys);
    together(&mut stack, &mut keys);
    assert_eq!(conflicts(&stack.job), []);

    // The same said twice is no conflict.
    let (mut stack, mut keys) = apart();
    first(&mut stack);
    first(&mut keys);
    together(&mut stack, &mut keys);
    assert_eq!(conflicts(&stack.job), []);
}

#[test]
fn readings_conflict_until_one_is_kept_or_the_note_is_measured_again() {
    conflict_is_told_and_settled(
        reading(210),
        reading(180),
        "Let-off, note 40 (C4), on the bench",
        ["2.1 mm", "1.8 mm"],
    );
}

#[test]
fn what_was_found_conflicts_apart_from_later_readings() {
    let found = |mm_tenths: i64| {
        move |phone: &mut Phone| {
            let base = mm_tenths * 100_000;
            phone.read_as(Occasion::AsFound, "let_off", on(40), BENCH, base);
        }
    };
    conflict_is_told_and_settled(
        found(31),
        found(42),
        "Let-off, note 40 (C4), as found",
        ["3.1 mm", "4.2 mm"],
    );
    // A later reading settles nothing of what was found, and what is found nothing of later ones.
    let (mut stack, mut keys) = apart();
    found(31)(&mut stack);
    found(42)(&mut keys);
    reading(210)(&mut stack);
    reading(180)(&mut keys);
    together(&mut stack, &mut keys);
    let both = |phone: &Phone| {
        conflicts_of_reading(&phone.job, &MeasureId::of("let_off"), on(40), BENCH).len()
    };
    assert_eq!(both(&stack), 2);
    reading(200)(&mut stack);
    assert_eq!(both(&stack), 1);
    found(42)(&mut stack);
    assert_eq!(both(&stack), 0);
}

#[test]
fn grades_and_answers_conflict_in_words() {
    let knuckles = |grade: i64| {
        move |phone: &mut Phone| {
            let on = Subject::Section(1);
            phone.read_as(Occasion::AsFound, "wear_knuckles", on, Place::Piano, grade);
        }
    };
    conflict_is_told_and_settled(
        knuckles(0),
        knuckles(2),
        "Wear of knuckles, section 2, as found",
        ["sound", "worn out"],
    );
}

#[test]
fn targets_conflict() {
    let target = |aim| {
        act(EntryKind::Target {
            measure: MeasureId::of("let_off"),
            scope: Scope::Job,
            target: Some(Target::Flat(Band::mm(aim, 30, 50))),
        })
    };
    conflict_is_told_and_settled(
        target(200),
        target(160),
        "Target of Let-off, whole job",
        [
            "2.0 mm, on target 1.7 to 2.3, acceptable 1.5 to 2.5",
            "1.6 mm, on target 1.3 to 1.9, acceptable 1.1 to 2.1",
        ],
    );
}

#[test]
fn targets_of_different_reach_do_not_conflict() {
    let (mut office, mut bench) = apart();
    let flat = |aim| Some(Target::Flat(Band::mm(aim, 30, 50)));
    office.target("let_off", Scope::Job, flat(200));
    bench.target("let_off", Scope::Section(1), flat(160));
    // One that cannot judge is not taken.
    let mut wrong = Band::mm(250, 30, 50);
    wrong.aim = 0;
    bench.target("let_off", Scope::Job, Some(Target::Flat(wrong)));
    together(&mut office, &mut bench);
    assert_eq!(conflicts(&office.job), []);
}

#[test]
fn details_conflict_field_by_field() {
    let text = |t: &str| Some(t.to_owned());
    let serial = |serial: &str, scope: Option<String>| {
        act(detail(Details {
            serial: text(serial),
            scope,
            ..Details::default()
        }))
    };
    conflict_is_told_and_settled(
        serial("1234", text("Regulation")),
        serial("1243", None),
        "Serial number",
        ["1234", "1243"],
    );
    // One entry can stand against the other in several fields; settling one leaves the other open.
    let both = |client: &str, serial: &str| {
        detail(Details {
            client: text(client),
            serial: text(serial),
            ..Details::default()
        })
    };
    let (mut office, mut bench) = apart();
    office.act(both("Client 17", "1"));
    bench.act(both("Client 71", "2"));
    together(&mut office, &mut bench);
    let open = conflicts(&office.job);
    let about: Vec<&str> = open.iter().map(|c| c.about.as_str()).collect();
    assert_eq!(about, ["Client", "Serial number"]);
    office.act(open[0].statements[1].keep.clone().unwrap());
    let left = conflicts(&office.job);
    assert_eq!(left.len(), 1);
    assert_eq!(left[0].about, "Serial number");
}

#[test]
fn the_setup_conflicts() {
    let breaks = |notes: &'static [i64]| {
        let notes = notes.iter().map(|n| Note::new(*n).unwrap());
        act(EntryKind::Setup {
            set: Box::new(Setup {
                sections: Sections::new(notes).ok(),
                ..Setup::default()
            }),
        })
    };
    conflict_is_told_and_settled(
        breaks(&[20, 52]),
        breaks(&[]),
        "Section breaks",
        ["E2, C5", "none"],
    );
}

/// One of everything that a setup can state has words, and not those of the file.
#[test]
fn every_field_of_the_sample_has_words_for_its_name_and_value() {
    let phone = crate::job::tests::sample::phone();
    for entry in phone.job.log().entries() {
        for topic in entry.kind.topics() {
            let stated = entry.kind.about(&topic).expect("it states it");
            let said = [
                words::about(phone.state(), &topic),
                words::value(phone.state(), &stated),
            ];
            for words in &said {
                let is_plain = !words.is_empty() && !words.contains(['{', '_']);
                assert!(is_plain, "{topic:?}: {words:?}");
            }
        }
    }
}

#[test]
fn texts_of_a_remark_and_the_archive_conflict() {
    let text = |text: &'static str| {
        move |phone: &mut Phone| {
            // Both phones have it from the one that they share.
            let noted = phone.state().remarks().next().expect("a fault").position.id;
            phone.act(EntryKind::RemarkChanged {
                remark: noted,
                text: text.to_owned(),
            });
        }
    };
    let (mut stack, _) = apart();
    stack.act(EntryKind::Remark {
        on: on(33),
        step: None,
        fault: true,
        text: "Flange".to_owned(),
    });
    let mut keys = stack.copy(2);
    text("Flange loose")(&mut stack);
    stack.act(EntryKind::Archived { archived: true });
    keys.act(EntryKind::Archived { archived: true });
    keys.at_ms += MINUTE_MS;
    text("")(&mut keys);
    keys.act(EntryKind::Archived { archived: false });
    together(&mut stack, &mut keys);
    let open = conflicts(&stack.job);
    let told: Vec<(&str, Vec<&str>)> = open.iter().map(|c| (c.about.as_str(), values(c))).collect();
    let expected = [
        ("Fault, note 33 (F3)", vec!["withdrawn", "Flange loose"]),
        ("Archive", vec!["in the list of jobs", "archived"]),
    ];
    assert_eq!(told, expected);
    for conflict in open {
        let keep = conflict.statements[1].keep.clone().expect("it can be kept");
        stack.act(keep);
    }
    assert!(conflicts(&stack.job).is_empty() && stack.state().is_archived());
    let texts: Vec<&str> = stack.state().remarks().map(|r| r.text.as_str()).collect();
    assert_eq!(texts, ["Flange loose"]);
}

#[test]
fn decisions_conflict() {
    let out = |out| {
        let step = step_id("let_off");
        act(EntryKind::LeftOut { step, out })
    };
    conflict_is_told_and_settled(
        out(true),
        out(false),
        "Step Let-off",
        ["left out", "in the job"],
    );
    let arranged = |ids: [&'static str; 2]| {
        let steps = ids.map(step_id).to_vec();
        act(EntryKind::Arranged { steps })
    };
    conflict_is_told_and_settled(
        arranged(["drop", "let_off"]),
        arranged(["let_off", "drop"]),
        "Order of the steps",
        ["Drop, Let-off", "Let-off, Drop"],
    );
}

#[test]
fn stated_minutes_conflict() {
    let worked = |name: &str| WorkDay {
        day: "2026-09-21".parse().unwrap(),
        technician: Some(name.to_owned()),
    };
    let stated = |minutes, worked, instead_of| {
        act(EntryKind::MinutesStated {
            step: step_id("let_off"),
            minutes,
            worked,
            instead_of,
        })
    };
    conflict_is_told_and_settled(
        stated(45, None, None),
        stated(60, None, None),
        "Working time of Let-off",
        ["45 min", "60 min"],
    );
    conflict_is_told_and_settled(
        stated(45, Some(worked("R. Sample")), None),
        stated(60, Some(worked("R. Sample")), None),
        "Working time of Let-off, R. Sample, 2026-09-21",
        ["45 min", "60 min"],
    );
    // The time of two persons is no conflict.
    let (mut stack, mut keys) = apart();
    stated(45, Some(worked("R. Sample")), None)(&mut stack);
    stated(60, Some(worked("S. Pattern")), None)(&mut keys);
    together(&mut stack, &mut keys);
    assert_eq!(conflicts(&stack.job), []);
}

/// The office keeps one of two readings: nobody has turned anything, and nothing must be measured again.
#[test]
fn keeping_a_reading_tells_of_no_work() {
    let (mut stack, mut keys) = apart();
    stack.read("aftertouch", on(40), BENCH, 1_150_000);
    stack.read("blow", on(40), BENCH, 45_000_000);
    keys.read("blow", on(40), BENCH, 46_000_000);
    together(&mut stack, &mut keys);
    for at in [0, 1] {
        let mut office = stack.copy(3);
        let all = conflicts(&office.job);
        let kept = office.act(all[0].statements[at].keep.clone().unwrap());
        assert_eq!(office.state().disturbed("aftertouch", on(40), BENCH), None);
        assert_eq!(office.state().disturbed("blow", on(40), BENCH), None);
        let now = office.state().measure_state("blow", on(40), BENCH).unwrap();
        assert_eq!(now.in_effect().unwrap().position.id, kept.id);
        // A third value is work, as ever.
        office.read("blow", on(40), BENCH, 48_000_000);
        assert!(
            office
                .state()
                .disturbed("aftertouch", on(40), BENCH)
                .is_some()
        );
    }
}

/// Keeping it now would say that it is true now.
#[test]
fn a_reading_that_later_work_spoiled_cannot_be_kept() {
    let (mut stack, mut keys) = apart();
    reading(210)(&mut stack);
    reading(180)(&mut keys);
    keys.wait(1);
    keys.correct("let_off", on(40), BENCH);
    together(&mut stack, &mut keys);
    let all = conflicts(&stack.job);
    assert_eq!(all[0].statements.len(), 2);
    assert!(all[0].statements.iter().all(|s| s.keep.is_none()));
    stack.wait(30);
    reading(200)(&mut stack);
    assert_eq!(conflicts(&stack.job), []);
}

#[test]
fn a_merge_tells_of_the_conflicts_that_it_brings_and_of_no_other() {
    let (mut stack, mut keys) = apart();
    reading(180)(&mut stack);
    reading(220)(&mut keys);
    together(&mut stack, &mut keys);
    let before = stack.job.clone();

    // One conflict is settled and another arises meanwhile: their number stays.
    let keep = conflicts(&keys.job)[0].statements[0].keep.clone();
    keys.act(keep.unwrap());
    stack.read("drop", on(7), BENCH, 2_000_000);
    keys.read("drop", on(7), BENCH, 2_600_000);
    let without = stack.job.clone();
    together(&mut stack, &mut keys);
    assert_eq!(conflicts(&stack.job).len(), conflicts(&before).len());
    let new = new_conflicts(&without, &stack.job);
    assert_eq!(new.len(), 1);
    assert!(new[0].about.starts_with("Drop"), "{}", new[0].about);
    assert_eq!(new_conflicts(&stack.job, &stack.job), []);
}

#[test]
fn three_technicians_who_differ_are_all_told_and_one_answer_settles_it() {
    let (mut stack, mut keys) = apart();
    let mut office = stack.copy(3);
    reading(210)(&mut stack);
    reading(180)(&mut keys);
    office.wait(60);
    reading(240)(&mut office);
    together(&mut stack, &mut keys);
    together(&mut stack, &mut office);
    let all = conflicts(&stack.job);
    assert_eq!(values(&all[0]).len(), 3);
    stack.wait(90);
    reading(200)(&mut stack);
    assert_eq!(conflicts(&stack.job), []);
}

/// Taking back a reading in between does not set those apart that knew of each other through it.
#[test]
fn what_was_known_through_a_reading_taken_back_stays_known() {
    let (mut stack, mut keys) = apart();
    reading(210)(&mut stack);
    keys.job.merge(entries(&stack));
    let between = keys.read("let_off", on(40), BENCH, 1_900_000);
    let mut office = keys.copy(3);
    office.wait(60);
    reading(200)(&mut office);
    keys.undo(&between);
    together(&mut office, &mut keys);
    assert_eq!(conflicts(&office.job), []);
}

/// Entries of earlier releases did not say what they knew: no conflict is made up for them.
#[test]
fn entries_that_do_not_say_what_they_knew_do_not_conflict() {
    let (mut stack, mut keys) = apart();
    let serial = |serial: &str| {
        detail(Details {
            serial: Some(serial.to_owned()),
            ..Details::default()
        })
    };
    stack.act(serial("1"));
    keys.act(serial("2"));
    let earlier = |phone: &Phone| -> Vec<Entry> {
        let entries = entries(phone).into_iter();
        entries
            .map(|e| Entry {
                supersedes: None,
                ..e
            })
            .collect()
    };
    let mut job = Job::from_entries(earlier(&stack));
    job.merge(earlier(&keys));
    assert_eq!(conflicts(&job), []);
}

#[test]
fn the_table_of_readings_marks_both() {
    let (mut stack, mut keys) = apart();
    stack.read("drop", on(40), BENCH, 2_000_000);
    reading(210)(&mut stack);
    reading(180)(&mut keys);
    together(&mut stack, &mut keys);
    let marked = |phone: &Phone| {
        let table = readings_csv(&phone.job);
        table.lines().filter(|l| l.ends_with(",\"true\"")).count()
    };
    assert_eq!(marked(&stack), 2);
    stack.wait(30);
    reading(200)(&mut stack);
    assert_eq!(marked(&stack), 0);
}

#[test]
fn the_step_that_measures_it_again_is_that_of_its_place_and_occasion() {
    let job = Job::new();
    let step = |measure: &str, place, as_found| {
        let topic = Topic::Reading {
            measure: MeasureId::from(measure),
            on: on(40),
            place,
            as_found,
        };
        step_to_measure(job.state(), &topic).map(|s| s.id.to_string())
    };
    assert_eq!(step("let_off", BENCH, false).as_deref(), Some("let_off"));
    let found = step("let_off", Place::Piano, true).expect("the sample of the survey");
    assert_ne!(found, "let_off");
    assert_eq!(step("unheard_of", BENCH, false), None);
    assert!(step_to_measure(job.state(), &Topic::Arranged).is_none());
}

/// A field of two copies, or one that is no list of entries, is kept as it is.
#[test]
fn an_entry_with_a_list_that_cannot_be_read_is_kept_to_the_byte() {
    for over in [
        r#""over":7"#,
        r#""over":[],"over":[1]"#,
        r#""over":[{"device":1}]"#,
    ] {
        let line = format!(
            r#"{{"act":"left_out","at_ms":5,"clock":2,"device":"00000000000000ab","out":true,{over},"seq":1,"step":"drop"}}"#
        );
        let entry = Entry::from_line(&line).expect("an entry");
        assert!(matches!(entry.kind, EntryKind::Unknown(_)), "{over}");
        assert_eq!(entry.to_line(), line);
    }
}
