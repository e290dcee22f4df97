//! The office: it makes a job, the phone works it, the office reads it, and next year's job
//! compares with it; the letters on paper, the tables, several jobs at once, two panes.

use std::fs;
use std::path::{Path, PathBuf};

use evenhand_core::analysis::hours::hours_csv;
use evenhand_core::analysis::job_file::{materials_csv, open, open_points_csv};
use evenhand_core::job::{Job, readings_csv};
use evenhand_tests::RunningSite;
use fantoccini::wd::PrintSize;
use serde_json::json;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::schema_faults;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::office::{Handover, drop_file, make_in_office, pages_of};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

fn schema() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../public/evenhand-job.schema.json")
}

async fn desk() -> Browser {
    Browser::open(Device::DESK, Profile::fresh()).await
}

/// Opens a job file on a phone on which nothing has been stored.
async fn phone_with(site: &RunningSite, file: &Path) -> Browser {
    let phone = Browser::phone().await;
    Jobs::open(&phone, site).await.choose(file).await;
    phone.wait_for(".order .step").await;
    phone
}

/// Reads the natural dip on the first four sample notes of a step, then goes back to the order.
async fn read_dips(phone: &Browser, step: &str, tenths: &str) {
    Order(phone).begin(step).await;
    let pass = Pass(phone);
    for _ in 0..4 {
        let before = pass.note().await;
        pass.type_and_enter(tenths).await;
        let next = "return document.querySelector('.note-name').innerText !== arguments[0]";
        phone.wait_until(next, vec![json!(before)]).await;
    }
    pass.wait_until_saved().await;
    phone.tap(".bar a.tool").await;
    phone.wait_for(".order .step").await;
}

fn job_of(file: &Path) -> Job {
    let opened = open(&fs::read(file).expect("the file is there")).expect("it opens");
    assert_eq!(opened.notices, Vec::<String>::new());
    Job::from_entries(opened.entries)
}

#[tokio::test]
async fn the_office_makes_a_job_the_phone_works_it_and_next_years_job_compares_with_it() {
    let site = serve_release();
    let office = desk().await;
    Jobs::open(&office, &site).await;
    office.run("location.hash = '#/new'", vec![]).await;
    let fields = [
        ("Piano", "Assembly room"),
        ("Client", "Client 17 (made up)"),
        ("Work agreed", "Regulation, dip first"),
        ("Remark", "Key at the porter's"),
        ("Section breaks", "20, 52"),
        ("Rate", "60"),
        ("Currency", "crowns"),
    ];
    make_in_office(&office, &fields).await;
    let made = Order(&office).export().await;
    assert_eq!(schema_faults(&schema(), &made), [""; 0]);

    let phone = phone_with(&site, &made).await;
    Handover(&phone).open().await;
    Handover(&phone).sign("R. Sample").await;
    phone.back().await;
    phone.wait_for(".order .step").await;
    read_dips(&phone, "found_sample", "104").await;
    read_dips(&phone, "left_sample", "100").await;
    let worked = Order(&phone).export().await;

    let changes = Jobs::open(&office, &site).await.merge(&worked).await;
    assert!(changes.contains("8 readings"), "{changes}");
    wait_for_notice(&office, "new records").await;
    // So that the next of its like is not taken for this one.
    office.tap(".notice [aria-label='Put this away']").await;
    let away = "return document.querySelector('.notice') === null";
    office.wait_until(away, vec![]).await;
    Handover(&office).open().await;
    let report = Handover(&office).letter("report").await;
    for says in [
        "Client 17 (made up)",
        "Regulation, dip first",
        "Natural dip: 4 of 4 out of tolerance, 10.4 to 10.4 mm.",
        "R. Sample",
        "At 60.00 crowns an hour",
    ] {
        assert!(report.contains(says), "no “{says}” in {report}");
    }
    assert!(!report.contains("Everything in this demo is made up"));
    // A remark for the technician stands on top of the order, and in no report.
    assert!(!report.contains("porter"), "{report}");
    phone.back().await;
    phone.wait_for(".order .step").await;
    assert_eq!(phone.text(".job-remark").await, "Key at the porter's");

    Handover(&office).open().await;
    Handover(&office).next_job().await;
    let fields = [("Remark", "A year later"), ("Piano", "Second year ")];
    make_in_office(&office, &fields).await;
    Order(&office).export().await;
    let next = office
        .download_that(|name| name.contains("second-year") && name.ends_with(".job.json"))
        .await;
    assert_eq!(schema_faults(&schema(), &next), [""; 0]);
    assert!(job_of(&next).state().setup().earlier.is_some());

    let other = phone_with(&site, &next).await;
    read_dips(&other, "found_sample", "104").await;
    let found = Order(&other).export().await;
    drop_file(&office, &found).await;
    Jobs(&office).confirm_merge().await;
    wait_for_notice(&office, "new records").await;
    Handover(&office).open().await;
    let report = Handover(&office).letter("report").await;
    for says in [
        "Since the last time",
        "Natural dip, mm",
        "0.40, SD 0.00",
        "moved",
    ] {
        assert!(report.contains(says), "no “{says}” in {report}");
    }
}

#[tokio::test]
async fn the_letters_print_on_whole_pages_of_both_sizes() {
    let site = serve_release();
    let office = desk().await;
    Jobs::open(&office, &site).await.demo().await;
    Handover(&office).open().await;
    for (which, title, most) in [
        ("report", "Regulation report", 8),
        ("estimate", "Estimate", 4),
    ] {
        Handover(&office).letter(which).await;
        for (name, size) in [("a4", PrintSize::A4), ("letter", PrintSize::US_LETTER)] {
            let pages = pages_of(&office.print(&format!("{which}-{name}"), size).await);
            assert!(
                (2..=most).contains(&pages.len()),
                "{which} has {} pages",
                pages.len()
            );
            assert!(
                pages[0].contains(title) && pages[0].contains("Everything in this demo is made up")
            );
            let headings = "return [...document.querySelectorAll('.letter h3, .letter h4')].filter(h => !h.closest('.screen-only')).map(h => h.innerText)";
            let headings = office.run(headings, vec![]).await;
            let headings: Vec<String> = serde_json::from_value(headings).expect("headings");
            for page in &pages {
                let lines: Vec<&str> = page
                    .lines()
                    .map(str::trim)
                    .filter(|l| !l.is_empty())
                    .collect();
                assert!(
                    lines.len() > 3,
                    "a page of {which} is nearly empty:\n{page}"
                );
                // The foot of each page says what it is of, and its number.
                let foot = lines[lines.len() - 1];
                assert!(
                    foot.contains("Harbor Hall") && foot.contains(" of "),
                    "{foot}"
                );
                let last = lines[lines.len() - 2];
                assert!(!headings.iter().any(|h| h == last), "“{last}” ends a page");
                // What belongs to the screen stays there.
                assert!(!page.contains("Open a file"), "{page}");
            }
            let all = pages.join("\n");
            for heading in &headings {
                assert!(all.contains(heading.as_str()), "no “{heading}” on paper");
            }
        }
        office.back().await;
        office.wait_for(".figures").await;
    }
}

#[tokio::test]
async fn a_letter_prints_black_on_white_whatever_theme_was_chosen() {
    let site = serve_release();
    let office = Browser::open(Device::DESK.dark(), Profile::fresh()).await;
    Jobs::open(&office, &site).await.demo().await;
    Handover(&office).open().await;
    Handover(&office).letter("report").await;
    let dark = "document.documentElement.dataset.theme = 'dark'";
    office.run(dark, vec![]).await;
    let print = json!({ "media": "print" });
    office.cdp("Emulation.setEmulatedMedia", print).await;
    let colors = "const s = getComputedStyle(document.querySelector('.letter')); \
        return [s.color, s.backgroundColor, getComputedStyle(document.querySelector('.bar')).display]";
    let printed = office.run(colors, vec![]).await;
    assert_eq!(
        printed,
        json!(["rgb(0, 0, 0)", "rgb(255, 255, 255)", "none"])
    );
}

#[tokio::test]
async fn the_tables_are_those_of_the_job_file() {
    let site = serve_release();
    let phone = Browser::phone().await;
    Jobs::open(&phone, &site).await.demo().await;
    let file = Order(&phone).export().await;
    let job = job_of(&file);
    for (which, table) in [
        ("readings", readings_csv(&job)),
        ("materials", materials_csv(&job)),
        ("hours", hours_csv(&job)),
        ("open-points", open_points_csv(&job, 0)),
    ] {
        let downloaded = Handover(&phone).table(which).await;
        assert_eq!(fs::read_to_string(downloaded).expect("a table"), table);
    }
}

#[tokio::test]
async fn files_are_dated_by_the_calendar_of_the_place() {
    let site = serve_release();
    // At every hour one of these two is at another date than UTC.
    for zone in ["Pacific/Kiritimati", "Pacific/Niue"] {
        let browser = Browser::phone().await;
        browser
            .cdp(
                "Emulation.setTimezoneOverride",
                json!({ "timezoneId": zone }),
            )
            .await;
        Jobs::open(&browser, &site).await.make("Dated", "").await;
        let today = "const d = new Date(), two = n => String(n).padStart(2, '0'); return `${d.getFullYear()}-${two(d.getMonth() + 1)}-${two(d.getDate())}`";
        let before = browser.run(today, vec![]).await;
        let file = Order(&browser).export().await;
        let after = browser.run(today, vec![]).await;
        let named = |date: serde_json::Value| format!("dated-{}-phone-", date.as_str().unwrap());
        let name = file.file_name().unwrap_or_default().to_string_lossy();
        // A midnight may lie between the two.
        assert!(
            [before, after]
                .map(named)
                .iter()
                .any(|n| name.starts_with(n)),
            "{name} in {zone}"
        );
    }
}

#[tokio::test]
async fn on_a_wide_screen_the_jobs_stand_beside_the_open_one_and_keys_reach_everything() {
    let site = serve_release();
    let office = desk().await;
    Jobs::open(&office, &site).await.demo().await;
    office.wait_for(".side .job[aria-current=page]").await;
    let apart = "const side = document.querySelector('.side').getBoundingClientRect(); const screen = document.querySelector('.order').getBoundingClientRect(); return side.right <= screen.left && screen.right <= innerWidth";
    assert_eq!(office.run(apart, vec![]).await, json!(true));
    // What to do now is the first thing after the header.
    let mut stops = 0;
    while office
        .run(
            "return document.activeElement?.matches('.card .button.main') ?? false",
            vec![],
        )
        .await
        != json!(true)
    {
        stops += 1;
        let at = office
            .run(
                "return document.activeElement?.outerHTML.slice(0, 80)",
                vec![],
            )
            .await;
        assert!(stops < 13, "after 12 tab stops the keyboard is at {at}");
        office.type_keys("\u{e004}").await;
    }
    // Tab alone reaches the job, a step, the letters.
    for (from, to) in [
        ("order", "a[href$='/handover']"),
        ("handover", "a[href$='/report']"),
    ] {
        let mut reached = false;
        for _ in 0..200 {
            office.type_keys("\u{e004}").await;
            let there = "return document.activeElement?.matches(arguments[0]) ?? false";
            if office.run(there, vec![json!(to)]).await == json!(true) {
                reached = true;
                break;
            }
        }
        assert!(reached, "no key reaches {to} from {from}");
        office.type_keys("\u{e007}").await;
        let ready = if from == "order" {
            ".figures"
        } else {
            ".letter"
        };
        office.wait_for(ready).await;
    }
}
