//! Tests of what a list shows of a job.

use super::*;
use crate::analysis::drift::next_job;
use crate::job::tests::{BENCH, MINUTE_MS, PIANO, Phone, on};
use crate::job::{Details, Subject, WorkDay};
use crate::trade::Occasion;

const DAY_MS: i64 = 86_400_000;

fn shown(phone: &Phone) -> Overview {
    overview(&phone.job, phone.at_ms, 0)
}

fn details(phone: &mut Phone, details: Details) {
    let set = Box::new(details);
    phone.act(EntryKind::Details { set });
}

#[test]
fn a_job_goes_from_not_begun_to_survey_to_agreed_to_work() {
    let mut phone = Phone::new(1);
    assert_eq!(shown(&phone).standing, Standing::Agreed);
    assert_eq!(Standing::Agreed.name(), "Not begun");
    phone.read_as(
        Occasion::AsFound,
        "wear_knuckles",
        Subject::Section(0),
        PIANO,
        1,
    );
    assert_eq!(shown(&phone).standing, Standing::Survey);
    details(
        &mut phone,
        Details {
            scope: Some("Let-off and drop".to_owned()),
            client: Some("School".to_owned()),
            serial: Some("11902".to_owned()),
            ..Details::default()
        },
    );
    let agreed = shown(&phone);
    assert_eq!(agreed.standing, Standing::Agreed);
    assert_eq!(
        (agreed.client.as_str(), agreed.serial.as_str()),
        ("School", "11902")
    );
    phone.read("let_off", on(1), BENCH, 1_800_000);
    assert_eq!(shown(&phone).standing, Standing::InWork);
}

#[test]
fn a_job_is_done_when_every_step_is() {
    let mut phone = Phone::new(1);
    let steps: Vec<_> = phone
        .state()
        .order()
        .steps()
        .iter()
        .map(|s| s.id.clone())
        .collect();
    for step in steps.iter().filter(|s| s.as_str() != "let_off") {
        phone.act(EntryKind::LeftOut {
            step: step.clone(),
            out: true,
        });
    }
    phone.pass("let_off");
    let done = shown(&phone);
    assert_eq!(
        (done.standing, done.percent(), done.step.as_str()),
        (Standing::Done, 100, "")
    );
    let today = Day::at(phone.at_ms, 0);
    assert_eq!(done.next_visit(false, today), Some(done.check));
}

#[test]
fn what_the_office_does_later_does_not_move_the_next_visit() {
    let mut phone = Phone::new(1);
    phone.read("let_off", on(1), BENCH, 1_800_000);
    let before = shown(&phone);
    let worked = Day::at(phone.at_ms, 0);
    assert_eq!(before.check, worked.after_months(12));
    phone.wait(60 * 24 * 50);
    details(
        &mut phone,
        Details {
            name: Some("Hall".to_owned()),
            ..Details::default()
        },
    );
    phone.act(EntryKind::Archived { archived: true });
    let after = shown(&phone);
    assert_eq!(
        (after.worked_ms, after.check),
        (before.worked_ms, before.check)
    );
    // Work of fifty days ago does not go on.
    assert_eq!(
        after.next_visit(false, Day::at(phone.at_ms, 0)),
        Some(before.check)
    );
}

#[test]
fn hours_stated_for_a_later_day_are_the_last_work() {
    let mut phone = Phone::new(1);
    phone.read("let_off", on(1), BENCH, 1_800_000);
    let recorded = shown(&phone).worked_ms;
    let state = |phone: &mut Phone, day: &str, minutes| {
        let day = day.parse().unwrap();
        let worked = WorkDay {
            day,
            technician: None,
        };
        let step = crate::trade::StepId::of("tuning");
        let stated = phone.state().minutes_stated(step, minutes, worked, None);
        phone.act(stated);
        day
    };
    // Of an earlier day and of the same: nothing moves.
    state(&mut phone, "2026-09-20", 30);
    state(&mut phone, "2026-09-21", 30);
    assert_eq!(shown(&phone).worked_ms, recorded);
    let later = state(&mut phone, "2026-09-25", 30);
    let shown = overview(&phone.job, phone.at_ms, 600);
    assert_eq!(Day::at(shown.worked_ms, 600), later);
    assert_eq!(shown.check, later.after_months(12));
    assert_eq!(check_on(&phone.job, 0, 600), shown.check);
}

#[test]
fn the_calendar_has_the_visit_and_what_dries() {
    let mut phone = Phone::new(1);
    let step = phone
        .state()
        .order()
        .steps()
        .iter()
        .find(|s| s.drying_minutes > 0);
    let step = step.expect("a step that dries").clone();
    let until_ms = phone.at_ms + 600 * MINUTE_MS;
    phone.act(EntryKind::DryingStarted {
        step: step.id.clone(),
        minutes: 600,
    });
    let drying = shown(&phone);
    assert_eq!(drying.drying.len(), 1);
    assert!((drying.drying[0].1 - until_ms).abs() < 2 * MINUTE_MS);
    let day: Day = "2027-03-01".parse().unwrap();
    let ids = (JobId::new(7), JobId::new(5));
    let events = drying.events(ids, "Hall", Some(day));
    assert_eq!(events.len(), 2);
    assert_eq!(
        (events[0].when, events[0].title.as_str()),
        (When::Day(day), "Next visit: Hall")
    );
    assert_eq!(events[1].when, When::At(drying.drying[0].1));
    // The visit keeps its id on another day.
    let later = drying.events(ids, "Hall", Some(day.after_months(1)));
    assert_eq!(later[0].uid, events[0].uid);
    // So does that of the next job of the instrument.
    let next = drying.events((JobId::new(8), JobId::new(5)), "Hall", Some(day));
    assert_eq!(next[0].uid, events[0].uid);
    assert_ne!(next[1].uid, events[1].uid);
    assert!(
        overview(&phone.job, phone.at_ms + DAY_MS, 0)
            .drying
            .is_empty()
    );
}

#[test]
fn the_next_job_knows_the_one_before() {
    let mut first = Phone::new(1);
    first.act(EntryKind::Made { job: JobId::new(5) });
    let mut next = Phone::new(2);
    for act in next_job(&first.job) {
        next.act(act);
    }
    assert_eq!(shown(&next).earlier, Some(JobId::new(5)));
    assert_eq!(shown(&first).earlier, None);
}
