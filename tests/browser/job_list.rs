//! The list with 500 jobs: by keyboard alone, found by words, state and month, as a table and as cards; and the page of an
//! instrument.

use std::fs;

use evenhand_core::analysis::drift::next_job;
use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{EntryKind, JOBS_END, JOBS_SEPARATOR, Job, JobId, ReplicaId, jobs_start};
use evenhand_core::simulation::workshop_job;
use evenhand_tests::RunningSite;
use serde_json::json;
use tempfile::TempDir;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::main_job::read_json;
use crate::many_jobs::open_all;
use crate::outside::accessibility_faults;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::{serve_release, tap_named, wait_for_count};

const TAB: &str = "\u{e004}";
const ENTER: &str = "\u{e007}";
const RIGHT: &str = "\u{e014}";
const DOWN: &str = "\u{e015}";
const END: &str = "\u{e010}";
const HOME: &str = "\u{e011}";

/// The time of the invented jobs: now, so that some visits are due and some are over.
fn now_ms() -> i64 {
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    now.expect("a clock after 1970").as_millis() as i64
}

/// Opens a file of so many invented jobs on a device.
async fn with_jobs(browser: &Browser, site: &RunningSite, count: u64) {
    let folder = TempDir::new().expect("a folder");
    let now_ms = now_ms();
    let files: Vec<String> = (1..=count)
        .map(|n| export(&workshop_job(n, now_ms), now_ms))
        .collect();
    let path = folder.path().join("workshop.jobs.json");
    let all = files.join(JOBS_SEPARATOR);
    let text = format!("{}{all}{JOBS_END}", jobs_start(files.len(), now_ms));
    fs::write(&path, text).expect("the file is written");
    Jobs::open(browser, site).await;
    assert_eq!(open_all(browser, &path).await, format!("{count} new"));
}

/// What has the focus, in words.
async fn focused(browser: &Browser) -> String {
    let words = "const e = document.activeElement; return (e.ariaLabel ?? e.textContent).trim()";
    let words = browser.run(words, vec![]).await;
    words.as_str().unwrap_or_default().to_owned()
}

async fn wait_for_focus(browser: &Browser, on: &str) {
    let is = "const e = document.activeElement; return (e.ariaLabel ?? e.textContent).trim() === arguments[0]";
    browser.wait_until(is, vec![json!(on)]).await;
}

/// Goes with Tab to what has these words.
async fn tab_to(browser: &Browser, words: &str) {
    for _ in 0..20 {
        browser.type_keys(TAB).await;
        if focused(browser).await == words {
            return;
        }
    }
    panic!("Tab does not reach {words}");
}

/// How many rows are shown beside those that are folded away.
const ROWS: &str = ".screen .job-list > .jobs > .job-row";

/// Chooses in a select by the beginning of its words.
async fn select(browser: &Browser, selector: &str, words: &str) -> String {
    let choose = "
        const select = document.querySelector(arguments[0]);
        const option = [...select.options].find(o => o.text.startsWith(arguments[1]));
        select.value = option.value;
        select.dispatchEvent(new Event('change', { bubbles: true }));
        return option.text;
    ";
    let chosen = browser
        .run(choose, vec![json!(selector), json!(words)])
        .await;
    chosen.as_str().unwrap_or_default().to_owned()
}

#[tokio::test]
async fn five_hundred_jobs_by_keyboard_alone() {
    let site = serve_release();
    let desk = Browser::open(Device::DESK, Profile::fresh()).await;
    with_jobs(&desk, &site, 500).await;
    // When the first row stands, and when all do.
    desk.before_load(
        "const look = () => {
            const rows = document.querySelectorAll('.job-row').length;
            if (rows > 0) window.firstAt ??= performance.now();
            if (rows >= 466) window.rowsAt = performance.now();
            else requestAnimationFrame(look);
        };
        requestAnimationFrame(look);",
    )
    .await;
    desk.reload().await;
    desk.wait_until("return window.rowsAt > 0", vec![]).await;
    let times = "return [window.firstAt, window.rowsAt].map(Math.round)";
    let times = desk.run(times, vec![]).await;
    println!("500 jobs: the first row and all rows after (ms) {times}");
    desk.screenshot("jobs-500-desk").await;
    assert_eq!(accessibility_faults(&desk).await, [""; 0]);

    // One stop for Tab, and a link that leads to it.
    assert_eq!(
        desk.count(".screen .job-list > .jobs [tabindex='0']").await,
        1
    );
    desk.run("document.activeElement.blur()", vec![]).await;
    tab_to(&desk, "Skip to the list of jobs").await;
    desk.type_keys(ENTER).await;
    let first = focused(&desk).await;
    assert!(first.starts_with("Piano "), "{first}");
    desk.type_keys(DOWN).await;
    assert_ne!(focused(&desk).await, first);
    desk.type_keys(END).await;
    let last = focused(&desk).await;
    desk.type_keys(HOME).await;
    assert_eq!(focused(&desk).await, first);
    assert_ne!(last, first);

    // The 317th is opened, and is at its place when the list is shown again.
    desk.type_keys("piano 317").await;
    assert_eq!(focused(&desk).await, "Piano 317");
    desk.screenshot("jobs-500-typed").await;
    desk.type_keys(ENTER).await;
    desk.wait_for(".order .step").await;
    wait_for_focus(&desk, "Piano 317").await;
    desk.shift_tab().await;
    assert_eq!(focused(&desk).await, "Back to the jobs");
    desk.type_keys(ENTER).await;
    desk.wait_for(ROWS).await;
    let stop =
        "return document.querySelector(\".screen .jobs [tabindex='0']\")?.textContent.trim()";
    let is = format!("const stop = (() => {{ {stop} }})(); return stop === 'Piano 317'");
    desk.wait_until(&is, vec![]).await;
    let in_view = "const row = document.querySelector(\".screen .jobs [tabindex='0']\").getBoundingClientRect(); return row.top > 60 && row.bottom < innerHeight";
    desk.wait_until(in_view, vec![]).await;

    // It is exported alone, and archived.
    tab_to(&desk, "Piano 317").await;
    desk.type_keys(RIGHT).await;
    assert_eq!(focused(&desk).await, "More for Piano 317");
    desk.type_keys(ENTER).await;
    desk.wait_for("dialog[open]").await;
    tab_to(&desk, "Export").await;
    desk.type_keys(ENTER).await;
    let file = desk.download(".job.json").await;
    assert_eq!(read_json(&file)["job"]["name"], json!("Piano 317"));
    wait_for_notice(&desk, "Download started: piano-317-").await;
    wait_for_focus(&desk, "More for Piano 317").await;
    desk.type_keys(ENTER).await;
    desk.wait_for("dialog[open]").await;
    desk.screenshot("jobs-more").await;
    tab_to(&desk, "Archive").await;
    desk.type_keys(ENTER).await;
    wait_for_notice(&desk, "“Piano 317” was archived").await;
    let gone = "return ![...document.querySelectorAll('.job-list > .jobs .job-name')].some(n => n.textContent === 'Piano 317')";
    desk.wait_until(gone, vec![]).await;
    // The keyboard goes on from the row below.
    let on_a_row = "return document.activeElement.closest('.job-row') !== null";
    desk.wait_until(on_a_row, vec![]).await;
    // A job of the archive is found by its words, and comes back.
    desk.tap(".find").await;
    desk.type_keys("70317").await;
    wait_for_count(&desk, ROWS, 1).await;
    assert_eq!(desk.text(".job-row .job-state").await.trim(), "Archived");
    desk.tap(".job-row .more-job").await;
    tap_named(&desk, "dialog[open]", "Take it out of the archive").await;
    wait_for_notice(&desk, "“Piano 317” was taken out of the archive.").await;
}

#[tokio::test]
async fn the_list_is_found_through_sorted_and_exported_by_part() {
    let site = serve_release();
    let desk = Browser::open(Device::DESK.width(1920), Profile::fresh()).await;
    with_jobs(&desk, &site, 120).await;
    // Of fifteen jobs one is archived.
    wait_for_count(&desk, ROWS, 112).await;
    desk.screenshot("jobs-120-wide").await;
    // A year that could be taken for this one is written out.
    let dates = "return [...document.querySelectorAll('.job-worked')].every(d => /20[0-9]{2}/.test(d.textContent))";
    assert_eq!(desk.run(dates, vec![]).await, json!(true));
    let wide = "return document.querySelector('.job-row').getBoundingClientRect().width";
    let wide = desk.run(wide, vec![]).await.as_f64().unwrap_or_default();
    assert!(wide > 1_800.0, "{wide}");

    tap_named(&desk, ".filters", "Survey 24").await;
    wait_for_count(&desk, ROWS, 24).await;
    // Some of them are chosen, and their parts are one table.
    desk.tap(".job-row .choose input").await;
    tap_named(&desk, ".choose-all", "All").await;
    desk.screenshot("jobs-chosen").await;
    tap_named(&desk, ".reach", "Parts to order").await;
    let table = fs::read_to_string(desk.download(".csv").await).expect("the table");
    assert!(table.starts_with('\u{feff}'));
    assert_eq!(table.lines().count(), 25);
    assert!(
        table.contains("\"Piano 5\",\"Client 5 (made up)\",70005,"),
        "{table}"
    );

    tap_named(&desk, ".filters", "All 112").await;
    select(&desk, ".by select", "Client").await;
    let first = "return document.querySelector('.job-client').textContent";
    desk.wait_until(&format!("{first} === 'Client 0 (made up)'"), vec![])
        .await;
    let chosen = select(&desk, ".due-by", "Overdue").await;
    let count: usize = chosen
        .rsplit(' ')
        .next()
        .and_then(|n| n.parse().ok())
        .expect("a count");
    assert!(count > 0, "{chosen}");
    wait_for_count(&desk, ROWS, count).await;
    assert_eq!(desk.count(".job-next.due").await, count as u64);
    desk.screenshot("jobs-overdue").await;
    tap_named(&desk, ".finding", "Calendar file").await;
    let calendar = fs::read_to_string(desk.download(".ics").await).expect("the calendar");
    assert_eq!(calendar.matches("BEGIN:VEVENT").count(), count);
    // It is the same when the list is left and shown again.
    desk.tap(ROWS).await;
    desk.wait_for(".order .step").await;
    desk.back().await;
    wait_for_count(&desk, ROWS, count).await;
    // Words of the client and the serial number, in any order.
    select(&desk, ".due-by", "Any time").await;
    desk.tap(".find").await;
    desk.type_keys("70017 client").await;
    wait_for_count(&desk, ROWS, 1).await;
    desk.type_keys(" nobody").await;
    wait_for_count(&desk, ROWS, 0).await;
    assert!(
        desk.text(".job-list [role=status]")
            .await
            .contains("No job")
    );

    // A file over the window.
    let drag = "
        const data = new DataTransfer();
        data.items.add(new File(['{}'], 'a.job.json'));
        dispatchEvent(new DragEvent(arguments[0], { dataTransfer: data, cancelable: true }));
        return true;
    ";
    desk.run(drag, vec![json!("dragover")]).await;
    desk.wait_for(".drop-here").await;
    desk.screenshot("jobs-drop").await;
    desk.run(drag, vec![json!("dragleave")]).await;
    wait_for_count(&desk, ".drop-here", 0).await;
}

#[tokio::test]
async fn the_phone_keeps_cards() {
    let site = serve_release();
    for (device, name) in [(Device::PHONE, "light"), (Device::PHONE.dark(), "dark")] {
        let phone = Browser::open(device, Profile::fresh()).await;
        with_jobs(&phone, &site, 30).await;
        phone.screenshot(&format!("jobs-30-phone-{name}")).await;
        assert_eq!(accessibility_faults(&phone).await, [""; 0]);
        let sideways = "return [...document.querySelectorAll('.job-list, .job-row')].some(e => e.scrollWidth > e.clientWidth)";
        assert_eq!(phone.run(sideways, vec![]).await, json!(false));
        phone.tap(".job-row .more-job").await;
        phone.wait_for("dialog[open]").await;
        phone.screenshot(&format!("jobs-more-phone-{name}")).await;
        tap_named(&phone, "dialog[open]", "Choose several").await;
        phone.wait_for(".choose input:checked").await;
        phone
            .screenshot(&format!("jobs-choosing-phone-{name}"))
            .await;
    }
}

#[tokio::test]
async fn the_page_of_an_instrument_has_its_visits_its_drift_and_its_faults() {
    let site = serve_release();
    let folder = TempDir::new().expect("a folder");
    let now_ms = now_ms();
    // A job of a year ago with an open fault, and the next one on the same instrument.
    let first = workshop_job(13, now_ms - 365 * 86_400_000);
    let phone = ReplicaId::new(5);
    let mut next = Job::new();
    let made = EntryKind::Made {
        job: JobId::new(99),
    };
    for act in std::iter::once(made).chain(next_job(&first)) {
        next.apply(next.draft(phone, now_ms - 86_400_000, act));
    }
    let found = |number: i64, nm: i64| {
        let on = evenhand_core::job::Subject::Note(
            evenhand_core::note::Note::new(number).expect("a note"),
        );
        let (measure, value) = (
            evenhand_core::trade::MeasureId::of("let_off"),
            evenhand_core::unit::Value::Nm(evenhand_core::unit::Length::from_nm(nm)),
        );
        let (place, occasion) = (
            evenhand_core::trade::Place::Piano,
            evenhand_core::trade::Occasion::AsFound,
        );
        (measure, on, place, occasion, value)
    };
    for number in 1..=3 {
        let (measure, on, place, occasion, value) = found(number, 2_400_000);
        next.apply(next.reading(
            phone,
            now_ms - 80_000_000,
            measure,
            on,
            place,
            occasion,
            value,
            "",
        ));
    }
    let files = [&first, &next].map(|job| export(job, now_ms));
    let path = folder.path().join("two.jobs.json");
    let text = format!(
        "{}{}{JOBS_END}",
        jobs_start(2, now_ms),
        files.join(JOBS_SEPARATOR)
    );
    fs::write(&path, text).expect("the file is written");
    let browser = Browser::open(Device::DESK, Profile::fresh()).await;
    Jobs::open(&browser, &site).await;
    open_all(&browser, &path).await;
    assert!(browser.text(".job-title small").await.contains("2 visits"));
    // Only the latest visit says when the next one is due.
    browser.tap(".job-row .more-job").await;
    tap_named(&browser, "dialog[open]", "Visits to this instrument").await;
    browser.wait_for(".visits li").await;
    assert_eq!(browser.count(".visits > li").await, 2);
    let drift = "return document.querySelector('.visits')?.innerText.includes('Let-off: +0.')";
    browser.wait_until(drift, vec![]).await;
    let fault =
        "return document.querySelector('.instrument').innerText.includes('Hammer flange loose')";
    browser.wait_until(fault, vec![]).await;
    assert!(browser.text(".instrument .about").await.contains("70013"));
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("instrument").await;
}
