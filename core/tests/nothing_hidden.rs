//! What is out, open and found is the same number wherever it is shown: in the order, in Handover, in
//! the report, in the tables and in the job file.
//! The file is long because each place that shows a number has its test.

use evenhand_core::analysis::drift::next_job;
use evenhand_core::analysis::handover::handover;
use evenhand_core::analysis::job_file::{export, open, open_points_csv};
use evenhand_core::analysis::open_points::{conclusions, measures_out, values_out};
use evenhand_core::job::Setup;
use evenhand_core::job::{
    Correction, EntryKind, Job, JobId, PointKind, ReplicaId, Scope, Subject, out_of_step,
    readings_csv,
};
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Band, MeasureId, Occasion, Place, StepId, Target};
use evenhand_core::unit::{Kind, Turns, Value};

const PHONE: ReplicaId = ReplicaId::new(7);
const NOW_MS: i64 = 1_790_000_000_000;
const FOUND: (Place, Occasion) = (Place::Piano, Occasion::AsFound);
const BENCH: (Place, Occasion) = (Place::Bench, Occasion::Working);
const PIANO: (Place, Occasion) = (Place::Piano, Occasion::Working);

fn made() -> Job {
    let mut job = Job::new();
    add(&mut job, EntryKind::Made { job: JobId::new(1) });
    let sections = Sections::new([20, 52, 72].map(|n| Note::new(n).expect("a note")));
    let set = Box::new(Setup {
        sections: Some(sections.expect("rising")),
        ..Setup::default()
    });
    add(&mut job, EntryKind::Setup { set });
    job
}

fn add(job: &mut Job, act: EntryKind) {
    assert!(job.apply(job.draft(PHONE, NOW_MS, act)));
}

fn read(job: &mut Job, measure: &str, on: Subject, when: (Place, Occasion), value: Value) {
    let measure = MeasureId::from(measure);
    let entry = job.reading(PHONE, NOW_MS, measure, on, when.0, when.1, value, "");
    assert!(job.apply(entry));
}

fn mm(tenths: i64) -> Value {
    Value::from_base(Kind::Length, tenths * 100_000)
}

fn gf(gf: i64) -> Value {
    Value::from_base(Kind::Force, gf * 1_000)
}

fn note(number: i64) -> Subject {
    Subject::Note(Note::new(number).expect("one of the 88"))
}

fn adjust(job: &mut Job, measure: &'static str, on: Subject, place: Place, made: Correction) {
    let measure = MeasureId::of(measure);
    add(
        job,
        EntryKind::Correction {
            measure,
            on,
            place,
            made,
        },
    );
}

/// Asserts that every consumer counts `count` values out, and returns the open points.
fn out_everywhere(job: &Job, count: usize) -> Vec<String> {
    let state = job.state();
    let out = values_out(state);
    assert_eq!(out.len(), count, "{out:#?}");
    // The order and the end of a pass show it by step.
    let steps = state.order().steps();
    let by_step: usize = steps.iter().map(|s| out_of_step(&out, &s.id)).sum();
    assert_eq!(by_step, count);
    let named = |step| measures_out(state, &out, Some(step));
    let named = steps.iter().flat_map(|s| named(&s.id));
    assert_eq!(named.map(|(_, count)| count).sum::<usize>(), count);
    // Handover and the report.
    let concluded = conclusions(job, NOW_MS);
    let points: Vec<String> = concluded
        .open_points
        .iter()
        .map(|p| p.text.clone())
        .collect();
    let report = handover(job, NOW_MS);
    assert_eq!(report.out, count);
    assert_eq!(&report.left[..points.len()], points);
    assert_eq!(
        concluded
            .open_points
            .iter()
            .any(|p| p.kind == PointKind::Out),
        count > 0
    );
    // The table.
    let table = open_points_csv(job, NOW_MS);
    let columns = |line: &str| line.matches(',').count();
    let header = table.lines().next().expect("a header");
    let rows: Vec<&str> = table.lines().filter(|l| l.contains(r#","out","#)).collect();
    assert_eq!(rows.len(), count, "{table}");
    assert!(
        rows.iter().all(|row| columns(row) == columns(header)),
        "{table}"
    );
    // The file, and the file opened on another phone.
    let file = export(job, NOW_MS);
    let json: serde_json::Value = serde_json::from_str(&file).expect("JSON");
    assert_eq!(json["summary"]["out"], count);
    let of_steps = json["steps"].as_array().expect("steps").iter();
    let of_steps = of_steps.map(|s| s["out"].as_u64().expect("a count"));
    assert_eq!(of_steps.sum::<u64>(), count as u64);
    assert_eq!(json["open_points"], serde_json::json!(points));
    let opened = open(file.as_bytes()).expect("the file opens");
    assert_eq!(opened.notices, [""; 0]);
    points
}

const WEAR: [&str; 7] = [
    "wear_hammers",
    "wear_knuckles",
    "wear_bushings",
    "wear_checks",
    "wear_centres",
    "wear_cloths",
    "wear_capstans",
];

#[test]
fn a_survey_at_its_worst_is_not_told_as_nothing() {
    let mut job = made();
    for measure in WEAR {
        for section in 0..4 {
            read(
                &mut job,
                measure,
                Subject::Section(section),
                FOUND,
                Value::Grade(2),
            );
        }
    }
    let samples = job.state().samples().to_vec();
    for sample in &samples {
        for (measure, value) in [("blow", mm(600)), ("let_off", mm(90)), ("drop", mm(90))] {
            read(&mut job, measure, Subject::Note(*sample), FOUND, value);
        }
    }
    let points = out_everywhere(&job, 28 + 3 * samples.len());
    let all = samples.len();
    let sample = format!(
        "As-found sample: {} out of tolerance: blow {all}, let-off {all}, drop {all}.",
        3 * all
    );
    assert!(points.contains(&sample), "{points:#?}");
    assert!(
        points.contains(&"Wear of knuckles: worn out in sections 1, 2, 3 and 4.".to_owned()),
        "{points:#?}"
    );
}

#[test]
fn friction_and_balance_weight_answer_a_heavy_touch() {
    let mut job = made();
    read(&mut job, "down_weight", note(88), FOUND, gf(58));
    read(&mut job, "up_weight", note(88), FOUND, gf(20));
    let points = out_everywhere(&job, 1);
    assert_eq!(
        points[0],
        "As-found sample: 1 out of tolerance: friction 1. C8."
    );
    let report = handover(&job, NOW_MS);
    let friction = "Friction: 1 of 1 out of tolerance, 19 to 19 gf.";
    assert!(
        report.found.iter().any(|f| f == friction),
        "{:?}",
        report.found
    );
    // Eased and weighed again: found 19 gf, left 12.
    read(&mut job, "down_weight", note(88), BENCH, gf(51));
    // One weight of then and one of now make no friction.
    out_everywhere(&job, 0);
    read(&mut job, "up_weight", note(88), BENCH, gf(27));
    out_everywhere(&job, 0);
    let report = handover(&job, NOW_MS);
    let friction = report
        .compared
        .iter()
        .find(|c| c.measure.id.as_str() == "friction");
    let friction = friction.expect("both weights were read");
    let values = [&friction.found, &friction.left].map(|row| row.readings[0].1);
    assert_eq!(values, [19_000, 12_000]);
    // And heavy by its balance weight, with little friction.
    read(&mut job, "down_weight", note(88), BENCH, gf(72));
    read(&mut job, "up_weight", note(88), BENCH, gf(50));
    let points = out_everywhere(&job, 1);
    assert!(
        points.contains(
            &"Down weight and up weight: 1 out of tolerance: balance weight 1. C8.".to_owned()
        ),
        "{points:#?}"
    );
}

#[test]
fn weights_in_each_others_place_are_an_open_point() {
    let mut job = made();
    read(&mut job, "down_weight", note(40), BENCH, gf(25));
    read(&mut job, "up_weight", note(40), BENCH, gf(50));
    let points = out_everywhere(&job, 0);
    let said = "Up weight above down weight: C4. Check whether the two were swapped.";
    assert!(points.iter().any(|p| p == said), "{points:#?}");
}

#[test]
fn the_pitch_is_out_until_the_piano_is_tuned() {
    let mut job = made();
    let hz = Value::from_base(Kind::Frequency, 432_000);
    read(&mut job, "pitch_a4", Subject::Whole, FOUND, hz);
    let points = out_everywhere(&job, 1);
    assert_eq!(points[0], "Pitch of A4: 1 of 1 out of tolerance.");
    let found = handover(&job, NOW_MS).found;
    assert_eq!(found[0], "A4 stood at 432.0 Hz, out of tolerance.");
    read(&mut job, "tuning", Subject::Whole, PIANO, Value::Done(true));
    out_everywhere(&job, 0);
}

#[test]
fn the_climate_is_judged_where_it_has_a_target() {
    let mut job = made();
    let damp = Value::from_base(Kind::Humidity, 700);
    read(&mut job, "humidity", Subject::Whole, FOUND, damp);
    out_everywhere(&job, 0);
    let target = Target::Flat(Band {
        aim: 450,
        within: (Some(400), Some(500)),
        accept: (Some(350), Some(550)),
    });
    add(
        &mut job,
        EntryKind::Target {
            measure: MeasureId::of("humidity"),
            scope: Scope::Job,
            target: Some(target),
        },
    );
    out_everywhere(&job, 1);
}

#[test]
fn worn_parts_are_open_until_they_are_treated_and_past_it_until_graded_again() {
    let mut job = made();
    read(
        &mut job,
        "wear_knuckles",
        Subject::Section(3),
        FOUND,
        Value::Grade(1),
    );
    read(
        &mut job,
        "wear_hammers",
        Subject::Section(3),
        FOUND,
        Value::Grade(2),
    );
    // Worn is acceptable, so it is not out; but no decision is recorded.
    let points = out_everywhere(&job, 1);
    let worn = "Wear of knuckles: worn in section 4, not treated.".to_owned();
    assert!(points.contains(&worn), "{points:#?}");
    for number in 73..=88 {
        assert!(out_everywhere(&job, 1).contains(&worn));
        read(
            &mut job,
            "knuckles_brushed",
            note(number),
            BENCH,
            Value::Done(true),
        );
    }
    for number in 73..=88 {
        read(&mut job, "hammer_felt", note(number), BENCH, mm(60));
    }
    let points = out_everywhere(&job, 1);
    assert!(!points.contains(&worn), "{points:#?}");
    assert!(points.contains(&"Wear of hammers: worn out in section 4.".to_owned()));
    read(
        &mut job,
        "wear_hammers",
        Subject::Section(3),
        FOUND,
        Value::Grade(0),
    );
    out_everywhere(&job, 0);
    // What was found stays found.
    let found = handover(&job, NOW_MS).found;
    assert!(
        found.contains(&"Wear of hammers: worn out in section 4.".to_owned()),
        "{found:?}"
    );
}

#[test]
fn the_first_reading_of_a_note_is_what_was_found() {
    let mut job = made();
    for number in 1..=6 {
        read(&mut job, "let_off", note(number * 10), FOUND, mm(20));
    }
    for number in 1..=88 {
        let value = if number <= 7 { mm(50) } else { mm(20) };
        read(&mut job, "let_off", note(number), BENCH, value);
    }
    out_everywhere(&job, 7);
    let turned = || Correction::Turned(Turns::from_64ths(16));
    for number in 1..=7 {
        adjust(&mut job, "let_off", note(number), Place::Bench, turned());
    }
    // Adjusted and not measured: neither out nor in.
    out_everywhere(&job, 0);
    for number in 1..=7 {
        read(&mut job, "let_off", note(number), BENCH, mm(20));
    }
    out_everywhere(&job, 0);
    let report = handover(&job, NOW_MS);
    let let_off = &report.compared[0];
    let counts = [&let_off.found, &let_off.left].map(|row| (row.out(), row.readings.len()));
    assert_eq!(counts, [(7, 88), (0, 88)]);
    assert!(
        report
            .found
            .contains(&"Let-off: 7 of 88 out of tolerance, 2.0 to 5.0 mm.".to_owned()),
        "{:?}",
        report.found
    );
    // The tables and the file say the same.
    let table = readings_csv(&job);
    let header = table.lines().next().expect("a header");
    let column = header.split(',').position(|c| c == r#""found""#);
    let column = column.expect("a column");
    let is_found = |line: &&str| line.split(',').nth(column) == Some(r#""true""#);
    let found = table.lines().filter(is_found).count();
    assert_eq!(found, 88);
    let file: serde_json::Value = serde_json::from_str(&export(&job, NOW_MS)).expect("JSON");
    let notes = file["notes"].as_array().expect("notes").iter();
    let found = notes.filter(|n| n["as_found"]["let_off_mm"] == 5).count();
    assert_eq!(found, 7);
}

#[test]
fn what_was_set_before_it_was_read_was_not_found_so() {
    let mut job = made();
    adjust(
        &mut job,
        "let_off",
        note(40),
        Place::Bench,
        Correction::ByEye,
    );
    read(&mut job, "let_off", note(40), BENCH, mm(20));
    let compared = handover(&job, NOW_MS).compared;
    assert_eq!(compared[0].found.readings, []);
    assert_eq!(compared[0].left.readings.len(), 1);
    // A record that is itself work is nothing that was found.
    read(&mut job, "hammer_felt", note(40), BENCH, mm(60));
    assert_eq!(job.state().found("hammer_felt", note(40)), None);
}

#[test]
fn the_latest_reading_counts_wherever_the_action_was() {
    let mut job = made();
    read(&mut job, "let_off", note(34), BENCH, mm(90));
    out_everywhere(&job, 1);
    read(&mut job, "let_off", note(34), PIANO, mm(20));
    out_everywhere(&job, 0);
    // Taken out again and measured on the bench.
    read(&mut job, "let_off", note(34), BENCH, mm(90));
    let points = out_everywhere(&job, 1);
    assert!(
        points.contains(&"Let-off: 1 of 88 out of tolerance. F♯3.".to_owned()),
        "{points:#?}"
    );
    adjust(
        &mut job,
        "let_off",
        note(34),
        Place::Bench,
        Correction::ByEye,
    );
    let points = out_everywhere(&job, 0);
    assert!(
        points.contains(&"Let-off: 1 to re-measure.".to_owned()),
        "{points:#?}"
    );
}

#[test]
fn measuring_worn_parts_does_not_treat_them_but_a_good_reading_shows_that_they_are() {
    let worn = |measure: &str| {
        let mut job = made();
        read(
            &mut job,
            measure,
            Subject::Section(3),
            FOUND,
            Value::Grade(1),
        );
        job
    };
    let friction = |gf: i64| Value::from_base(Kind::Force, gf * 1_000);
    let gauge = |gf: i64| {
        let mut job = worn("wear_centres");
        for number in 73..=88 {
            read(
                &mut job,
                "hammer_friction",
                note(number),
                BENCH,
                friction(gf),
            );
        }
        let points = conclusions(&job, NOW_MS).open_points;
        points.iter().any(|p| p.kind == PointKind::Worn)
    };
    assert!(gauge(40), "every center is out");
    assert!(!gauge(4), "every center is good");

    // A pin has no target of its own: its diameter says nothing of the bushing.
    let mut job = worn("wear_bushings");
    for number in 73..=88 {
        read(&mut job, "key_pin", note(number), BENCH, mm(37));
    }
    let said = "Wear of key bushings: worn in section 4, not treated.";
    let open = |job: &Job| {
        let points = conclusions(job, NOW_MS).open_points;
        points.iter().any(|p| p.text == said)
    };
    assert!(open(&job), "{:#?}", conclusions(&job, NOW_MS).open_points);
    for number in 73..=88 {
        read(&mut job, "cauls_in", note(number), BENCH, Value::Done(true));
    }
    assert!(!open(&job));
}

#[test]
fn worn_parts_are_open_where_the_step_that_grades_them_is_left_out() {
    let mut job = made();
    let on = Subject::Section(3);
    read(&mut job, "wear_knuckles", on, FOUND, Value::Grade(1));
    let before = conclusions(&job, NOW_MS).open_points;
    let step = StepId::of("wear");
    add(&mut job, EntryKind::LeftOut { step, out: true });
    let points = conclusions(&job, NOW_MS).open_points;
    let worn = "Wear of knuckles: worn in section 4, not treated.";
    let of = |points: &[evenhand_core::job::OpenPoint]| -> Vec<Option<StepId>> {
        let worn = points.iter().filter(|p| p.text == worn);
        worn.map(|p| p.step.clone()).collect()
    };
    assert_eq!(of(&before), [Some(StepId::of("wear"))]);
    assert_eq!(of(&points), [None], "{points:#?}");
}

#[test]
fn friction_as_found_is_of_two_weights_that_were_taken_together() {
    let friction = |taken: [(&str, (Place, Occasion), i64); 2]| {
        let mut job = made();
        for (measure, when, weight) in taken {
            read(&mut job, measure, note(40), when, gf(weight));
        }
        let compared = handover(&job, NOW_MS).compared;
        let friction = compared
            .iter()
            .find(|c| c.measure.id.as_str() == "friction");
        friction.map(|c| c.found.readings.len()).unwrap_or_default()
    };
    let down = |when| ("down_weight", when, 58);
    let up = |when| ("up_weight", when, 20);
    assert_eq!(friction([down(FOUND), up(FOUND)]), 1);
    assert_eq!(friction([down(BENCH), up(BENCH)]), 1);
    // The survey weighed only down; the work up.
    assert_eq!(friction([down(FOUND), up(PIANO)]), 0);
    assert_eq!(friction([down(BENCH), up(PIANO)]), 0);
}

#[test]
fn what_a_step_left_out_of_the_job_measured_is_still_out() {
    let mut job = made();
    read(&mut job, "let_off", note(34), BENCH, mm(90));
    for step in ["let_off", "final_regulation", "found_sample", "left_sample"] {
        let step = StepId::of(step);
        add(&mut job, EntryKind::LeftOut { step, out: true });
    }
    let concluded = conclusions(&job, NOW_MS);
    assert_eq!(concluded.out(), 1);
    let said = "Other readings: 1 out of tolerance: let-off 1. F♯3.";
    assert!(
        concluded.open_points.iter().any(|p| p.text == said),
        "{:#?}",
        concluded.open_points
    );
}

#[test]
fn steps_not_begun_are_open_once_the_job_is_begun() {
    let mut job = made();
    assert_eq!(out_everywhere(&job, 0), [""; 0]);
    read(&mut job, "let_off", note(34), BENCH, mm(20));
    let points = out_everywhere(&job, 0);
    let steps = job.state().order().steps().len() - 1;
    assert!(
        points.contains(&format!("Not begun: {steps} steps.")),
        "{points:#?}"
    );
    assert!(
        points.contains(&"Let-off: 87 of 88 not measured.".to_owned()),
        "{points:#?}"
    );
}

#[test]
fn an_open_fault_goes_on_to_the_next_job_until_it_is_fixed() {
    let mut first = made();
    let noted = |text: &str| EntryKind::Remark {
        on: note(33),
        step: Some(StepId::of("let_off")),
        fault: true,
        text: text.to_owned(),
    };
    add(&mut first, noted("Flange loose."));
    add(&mut first, noted("Spring broken."));
    let fixed = first.state().remarks().last().expect("noted").position.id;
    let how = "new spring".to_owned();
    add(&mut first, EntryKind::FaultFixed { fault: fixed, how });
    let name = Some("Assembly room".to_owned());
    let set = Box::new(evenhand_core::job::Details {
        name,
        ..Default::default()
    });
    add(&mut first, EntryKind::Details { set });
    let next_of = |job: &Job, id: u64| {
        let mut next = Job::new();
        let job_id = JobId::new(id);
        let made = next.draft(PHONE, NOW_MS, EntryKind::Made { job: job_id });
        next.apply(made);
        for act in next_job(job) {
            next.apply(next.draft(PHONE, NOW_MS + 1_000, act));
        }
        // As another phone opens it.
        let opened = open(export(&next, NOW_MS).as_bytes()).expect("the file opens");
        assert_eq!(opened.notices, [""; 0]);
        Job::from_entries(opened.entries)
    };
    let second = next_of(&first, 2);
    let faults: Vec<_> = second.state().open_faults().collect();
    assert_eq!(faults.len(), 1);
    let origin = faults[0].origin.as_ref().expect("carried");
    assert_eq!(
        (faults[0].on, origin.job, origin.noted_at_ms),
        (note(33), JobId::new(1), NOW_MS)
    );
    let said = "Note 33 (F3): Flange loose. (open since the job “Assembly room”)";
    assert!(out_everywhere(&second, 0).contains(&said.to_owned()));
    // It still says where it was noted first, and a carried fault can be fixed.
    let mut third = next_of(&second, 3);
    assert!(out_everywhere(&third, 0).contains(&said.to_owned()));
    let fault = third
        .state()
        .open_faults()
        .next()
        .expect("open")
        .position
        .id;
    let how = String::new();
    add(&mut third, EntryKind::FaultFixed { fault, how });
    assert_eq!(next_of(&third, 4).state().open_faults().count(), 0);
}
