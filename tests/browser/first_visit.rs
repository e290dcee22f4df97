//! The first visit: a static host hands over the files, and the app stands on the screen.

use evenhand_tests::Site;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::outside::accessibility_faults;
use crate::pages::jobs::Jobs;
use crate::pages::{open_app, release, serve_release};

#[tokio::test]
async fn the_first_visit_shows_the_app_without_an_error() {
    let site = serve_release();
    let browser = Browser::phone().await;
    open_app(&browser, &site).await;
    assert!(browser.title().await.contains("Evenhand"));
    assert!(!browser.text("main").await.trim().is_empty());
    assert_eq!(browser.console_errors().await, [""; 0]);
    browser.screenshot("first-visit").await;
}

#[tokio::test]
async fn the_app_works_beneath_a_path_of_a_static_host() {
    let site = Site::of(release()).beneath("pianos/grands").start();
    let site = site.expect("the release is served");
    let browser = Browser::phone().await;
    open_app(&browser, &site).await;
    assert_eq!(browser.console_errors().await, [""; 0]);
}

#[tokio::test]
async fn axe_finds_nothing_on_the_first_screen_in_either_theme() {
    let site = serve_release();
    for device in [Device::PHONE, Device::PHONE.dark(), Device::DESK] {
        let browser = Browser::open(device, Profile::fresh()).await;
        open_app(&browser, &site).await;
        assert_eq!(accessibility_faults(&browser).await, [""; 0], "{device:?}");
    }
}

#[tokio::test]
async fn the_first_screen_says_what_it_is_for_and_each_hint_is_shown_once() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    let said = browser.text(".teach").await;
    assert!(said.contains("which notes are out"), "{said}");
    assert!(said.contains("Tap New job"), "{said}");
    jobs.demo().await;
    assert!(browser.text(".hint").await.contains("Demo"));
    browser.screenshot("first-hint").await;
    browser.tap(".hint").await;
    assert_eq!(browser.count(".hint").await, 0);
    browser.reload().await;
    browser.wait_for(".card .main").await;
    assert_eq!(browser.count(".hint").await, 0);
}

#[tokio::test]
async fn a_keyboard_goes_on_from_the_title_and_skips_to_the_main_action() {
    let site = serve_release();
    let browser = Browser::phone().await;
    open_app(&browser, &site).await;
    let has_focus =
        |selector: &str| format!("return document.activeElement?.matches('{selector}')");
    // The skip link is the first stop.
    browser.type_keys("\u{e004}").await;
    browser.wait_until(&has_focus(".skip"), vec![]).await;
    browser.type_keys("\u{e007}").await;
    browser.wait_until(&has_focus(".button.main"), vec![]).await;
    browser.type_keys("\u{e007}").await;
    browser.wait_for("form").await;
    browser.wait_until(&has_focus("h1"), vec![]).await;
}
