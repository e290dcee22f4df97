//! What is out, open and found is said wherever it matters: in the order, at the end of a pass, in
//! Handover, in the report, in the corrections, and in the next job of the instrument.

use std::fs;
use std::path::Path;

use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, Occasion, Place, StepId};
use evenhand_core::unit::{Kind, Value};
use evenhand_tests::RunningSite;
use serde_json::json;

use crate::browser::Browser;
use crate::pages::corrections::Corrections;
use crate::pages::jobs::Jobs;
use crate::pages::office::{Handover, make_in_office};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

const PHONE: ReplicaId = ReplicaId::new(7);
const NOW_MS: i64 = 1_790_000_000_000;

fn made() -> Job {
    let mut job = Job::new();
    add(&mut job, EntryKind::Made { job: JobId::new(1) });
    job
}

fn add(job: &mut Job, act: EntryKind) {
    assert!(job.apply(job.draft(PHONE, NOW_MS, act)));
}

fn found(job: &mut Job, measure: &str, on: Subject, value: Value) {
    let measure = MeasureId::from(measure);
    let (place, occasion) = (Place::Piano, Occasion::AsFound);
    let entry = job.reading(PHONE, NOW_MS, measure, on, place, occasion, value, "");
    assert!(job.apply(entry));
}

/// Opens a job on a phone on which nothing has been stored.
async fn phone_with(site: &RunningSite, job: &Job, folder: &Path) -> Browser {
    let file = folder.join("made.job.json");
    fs::write(&file, export(job, NOW_MS)).expect("the file is written");
    let phone = Browser::phone().await;
    Jobs::open(&phone, site).await.choose(&file).await;
    phone.wait_for(".order .step").await;
    phone
}

/// A survey in which everything is at its worst: 7 grades and 3 readings out, and a heavy touch.
fn worst() -> Job {
    let mut job = made();
    for part in [
        "hammers", "knuckles", "bushings", "checks", "centres", "cloths", "capstans",
    ] {
        let measure = format!("wear_{part}");
        found(&mut job, &measure, Subject::Section(0), Value::Grade(2));
    }
    let a4 = Subject::Note(Note::new(49).expect("A4"));
    let nm = |nm| Value::from_base(Kind::Length, nm);
    found(&mut job, "let_off", a4, nm(9_000_000));
    let hz = Value::from_base(Kind::Frequency, 430_000);
    found(&mut job, "pitch_a4", Subject::Whole, hz);
    for (measure, gf) in [("down_weight", 58), ("up_weight", 20)] {
        found(
            &mut job,
            measure,
            a4,
            Value::from_base(Kind::Force, gf * 1_000),
        );
    }
    job
}

#[tokio::test]
async fn a_survey_at_its_worst_says_so_in_the_order_the_handover_and_the_report() {
    let site = serve_release();
    let folder = tempfile::tempdir().expect("a folder");
    let phone = phone_with(&site, &worst(), folder.path()).await;
    let order = Order(&phone);
    order.wait_for_line("wear", "7 out").await;
    order.wait_for_line("pitch_a4", "1 out").await;
    order.wait_for_line("found_sample", "2 out").await;
    Handover(&phone).open().await;
    assert!(
        phone
            .text(".figures")
            .await
            .contains("Out of tolerance\n10")
    );
    let points = phone.text("ul.points").await;
    for says in [
        "As-found sample: 2 out of tolerance: let-off 1, friction 1. A4.",
        "Pitch of A4: 1 of 1 out of tolerance.",
        "Wear of hammers: worn out in section 1.",
    ] {
        assert!(points.contains(says), "no “{says}” in {points}");
    }
    phone.screenshot("handover-worst").await;
    let report = Handover(&phone).letter("report").await;
    for says in [
        "Out of tolerance now: 10.",
        "Friction: 1 of 1 out of tolerance",
        "A4 stood at 430.0 Hz, out of tolerance.",
    ] {
        assert!(report.contains(says), "no “{says}” in {report}");
    }
    // Each leads to the place where it is settled.
    Handover(&phone).open().await;
    phone.tap("ul.points a[href$='/pass/wear']").await;
    phone.wait_for(".pass").await;
}

#[tokio::test]
async fn friction_out_is_said_at_the_end_of_the_pass_and_its_weights_gone_through() {
    let site = serve_release();
    let phone = Browser::phone().await;
    Jobs::open(&phone, &site)
        .await
        .make("Heavy touch", "")
        .await;
    let order = Order(&phone);
    order.begin("weights").await;
    let pass = Pass(&phone);
    // The last of the notes that were drawn.
    let not_first = "return document.querySelector('.note-name').innerText !== arguments[0]";
    let first = pass.note().await;
    pass.travel_to(88).await;
    phone.wait_until(not_first, vec![json!(first)]).await;
    let last = pass.note().await;
    for weight in ["58", "20"] {
        pass.type_and_enter(weight).await;
    }
    let through = pass.through().await;
    assert!(through.contains("1 out (friction 1)."), "{through}");
    phone.screenshot("through-friction").await;
    pass.go_through_those_out().await;
    pass.wait_for_note(&last).await;
    assert_eq!(pass.reading().await, "58");
    pass.wait_until_saved().await;
    pass.back().await;
    order.wait_for_line("weights", "1 out").await;
    Handover(&phone).open().await;
    let points = phone.text("ul.points").await;
    assert!(
        points.contains(&format!("1 out of tolerance: friction 1. {last}.")),
        "{points}"
    );
}

#[tokio::test]
async fn an_adjustment_of_a_note_not_measured_is_shown_there() {
    let site = serve_release();
    let phone = Browser::phone().await;
    Jobs::open(&phone, &site).await.make("By eye", "").await;
    let order = Order(&phone);
    order.begin("let_off").await;
    let pass = Pass(&phone);
    pass.wait_for_note("A0").await;
    pass.more().await;
    pass.on_sheet("Set by eye").await;
    pass.wait_for_message("Set by eye. Not measured yet.").await;
    assert_eq!(pass.reading().await, "");
    phone.screenshot("pass-set-unread").await;
    // Measured, adjusted, and not measured again: no other work is to blame, and those out are not hidden by it.
    pass.type_and_enter("50").await;
    pass.wait_for_note("A♯0").await;
    pass.turned().await;
    pass.wait_for_note("A0").await;
    phone.tap("[aria-label='Skip this note']").await;
    pass.wait_for_note("A♯0").await;
    pass.type_and_enter("50").await;
    pass.wait_for_note("B0").await;
    pass.wait_until_saved().await;
    pass.back().await;
    order
        .wait_for_line("let_off", "1 to re-measure, adjusted since; 1 out")
        .await;
}

#[tokio::test]
async fn what_is_out_on_the_bench_is_named_while_the_action_is_in_the_piano() {
    let site = serve_release();
    let phone = Browser::phone().await;
    Jobs::open(&phone, &site).await.make("At home", "").await;
    let order = Order(&phone);
    order.begin("aftertouch").await;
    let pass = Pass(&phone);
    pass.wait_for_note("A0").await;
    pass.type_and_enter("30").await;
    pass.wait_until_saved().await;
    pass.back().await;
    let job = phone.run("return location.hash", vec![]).await;
    let job = job.as_str().expect("the job's address").to_owned();
    Corrections(&phone).go(&job, "").await;
    let says = phone.text(".teach").await;
    assert!(says.contains("Aftertouch: 1 out"), "{says}");
    phone.screenshot("corrections-elsewhere").await;
    phone.tap(".teach .points a").await;
    let chosen = "return location.hash.endsWith('/corrections/aftertouch')";
    phone.wait_until(chosen, vec![]).await;
}

#[tokio::test]
async fn an_open_fault_goes_on_to_the_next_job_and_says_since_when() {
    let site = serve_release();
    let folder = tempfile::tempdir().expect("a folder");
    let mut job = made();
    let fault = EntryKind::Remark {
        on: Subject::Note(Note::FIRST),
        step: Some(StepId::of("let_off")),
        fault: true,
        text: "Flange loose".to_owned(),
    };
    add(&mut job, fault);
    let phone = phone_with(&site, &job, folder.path()).await;
    Handover(&phone).open().await;
    Handover(&phone).next_job().await;
    make_in_office(&phone, &[("Piano", "A year later")]).await;
    Handover(&phone).open().await;
    let points = phone.text("ul.points").await;
    assert!(
        points.contains("Flange loose (open since an earlier job)"),
        "{points}"
    );
    phone.tap(".bar a.tool").await;
    Order(&phone).begin("let_off").await;
    let pass = Pass(&phone);
    pass.wait_for_message("Fault: Flange loose (open since")
        .await;
    pass.more().await;
    pass.on_sheet("Fixed").await;
    Handover(&phone).open().await;
    let gone = "return !document.body.innerText.includes('Flange loose')";
    phone.wait_until(gone, vec![json!(0)]).await;
}
