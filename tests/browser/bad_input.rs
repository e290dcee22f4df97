//! Nonsense, slips and somebody else's files: each a sentence, and nothing stored is lost.

use std::fs;
use std::path::PathBuf;

use tempfile::TempDir;

use crate::browser::Browser;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

#[tokio::test]
async fn a_nonsense_reading_is_refused_with_what_would_be_accepted() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Nonsense", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    browser.type_keys("1/0\u{e007}").await;
    assert!(pass.message().await.contains("cannot stand over 0"));
    browser.type_keys("\u{e003}\u{e003}\u{e003}").await;
    browser.type_keys("//\u{e007}").await;
    assert!(pass.message().await.contains("is not a length"));
    assert_eq!(pass.note().await, "A0");
    assert!(pass.caption().await.starts_with("0 of 88 read"));
}

#[tokio::test]
async fn a_reading_outside_the_plausible_range_asks_once_and_is_kept_if_confirmed() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Slip", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.type_and_enter("999").await;
    assert!(pass.message().await.contains("999.0 mm?"));
    browser.tap(".ask button:first-of-type").await;
    assert_eq!(pass.note().await, "A0");
    pass.type_and_enter("999").await;
    browser.tap(".ask button:last-of-type").await;
    pass.wait_for_note("A♯0").await;
    pass.wait_until_saved().await;
    assert!(pass.caption().await.contains("1 out"));
}

/// Files that are no job files, with what is said of each.
fn bad_files(good: &str, folder: &TempDir) -> Vec<(PathBuf, &'static str)> {
    let cut = &good[..good.len() / 2];
    [
        ("cut.job.json", cut.to_owned(), "breaks off before its end"),
        (
            "foreign.json",
            r#"{"name":"holiday"}"#.to_owned(),
            "not a job file of Evenhand",
        ),
        (
            "prose.json",
            "Dear office,".to_owned(),
            "not a job file of Evenhand",
        ),
        ("empty.json", String::new(), "The file is empty"),
        ("deep.json", "[".repeat(100_000), "nested far deeper"),
        (
            "huge.json",
            " ".repeat(evenhand_core::job::MOST_BYTES + 1),
            "a job file has at most",
        ),
    ]
    .into_iter()
    .map(|(name, text, says)| {
        let path = folder.path().join(name);
        fs::write(&path, text).expect("the file is written");
        (path, says)
    })
    .collect()
}

#[tokio::test]
async fn a_bad_file_is_a_sentence_and_loses_nothing_stored() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Stays", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.on_target().await;
    pass.wait_until_saved().await;
    browser.tap(".bar a.tool").await;
    let file = Order(&browser).export().await;
    let good = fs::read_to_string(&file).expect("the export can be read");
    browser.tap(".bar a.tool").await;
    browser.tap(".bar a.tool").await;
    let jobs = Jobs(&browser);
    let folder = TempDir::new().expect("a folder");
    for (bad, says) in bad_files(&good, &folder) {
        jobs.choose(&bad).await;
        let said = wait_for_notice(&browser, says).await;
        assert!(said.contains("nothing stored here was changed"), "{said}");
    }
    assert_eq!(jobs.names().await, ["Stays"]);
    jobs.open_first().await;
    Order(&browser).wait_for_line("let_off", "1 of 88").await;
    // Its own file, opened again, changes nothing either.
    browser.tap(".bar a.tool").await;
    jobs.choose(&file).await;
    wait_for_notice(&browser, "0 new entries").await;
}

#[tokio::test]
async fn a_reading_changed_in_the_file_by_hand_is_reported() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Tampered", "").await;
    Order(&browser).begin("let_off").await;
    Pass(&browser).type_and_enter("18").await;
    Pass(&browser).wait_until_saved().await;
    browser.tap(".bar a.tool").await;
    let file = Order(&browser).export().await;
    let text = fs::read_to_string(&file).expect("the export can be read");
    let changed = text.replace("\"let_off_mm\": 1.8", "\"let_off_mm\": 2.0");
    assert_ne!(changed, text);
    fs::write(&file, changed).expect("the file is written");
    let other = Browser::phone().await;
    Jobs::open(&other, &site).await.choose(&file).await;
    wait_for_notice(&other, "note 1 bench let_off_mm").await;
    // A warning, and so one that stays; news would go by itself.
    assert!(other.count(".notice.trouble").await > 0);
    let order = Order(&other);
    order.begin("let_off").await;
    Pass(&other).travel_to(1).await;
    Pass(&other).wait_for_note("A0").await;
    assert_eq!(Pass(&other).reading().await, "1.8");
}
