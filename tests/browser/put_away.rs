//! Jobs that are put away: archived ones are folded away, deleted ones come back or are erased.

use evenhand_tests::RunningSite;
use serde_json::json;

use crate::browser::Browser;
use crate::main_job::read_json;
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::{serve_release, tap_named, wait_for_count, wait_until_saved};

/// Moves the clock of pages that are loaded from now on by as many days as `localStorage.days` says.
const CLOCK: &str = "
    const now = Date.now.bind(Date);
    Date.now = () => now() + Number(localStorage.getItem('days') ?? 0) * 86400000;
";

/// How many records of a job the journal holds.
const RECORDS: &str = "return new Promise(done => {
    const opening = indexedDB.open('evenhand');
    opening.onsuccess = () => {
        const keys = opening.result.transaction('entries').objectStore('entries').getAllKeys();
        keys.onsuccess = () => { opening.result.close(); done(keys.result.filter(k => k.startsWith(arguments[0])).length); };
    };
})";

async fn records(browser: &Browser, job: &str) -> u64 {
    let count = browser.run(RECORDS, vec![json!(job)]).await;
    count.as_u64().expect("a count")
}

/// The id of the open job.
async fn open_job(browser: &Browser) -> String {
    let id = browser
        .run("return location.hash.split('/')[1]", vec![])
        .await;
    id.as_str().unwrap_or_default().to_owned()
}

/// Loads the app anew at the list of jobs, with the clock so many days ahead of the real one.
async fn days_later(browser: &Browser, site: &RunningSite, days: i32) {
    let set = "localStorage.setItem('days', arguments[0]); location.hash = '#/'";
    browser.run(set, vec![json!(days)]).await;
    browser.go_to("about:blank").await;
    browser.go_to(&format!("{}#/", site.url())).await;
    browser.wait_for(".screen .job-list").await;
    let known = "return document.querySelector('.job-list [role=status]') === null";
    browser.wait_until(known, vec![]).await;
}

/// Opens the sheet that asks before the open job is deleted.
async fn ask_to_delete(browser: &Browser) {
    Typing(browser).go("setup/archive").await;
    Typing(browser).unfold("archive").await;
    tap_named(browser, "#archive", "Delete this job").await;
    browser.wait_for("dialog[open]").await;
}

#[tokio::test]
async fn an_archived_job_is_folded_away_and_can_be_taken_out() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Old hall", "").await;
    jobs.show().await;
    jobs.make("New hall", "").await;
    jobs.show().await;
    assert_eq!(jobs.names().await, ["New hall", "Old hall"]);
    browser.tap(".jobs .job-row:last-child .job").await;
    browser.wait_for(".order .step").await;
    Typing(&browser).go("setup/archive").await;
    Typing(&browser).unfold("archive").await;
    tap_named(&browser, "#archive", "Archive this job").await;
    Typing(&browser)
        .wait_for_words("#archive summary", "archived")
        .await;
    wait_until_saved(&browser).await;
    // It is in the log of the job, so a reload and another device know.
    browser.reload().await;
    browser.wait_for("#archive").await;
    jobs.show().await;
    assert_eq!(jobs.names().await, ["New hall"]);
    let folded = jobs.unfold("archived").await;
    assert!(
        folded.contains("1 job") && folded.contains("Old hall"),
        "{folded}"
    );
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("jobs-archived").await;
    browser.tap("#archived .job").await;
    browser.wait_for(".order .step").await;
    assert!(browser.text(".bar").await.contains("archived"));
    // Undo takes the archiving back.
    Typing(&browser).go("setup/archive").await;
    browser.tap("button[aria-label=Undo]").await;
    wait_for_notice(&browser, "Taken back: that the job was archived.").await;
    jobs.show().await;
    wait_for_count(&browser, "#archived", 0).await;
    assert_eq!(jobs.names().await.len(), 2);
}

#[tokio::test]
async fn a_deleted_job_is_exported_first_comes_back_and_is_erased_after_thirty_days() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(CLOCK).await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Kept", "").await;
    jobs.show().await;
    jobs.make("Gone", "").await;
    wait_until_saved(&browser).await;
    let job = open_job(&browser).await;
    let held = records(&browser, &job).await;
    assert!(held > 0);
    // What is half typed belongs to the job, too.
    Typing(&browser).go("setup/keys").await;
    Typing(&browser).fill("key-natural", 0, "25x").await;
    ask_to_delete(&browser).await;
    assert!(browser.text("dialog[open]").await.contains("not exported"));
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("delete-unexported").await;
    tap_named(&browser, "dialog[open]", "Export, then delete").await;
    let file = browser.download(".job.json").await;
    assert_eq!(read_json(&file)["job"]["name"], json!("Gone"));
    wait_for_notice(&browser, "“Gone” was deleted.").await;
    jobs.names().await;
    wait_for_count(&browser, ".job-name", 1).await;
    let folded = jobs.unfold("deleted").await;
    assert!(
        folded.contains("Gone") && folded.contains("Will be erased on"),
        "{folded}"
    );
    browser.screenshot("jobs-deleted").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);

    // Brought back, whole, and deleted again.
    tap_named(&browser, "#deleted", "Bring back Gone").await;
    wait_for_count(&browser, "#deleted", 0).await;
    days_later(&browser, &site, 0).await;
    wait_for_count(&browser, ".job-name", 2).await;
    assert_eq!(records(&browser, &job).await, held);
    browser.tap(&format!(".job[href='#/{job}']")).await;
    browser.wait_for(".order .step").await;
    ask_to_delete(&browser).await;
    browser.screenshot("delete-exported").await;
    tap_named(&browser, "dialog[open]", "Delete the job").await;
    wait_for_count(&browser, ".job-name", 1).await;

    // Neither a clock that lost its date nor 29 days erase anything.
    for days in [-9000, 29] {
        days_later(&browser, &site, days).await;
        // The first visit erases after the list is shown, so the second sees what it has left.
        days_later(&browser, &site, days).await;
        assert!(jobs.unfold("deleted").await.contains("Gone"), "day {days}");
        assert_eq!(records(&browser, &job).await, held, "day {days}");
    }
    days_later(&browser, &site, 31).await;
    wait_for_count(&browser, "#deleted", 0).await;
    assert_eq!(jobs.names().await, ["Kept"]);
    assert_eq!(records(&browser, &job).await, 0);
    let left = "return Object.keys(localStorage).filter(key => key.includes(arguments[0]))";
    assert_eq!(
        browser.run(left, vec![json!(format!("/{job}"))]).await,
        json!([])
    );
    let listed =
        "return ['jobs', 'deleted'].some(key => localStorage.getItem(key)?.includes(arguments[0]))";
    assert_eq!(browser.run(listed, vec![json!(job)]).await, json!(false));
    // Its file opens as a new job would.
    jobs.choose(&file).await;
    browser.wait_for(".order .step").await;
    assert_eq!(open_job(&browser).await, job);
}

#[tokio::test]
async fn what_the_journal_holds_counts_and_not_what_the_list_says_of_it() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(CLOCK).await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Hall", "").await;
    let job = open_job(&browser).await;
    Order(&browser).export().await;
    wait_until_saved(&browser).await;
    ask_to_delete(&browser).await;
    tap_named(&browser, "dialog[open]", "Delete the job").await;
    wait_for_notice(&browser, "“Hall” was deleted.").await;
    // As after a page was killed that had stored an entry but not renewed the list.
    let one_more = "return new Promise(done => {
        const opening = indexedDB.open('evenhand');
        opening.onsuccess = () => {
            const writing = opening.result.transaction('entries', 'readwrite');
            writing.oncomplete = () => { opening.result.close(); done(true); };
            const store = writing.objectStore('entries');
            const own = IDBKeyRange.bound(`${arguments[0]}/`, `${arguments[0]}0`);
            store.getAllKeys(own).onsuccess = keys => {
                const last = keys.target.result.at(-1);
                store.get(last).onsuccess = found => {
                    const line = JSON.parse(found.target.result);
                    line.seq += 1;
                    store.put(JSON.stringify(line), last.slice(0, -16) + line.seq.toString(16).padStart(16, '0'));
                };
            };
        };
    })";
    let before = records(&browser, &job).await;
    browser.run(one_more, vec![json!(job)]).await;
    assert_eq!(records(&browser, &job).await, before + 1);
    days_later(&browser, &site, 31).await;
    days_later(&browser, &site, 31).await;
    let folded = jobs.unfold("deleted").await;
    assert!(folded.contains("Not exported, so it is kept"), "{folded}");
    assert!(records(&browser, &job).await > 0);
}

#[tokio::test]
async fn unexported_work_is_never_erased_and_a_file_brings_a_deleted_job_back() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(CLOCK).await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Hall", "").await;
    let job = open_job(&browser).await;
    let file = Order(&browser).export().await;
    // One entry more than was exported.
    Typing(&browser).go("setup/job").await;
    Typing(&browser).fill("serial", 0, "0417").await;
    Typing(&browser).enter().await;
    wait_until_saved(&browser).await;
    ask_to_delete(&browser).await;
    tap_named(&browser, "dialog[open]", "Delete without export").await;
    wait_for_notice(&browser, "“Hall” was deleted.").await;
    days_later(&browser, &site, 400).await;
    let folded = jobs.unfold("deleted").await;
    assert!(
        folded.contains("Hall") && folded.contains("Not exported, so it is kept"),
        "{folded}"
    );
    assert!(records(&browser, &job).await > 0);
    // A link to it does not show it as if it were there.
    browser
        .run(
            "location.hash = arguments[0]",
            vec![json!(format!("#/{job}"))],
        )
        .await;
    wait_for_notice(&browser, "This job was deleted on this device").await;
    browser.wait_for(".screen .job-list").await;

    jobs.choose(&file).await;
    browser.wait_for(".order .step").await;
    wait_for_notice(
        &browser,
        "“Hall” was deleted on this device. It is back in the list.",
    )
    .await;
    days_later(&browser, &site, 800).await;
    assert_eq!(jobs.names().await, ["Hall"]);
    assert_eq!(browser.count("#deleted").await, 0);
    // What was entered after the export is there.
    browser.tap(".job").await;
    browser.wait_for(".order .step").await;
    Typing(&browser).go("setup/job").await;
    Typing(&browser).wait_for_text("serial", 0, "0417").await;
}

#[tokio::test]
async fn a_job_deleted_in_one_tab_leaves_the_other_and_comes_back_in_both() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Twice", "").await;
    wait_until_saved(&browser).await;
    let place = browser.run("return location.href", vec![]).await;
    browser.open_tab().await;
    browser.go_to(place.as_str().expect("an address")).await;
    browser.wait_for(".order .step").await;
    ask_to_delete(&browser).await;
    tap_named(&browser, "dialog[open]", "Delete without export").await;
    wait_for_notice(&browser, "“Twice” was deleted.").await;
    browser.show_tab(0).await;
    browser.wait_for(".screen #deleted").await;
    wait_for_count(&browser, ".job-name", 0).await;
    jobs.unfold("deleted").await;
    tap_named(&browser, "#deleted", "Bring back Twice").await;
    wait_for_count(&browser, ".job-name", 1).await;
    browser.show_tab(1).await;
    wait_for_count(&browser, ".job-name", 1).await;
    assert_eq!(browser.count("#deleted").await, 0);
}

/// A name from a file does not turn our own words round.
#[tokio::test]
async fn the_name_of_a_deleted_job_stands_apart_in_the_sentence() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let name = format!("\u{202e}llah {}", "x".repeat(80));
    Jobs::open(&browser, &site).await.make(&name, "").await;
    wait_until_saved(&browser).await;
    ask_to_delete(&browser).await;
    let title = browser.text("dialog[open]").await;
    let shown = format!("“\u{2068}[U+202E]llah {}…\u{2069}”", "x".repeat(54));
    assert!(title.contains(&format!("Delete {shown}?")), "{title}");
    tap_named(&browser, "dialog[open]", "Delete without export").await;
    let told = wait_for_notice(&browser, "was deleted").await;
    assert!(told.starts_with(&format!("{shown} was deleted")), "{told}");
}
