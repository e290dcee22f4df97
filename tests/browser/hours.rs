//! Hours are somebody's: counted for the one who works, stated for the one who worked, flagged where they are missing,
//! and the same wherever they stand.

use std::fs;

use csv::ReaderBuilder;
use evenhand_core::analysis::job_file::{export, open};
use evenhand_core::job::{
    Details, EntryKind, Job, JobId, ReplicaId, Subject, TimeSource, WorkTime,
};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, Occasion, Place, StepId};
use evenhand_core::unit::{Kind, Value};
use serde_json::json;
use tempfile::TempDir;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::pages::hours::{Hours, Time};
use crate::pages::jobs::Jobs;
use crate::pages::office::Handover;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

const MINUTE_MS: i64 = 60_000;
/// 21 September 2026, 14:13 UTC.
const WORKED_MS: i64 = 1_790_000_000_000;

/// The clock of the page goes on by `skip` milliseconds when a test says so.
const CLOCK: &str = "window.skip = 0; const now = Date.now; Date.now = () => now() + skip;";

fn step(id: &'static str) -> StepId {
    StepId::of(id)
}

/// A job on which R. Sample tuned for 95 minutes without an entry, and set twelve let-offs, one a minute.
fn worked() -> Job {
    let phone = ReplicaId::new(2);
    let mut job = Job::new();
    let mut at_ms = WORKED_MS;
    let mut act = |job: &mut Job, minutes: i64, kind: EntryKind| {
        at_ms += minutes * MINUTE_MS;
        job.apply(job.draft(phone, at_ms, kind));
    };
    act(&mut job, 0, EntryKind::Made { job: JobId::new(7) });
    let text = |text: &str| Some(text.to_owned());
    let set = Box::new(Details {
        name: text("Assembly room"),
        technician: text("R. Sample"),
        rate_per_hour_cents: Some(6_000),
        currency: text("crowns"),
        ..Details::default()
    });
    act(&mut job, 0, EntryKind::Details { set });
    let open = |id| EntryKind::PassOpened {
        step: step(id),
        utc_offset_minutes: Some(0),
    };
    let reading = |measure, on, place, value| EntryKind::Reading {
        measure: MeasureId::of(measure),
        on,
        place,
        occasion: Occasion::Working,
        value,
        typed: String::new(),
    };
    act(&mut job, 0, open("tuning"));
    let tuned = reading("tuning", Subject::Whole, Place::Piano, Value::Done(true));
    act(&mut job, 95, tuned);
    act(
        &mut job,
        0,
        EntryKind::PassClosed {
            step: step("tuning"),
        },
    );
    act(&mut job, 0, open("let_off"));
    for number in 1..=12 {
        let on = Subject::Note(Note::new(number).expect("a note"));
        let value = Value::from_base(Kind::Length, 2_000_000);
        act(&mut job, 1, reading("let_off", on, Place::Bench, value));
    }
    act(
        &mut job,
        0,
        EntryKind::PassClosed {
            step: step("let_off"),
        },
    );
    job
}

/// The office at its desk, with the job open.
async fn office_with(site: &evenhand_tests::RunningSite, job: &Job) -> Browser {
    let folder = TempDir::new().expect("a folder");
    let file = folder.path().join("worked.job.json");
    fs::write(&file, export(job, WORKED_MS)).expect("a file");
    let office = Browser::open(Device::DESK, Profile::fresh()).await;
    office.before_load(CLOCK).await;
    Jobs::open(&office, site).await.choose(&file).await;
    office.wait_for(".order .step").await;
    Handover(&office).open().await;
    Handover(&office).sign("Office").await;
    office
}

/// The working time among the figures.
async fn figure(browser: &Browser) -> String {
    let figure = "return [...document.querySelectorAll('.figures div')].find(d => d.innerText.startsWith('Working time')).querySelector('dd').innerText";
    let figure = browser.run(figure, vec![]).await;
    figure.as_str().unwrap_or_default().to_owned()
}

#[tokio::test]
async fn time_is_stated_for_another_person_and_corrected_and_says_the_same_everywhere() {
    let site = serve_release();
    let office = office_with(&site, &worked()).await;
    Hours(&office).open().await;
    let hours = Hours(&office);
    let text = hours.text().await;
    assert!(text.contains("Done, no time counted"), "{text}");
    assert_eq!(
        hours.lines().await,
        ["Let-off | R. Sample, Regulate, counted | 12 min"]
    );

    // The sheet of the step without time knows who did it, and when.
    hours.tap_line("Tuning").await;
    assert_eq!(hours.fields().await, ["R. Sample", "2026-09-21", ""]);
    let minutes = |minutes| Time {
        minutes,
        ..Time::default()
    };
    hours.fill(minutes("1.5")).await;
    assert!(hours.refused().await.contains("such as 1:35"));
    hours.fill(minutes("1:35")).await;
    hours.save().await;
    hours
        .wait_for_line("Tuning | R. Sample, Return, stated by Office | 1 h 35 min")
        .await;
    assert!(!hours.text().await.contains("no time counted"));

    // For another person, on another day.
    hours.enter().await;
    let time = Time {
        step: "let_off",
        who: "S. Pattern",
        day: "2099-01-01",
        minutes: "40",
    };
    hours.fill(time).await;
    assert!(hours.refused().await.contains("still to come"));
    hours
        .fill(Time {
            day: "2026-09-22",
            ..Time::default()
        })
        .await;
    hours.save().await;
    let pattern = "Let-off | S. Pattern, Regulate, stated by Office | 40 min";
    hours.wait_for_line(pattern).await;

    // How long, and whose: each is one correction.
    hours.tap_line("Let-off\nR. Sample").await;
    hours.fill(minutes("20")).await;
    hours.save().await;
    hours
        .wait_for_line("Let-off | R. Sample, Regulate, stated by Office | 20 min")
        .await;
    hours.tap_line("Let-off\nS. Pattern").await;
    hours
        .fill(Time {
            who: "T. Model",
            ..Time::default()
        })
        .await;
    hours.save().await;
    hours
        .wait_for_line("Let-off | T. Model, Regulate, stated by Office | 40 min")
        .await;
    assert_eq!(hours.lines().await.len(), 3);
    office.screenshot("hours-corrected-desk").await;
    office.tap("[aria-label='Undo']").await;
    hours.wait_for_line(pattern).await;
    assert_eq!(figure(&office).await, "2 h 35 min");

    Handover(&office).open().await;
    assert_eq!(figure(&office).await, "2 h 35 min");
    let rows = "return [...document.querySelectorAll('.table tbody tr')].map(r => [...r.cells].map(c => c.innerText))";
    let rows = office.run(rows, vec![]).await;
    let rows: Vec<Vec<String>> = serde_json::from_value(rows).expect("rows");
    let time = |stage: &str| rows.iter().find(|r| r[0] == stage).map(|r| r[2].clone());
    assert_eq!(time("Regulate").as_deref(), Some("1 h"));
    assert_eq!(time("Return").as_deref(), Some("1 h 35 min"));
    let table = Handover(&office).table("hours").await;
    let table = fs::read_to_string(table).expect("a table");
    let mut table =
        ReaderBuilder::new().from_reader(table.trim_start_matches('\u{feff}').as_bytes());
    let rows: Vec<Vec<String>> = table
        .records()
        .map(|row| row.expect("a row").iter().map(str::to_owned).collect())
        .collect();
    let cells: Vec<[&str; 6]> = rows
        .iter()
        .map(|row| [4, 5, 6, 8, 9, 12].map(|column| row[column].as_str()))
        .collect();
    assert_eq!(
        cells,
        [
            [
                "2026-09-21",
                "R. Sample",
                "Regulate",
                "Let-off",
                "20",
                "20.00"
            ],
            ["2026-09-21", "R. Sample", "Return", "Tuning", "95", "95.00"],
            [
                "2026-09-22",
                "S. Pattern",
                "Regulate",
                "Let-off",
                "40",
                "40.00"
            ],
        ]
    );
    let report = Handover(&office).letter("report").await;
    for says in [
        "At 60.00 crowns an hour.",
        "155.00 crowns",
        "R. Sample",
        "1 h 55 min",
        "S. Pattern",
        "40 min",
        "2 h 35 min",
    ] {
        assert!(report.contains(says), "no “{says}” in {report}");
    }
    // The one who typed did none of the work.
    assert!(!report.contains("Office"), "{report}");
    assert!(!report.contains("no time counted"), "{report}");
}

#[tokio::test]
async fn the_office_that_only_looks_bills_nothing_and_what_is_missing_is_flagged() {
    let site = serve_release();
    let office = office_with(&site, &worked()).await;
    Handover(&office).open().await;
    assert_eq!(figure(&office).await, "12 min");
    let flagged = office.text(".untimed").await;
    assert_eq!(flagged, "Done, no time counted: Tuning.");
    // Looks through a pass for two minutes, and closes it.
    let go = "location.hash = location.hash.replace('handover', arguments[0])";
    office.run(go, vec![json!("pass/let_off")]).await;
    office.wait_for(".pass .pad").await;
    office.run("skip += 120000", vec![]).await;
    Pass(&office).back().await;
    Handover(&office).open().await;
    assert_eq!(figure(&office).await, "12 min");
    let report = Handover(&office).letter("report").await;
    assert!(
        report.contains("Done, no time counted: Tuning."),
        "{report}"
    );
    assert!(!report.contains("Office"), "{report}");
    assert!(!report.contains("No name given"), "{report}");
}

#[tokio::test]
async fn a_long_work_without_a_tap_is_flagged_at_its_end_and_its_time_is_one_touch_away() {
    let site = serve_release();
    let phone = Browser::phone().await;
    phone.before_load(CLOCK).await;
    Jobs::open(&phone, &site).await.make("Timed", "").await;
    Handover(&phone).open().await;
    Handover(&phone).sign("R. Sample").await;
    phone.back().await;
    phone.wait_for(".order .step").await;
    Order(&phone).begin("tuning").await;
    phone.run("skip += 95 * 60000", vec![]).await;
    let pass = Pass(&phone);
    pass.key("1").await;
    let text = pass.through().await;
    assert!(text.contains("Done, no time counted."), "{text}");
    assert!(text.contains("Working time today, R. Sample"), "{text}");
    let offered = "return document.querySelector('.through input').value === '95'";
    phone.wait_until(offered, vec![]).await;
    phone.screenshot("pass-untimed-phone").await;
    pass.on_through("Set").await;
    let says = "return document.querySelector('.through').innerText.includes('1 h 35 min so far, as stated')";
    phone.wait_until(says, vec![]).await;
    pass.wait_until_saved().await;
    pass.back().await;
    let file = Order(&phone).export().await;
    let opened = open(&fs::read(file).expect("a file")).expect("it opens");
    let job = Job::from_entries(opened.entries);
    let times = job.state().work_times_of("tuning");
    let told: Vec<_> = times
        .iter()
        .map(|t: &WorkTime| (t.worked.technician.as_deref(), t.minutes()))
        .collect();
    assert_eq!(told, [(Some("R. Sample"), 95)]);
    assert!(matches!(times[0].source, TimeSource::Stated { .. }));
}
