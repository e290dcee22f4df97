//! The main job by thumb: a job is made, 88 let-off readings are taken, the browser dies,
//! nothing is missing, and the file that comes out is valid and equal wherever it is opened.

use std::path::{Path, PathBuf};

use evenhand_core::note::Note;
use evenhand_tests::RunningSite;
use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::schema_faults;
use crate::pages::jobs::{Jobs, notices};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

/// The let-off of an invented action, in tenths of a millimeter: mostly on target or the
/// value before, some of their own, some out of tolerance.
pub fn tenths(note: u32) -> u32 {
    match note % 11 {
        0 => 29,
        4 | 5 => 18,
        7 => 13 + note % 7,
        _ => 20,
    }
}

fn shown(tenths: u32) -> String {
    format!("{}.{}", tenths / 10, tenths % 10)
}

pub fn schema() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../public/evenhand-job.schema.json")
}

/// A job file as JSON.
pub fn read_json(path: &Path) -> Value {
    let text = std::fs::read_to_string(path).expect("the file can be read");
    serde_json::from_str(&text).expect("the file is JSON")
}

/// Takes one reading with as few taps as the pad allows, and checks that they are few.
async fn read_note(browser: &Browser, tenths: u32) {
    let pass = Pass(browser);
    let before = browser.taps();
    let most = if tenths == 20 {
        pass.on_target().await;
        1
    } else if pass.repeat(&shown(tenths)).await {
        1
    } else {
        pass.type_and_enter(&tenths.to_string()).await;
        3
    };
    assert!(
        browser.taps() - before <= most,
        "{tenths} took too many taps"
    );
}

pub async fn make_and_read_all(browser: &Browser, site: &RunningSite) {
    Jobs::open(browser, site)
        .await
        .make("Quay Hall", "20, 52, 72")
        .await;
    Order(browser).begin("let_off").await;
    let pass = Pass(browser);
    for note in 1..=88 {
        let name = Note::new(note).expect("a note").name();
        pass.wait_for_note(&name).await;
        let note = note as u32;
        if note == 30 {
            // A slip: read wrong, taken back, read right.
            pass.type_and_enter("31").await;
            pass.key("undo").await;
            pass.wait_for_note(&name).await;
            assert_eq!(pass.reading().await, "");
        }
        read_note(browser, tenths(note)).await;
    }
    assert!(pass.through().await.contains("88 of 88 measured"));
    pass.wait_until_saved().await;
}

/// The let-off readings of a job file, by note.
pub fn let_offs(file: &Value) -> Vec<f64> {
    let notes = file["notes"].as_array().expect("88 notes");
    notes
        .iter()
        .filter_map(|n| n["bench"]["let_off_mm"].as_f64())
        .collect()
}

#[tokio::test]
async fn eighty_eight_readings_survive_a_kill_and_end_in_a_valid_file() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make_and_read_all(&browser, &site).await;
    let expected: Vec<f64> = (1..=88).map(|n| f64::from(tenths(n)) / 10.0).collect();

    // As when the battery comes out.
    let profile = browser.kill();
    let browser = Browser::open(Device::PHONE, profile).await;
    browser.go_to(&site.url()).await;
    // Reopened at its address without a place, the app returns to the place it was left at.
    let pass = Pass(&browser);
    assert!(pass.through().await.contains("88 of 88 measured"));
    let out = (1..=88)
        .filter(|n| !(15..=25).contains(&tenths(*n)))
        .count() as u64;
    assert_eq!(pass.bars("notched").await, out);
    assert_eq!(pass.bars("solid").await, 88 - out);

    browser.tap(".bar a.tool").await;
    let order = Order(&browser);
    order.wait_for_line("let_off", &format!("{out} out")).await;
    let file = order.export().await;
    assert_eq!(schema_faults(&schema(), &file), [""; 0]);
    let first = read_json(&file);
    assert_eq!(let_offs(&first), expected);

    let other = Browser::phone().await;
    Jobs::open(&other, &site).await.choose(&file).await;
    other.wait_for(".order .step").await;
    Order(&other)
        .wait_for_line("let_off", &format!("{out} out"))
        .await;
    let copied = Order(&other).export().await;
    assert_eq!(schema_faults(&schema(), &copied), [""; 0]);
    let second = read_json(&copied);
    assert_eq!(second["log"], first["log"]);
    assert_eq!(second["notes"], first["notes"]);
    assert_eq!(second["log_sha256"], first["log_sha256"]);
}

#[tokio::test]
async fn a_pass_is_taken_with_a_hardware_keyboard_alone() {
    let site = serve_release();
    let browser = Browser::open(Device::DESK, Profile::fresh()).await;
    Jobs::open(&browser, &site).await.make("By keys", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    // A caliper that types its reading ends it with Enter.
    for (typed, next) in [
        ("1.83\u{e007}", "A♯0"),
        ("18\u{e007}", "B0"),
        ("5/64in\u{e007}", "C1"),
    ] {
        browser.type_keys(typed).await;
        pass.wait_for_note(next).await;
    }
    for (back, shown) in [("B0", "1.98"), ("A♯0", "1.8"), ("A0", "1.83")] {
        browser.type_keys("\u{e012}").await;
        pass.wait_for_note(back).await;
        assert_eq!(pass.reading().await, shown);
    }
}

#[tokio::test]
async fn notes_are_taken_in_any_order_by_strip_and_swipe() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Any order", "20, 52")
        .await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.travel_to(60).await;
    pass.wait_for_note("G♯5").await;
    pass.on_target().await;
    pass.wait_for_note("A5").await;
    pass.swipe(false).await;
    pass.wait_for_note("G♯5").await;
    assert_eq!(pass.verdict().await, "on target");
    pass.swipe(true).await;
    pass.wait_for_note("A5").await;
    assert!(pass.caption().await.starts_with("1 of 88 measured"));
}

#[tokio::test]
async fn reload_and_back_keep_the_job_and_the_place() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Kept", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.on_target().await;
    pass.on_target().await;
    pass.wait_for_note("B0").await;
    pass.wait_until_saved().await;
    browser.reload().await;
    pass.wait_for_note("B0").await;
    browser.back().await;
    Order(&browser).wait_for_line("let_off", "2 of 88").await;
    browser.back().await;
    browser.wait_for("form").await;
}

#[tokio::test]
async fn good_and_grades_take_one_tap_each() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Taps", "").await;
    let before = browser.taps();
    Order(&browser).begin("keys_eased").await;
    let pass = Pass(&browser);
    for note in Note::all() {
        pass.wait_for_note(&note.name()).await;
        pass.key(if note.number() == 40 { "0" } else { "1" }).await;
    }
    assert!(pass.through().await.contains("88 of 88 done, 1 out"));
    assert!(browser.taps() - before <= 92);
    browser.tap(".bar a.tool").await;
    Order(&browser).begin("spring").await;
    pass.key("2").await;
    pass.wait_for_note("A♯0").await;
    assert!(pass.caption().await.starts_with("1 of 88 done"));
}

#[tokio::test]
async fn the_demo_job_opens_in_one_tap_and_says_that_it_is_invented() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(NOTE_BUSY).await;
    let jobs = Jobs::open(&browser, &site).await;
    let before = browser.taps();
    jobs.demo().await;
    assert_eq!(browser.taps() - before, 1);
    // A slow phone takes a second to make it, and another to open it again: a bar says so.
    browser
        .wait_until("return !document.querySelector('.busy')", vec![])
        .await;
    assert_eq!(
        browser.run("return busy", vec![]).await,
        json!(["Making the demo job…"])
    );
    assert!(browser.text(".bar").await.contains("demo"));
    Order(&browser)
        .wait_for_line("aftertouch", "3 to re-measure")
        .await;
    assert_eq!(notices(&browser).await, [""; 0]);
    Pass(&browser).wait_until_saved().await;
    browser.reload().await;
    browser.wait_for(".order .step").await;
    assert_eq!(
        browser.run("return busy", vec![]).await,
        json!(["Opening the job…"])
    );
}

/// Notes each word that stood above a bar, in `busy`, but for the loading of a part of the program, which may be there.
const NOTE_BUSY: &str = "
    window.busy = [];
    new MutationObserver(() => document.querySelectorAll('.busy p').forEach(p => {
        if (busy.at(-1) !== p.innerText && p.innerText !== 'Loading…') busy.push(p.innerText);
    })).observe(document, { subtree: true, childList: true });
";

#[tokio::test]
async fn disturbed_readings_are_read_again_first_and_say_why() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let order = Order(&browser);
    assert!(
        order
            .card()
            .await
            .contains("3 to re-measure: later work changed them.")
    );
    order.do_now().await;
    let pass = Pass(&browser);
    for name in ["G1", "G♯1", "G♯2"] {
        pass.wait_for_note(name).await;
        assert!(
            pass.message()
                .await
                .contains("blow changed since this aftertouch was measured")
        );
        pass.on_target().await;
    }
    assert!(
        pass.through()
            .await
            .contains("3 of 88 measured, 85 not measured, none out")
    );
    // What is left of this step comes before the next.
    assert_eq!(
        browser.text(".through .main").await,
        "Go to the first to do"
    );
    pass.on_through("Go to the first to do").await;
    pass.wait_for_note("A0").await;
}
