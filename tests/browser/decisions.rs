//! Worn parts: what is decided, the renewals that follow, and the parts to order.

use std::fs;

use evenhand_core::analysis::decisions::parts_csv;
use evenhand_core::analysis::job_file::open;
use evenhand_core::job::Job;
use serde_json::json;

use crate::browser::Browser;
use crate::main_job::schema;
use crate::outside::{accessibility_faults, schema_faults};
use crate::pages::jobs::Jobs;
use crate::pages::office::Handover;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named, wait_until_saved};

/// Answers a grade by its word.
async fn grade(browser: &Browser, word: &str) {
    tap_named(browser, ".pad", word).await;
}

#[tokio::test]
async fn a_worn_part_is_decided_on_renewed_ordered_and_told_to_the_office() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Worn", "20").await;
    let order = Order(&browser);
    let there = "return !!document.querySelector(\"a[href$='/pass/decisions']\")";
    assert_eq!(
        browser.run(there, vec![]).await,
        json!(false),
        "nothing is worn yet"
    );
    order.begin("wear").await;
    // Hammers: worn in the bass, worn out in the treble.
    grade(&browser, "worn").await;
    grade(&browser, "worn out").await;
    wait_until_saved(&browser).await;
    Pass(&browser).back().await;

    order.begin("decisions").await;
    browser.screenshot("decision").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    grade(&browser, "recondition").await;
    grade(&browser, "renew").await;
    wait_until_saved(&browser).await;
    // At the end of the pass, or behind it.
    Handover(&browser).open().await;
    let parts = browser.text(".parts").await;
    assert!(parts.to_lowercase().contains("hammers"), "{parts}");
    assert!(parts.contains("68 pieces, section 2"), "{parts}");
    browser.tap(".parts input").await;
    browser.type_keys("as the old ones").await;
    browser.tap("h1").await;
    wait_until_saved(&browser).await;
    browser.screenshot("parts-to-order").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);

    let table = Handover(&browser).table("parts").await;
    let table = fs::read_to_string(table).expect("the table");
    assert!(
        table.contains("\"hammers\",\"as the old ones\",\"\",68,\"section 2\""),
        "{table}"
    );
    let report = Handover(&browser).letter("report").await;
    for says in [
        "Renew: hammers, section 2.",
        "Recondition: hammers, section 1.",
    ] {
        assert!(report.contains(says), "no “{says}” in {report}");
    }
    // A size that is already known is shown again, and the file has all of it.
    Handover(&browser).open().await;
    let size = "return document.querySelector('.parts input').value";
    assert_eq!(browser.run(size, vec![]).await, json!("as the old ones"));
    tap_named(&browser, ".reach", "Export the job file").await;
    let file = browser.download(".job.json").await;
    assert_eq!(schema_faults(&schema(), &file), [""; 0]);
    let bytes = fs::read(&file).expect("the file");
    let job = Job::from_entries(open(&bytes).expect("it opens").entries);
    assert_eq!(parts_csv(&job), table);
    assert!(job.state().step("hammers_renewed").is_some());
}
