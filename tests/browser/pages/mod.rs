//! The app as the tests speak of it: one object for each screen, so that a test reads as what the person does.

pub mod corrections;
pub mod fields;
pub mod hand;
pub mod hours;
pub mod jobs;
pub mod keys;
pub mod office;
pub mod order;
pub mod pass;
pub mod plan;
pub mod preferences;
pub mod profile;
pub mod worn;

use std::path::{Path, PathBuf};

use evenhand_tests::{RunningSite, Site};
use serde_json::json;

use crate::browser::Browser;

/// The release build: `dist/`, or the folder that `EVENHAND_DIST` names.
pub fn release() -> PathBuf {
    let dist = std::env::var_os("EVENHAND_DIST").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../dist"),
        PathBuf::from,
    );
    assert!(
        dist.join("index.html").is_file(),
        "there is no built app in {}; './evenhand build' makes it",
        dist.display()
    );
    dist
}

/// The release build, served as by any static host.
pub fn serve_release() -> RunningSite {
    Site::of(release()).start().expect("the release is served")
}

/// Opens the app and waits until it has mounted.
pub async fn open_app(browser: &Browser, site: &RunningSite) {
    open_app_at(browser, &site.url()).await;
}

/// As [`open_app`], at an address.
pub async fn open_app_at(browser: &Browser, url: &str) {
    browser.go_to(url).await;
    browser.wait_for("main").await;
}

/// Waits until all that was entered is shown as saved.
pub async fn wait_until_saved(browser: &Browser) {
    let saved = "return document.querySelector('.saved')?.innerText === 'saved'";
    browser.wait_until(saved, vec![]).await;
}

/// Taps the button or label with these words, inside what the selector names.
pub async fn tap_named(browser: &Browser, inside: &str, words: &str) {
    let mark = "
        const named = [...document.querySelectorAll(`${arguments[0]} :is(button, label, a)`)];
        const found = named.find(e => e.innerText.trim() === arguments[1] || e.ariaLabel === arguments[1]);
        document.querySelectorAll('[data-named]').forEach(e => delete e.dataset.named);
        if (found) found.dataset.named = '';
        return found !== undefined;
    ";
    browser
        .wait_until(mark, vec![json!(inside), json!(words)])
        .await;
    browser.tap("[data-named]").await;
}

/// Waits until the selector names so many elements.
pub async fn wait_for_count(browser: &Browser, selector: &str, count: usize) {
    let there = "return document.querySelectorAll(arguments[0]).length === arguments[1]";
    browser
        .wait_until(there, vec![json!(selector), json!(count)])
        .await;
}
