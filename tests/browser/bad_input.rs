//! Nonsense, slips and somebody else's files: each a sentence, and nothing stored is lost.

use std::fs;
use std::path::PathBuf;

use evenhand_tests::RunningSite;
use serde_json::Value;
use tempfile::TempDir;

use crate::browser::Browser;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

#[path = "../../core/tests/shared/texts.rs"]
mod texts;
use texts::replace_texts;

#[tokio::test]
async fn a_nonsense_reading_is_refused_with_what_would_be_accepted() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Nonsense", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    browser.type_keys("1/0\u{e007}").await;
    assert!(pass.message().await.contains("0 below the line"));
    browser.type_keys("\u{e003}\u{e003}\u{e003}").await;
    browser.type_keys("//\u{e007}").await;
    assert!(pass.message().await.contains("is not a length"));
    assert_eq!(pass.note().await, "A0");
    assert!(pass.caption().await.starts_with("0 of 88 measured"));
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
            " ".repeat(evenhand_core::job::MAX_BYTES + 1),
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
    wait_for_notice(&browser, "nothing new").await;
}

/// The file, and its text, of a job with one let-off of 1.8 mm.
async fn one_reading_exported(
    browser: &Browser,
    site: &RunningSite,
    name: &str,
) -> (PathBuf, String) {
    Jobs::open(browser, site).await.make(name, "").await;
    Order(browser).begin("let_off").await;
    Pass(browser).type_and_enter("18").await;
    Pass(browser).wait_until_saved().await;
    browser.tap(".bar a.tool").await;
    let file = Order(browser).export().await;
    let text = fs::read_to_string(&file).expect("the export can be read");
    (file, text)
}

#[tokio::test]
async fn a_reading_changed_in_the_file_by_hand_is_reported() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let (file, text) = one_reading_exported(&browser, &site, "Tampered").await;
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

/// A job with text of every kind that programs have tripped over in every field that takes any.
fn evil_job(evil: &str) -> String {
    use evenhand_core::analysis::job_file::export;
    use evenhand_core::job::{Job, JobId, ReplicaId};
    let entries =
        evenhand_core::demo::entries(JobId::new(666), ReplicaId::new(7), 1_790_000_000_000);
    let job = Job::from_entries(entries);
    let mut file: Value = serde_json::from_str(&export(&job, 0)).expect("the demo's file");
    let texts = replace_texts(&mut file["log"], evil);
    assert!(texts > 50, "{texts}");
    file.to_string()
}

#[tokio::test]
async fn text_from_a_file_is_only_ever_text_on_every_screen() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let file = folder.path().join("evil.job.json");
    let evil =
        "\"'><img src=x onerror=hacked()><script>hacked()</script><a href=javascript:hacked()>&lt;";
    fs::write(&file, evil_job(evil)).expect("the file is written");
    let browser = Browser::phone().await;
    browser
        .before_load("window.hacks = 0; window.hacked = () => { hacks += 1; };")
        .await;
    Jobs::open(&browser, &site).await.choose(&file).await;
    browser.wait_for(".order .step").await;
    let job = browser.run("return location.hash", vec![]).await;
    let job = job.as_str().unwrap_or_default().to_owned();
    let mut seen = 0;
    for (place, ready) in [
        ("", ".order .step"),
        ("/pass/let_off", ".pad"),
        ("/profile/let_off", ".plot"),
        ("/corrections/let_off", ".todo"),
        ("/plan", ".days path"),
        ("/setup/heights", ".heights"),
        ("/targets/let_off", "#let_off .fields"),
        ("/handover", ".figures"),
        ("/report", ".letter"),
        ("/estimate", ".letter"),
    ] {
        browser
            .run(
                "location.hash = arguments[0]",
                vec![format!("{job}{place}").into()],
            )
            .await;
        browser.wait_for(ready).await;
        let found = "
            const made = document.querySelectorAll('img, script:not([src]), [onerror], a[href^=javascript]').length;
            const fields = [...document.querySelectorAll('input, textarea')].map(f => f.value).join();
            return [made, hacks, document.body.innerText.includes(arguments[0]) || fields.includes(arguments[0])];
        ";
        let found = browser.run(found, vec![evil.into()]).await;
        assert_eq!(found[0], 0, "{place}");
        assert_eq!(found[1], 0, "{place}");
        seen += usize::from(found[2] == true);
    }
    // It was there to be seen.
    assert!(seen >= 4, "{seen} screens show it");
    let refused = browser.console_log().await;
    assert!(
        !refused.iter().any(|line| line.contains("Content Security")),
        "{refused:?}"
    );
}

/// Entries with the names of stored ones and other content, in a file whose checksum does not fit.
#[tokio::test]
async fn entries_that_collide_with_stored_ones_do_not_take_their_place() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let (file, text) = one_reading_exported(&browser, &site, "Stays").await;
    let mut other: Value = serde_json::from_str(&text).expect("the export is JSON");
    for entry in other["log"].as_array_mut().expect("a log") {
        if entry["act"] == "reading" {
            entry["typed"] = "2.5".into();
            entry["value"] = serde_json::json!({ "nm": 2_500_000 });
        }
    }
    fs::write(&file, other.to_string()).expect("the file is written");
    browser.tap(".bar a.tool").await;
    browser.tap(".bar a.tool").await;
    Jobs(&browser).choose(&file).await;
    wait_for_notice(
        &browser,
        "1 record in the file differs from the one stored here",
    )
    .await;
    wait_for_notice(&browser, "This file was edited outside Evenhand").await;
    wait_for_notice(&browser, "nothing new").await;
    for _ in 0..2 {
        Order(&browser).begin("let_off").await;
        Pass(&browser).travel_to(1).await;
        Pass(&browser).wait_for_note("A0").await;
        assert_eq!(Pass(&browser).reading().await, "1.8");
        browser.tap(".bar a.tool").await;
        browser.reload().await;
        browser.wait_for(".order .step").await;
    }
}

/// A gigabyte is refused by its size: no byte of it is read.
#[tokio::test]
async fn a_gigabyte_is_refused_before_it_is_read() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let path = folder.path().join("gigabyte.job.json");
    let mut file = fs::File::create(&path).expect("a file");
    std::io::Write::write_all(&mut file, "[".repeat(1 << 20).as_bytes()).expect("it is written");
    // What follows takes no room on the disk, and is not looked at.
    file.set_len(1 << 30).expect("a gigabyte");
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.choose(&path).await;
    wait_for_notice(
        &browser,
        "The file has 1024 MB; a job file has at most 14 MB.",
    )
    .await;
}

/// More entries than fit into a blink: the reading is told, and all of it is there afterwards.
#[tokio::test]
async fn a_large_file_tells_how_far_it_is_read() {
    use evenhand_core::analysis::job_file::export;
    use evenhand_core::job::{Job, JobId, ReplicaId};
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let path = folder.path().join("large.job.json");
    let entries = evenhand_core::demo::entries(JobId::new(5), ReplicaId::new(7), 1_790_000_000_000);
    let mut job = Job::from_entries(entries);
    let last = job.log().last().expect("entries").clone();
    while job.log().len() < 9_000 {
        job.apply(job.draft(ReplicaId::new(8), last.at_ms, last.kind.clone()));
    }
    fs::write(&path, export(&job, 0)).expect("the file is written");
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    let watch = "
        window.said = new Set();
        new MutationObserver(() => document.querySelectorAll('.busy p').forEach(p => said.add(p.innerText + '|' + p.nextElementSibling.value)))
            .observe(document.body, { childList: true, subtree: true, characterData: true, attributes: true });
    ";
    browser.run(watch, vec![]).await;
    jobs.choose(&path).await;
    browser.wait_for(".order .step").await;
    let said = browser.run("return [...said]", vec![]).await;
    let said: Vec<String> = serde_json::from_value(said).expect("sentences");
    assert!(said.iter().any(|s| s.ends_with(" 0 %|0")), "{said:?}");
    assert!(said.len() > 3, "{said:?}");
    let left = "return [...document.querySelectorAll('.busy p')].map(n => n.innerText)";
    assert_eq!(
        browser.run(left, vec![]).await,
        serde_json::json!([]),
        "{said:?}"
    );
    let stored = "
        return new Promise(done => {
            const open = indexedDB.open('evenhand');
            open.onsuccess = () => {
                const count = open.result.transaction('entries').objectStore('entries').count();
                count.onsuccess = () => { open.result.close(); done(count.result === 9000); };
            };
        });
    ";
    browser.wait_until(stored, vec![]).await;
}
