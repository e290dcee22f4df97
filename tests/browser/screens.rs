//! Every screen of the demo job on one device in each test: nothing for axe to find, nothing taller or wider than the
//! window, nothing cut off, and a picture to judge.

use evenhand_tests::RunningSite;
use serde_json::json;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::accessibility_faults;
use crate::pages::jobs::Jobs;
use crate::pages::serve_release;
use crate::sight::cut_off;

/// Each screen's name, its address (beneath the job's unless it begins with `#`; `JOB` is the job's id), and what is
/// there once it is drawn.
pub const SCREENS: [(&str, &str, &str); 29] = [
    ("order", "", ".order .step"),
    ("pass", "/pass/let_off", ".pad"),
    ("pass-good", "/pass/jack_position", ".through, .pad"),
    ("pass-grade", "/pass/spring", ".pad"),
    ("pass-again", "/pass/aftertouch", ".pad"),
    ("profile", "/profile/let_off", ".plot"),
    ("corrections", "/corrections/let_off", ".todo"),
    ("plan", "/plan", ".days path"),
    ("setup", "/setup/heights", ".heights"),
    ("targets", "/targets/let_off", "#let_off .fields"),
    ("travel", "/targets", ".bars"),
    ("hours", "/hours", ".hours-lines"),
    ("handover", "/handover", ".letters"),
    ("preferences", "#/preferences", ".preferences"),
    ("report", "/report", ".letter"),
    ("estimate", "/estimate", ".letter"),
    ("letter", "/letter", ".letter"),
    ("prices", "/setup/prices", "[data-fields=prices]"),
    ("instrument", "/instrument", ".visits li"),
    ("jobs", "#/", ".job"),
    ("new", "#/new", "form"),
    ("next", "#/new/JOB", "form"),
    ("setup-job", "/setup/job", "#job .part-in > *"),
    ("sections", "/setup/sections", "#sections .part-in > *"),
    ("samples", "/setup/samples", "#samples .part-in > *"),
    ("keys", "/setup/keys", "#keys .part-in > *"),
    ("punchings", "/setup/punchings", "#punchings .part-in > *"),
    ("trials", "/setup/trials", "#trials .part-in > *"),
    ("archive", "/setup/archive", "#archive .part-in > *"),
];

/// What a screen must not be, and a script that says whether it is.
const LAYOUT: [(&str, &str); 3] = [
    (
        "the page is taller than the window",
        "return document.documentElement.scrollHeight > innerHeight",
    ),
    (
        "the page scrolls sideways",
        "return document.documentElement.scrollWidth > innerWidth",
    ),
    (
        "its main part scrolls sideways",
        "return [...document.querySelectorAll('main')].some(m => m.scrollWidth > m.clientWidth)",
    ),
];

/// Opens the demo job. Returns its address.
pub async fn open_demo(browser: &Browser, site: &RunningSite) -> String {
    Jobs::open(browser, site).await.demo().await;
    let job = browser.run("return location.hash", vec![]).await;
    job.as_str().expect("the job's address").to_owned()
}

/// Goes to one of [`SCREENS`] of the job with this address, and waits until it is drawn.
pub async fn show(browser: &Browser, job: &str, address: &str, drawn: &str) {
    let address = match address.strip_prefix('#') {
        Some(_) => address.replace("JOB", job.trim_start_matches("#/")),
        None => format!("{job}{address}"),
    };
    let go = "location.hash = arguments[0]";
    browser.run(go, vec![json!(address)]).await;
    browser.wait_for(drawn).await;
}

/// Goes through all screens on a device; each fault begins with the name of the screen.
async fn check_screens(device: Device, name: &str) {
    let site = serve_release();
    let browser = Browser::open(device, Profile::fresh()).await;
    let job = open_demo(&browser, &site).await;
    let mut faults = Vec::new();
    for (screen, address, drawn) in SCREENS {
        show(&browser, &job, address, drawn).await;
        browser.screenshot(&format!("{screen}-{name}")).await;
        for (fault, script) in LAYOUT {
            if browser.run(script, vec![]).await != json!(false) {
                faults.push(format!("{screen}: {fault}"));
            }
        }
        let found = accessibility_faults(&browser).await;
        let found = [found, cut_off(&browser).await].concat();
        faults.extend(found.iter().map(|fault| format!("{screen}: {fault}")));
    }
    assert_eq!(faults, [""; 0], "{name}");
}

#[tokio::test]
async fn every_screen_is_sound_on_a_phone() {
    check_screens(Device::PHONE, "phone-light").await;
}

#[tokio::test]
async fn every_screen_is_sound_on_a_dark_phone() {
    check_screens(Device::PHONE.dark(), "phone-dark").await;
}

#[tokio::test]
async fn every_screen_is_sound_on_a_desk() {
    check_screens(Device::DESK, "desk-light").await;
}

#[tokio::test]
async fn every_screen_is_sound_on_a_dark_desk() {
    check_screens(Device::DESK.dark(), "desk-dark").await;
}

#[tokio::test]
async fn every_screen_is_sound_on_a_narrow_phone() {
    check_screens(Device::PHONE.width(320), "narrow").await;
}

#[tokio::test]
async fn every_screen_is_sound_with_text_twice_as_large() {
    check_screens(Device::PHONE.text_percent(200), "large-text").await;
}
