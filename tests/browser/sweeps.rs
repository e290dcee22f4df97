//! A row looked along in one touch: the exceptions are measured, the rest of a section or of the whole row is swept.

use evenhand_core::analysis::job_file::open;
use evenhand_core::job::{ItemState, Job};
use serde_json::json;

use crate::browser::Browser;
use crate::main_job::read_json;
use crate::outside::{accessibility_faults, schema_faults};
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::office::Handover;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, wait_until_saved};

/// Waits for a key that sweeps, and returns what it says.
async fn key(browser: &Browser, words: &str) -> String {
    let says = "const key = [...document.querySelectorAll('.sweeps .sweep')].find(b => b.innerText.includes(arguments[0])); \
        document.querySelectorAll('[data-named]').forEach(e => delete e.dataset.named); \
        if (key) key.dataset.named = ''; return key?.innerText ?? null";
    browser.wait_until(says, vec![json!(words)]).await;
    let text = browser.run(says, vec![json!(words)]).await;
    text.as_str().unwrap_or_default().to_owned()
}

/// Touches a key that sweeps.
pub async fn sweep(browser: &Browser, words: &str) {
    key(browser, words).await;
    browser.tap(".sweeps [data-named]").await;
}

#[tokio::test]
async fn the_rest_of_a_section_is_swept_in_one_touch_and_taken_back_in_one() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Row", "20, 52")
        .await;
    Order(&browser).begin("blow").await;
    let pass = Pass(&browser);
    // Of thirty-two notes of the middle section three are exceptions.
    let before = browser.taps();
    for (note, digits) in [(24, "464"), (31, "438"), (40, "466")] {
        pass.travel_to(note).await;
        pass.type_and_enter(digits).await;
    }
    pass.travel_to(21).await;
    pass.wait_for_note("F2").await;
    let says = key(&browser, "Rest of section on target").await;
    assert!(says.contains("F2 to C5, 29 notes"), "{says}");
    browser.screenshot("sweep-offered").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    sweep(&browser, "Rest of section on target").await;
    browser
        .wait_until(
            "return document.querySelector('.caption').innerText.startsWith('29 swept, 3 measured, 56 left')",
            vec![],
        )
        .await;
    assert!(browser.taps() - before <= 20);
    pass.travel_to(22).await;
    assert_eq!(pass.verdict().await, "swept, on target");
    browser.screenshot("sweep-swept").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    wait_until_saved(&browser).await;

    // Whole, and back whole.
    pass.key("undo").await;
    browser
        .wait_until(
            "return document.querySelector('.caption').innerText.startsWith('3 of 88 measured')",
            vec![],
        )
        .await;
    assert!(browser.text(".message").await.contains("a sweep"));
    pass.travel_to(21).await;
    sweep(&browser, "Rest of section on target").await;
    wait_until_saved(&browser).await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    assert!(pass.caption().await.starts_with("29 swept, 3 measured"));
    pass.travel_to(1).await;
    let says = key(&browser, "Whole row on target").await;
    assert!(says.contains("56 notes"), "{says}");
    sweep(&browser, "Whole row on target").await;
    let end = pass.through().await;
    assert!(end.contains("85 swept, 3 of 88 measured, 3 out"), "{end}");

    pass.back().await;
    let file = Order(&browser).export().await;
    let schema =
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../public/evenhand-job.schema.json");
    assert_eq!(schema_faults(&schema, &file), [""; 0]);
    let json = read_json(&file);
    assert_eq!(json["notes"][21]["swept"], json!(["blow"]));
    assert_eq!(json["notes"][23]["swept"], json!([]), "it is measured");
    let opened = open(&std::fs::read(&file).expect("the file")).expect("a job");
    let job = Job::from_entries(opened.entries);
    let step = job.state().step("blow").expect("the step");
    let items = job.state().items(step).into_iter();
    let swept = items.filter(|i| matches!(job.state().item_state(step, i), ItemState::Swept(_)));
    assert_eq!(swept.count(), 85);
    // The office reads which it was.
    Handover(&browser).open().await;
    let table = Handover(&browser).table("readings").await;
    let table = std::fs::read_to_string(table).expect("a table");
    assert_eq!(table.matches("\"swept\",\"false\",\"true\"").count(), 85);
    let report = Handover(&browser).letter("report").await;
    assert!(report.contains("Blow: 85 swept, 3 measured."), "{report}");
}

#[tokio::test]
async fn eighty_eight_ticks_and_a_let_off_pass_take_few_touches() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Strokes", "30")
        .await;
    let pass = Pass(&browser);
    Order(&browser).begin("capstans_polished").await;
    pass.wait_for_note("A0").await;
    let before = browser.taps();
    sweep(&browser, "Whole row done").await;
    assert!(pass.through().await.contains("88 of 88 swept"));
    assert_eq!(browser.taps() - before, 1);
    pass.back().await;

    // Thirty notes of let-off with a gauge, three of them exceptions of two digits each.
    Order(&browser).begin("let_off").await;
    pass.wait_for_note("A0").await;
    let before = browser.taps();
    for (note, digits) in [(5, "27"), (11, "26")] {
        pass.travel_to(note).await;
        pass.type_and_enter(digits).await;
    }
    // The last number and the rest are entered by one key.
    pass.travel_to(23).await;
    pass.key("1").await;
    pass.key("2").await;
    browser.screenshot("sweep-typed").await;
    sweep(&browser, "Enter 1.2, rest by gauge").await;
    browser
        .wait_until(
            "return document.querySelector('.caption').innerText.startsWith('27 swept, 3 measured, 58 left')",
            vec![],
        )
        .await;
    let touches = browser.taps() - before;
    println!("{touches} touches for 30 let-offs with 3 exceptions");
    assert!(touches <= 12, "{touches} touches");
    assert_eq!(pass.bars("notched").await, 3);
}

#[tokio::test]
async fn what_is_swept_and_spoiled_is_looked_along_again() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Spoiled", "").await;
    let pass = Pass(&browser);
    Order(&browser).begin("drop").await;
    pass.wait_for_note("A0").await;
    sweep(&browser, "Whole row on target").await;
    assert!(pass.through().await.contains("88 of 88 swept"));
    pass.back().await;
    // A let-off that is turned moves the drop of its note.
    Order(&browser).begin("let_off").await;
    pass.wait_for_note("A0").await;
    pass.type_and_enter("30").await;
    pass.wait_for_message("A0 wide by").await;
    pass.turned().await;
    wait_until_saved(&browser).await;
    pass.back().await;
    Order(&browser)
        .wait_for_line("drop", "1 to re-measure")
        .await;
    Order(&browser).begin("drop").await;
    pass.wait_for_note("A0").await;
    pass.wait_for_message("let-off changed since this drop was measured")
        .await;
    assert_eq!(pass.bars("hatched").await, 1);
    browser.screenshot("sweep-spoiled").await;
}

#[tokio::test]
async fn the_rest_of_a_sample_is_swept_by_gauge_and_counted_apart() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make_of("Touch-up in the piano", "Sample", "").await;
    Typing(&browser)
        .choose_samples("1, 9, 20, 31, 45, 60, 61, 75, 88")
        .await;
    let pass = Pass(&browser);
    Order(&browser).begin("found_sample").await;
    pass.wait_for_note("A0").await;
    // The exception has its number, the rest none.
    pass.type_and_enter("30").await;
    pass.travel_to(20).await;
    pass.wait_for_note("E2").await;
    let says = key(&browser, "Rest of sample by gauge").await;
    assert!(says.contains("8 notes"), "{says}");
    browser.screenshot("sweep-sample").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    sweep(&browser, "Rest of sample by gauge").await;
    let next = "return document.querySelector('.note small').innerText.includes('drop')";
    browser.wait_until(next, vec![]).await;
    // No note between the samples joined them.
    pass.back().await;
    Order(&browser)
        .wait_for_line("found_sample", "9 of 36")
        .await;
    Handover(&browser).open().await;
    let report = Handover(&browser).letter("report").await;
    assert!(
        report.contains("Let-off: 1 of 9 out of tolerance"),
        "{report}"
    );
    assert!(report.contains("8 of 9"), "{report}");
}
