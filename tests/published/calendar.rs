//! The calendar file, read by the parser of the icalendar crate, which knows RFC 5545 and nothing of Evenhand.

use chrono::{NaiveDate, TimeZone, Utc};
use evenhand_core::analysis::calendar::{Event, When, calendar};
use evenhand_core::analysis::overview::overview;
use evenhand_core::job::{EntryKind, JobId, ReplicaId};
use evenhand_core::simulation::workshop_job;
use evenhand_core::trade::StepId;
use icalendar::{Calendar, CalendarDateTime, Component, DatePerhapsTime};
use proptest::prelude::*;

const NOW_MS: i64 = 1_790_000_000_000;

fn parsed(file: &str) -> Calendar {
    file.parse().expect("a calendar of RFC 5545")
}

#[test]
fn the_visits_and_what_dries_are_events() {
    let mut job = workshop_job(2, NOW_MS);
    let drying = EntryKind::DryingStarted {
        step: StepId::from("let_off"),
        minutes: 600,
    };
    job.apply(job.draft(ReplicaId::new(7), NOW_MS, drying));
    let shown = overview(&job, NOW_MS, 0);
    assert_eq!(shown.drying.len(), 1);
    let events = shown.events(
        (JobId::new(7), JobId::new(5)),
        "Hall; the “large” one, Ä",
        Some(shown.check),
    );
    let calendar = parsed(&calendar(&events, NOW_MS));
    assert_eq!(calendar.property_value("VERSION"), Some("2.0"));
    let [visit, dry]: [&icalendar::Event; 2] = calendar
        .events()
        .collect::<Vec<_>>()
        .try_into()
        .expect("two");
    let (year, month, day) = shown.check.date();
    let date = NaiveDate::from_ymd_opt(year as i32, month, day).expect("a date");
    assert_eq!(visit.get_start(), Some(DatePerhapsTime::Date(date)));
    assert_eq!(
        visit.get_summary(),
        Some("Next visit: Hall; the “large” one, Ä")
    );
    assert_eq!(visit.get_description(), Some("Client 2 (made up), 70002"));
    assert!(
        visit
            .get_uid()
            .is_some_and(|uid| uid.ends_with("-visit@evenhand"))
    );
    let end = Utc.timestamp_millis_opt(NOW_MS + 600 * 60_000).unwrap();
    let start = Some(DatePerhapsTime::DateTime(CalendarDateTime::Utc(end)));
    assert_eq!(dry.get_start(), start);
    assert_eq!(
        dry.get_timestamp(),
        Some(Utc.timestamp_millis_opt(NOW_MS).unwrap())
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Whatever a job is called is read as it was, but for signs that may not stand in a calendar.
    #[test]
    fn any_name_is_read_as_it_was(name in "[\\PC;,:\\\\\"\n]{1,90}") {
        let event = Event {
            uid: "1@evenhand".to_owned(),
            when: When::At(NOW_MS),
            title: format!("x{name}x"),
            text: String::new(),
        };
        let file = calendar(&[event], NOW_MS);
        prop_assert!(file.split("\r\n").all(|line| line.len() <= 75));
        let calendar = parsed(&file);
        let read: Vec<_> = calendar.events().collect();
        prop_assert_eq!(read.len(), 1);
        let title = format!("x{name}x");
        prop_assert_eq!(read[0].get_summary(), Some(title.as_str()));
    }
}
