//! Every sheet on one device in each test, as `screens.rs` does with the screens: nothing for axe to find, nothing cut
//! off, closed by a key, with the focus back where it was.

use std::fs;

use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{Details, EntryKind, Job, JobId, ReplicaId, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, Occasion, Place};
use evenhand_core::unit::{Kind, Value};
use serde_json::json;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::accessibility_faults;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::{serve_release, tap_named, wait_until_saved};
use crate::sight::{ask_for, cut_off};

/// Each sheet's name, the address beneath that of the job (or from `#`), what is there first, and what is tapped in
/// turn: a selector, or words after `=`. The photos of a note have tests of their own.
const SHEETS: [(&str, &str, &str, &[&str]); 9] = [
    ("pages", "", ".card", &["[aria-label='Pages of this job']"]),
    (
        "own-step",
        "",
        ".card",
        &[
            "[aria-label='Pages of this job']",
            "=Arrange the steps",
            "=Own step",
        ],
    ),
    (
        "step",
        "/pass/let_off",
        ".pass",
        &["[aria-label='About this step']"],
    ),
    (
        "note",
        "/pass/let_off/40",
        ".pad",
        &["[aria-label='More on this note']"],
    ),
    (
        "note-of-grade",
        "/pass/spring/40",
        ".pad",
        &["[aria-label='More on this note']"],
    ),
    ("conflict", "/pass/let_off/1", ".pad", &[".differing"]),
    ("time", "/hours", ".reach .main", &[".screen .reach .main"]),
    (
        "delete",
        "/setup/archive",
        "#archive .button",
        &["=Delete this job"],
    ),
    ("job", "#/", ".job-row", &[".job-row .more-job"]),
];

/// 21 September 2026, 14:13 UTC.
const NOW_MS: i64 = 1_790_000_000_000;

/// The files of a job on which two people measured one note, before the second did and after.
fn files_of_two() -> [String; 2] {
    let mut job = Job::new();
    let act = |job: &mut Job, phone: u64, kind: EntryKind| {
        job.apply(job.draft(ReplicaId::new(phone), NOW_MS, kind));
    };
    act(&mut job, 1, EntryKind::Made { job: JobId::new(7) });
    let named = |name: &str, technician: &str| EntryKind::Details {
        set: Box::new(Details {
            name: Some(name.to_owned()),
            technician: Some(technician.to_owned()),
            ..Details::default()
        }),
    };
    act(&mut job, 1, named("Assembly room, upper floor", "S. Stack"));
    let reading = |tenths: i64| EntryKind::Reading {
        measure: MeasureId::of("let_off"),
        on: Subject::Note(Note::FIRST),
        place: Place::Bench,
        occasion: Occasion::Working,
        value: Value::from_base(Kind::Length, tenths * 100_000),
        typed: String::new(),
    };
    let mut other = job.clone();
    act(&mut job, 2, reading(35));
    let before = export(&job, NOW_MS);
    // Neither knows of the other.
    other.apply(other.draft(ReplicaId::new(3), NOW_MS + 60_000, reading(31)));
    job.merge(other.log().entries().iter().cloned());
    [before, export(&job, NOW_MS)]
}

/// Looks at the sheet that is open, and takes its picture.
async fn check(browser: &Browser, sheet: &str, device: &str, faults: &mut Vec<String>) {
    browser.wait_for("dialog[open]").await;
    browser.screenshot(&format!("sheet-{sheet}-{device}")).await;
    let axe = accessibility_faults(browser).await;
    let cut = cut_off(browser).await;
    faults.extend(
        [axe, cut]
            .concat()
            .iter()
            .map(|fault| format!("{sheet}: {fault}")),
    );
}

/// Goes through all sheets on a device.
async fn check_sheets(device: Device, name: &str, forced: bool) {
    let site = serve_release();
    let folder = tempfile::tempdir().expect("a folder");
    let files = files_of_two().map(|text| {
        let file = folder.path().join(format!("{}.job.json", text.len()));
        fs::write(&file, text).expect("the file is written");
        file
    });
    let browser = Browser::open(device, Profile::fresh()).await;
    if forced {
        ask_for(&browser, device.color_scheme(), "forced-colors", "active").await;
    }
    Jobs::open(&browser, &site).await.choose(&files[0]).await;
    browser.wait_for(".order .step").await;
    let job = browser.run("return location.hash", vec![]).await;
    let job = job.as_str().expect("the job's address").to_owned();
    let mut faults = Vec::new();
    // What a file would change.
    Jobs(&browser).show().await;
    Jobs(&browser).choose(&files[1]).await;
    check(&browser, "opened", name, &mut faults).await;
    browser.tap(".sheet .button.main").await;
    wait_for_notice(&browser, "Two people differ").await;
    wait_until_saved(&browser).await;
    // Without the notices, which leave the pass little room.
    browser.reload().await;
    browser.wait_for(".order .step").await;
    for (sheet, address, ready, taps) in SHEETS {
        let address = match address.strip_prefix('#') {
            Some(_) => address.to_owned(),
            None => format!("{job}{address}"),
        };
        browser.run("location.hash = '#/preferences'", vec![]).await;
        browser.wait_for(".preferences").await;
        browser
            .run("location.hash = arguments[0]", vec![json!(address)])
            .await;
        browser.wait_for(ready).await;
        for tap in taps {
            match tap.strip_prefix('=') {
                Some(words) => tap_named(&browser, "body", words).await,
                None => browser.tap(tap).await,
            }
        }
        check(&browser, sheet, name, &mut faults).await;
        // Escape closes it, and what opened it has the focus again.
        browser.type_keys("\u{e00c}").await;
        let closed = "return !document.querySelector('dialog[open]')";
        browser.wait_until(closed, vec![]).await;
        let is_kept = "return document.activeElement !== document.body";
        if browser.run(is_kept, vec![]).await != json!(true) {
            faults.push(format!("{sheet}: the focus is lost when it is closed"));
        }
    }
    assert_eq!(faults, [""; 0], "{name}");
}

#[tokio::test]
async fn every_sheet_is_sound_on_a_dark_phone() {
    check_sheets(Device::PHONE.dark(), "phone-dark", false).await;
}

#[tokio::test]
async fn every_sheet_is_sound_on_a_desk() {
    check_sheets(Device::DESK, "desk", false).await;
}

#[tokio::test]
async fn every_sheet_is_sound_on_a_narrow_phone() {
    check_sheets(Device::PHONE.width(320), "narrow", false).await;
}

#[tokio::test]
async fn every_sheet_is_sound_with_text_twice_as_large() {
    check_sheets(Device::PHONE.text_percent(200), "large-text", false).await;
}

#[tokio::test]
async fn every_sheet_is_sound_in_forced_colors() {
    check_sheets(Device::PHONE, "forced", true).await;
}
