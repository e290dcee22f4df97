//! What two people said differently stands where it is stated, until one is kept; and a wrong clock is told.

use std::fs;
use std::path::Path;

use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{
    Details, Entry, EntryKind, Job, JobId, ReplicaId, Scope, Setup, Subject, WorkDay,
};
use evenhand_core::note::Note;
use evenhand_core::trade::{Band, MeasureId, Occasion, Place, StepId, Target};
use evenhand_core::unit::{Kind, LengthUnit, Value};
use evenhand_tests::RunningSite;
use serde_json::json;

use crate::browser::Browser;
use crate::outside::accessibility_faults;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::{serve_release, tap_named, wait_for_count, wait_until_saved};

/// 21 September 2026, 14:13 UTC.
const NOW_MS: i64 = 1_790_000_000_000;
const MINUTE_MS: i64 = 60_000;

/// A job that two named phones share, and the entries of each that the other does not know.
struct Apart {
    shared: Job,
    own: [Vec<Entry>; 2],
}

impl Apart {
    fn new() -> Apart {
        let mut shared = Job::new();
        let office = ReplicaId::new(1);
        let made = EntryKind::Made { job: JobId::new(7) };
        shared.apply(shared.draft(office, NOW_MS, made));
        let set = Box::new(Details {
            name: Some("Shared".to_owned()),
            ..Details::default()
        });
        shared.apply(shared.draft(office, NOW_MS, EntryKind::Details { set }));
        let mut apart = Apart {
            shared,
            own: [vec![], vec![]],
        };
        for (at, name) in ["S. Stack", "K. Keys"].into_iter().enumerate() {
            let technician = Some(name.to_owned());
            let set = Box::new(Details {
                technician,
                ..Details::default()
            });
            apart.act(at, |_| EntryKind::Details { set: set.clone() });
        }
        apart
    }

    /// An act on one of the two phones.
    fn act(&mut self, at: usize, kind: impl Fn(&Job) -> EntryKind) {
        let mut job = self.shared.clone();
        job.merge(self.own[at].iter().cloned());
        let minutes = self.own[at].len() as i64 * 2 + at as i64 + 1;
        let kind = kind(&job);
        let replica = ReplicaId::new(2 + at as u64);
        self.own[at].push(job.draft(replica, NOW_MS + minutes * MINUTE_MS, kind));
    }

    /// The job with what both did.
    fn together(&self) -> Job {
        let mut job = self.shared.clone();
        job.merge(self.own.iter().flatten().cloned());
        job
    }
}

async fn open(phone: &Browser, site: &RunningSite, job: &Job, folder: &Path) {
    let file = folder.join("shared.job.json");
    fs::write(&file, export(job, NOW_MS)).expect("the file is written");
    Jobs::open(phone, site).await.choose(&file).await;
}

/// Goes to a page of the open job.
async fn go(phone: &Browser, page: &str, ready: &str) {
    let go = "location.hash = location.hash.split('/').slice(0, 2).join('/') + arguments[0]";
    phone.run(go, vec![page.into()]).await;
    phone.wait_for(ready).await;
}

/// Waits until the only conflict inside an element says all of this.
async fn wait_for_conflict(phone: &Browser, inside: &str, says: &[&str]) {
    let only = "const all = document.querySelectorAll(arguments[0] + ' .conflict'); \
        return all.length === 1 && arguments[1].every(w => all[0].innerText.includes(w))";
    phone
        .wait_until(only, vec![inside.into(), says.into()])
        .await;
}

#[tokio::test]
async fn what_differs_stands_where_it_is_stated() {
    let site = serve_release();
    let folder = tempfile::tempdir().expect("a folder");
    let mut apart = Apart::new();
    let days = ["2026-09-21".parse().expect("a day")];
    for at in [0, 1] {
        let aim = [180, 220][at];
        apart.act(at, |_| EntryKind::Target {
            measure: MeasureId::of("let_off"),
            scope: Scope::Job,
            target: Some(Target::Flat(Band::mm(aim, 30, 50))),
        });
        apart.act(at, |_| EntryKind::LeftOut {
            step: StepId::of("key_tops"),
            out: at == 0,
        });
        let worked = WorkDay {
            day: days[0],
            technician: Some("R. Sample".to_owned()),
        };
        apart.act(at, |job| {
            let minutes = [60, 90][at];
            job.state()
                .minutes_stated(StepId::of("tuning"), minutes, worked.clone(), None)
        });
        let set = Box::new(Setup {
            length_unit: Some([LengthUnit::Millimeter, LengthUnit::Inch][at]),
            ..Setup::default()
        });
        apart.act(at, |_| EntryKind::Setup { set: set.clone() });
    }
    let phone = Browser::phone().await;
    open(&phone, &site, &apart.together(), folder.path()).await;
    phone.wait_for(".order .step").await;
    // The report tells it on the screen; its paper goes to the client.
    go(&phone, "/report", ".letter").await;
    let said = "Two people said different things";
    assert!(phone.text(".letter").await.contains(said));
    let media = |media: &str| json!({ "media": media });
    phone
        .cdp("Emulation.setEmulatedMedia", media("print"))
        .await;
    assert!(!phone.text(".letter").await.contains(said));
    phone.cdp("Emulation.setEmulatedMedia", media("")).await;
    go(&phone, "/targets", ".part").await;
    wait_for_conflict(&phone, "#let_off", &["Let-off", "S. Stack", "K. Keys"]).await;
    assert!(phone.text("#let_off summary").await.contains("1 conflict"));
    phone.screenshot("conflict-targets").await;
    assert_eq!(accessibility_faults(&phone).await, [""; 0]);
    tap_named(&phone, "#let_off .conflict li:nth-of-type(2)", "Keep").await;
    wait_for_count(&phone, ".conflict", 0).await;

    go(&phone, "/setup/sections", ".part").await;
    wait_for_conflict(
        &phone,
        "#sections",
        &["Unit of lengths", "S. Stack", "K. Keys"],
    )
    .await;
    phone.screenshot("conflict-setup").await;
    tap_named(&phone, "#sections .conflict li:nth-of-type(1)", "Keep").await;
    wait_for_count(&phone, ".conflict", 0).await;

    go(&phone, "/hours", ".hours").await;
    wait_for_conflict(&phone, ".hours", &["Tuning", "60 min", "90 min"]).await;
    phone.screenshot("conflict-hours").await;
    tap_named(&phone, ".conflict li:nth-of-type(1)", "Keep").await;
    wait_for_count(&phone, ".conflict", 0).await;

    go(&phone, "", ".order .step").await;
    Order(&phone).arrange().await;
    wait_for_conflict(&phone, ".order", &["Key tops", "S. Stack", "K. Keys"]).await;
    phone.screenshot("conflict-arrange").await;
    tap_named(&phone, ".conflict li:nth-of-type(1)", "Keep").await;
    wait_for_count(&phone, ".conflict", 0).await;
    wait_until_saved(&phone).await;

    // Nothing is left open, after a reload either.
    phone.reload().await;
    go(&phone, "/handover", ".figures").await;
    assert_eq!(phone.count(".conflict").await, 0);
}

#[tokio::test]
async fn a_merge_names_the_conflict_that_it_brings() {
    let site = serve_release();
    let folder = tempfile::tempdir().expect("a folder");
    let mut apart = Apart::new();
    let serial = |serial: &str| EntryKind::Details {
        set: Box::new(Details {
            serial: Some(serial.to_owned()),
            ..Details::default()
        }),
    };
    apart.act(0, |_| serial("4711"));
    apart.act(1, |_| serial("4717"));
    let phone = Browser::phone().await;
    open(&phone, &site, &apart.together(), folder.path()).await;
    phone.wait_for(".order .step").await;
    // The next file differs in another field; the serial number was told before.
    let described = |text: &str| EntryKind::Details {
        set: Box::new(Details {
            described: Some(text.to_owned()),
            ..Details::default()
        }),
    };
    apart.act(0, |_| described("A grand, 188 cm"));
    apart.act(1, |_| described("A grand, 186 cm"));
    let file = folder.path().join("later.job.json");
    fs::write(&file, export(&apart.together(), NOW_MS)).expect("the file is written");
    let jobs = Jobs(&phone);
    jobs.show().await;
    jobs.merge(&file).await;
    let said = wait_for_notice(&phone, "Two people differ").await;
    assert!(said.contains("188 cm") && said.contains("186 cm"), "{said}");
    assert!(!said.contains("4711") && !said.contains("4717"), "{said}");
}

#[tokio::test]
async fn entries_of_the_day_after_tomorrow_are_kept_and_told() {
    let site = serve_release();
    let folder = tempfile::tempdir().expect("a folder");
    let phone = Browser::phone().await;
    phone.before_load("Date.now = () => 1790000000000;").await;
    let mut job = Apart::new().shared;
    let reading = EntryKind::Reading {
        measure: MeasureId::of("let_off"),
        on: Subject::Note(Note::FIRST),
        place: Place::Bench,
        occasion: Occasion::Working,
        value: Value::from_base(Kind::Length, 2_000_000),
        typed: String::new(),
    };
    let ahead_ms = NOW_MS + 49 * 60 * MINUTE_MS;
    job.apply(job.draft(ReplicaId::new(2), ahead_ms, reading));
    open(&phone, &site, &job, folder.path()).await;
    wait_for_notice(&phone, "dated more than a day ahead").await;
    phone.wait_for(".order .step").await;
    phone.screenshot("clock-ahead").await;
    Order(&phone).wait_for_line("let_off", "1 of 88").await;
}
