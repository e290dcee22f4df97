//! What was entered can be changed: the details of a job, a half-filled form, the archive, and deleted jobs.

use evenhand_tests::RunningSite;
use serde_json::json;

use crate::browser::Browser;
use crate::main_job::read_json;
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::{Jobs, notices, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::{serve_release, tap_named, wait_until_saved};

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

async fn wait_for_count(browser: &Browser, selector: &str, count: usize) {
    let there = "return document.querySelectorAll(arguments[0]).length === arguments[1]";
    browser
        .wait_until(there, vec![json!(selector), json!(count)])
        .await;
}

#[tokio::test]
async fn all_that_a_new_job_asked_for_can_be_changed_in_setup_and_taken_back() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    for (label, text) in [
        ("Name", "Studio"),
        ("Remark", "Key at the porter's"),
        ("Rate", "60"),
        ("Currency", "crowns"),
    ] {
        let focus = "const l = [...document.querySelectorAll('form label')].find(l => l.innerText.startsWith(arguments[0])); l?.querySelector('input').focus(); return !!l";
        browser.wait_until(focus, vec![json!(label)]).await;
        browser.type_keys(text).await;
    }
    browser.type_keys("\u{e007}").await;
    browser.wait_for(".order .step").await;

    let typing = Typing(&browser);
    typing.go("setup/job").await;
    typing.wait_for_text("rate", 0, "60.00").await;
    // Money has its own sentence, and what was typed stays.
    typing.fill("rate", 0, "sixty").await;
    typing.fill("rate", 1, "euros").await;
    typing.enter().await;
    let says = "“sixty” is not a sum of money. Type it in figures, such as 60 or 72.50.";
    typing.wait_for_refusal("rate", says).await;
    assert_eq!(typing.text("rate", 1).await, "euros");
    typing.fill("rate", 0, "72,5").await;
    typing.enter().await;
    typing.fill("name", 0, "Hall").await;
    typing.enter().await;
    let remark = browser
        .run(
            "return document.querySelector('[data-fields^=remark-]').dataset.fields",
            vec![],
        )
        .await;
    let remark = remark
        .as_str()
        .expect("the remark of the new job")
        .to_owned();
    typing.fill(&remark, 0, "Key at the office").await;
    browser.tap("#job > summary h2").await;
    browser.screenshot("setup-job").await;
    wait_until_saved(&browser).await;
    browser.reload().await;
    browser.wait_for("#job").await;
    typing.unfold("job").await;
    typing.wait_for_text("rate", 0, "72.50").await;
    typing.wait_for_text("rate", 1, "euros").await;
    typing.wait_for_text(&remark, 0, "Key at the office").await;
    typing.wait_for_text("name", 0, "Hall").await;

    // Undo takes them back one after the other, on a later visit too.
    for _ in 0..3 {
        browser.tap("button[aria-label=Undo]").await;
    }
    typing
        .wait_for_text(&remark, 0, "Key at the porter's")
        .await;
    typing.wait_for_text("name", 0, "Studio").await;
    typing.wait_for_text("rate", 0, "60.00").await;
    typing.wait_for_text("rate", 1, "crowns").await;
    // An emptied remark is withdrawn, an emptied rate is none.
    typing.fill(&remark, 0, "\u{e003}").await;
    browser.tap("[data-fields=rate] input").await;
    wait_for_count(&browser, "[data-fields^=remark-]", 0).await;
    browser.run("document.activeElement.select()", vec![]).await;
    browser.type_keys("\u{e003}").await;
    browser.tap("[data-fields=name] input").await;
    wait_until_saved(&browser).await;
    browser.back().await;
    browser.wait_for(".order .step").await;
    let file = read_json(&Order(&browser).export().await);
    assert_eq!(file["job"]["rate_per_hour_cents"], json!(0));
    assert_eq!(file["whole"]["remarks"], json!([]));
}

#[tokio::test]
async fn a_half_filled_new_job_is_kept_until_it_is_created_or_started_over() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    let name = "return document.querySelector('form main > label input')?.value";
    let upright = "return document.querySelectorAll('input[name=kind]')[1]?.checked";
    browser.tap("a[href='#/new']").await;
    browser.tap("form main > label input").await;
    browser.type_keys("Half").await;
    tap_named(&browser, "form", "Upright").await;
    browser.reload().await;
    browser.wait_for("form .reminder").await;
    assert_eq!(browser.run(name, vec![]).await, json!("Half"));
    assert_eq!(browser.run(upright, vec![]).await, json!(true));
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("new-job-kept").await;
    // Gone elsewhere and back.
    browser.tap(".bar a.tool").await;
    browser.wait_for(".job-list").await;
    browser.tap("a[href='#/new']").await;
    browser.wait_for("form .reminder").await;
    tap_named(&browser, "form", "Start over").await;
    wait_for_count(&browser, "form .reminder", 0).await;
    assert_eq!(browser.run(name, vec![]).await, json!(""));
    assert_eq!(browser.run(upright, vec![]).await, json!(false));

    browser.tap("form main > label input").await;
    browser.type_keys("Whole").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    // The next one begins empty.
    let jobs = Jobs(&browser);
    jobs.show().await;
    assert_eq!(jobs.names().await, ["Whole"]);
    browser.tap("a[href='#/new']").await;
    browser.wait_for("form main > label input").await;
    assert_eq!(browser.run(name, vec![]).await, json!(""));
    assert_eq!(browser.count("form .reminder").await, 0);
}

#[tokio::test]
async fn an_empty_form_asks_once_before_it_creates_a_job() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    browser.tap("button[type=submit]").await;
    let asks = "return document.querySelector('.reach')?.innerText.includes('No name or client yet. Create it anyway?')";
    browser.wait_until(asks, vec![]).await;
    browser.screenshot("new-job-asks").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    tap_named(&browser, ".reach", "Back to the form").await;
    let in_name =
        "return document.activeElement === document.querySelector('form main > label input')";
    browser.wait_until(in_name, vec![]).await;
    jobs.show().await;
    assert_eq!(jobs.names().await, [""; 0]);
    browser.tap("a[href='#/new']").await;
    browser.tap("button[type=submit]").await;
    tap_named(&browser, ".reach", "Create it anyway").await;
    browser.wait_for(".order .step").await;
    // A client is enough to know the job by.
    jobs.show().await;
    browser.tap("a[href='#/new']").await;
    browser.tap("form main > label:nth-of-type(2) input").await;
    browser.type_keys("Client 17").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    jobs.show().await;
    assert_eq!(jobs.names().await, ["Client 17, grand", "Grand"]);
}

#[tokio::test]
async fn a_field_that_is_refused_is_shown_and_said_beside_the_button() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    browser.tap("input.breaks").await;
    browser.type_keys("20, 99").await;
    browser.tap("input.rate").await;
    browser.type_keys("1/2").await;
    // From the top of the form, where the field is out of sight.
    browser.tap("form main > label input").await;
    browser.type_keys("Hall").await;
    browser.tap("button[type=submit]").await;
    let shown = "
        const field = document.activeElement, box = field.getBoundingClientRect();
        const view = document.querySelector('form main').getBoundingClientRect();
        const said = document.querySelector('.reach [role=alert]').innerText;
        return field.matches(arguments[0]) && box.top >= view.top && box.bottom <= view.bottom
            && document.getElementById(field.getAttribute('aria-describedby')).innerText.length > 0 && said;
    ";
    let said = browser.wait_until(shown, vec![json!("input.breaks")]).await;
    assert!(
        said.as_str()
            .unwrap_or_default()
            .starts_with("Section breaks: "),
        "{said}"
    );
    browser.screenshot("new-job-refused").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.run("document.activeElement.select()", vec![]).await;
    browser.type_keys("20, 52").await;
    browser.tap("form main > label input").await;
    browser.tap("button[type=submit]").await;
    let said = browser.wait_until(shown, vec![json!("input.rate")]).await;
    assert_eq!(
        said,
        json!(
            "Rate per hour: “1/2” is not a sum of money. Type it in figures, such as 60 or 72.50."
        )
    );
    browser.run("document.activeElement.select()", vec![]).await;
    browser.type_keys("60").await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
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
    browser.tap(".jobs li:nth-child(2) .job").await;
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

/// How far a job's line is from the top of the list, in pixels.
const BELOW_TOP: &str = "
    const line = [...document.querySelectorAll('.job-name')].find(n => n.textContent.trim() === arguments[0]);
    const list = document.querySelector('.job-list');
    return line ? line.getBoundingClientRect().top - list.getBoundingClientRect().top : null;
";

#[tokio::test]
async fn the_list_keeps_its_place_and_shows_the_open_job() {
    let site = serve_release();
    let phone = Browser::phone().await;
    let jobs = Jobs::open(&phone, &site).await;
    for number in 1..=14 {
        jobs.make(&format!("Room {number}"), "").await;
        jobs.show().await;
    }
    let middle = vec![json!("Room 5")];
    // Lines that come into view get their heights with the next frames.
    let scroll = "
        document.querySelector('.job-list').scrollTop = 900;
        const frame = () => new Promise(requestAnimationFrame);
        return frame().then(frame).then(frame).then(frame);
    ";
    phone.run(scroll, vec![]).await;
    let before = phone.run(BELOW_TOP, middle.clone()).await;
    for elsewhere in [".bar a[href='#/preferences']", "li:nth-child(9) .job"] {
        phone.tap(elsewhere).await;
        let gone = "return document.querySelector('.screen .job-list') === null";
        phone.wait_until(gone, vec![]).await;
        phone.tap(".bar a.tool").await;
        let same = BELOW_TOP.replace("return line ?", "const now = line ?")
            + "return now !== null && Math.abs(now - arguments[1]) < 3";
        phone
            .wait_until(&same, vec![middle[0].clone(), before.clone()])
            .await;
    }
    let last = phone
        .run(
            "return document.querySelector('.jobs li:last-child .job').hash",
            vec![],
        )
        .await;
    assert_eq!(notices(&phone).await, [""; 0]);

    // On a desk the open job is in view beside a link that was followed.
    let profile = phone.quit().await;
    let desk = Browser::open(crate::device::Device::DESK, profile).await;
    desk.go_to(&format!(
        "{}{}",
        site.url(),
        last.as_str().expect("an address")
    ))
    .await;
    desk.wait_for(".side .job[aria-current]").await;
    let in_view = "const line = document.querySelector('.side .job[aria-current]').getBoundingClientRect(); const list = document.querySelector('.side .job-list').getBoundingClientRect(); return line.top >= list.top && line.bottom <= list.bottom";
    desk.wait_until(in_view, vec![]).await;
    desk.screenshot("desk-open-job-in-view").await;
}
