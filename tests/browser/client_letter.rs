//! The letter to the client and the estimate: on paper, by the share sheet, as text; sums that add up.

use std::fs;

use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{Details, EntryKind, Job, JobId, ReplicaId, Setup, Subject};
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Instrument, JobKind, MeasureId, Occasion, Part, Place, StepId};
use evenhand_core::unit::{Kind, Value};
use fantoccini::wd::PrintSize;
use serde_json::json;
use tempfile::TempDir;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::office::{Handover, pages_of};
use crate::pages::serve_release;

const PHONE: ReplicaId = ReplicaId::new(2);
const WORKED_MS: i64 = 1_790_000_000_000;

fn act(job: &mut Job, kind: EntryKind) {
    let at_ms = WORKED_MS + job.log().len() as i64;
    job.apply(job.draft(PHONE, at_ms, kind));
}

fn read(job: &mut Job, measure: &str, on: Subject, occasion: Occasion, value: Value) {
    let at_ms = WORKED_MS + job.log().len() as i64;
    let measure = MeasureId::from(measure);
    job.apply(job.reading(PHONE, at_ms, measure, on, Place::Piano, occasion, value, ""));
}

fn text(text: &str) -> Option<String> {
    Some(text.to_owned())
}

/// An invented touch-up in the home: 31 let-offs too wide and 12 springs too weak, all set.
fn touch_up() -> Job {
    let mut job = Job::new();
    act(
        &mut job,
        EntryKind::Made {
            job: JobId::new(11),
        },
    );
    let set = Box::new(Details {
        name: text("Music school, room 4"),
        client: text("Northbridge Music School (made up)"),
        serial: text("00417"),
        scope: text("Heavy touch, soft notes are lost"),
        rate_per_hour_cents: Some(6_000),
        currency: text("EUR"),
        ..Details::default()
    });
    act(&mut job, EntryKind::Details { set });
    let [touch_up, ..] = JobKind::built_in(Instrument::Grand);
    let kind = Box::new(touch_up);
    act(&mut job, EntryKind::KindChosen { kind });
    act(
        &mut job,
        EntryKind::Remark {
            on: Subject::Whole,
            step: None,
            fault: false,
            text: "Key at the porter's lodge".to_owned(),
        },
    );
    let pitch = Value::from_base(Kind::Frequency, 438_200);
    read(
        &mut job,
        "pitch_a4",
        Subject::Whole,
        Occasion::AsFound,
        pitch,
    );
    for occasion in [Occasion::AsFound, Occasion::Working] {
        let found = occasion == Occasion::AsFound;
        for note in Note::all() {
            let (on, at) = (Subject::Note(note), note.index());
            let um = if found && at < 31 {
                3_000
            } else {
                2_000 + 10 * at as i64 % 300
            };
            let value = Value::from_base(Kind::Length, um * 1_000);
            read(&mut job, "let_off", on, occasion, value);
            let grade = if found && at < 12 { 1 } else { 2 };
            read(&mut job, "spring", on, occasion, Value::Grade(grade));
        }
    }
    act(
        &mut job,
        EntryKind::MinutesStated {
            step: StepId::of("let_off"),
            minutes: 195,
            worked: None,
            instead_of: None,
        },
    );
    act(
        &mut job,
        EntryKind::Remark {
            on: Subject::Note(Note::new(33).expect("F3")),
            step: None,
            fault: true,
            text: "loose flange".to_owned(),
        },
    );
    job
}

/// An invented renewal: new hammers in the bass and new bushings for all keys, priced.
fn renewal() -> Job {
    let mut job = Job::new();
    act(
        &mut job,
        EntryKind::Made {
            job: JobId::new(12),
        },
    );
    let set = Box::new(Details {
        name: text("Assembly room (made up)"),
        rate_per_hour_cents: Some(6_333),
        currency: text("EUR"),
        travel_cents: Some(2_505),
        tax_percent_hundredths: Some(1_910),
        ..Details::default()
    });
    act(&mut job, EntryKind::Details { set });
    let prices = [("hammers".to_owned(), 1_249), ("bushings".to_owned(), 41)];
    let set = Box::new(Setup {
        sections: Sections::new([Note::new(20).expect("E2")]).ok(),
        part_prices_cents: Some(prices.into()),
        ..Setup::default()
    });
    act(&mut job, EntryKind::Setup { set });
    for (part, section) in [(Part::Hammers, 0), (Part::Bushings, 0), (Part::Bushings, 1)] {
        for measure in [part.wear(), part.decision()] {
            let on = Subject::Section(section);
            read(&mut job, measure, on, Occasion::AsFound, Value::Grade(2));
        }
    }
    job
}

/// A browser with a job open at one of its pages.
async fn at(device: Device, site: &evenhand_tests::RunningSite, job: &Job, page: &str) -> Browser {
    let folder = TempDir::new().expect("a folder");
    let file = folder.path().join("made.job.json");
    fs::write(&file, export(job, WORKED_MS)).expect("a file");
    let browser = Browser::open(device, Profile::fresh()).await;
    browser.before_load("window.sent = []; Object.defineProperty(navigator, 'share', { value: async data => { sent.push([data.title, data.text, (data.files || []).map(f => f.name)]) }, configurable: true }); Object.defineProperty(navigator, 'canShare', { value: () => true, configurable: true });").await;
    Jobs::open(&browser, site).await.choose(&file).await;
    browser.wait_for(".order .step").await;
    Handover(&browser).open().await;
    Handover(&browser).letter(page).await;
    browser
}

#[tokio::test]
async fn the_letter_of_a_touch_up_fits_one_page_and_says_what_was_done() {
    let site = serve_release();
    let office = at(Device::DESK, &site, &touch_up(), "letter").await;
    let own = "The piano holds its tune well. Please keep the lid closed overnight.";
    office.tap("[data-fields=for-client] textarea").await;
    office.type_keys(own).await;
    office.tap("h1").await;
    office.wait_for(".letter .own").await;
    for (name, size) in [("a4", PrintSize::A4), ("letter", PrintSize::US_LETTER)] {
        let pages = pages_of(&office.print(&format!("client-letter-{name}"), size).await);
        assert_eq!(pages.len(), 1, "{name}");
        let page = pages[0].split_whitespace().collect::<Vec<_>>().join(" ");
        for says in [
            "Your grand piano: what we found and what we did",
            "The pitch of A4 was 438.2 Hz, 1.8 below 440.0.",
            "Let-off was too wide on 31 of 88 notes measured: soft notes were lost.",
            "Repetition spring: checked on all 88 notes, 12 adjusted. Now 88 are on target.",
            "Note F3: loose flange, still to be seen to.",
            "The work is not finished: ",
            "Work: ",
            own,
            "195.00",
            "Northbridge Music School",
        ] {
            assert!(page.contains(says), "no “{says}” in {page}");
        }
        for unsaid in [
            "porter",
            "Not begun",
            "Left out",
            "No name given",
            "Copy as text",
            "Remark for",
            "archive the job",
        ] {
            assert!(!page.contains(unsaid), "“{unsaid}” in {page}");
        }
    }
    let rows = "return [...document.querySelectorAll('.letter figure')].map(f => f.querySelectorAll('svg rect').length)";
    // Two rows of 88 notes and their two bands, for let-off and for the springs.
    assert_eq!(office.run(rows, vec![]).await, json!([178, 178]));
}

#[tokio::test]
async fn the_letter_is_shared_as_text_and_page_and_copied_where_it_cannot() {
    let site = serve_release();
    let phone = at(Device::PHONE, &site, &touch_up(), "letter").await;
    phone.screenshot("client-letter-phone").await;
    assert_eq!(accessibility_faults(&phone).await, [""; 0]);
    phone.tap(".letter-keys .main").await;
    phone.wait_until("return sent.length === 1", vec![]).await;
    let sent = phone.run("return sent[0]", vec![]).await;
    assert_eq!(sent[0], "Your grand piano: what we found and what we did");
    let said = sent[1].as_str().expect("a text");
    for says in [
        "Found\n",
        "Done\n",
        "Work: 3 h 15 min: €195.00",
        "Next visit: ",
    ] {
        assert!(said.contains(says), "no “{says}” in {said}");
    }
    assert!(!said.contains("porter"), "{said}");
    assert!(
        sent[2][0]
            .as_str()
            .is_some_and(|name| name.ends_with(".html"))
    );
    // Without a clipboard the text stands there to be copied by hand.
    let refuse =
        "Object.defineProperty(navigator, 'clipboard', { value: undefined, configurable: true })";
    phone.run(refuse, vec![]).await;
    phone.tap(".letter-keys .button:last-of-type").await;
    phone.wait_for(".letter-keys textarea").await;
    let by_hand = phone
        .run(
            "return document.querySelector('.letter-keys textarea').value",
            vec![],
        )
        .await;
    assert_eq!(by_hand, sent[1]);
}

#[tokio::test]
async fn the_estimate_of_a_renewal_adds_up_on_paper_and_has_a_line_to_sign() {
    let site = serve_release();
    let office = at(Device::DESK, &site, &renewal(), "estimate").await;
    let cents = "return [...document.querySelectorAll('.letter table')][0].querySelectorAll('tbody tr').values().map(r => \
        [r.cells[0].innerText, Math.round(100 * +r.cells[2].innerText.replace(/[^0-9.]/g, ''))]).toArray()";
    let rows = office.run(cents, vec![]).await;
    let rows: Vec<(String, i64)> = serde_json::from_value(rows).expect("rows of a price");
    let of = |name: &str| rows.iter().find(|(row, _)| row == name).expect(name).1;
    let lines = rows
        .iter()
        .filter(|(row, _)| !["Sum", "Tax", "Total"].contains(&row.as_str()));
    assert_eq!(of("Sum"), lines.map(|(_, cents)| cents).sum::<i64>());
    // 19.10 %, to the cent; 20 hammers at 12.49, 352 bushings at 0.41.
    assert_eq!(of("Tax"), (of("Sum") * 191 + 500) / 1_000);
    assert_eq!(of("Total"), of("Sum") + of("Tax"));
    assert_eq!(
        (of("Hammers"), of("Key bushings"), of("Travel")),
        (24_980, 14_432, 2_505)
    );
    let estimate = office.text(".letter").await;
    assert!(
        !estimate.contains("8 in 10"),
        "no sample, no range: {estimate}"
    );
    for says in [
        "This estimate holds for 30 days",
        "Place",
        "Date",
        "Signature",
    ] {
        assert!(estimate.contains(says), "no “{says}” in {estimate}");
    }
    for (name, size) in [("a4", PrintSize::A4), ("letter", PrintSize::US_LETTER)] {
        let pages = pages_of(
            &office
                .print(&format!("renewal-estimate-{name}"), size)
                .await,
        );
        let count = pages.len();
        for (at, page) in pages.iter().enumerate() {
            assert!(page.contains("Estimate: Assembly room (made up)"), "{page}");
            assert!(page.contains(&format!("{} of {count}", at + 1)), "{page}");
        }
    }
}

#[tokio::test]
async fn a_price_typed_once_is_the_usual_one_of_the_next_new_job() {
    let site = serve_release();
    let office = at(Device::DESK, &site, &renewal(), "estimate").await;
    office.tap("#prices summary").await;
    let field = "[data-fields=price-hammers] input";
    office.wait_for(field).await;
    Typing(&office).fill("price-hammers", 0, "15.50").await;
    office.tap("h1").await;
    let changed = "return document.querySelector('.letter').innerText.includes('20 at €15.50')";
    office.wait_until(changed, vec![]).await;
    office.run("location.hash = '#/new'", vec![]).await;
    office.wait_for("form .button.main").await;
    office.tap("form .button.main").await;
    office.wait_for(".order .step").await;
    let job = office.run("return location.hash", vec![]).await;
    let job = job.as_str().expect("an address").to_owned();
    office
        .run(
            "location.hash = arguments[0]",
            vec![json!(format!("{job}/setup/prices"))],
        )
        .await;
    office.wait_for("[data-fields=prices] input").await;
    let travel = "return document.querySelector('[data-fields=prices] input').value";
    assert_eq!(office.run(travel, vec![]).await, json!("25.05"));
    let known = office.text("#prices").await;
    assert!(known.contains("2 parts priced"), "{known}");
}
