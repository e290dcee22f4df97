//! Tests of the hours. All data are made up.

use super::*;
use crate::analysis::drift::earlier;
use crate::analysis::handover::handover;
use crate::analysis::job_file::export;
use crate::analysis::job_plan::job_plan;
use crate::job::tests::{BENCH, MINUTE_MS, PIANO, Phone, on, step_id};
use crate::job::{Details, EntryKind, JobId, Subject, WorkDay};

/// A phone with a signed technician and a rate that no minute divides evenly.
fn signed() -> Phone {
    let mut phone = Phone::new(1);
    phone.act(EntryKind::Made { job: JobId::new(9) });
    let set = Box::new(Details {
        technician: Some("R. Sample".to_owned()),
        rate_per_hour_cents: Some(7_250),
        currency: Some("=crowns".to_owned()),
        ..Details::default()
    });
    phone.act(EntryKind::Details { set });
    phone
}

fn open(phone: &mut Phone, step: &str) {
    phone.act(EntryKind::PassOpened {
        step: step_id(step),
        utc_offset_minutes: None,
    });
}

/// Reads every item of a step in a pass, one after each pause.
fn pass(phone: &mut Phone, step: &str, pause_ms: i64) {
    open(phone, step);
    let of = phone.state().step(step).cloned().unwrap();
    for item in phone.state().items(&of) {
        phone.at_ms += pause_ms;
        let place = of.place_or(phone.state().place());
        let base = phone
            .state()
            .band(item.measure.as_str(), item.on)
            .map_or(1, |b| b.aim);
        phone.read_as(of.occasion, item.measure.as_str(), item.on, place, base);
    }
    phone.act(EntryKind::PassClosed {
        step: step_id(step),
    });
}

fn state_for(phone: &mut Phone, step: &str, minutes: u32, day: &str, name: &str) {
    let worked = WorkDay {
        day: day.parse().unwrap(),
        technician: Some(name.to_owned()),
    };
    let stated = phone
        .state()
        .minutes_stated(step_id(step), minutes, worked, None);
    phone.act(stated);
}

fn names(steps: &[(StepId, String)]) -> Vec<&str> {
    steps.iter().map(|(step, _)| step.as_str()).collect()
}

#[test]
fn a_step_done_without_counted_time_is_flagged_until_its_minutes_are_stated() {
    let mut phone = signed();
    open(&mut phone, "tuning");
    phone.wait(95);
    phone.read("tuning", Subject::Whole, PIANO, 1);
    phone.at_ms += 20_000;
    phone.act(EntryKind::PassClosed {
        step: step_id("tuning"),
    });
    let told = hours(phone.state());
    assert_eq!((told.minutes(), names(&told.untimed)), (0, vec!["tuning"]));
    let report = handover(&phone.job, phone.at_ms);
    assert_eq!(report.time_warnings, ["Done, no time counted: Tuning."]);
    // The work is still that of the one who did it.
    assert_eq!(report.who[0].name.as_deref(), Some("R. Sample"));
    assert_eq!(report.who[0].steps, ["tuning"]);
    assert!(hours_csv(&phone.job).contains(r#""Return","tuning","Tuning",0,0,"","","","none","#));
    state_for(&mut phone, "tuning", 0, "2026-09-21", "R. Sample");
    assert_eq!(hours(phone.state()).untimed, []);
    state_for(&mut phone, "tuning", 95, "2026-09-21", "R. Sample");
    assert_eq!(hours(phone.state()).minutes(), 95);
}

#[test]
fn a_step_of_two_minutes_or_one_that_is_not_done_is_not_flagged() {
    let mut phone = signed();
    pass(&mut phone, "pitch_a4", 5_000);
    let pitch = phone.progress("pitch_a4");
    assert!(pitch.is_read());
    let step = phone.state().step("pitch_a4").unwrap();
    // Unless its pass was open for longer than the work takes.
    assert!(!is_untimed(step, &pitch, 4));
    assert!(is_untimed(step, &pitch, 30));
    open(&mut phone, "let_off");
    phone.wait(30);
    phone.read("let_off", on(1), BENCH, 2_000_000);
    assert_eq!(hours(phone.state()).untimed, []);
}

#[test]
fn every_sum_is_that_of_the_lines_wherever_it_stands() {
    let mut phone = signed();
    // Each of these has a rest of seconds.
    for (step, pause_ms) in [
        ("jack_position", 17_400),
        ("drop", 21_100),
        ("spring", 13_700),
    ] {
        pass(&mut phone, step, pause_ms);
        phone.wait(24 * 60);
    }
    state_for(&mut phone, "tuning", 47, "2026-09-22", "S. Pattern");
    // Work at a step that was left out later is still work.
    phone.act(EntryKind::LeftOut {
        step: step_id("spring"),
        out: true,
    });
    let told = hours(phone.state());
    let minutes = told.minutes();
    assert!(minutes > 100);
    let report = handover(&phone.job, phone.at_ms);
    assert_eq!(report.total.minutes, minutes);
    let stages: i64 = report.hours.iter().map(|(_, m)| m).sum();
    assert_eq!(stages, minutes);
    let who: i64 = report.who.iter().map(|w| w.minutes).sum();
    assert_eq!(who, minutes);
    let days: i64 = told.by_day().iter().map(|(_, m)| m).sum();
    assert_eq!(days, minutes);
    let cents: i64 = told.lines.iter().filter_map(|l| l.cents).sum();
    assert_eq!(Some(cents), report.total.cents);
    // As the file says them, to a thousandth of an hour.
    let file: serde_json::Value = serde_json::from_str(&export(&phone.job, phone.at_ms)).unwrap();
    let in_file = file["summary"]["hours"].as_f64().unwrap();
    assert!((in_file * 60.0 - minutes as f64).abs() < 0.031, "{in_file}");
    let steps = file["steps"].as_array().unwrap();
    let of = |id: &str| steps.iter().find(|s| s["step"] == id).unwrap()["minutes"].as_i64();
    assert_eq!(of("tuning"), Some(47));
    assert_eq!(of("drop"), Some(phone.progress("drop").minutes));
    // And the table.
    // No text in it holds a quotation mark.
    let table = hours_csv(&phone.job).replace('"', "");
    let rows: Vec<Vec<&str>> = table
        .lines()
        .skip(1)
        .map(|l| l.split(',').collect())
        .collect();
    assert_eq!(rows.len(), told.lines.len());
    let sum = |column: usize| {
        rows.iter()
            .map(|r| r[column].parse::<f64>().unwrap())
            .sum::<f64>()
    };
    assert_eq!(sum(9), minutes as f64);
    assert!((sum(12) - cents as f64 / 100.0).abs() < 1e-6);
    // What a person typed is guarded.
    assert!(rows.iter().all(|r| r[13] == "'=crowns"), "{table}");
    assert!(table.contains("2026-09-22,S. Pattern,Return,tuning,Tuning,47,"));
    assert!(table.contains(",stated,R. Sample\r\n"));
}

#[test]
fn only_real_times_teach_the_next_job() {
    let mut phone = signed();
    // 88 ticks in a minute and a half, after the work; a measuring pass of an hour; a step without time.
    pass(&mut phone, "checks_squared", 1_000);
    pass(&mut phone, "let_off", 40_000);
    pass(&mut phone, "tuning", 10_000);
    let taught = |phone: &Phone| {
        let earlier = earlier(&phone.job).unwrap();
        let steps = earlier.minutes.into_iter();
        steps
            .map(|(step, m)| (step.to_string(), m))
            .collect::<Vec<_>>()
    };
    assert_eq!(taught(&phone), [("let_off".to_owned(), 59)]);
    assert_eq!(names(&hours(phone.state()).ticked), ["checks_squared"]);
    let warnings = handover(&phone.job, phone.at_ms).time_warnings;
    assert!(
        warnings[1].starts_with("Ticked off faster than the work takes: "),
        "{warnings:?}"
    );
    let table = hours_csv(&phone.job);
    let row = |step: &str| table.lines().find(|l| l.contains(step)).unwrap().to_owned();
    assert!(
        row("\"checks_squared\"").contains(",\"ticked\","),
        "{table}"
    );
    assert!(row("\"let_off\"").contains(",\"counted\","), "{table}");
    state_for(&mut phone, "checks_squared", 50, "2026-09-21", "R. Sample");
    assert_eq!(
        taught(&phone),
        [
            ("let_off".to_owned(), 59),
            ("checks_squared".to_owned(), 50)
        ]
    );
    assert_eq!(hours(phone.state()).ticked, []);
}

#[test]
fn a_step_done_on_the_bench_and_in_the_piano_teaches_nothing() {
    let mut phone = signed();
    pass(&mut phone, "action_out", 60_000);
    pass(&mut phone, "keys_squared", 40_000);
    let taught = |phone: &Phone| {
        let earlier = earlier(&phone.job).unwrap().minutes;
        earlier
            .iter()
            .any(|(step, _)| step.as_str() == "keys_squared")
    };
    assert!(taught(&phone));
    let step = phone.state().step("keys_squared").unwrap();
    assert_eq!(step.place, None, "it is done where the action is");
    // The action is put back, and the step is done once more.
    pass(&mut phone, "action_in", 60_000);
    pass(&mut phone, "keys_squared", 40_000);
    assert!(!taught(&phone), "its minutes are those of two passes");
}

#[test]
fn what_was_counted_for_less_than_half_a_minute_is_no_line() {
    let mut phone = signed();
    open(&mut phone, "drop");
    phone.at_ms += MINUTE_MS / 2 - 1;
    phone.read("drop", on(1), BENCH, 2_000_000);
    assert_eq!(hours(phone.state()).lines, []);
    phone.at_ms += 1;
    phone.read("drop", on(2), BENCH, 2_000_000);
    assert_eq!(hours(phone.state()).lines.len(), 1);
    assert_eq!(hours(phone.state()).minutes(), 1);
}

#[test]
fn what_is_no_time_of_a_day_is_refused_with_what_would_be_taken() {
    for text in [
        "", "h", ":", "1:", "-5", "1,5", "1.5", "90 h", "1:35:00", "five", "+5", "５",
    ] {
        assert_eq!(read_minutes(text), Err(MinutesError), "{text:?}");
    }
    assert_eq!(read_minutes("0"), Ok(0));
    assert_eq!(read_minutes("24:00"), Ok(MAX_MINUTES));
    assert!(MinutesError.to_string().contains("1:35"));
}

#[test]
fn only_a_real_pace_is_planned_on_with() {
    let left = |pause_ms: i64| {
        let mut phone = signed();
        open(&mut phone, "let_off");
        for number in 1..=44 {
            phone.at_ms += pause_ms;
            phone.read("let_off", on(number), BENCH, 2_000_000);
        }
        let hours = crate::analysis::schedule::OpeningHours::new(8 * 60, 16 * 60).unwrap();
        let plan = job_plan(phone.state(), phone.at_ms, phone.at_ms, hours).unwrap();
        let line = plan
            .lines
            .into_iter()
            .find(|l| l.step.as_str() == "let_off");
        line.unwrap().minutes
    };
    // A minute a note so far, the usual hour counting as ten: 44 · (10 · 60/88 + 44)/54 = 41.4; half of the usual
    // hour after 44 ticks in as many seconds.
    assert_eq!(left(MINUTE_MS), 42);
    assert_eq!(left(1_000), 30);
}
