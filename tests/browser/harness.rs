//! The hands and eyes of the other tests are checked on a page of our own: a tap that is no touch, a kill that kills
//! nothing or a judge that is always content would make every other test worthless.

use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use evenhand_tests::{RunningSite, Site};
use serde_json::{Value, json};

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::{accessibility_faults, schema_faults};
use crate::sight::{cut_off, motion};

fn fixture(name: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "browser/fixtures", name]
        .iter()
        .collect()
}

fn serve() -> RunningSite {
    Site::of(fixture(""))
        .start()
        .expect("the fixtures are served")
}

async fn open(device: Device, site: &RunningSite) -> Browser {
    let browser = Browser::open(device, Profile::fresh()).await;
    browser.go_to(&site.url()).await;
    browser
}

/// The kinds of events that an element has seen, in order.
async fn seen(browser: &Browser, target: &str) -> Vec<String> {
    let seen = browser.run("return seen", vec![]).await;
    let seen = seen.as_array().expect("a list").clone();
    seen.iter()
        .filter(|event| event["target"] == target)
        .map(|event| event["kind"].as_str().unwrap_or_default().to_owned())
        .collect()
}

async fn viewport(browser: &Browser) -> Value {
    let sizes = "return [innerWidth, innerHeight, navigator.maxTouchPoints > 0]";
    browser.run(sizes, vec![]).await
}

#[tokio::test]
async fn a_device_has_exactly_its_size_theme_and_text() {
    let site = serve();
    let dark = "return matchMedia('(prefers-color-scheme: dark)').matches";
    let text = "return getComputedStyle(document.documentElement).fontSize";
    let phone = open(Device::PHONE, &site).await;
    assert_eq!(viewport(&phone).await, json!([360, 740, true]));
    assert_eq!(phone.run(dark, vec![]).await, json!(false));
    assert_eq!(phone.run(text, vec![]).await, json!("16px"));
    let narrow = open(Device::PHONE.width(320).dark().text_percent(200), &site).await;
    assert_eq!(viewport(&narrow).await, json!([320, 740, true]));
    assert_eq!(narrow.run(dark, vec![]).await, json!(true));
    assert_eq!(narrow.run(text, vec![]).await, json!("32px"));
    let desk = open(Device::DESK, &site).await;
    assert_eq!(viewport(&desk).await, json!([1280, 800, false]));
}

#[tokio::test]
async fn a_tap_is_a_touch_and_reaches_what_is_out_of_sight() {
    let site = serve();
    let browser = open(Device::PHONE, &site).await;
    browser.tap("#tapped").await;
    browser.tap("#far").await;
    let touch = ["pointerdown", "touchstart", "touchend", "click"];
    assert_eq!(seen(&browser, "tapped").await, touch);
    assert_eq!(seen(&browser, "far").await, touch);
    let first = browser.run("return seen[0].pointer", vec![]).await;
    assert_eq!(first, json!("touch"));
    assert_eq!(browser.taps(), 2);
}

#[tokio::test]
async fn a_swipe_moves_the_finger_and_the_page() {
    let site = serve();
    let browser = open(Device::PHONE, &site).await;
    let time = Duration::from_millis(200);
    browser.swipe((300.0, 500.0), (300.0, 200.0), time).await;
    browser.wait_until("return scrollY > 100", vec![]).await;
    let moves = "return seen.filter(event => event.kind === 'touchmove').length > 0";
    assert_eq!(browser.run(moves, vec![]).await, json!(true));
}

#[tokio::test]
async fn keys_and_files_reach_the_page() {
    let site = serve();
    let browser = open(Device::PHONE, &site).await;
    browser.tap("#typed").await;
    browser.type_keys("1.8 mm").await;
    let typed = browser.run("return typed.value", vec![]).await;
    assert_eq!(typed, json!("1.8 mm"));
    browser.choose_file("#file", &fixture("sample.json")).await;
    let chosen = browser.run("return file.files[0].text()", vec![]).await;
    let sample = fs::read_to_string(fixture("sample.json")).expect("the sample");
    assert_eq!(chosen, json!(sample));
}

#[tokio::test]
async fn a_killed_browser_leaves_no_process_and_keeps_what_was_stored() {
    let site = serve();
    let browser = open(Device::PHONE, &site).await;
    assert!(
        browser.processes() > 3,
        "a driver and a browser of several processes"
    );
    browser.run("return keep('let-off 1.8')", vec![]).await;
    let profile = browser.kill();
    let marker = profile.downloads();
    assert!(!someone_runs_in(
        marker.parent().expect("the profile's folder")
    ));
    let browser = Browser::open(Device::PHONE, profile).await;
    browser.go_to(&site.url()).await;
    let kept = browser.run("return kept()", vec![]).await;
    assert_eq!(kept, json!(["let-off 1.8"]));
}

/// Whether any process of this machine names the folder in its command line.
fn someone_runs_in(folder: &std::path::Path) -> bool {
    let folder = folder.to_string_lossy().into_owned();
    fs::read_dir("/proc")
        .expect("/proc, which Linux has")
        .filter_map(|entry| fs::read(entry.ok()?.path().join("cmdline")).ok())
        .any(|command| String::from_utf8_lossy(&command).contains(&folder))
}

#[tokio::test]
async fn the_page_survives_reload_and_back() {
    let site = serve();
    let browser = open(Device::PHONE, &site).await;
    browser.run("location.hash = 'next'", vec![]).await;
    browser.reload().await;
    assert_eq!(
        browser.run("return location.hash", vec![]).await,
        json!("#next")
    );
    browser.back().await;
    browser
        .wait_until("return location.hash === ''", vec![])
        .await;
    assert_eq!(browser.count("button").await, 2);
}

#[tokio::test]
async fn a_download_arrives_and_ajv_judges_it() {
    let site = serve();
    let browser = open(Device::PHONE, &site).await;
    browser.tap("#sample").await;
    let file = browser.download(".job.json").await;
    let schema = fixture("sample.schema.json");
    assert_eq!(schema_faults(&schema, &file), [""; 0]);
    let wrong = file.with_file_name("wrong.json");
    fs::write(&wrong, r#"{ "format": "sample", "version": 0 }"#).expect("a file");
    assert_eq!(schema_faults(&schema, &wrong), ["/version must be >= 1"]);
}

#[tokio::test]
async fn axe_and_the_console_see_planted_faults() {
    let site = serve();
    let browser = open(Device::PHONE, &site).await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    let plant = "document.querySelector('main').append(new Image()); console.error('planted')";
    browser.run(plant, vec![]).await;
    let faults = accessibility_faults(&browser).await;
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert!(faults[0].starts_with("image-alt"), "{faults:?}");
    let errors = browser.console_errors().await;
    assert!(
        errors.iter().any(|error| error.contains("planted")),
        "{errors:?}"
    );
}

#[tokio::test]
async fn text_that_is_cut_off_and_what_moves_are_seen() {
    let site = serve();
    let browser = open(Device::PHONE.width(320), &site).await;
    assert_eq!(cut_off(&browser).await, [""; 0]);
    let plant = "document.querySelector('main').insertAdjacentHTML('beforeend', \
        '<p style=\"width: 40px; overflow: hidden; white-space: nowrap\">words that are too long</p>\
         <p style=\"height: 9px; overflow: hidden\">words that are too high</p>')";
    browser.run(plant, vec![]).await;
    let cut = cut_off(&browser).await;
    assert_eq!(cut.len(), 2, "{cut:?}");
    assert!(cut[0].starts_with("cut off sideways: words"), "{cut:?}");
    assert!(cut[1].starts_with("cut off below: words"), "{cut:?}");
    assert_eq!(motion(&browser).await, [""; 0]);
    let move_it = "document.querySelector('main').animate({ opacity: [0, 1] }, 60000); return true";
    browser.run(move_it, vec![]).await;
    assert_eq!(motion(&browser).await.len(), 1);
}
