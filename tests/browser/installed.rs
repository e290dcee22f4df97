//! What the browser is asked for once: to install the app, and to keep what it stores.

use serde_json::json;

use crate::browser::Browser;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::preferences::Preferences;
use crate::pages::{serve_release, tap_named, wait_until_saved};

/// The browser's own offers are kept from the app.
const NO_OFFER: &str =
    "addEventListener('beforeinstallprompt', e => e.isTrusted && e.stopImmediatePropagation());";

/// An offer to install as a browser makes it; `asked` counts how often its question was shown, and the user's answer
/// is `arguments[0]`.
const OFFER: &str = "
    const [outcome] = arguments;
    const offer = new Event('beforeinstallprompt', { cancelable: true });
    offer.userChoice = Promise.resolve({ outcome, platform: 'web' });
    offer.prompt = () => {
        window.asked = (window.asked ?? 0) + 1;
        if (outcome === 'accepted') setTimeout(() => dispatchEvent(new Event('appinstalled')));
        return offer.userChoice;
    };
    dispatchEvent(offer);
    return offer.defaultPrevented;
";

const INSTALL: &str = "Install the app";

async fn offers(browser: &Browser) -> bool {
    browser.text("main").await.contains(INSTALL)
}

/// Waits until the preferences say so, or no longer.
async fn wait_for_words(browser: &Browser, words: &str, there: bool) {
    let said =
        "return document.querySelector('main').innerText.includes(arguments[0]) === arguments[1]";
    browser
        .wait_until(said, vec![json!(words), json!(there)])
        .await;
}

#[tokio::test]
async fn chromium_itself_takes_the_app_for_one_that_can_be_installed() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    Preferences::open(&browser).await;
    wait_for_words(&browser, INSTALL, true).await;
}

#[tokio::test]
async fn the_installation_is_offered_where_the_browser_offers_it_and_asked_for_once() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(NO_OFFER).await;
    Jobs::open(&browser, &site).await;
    let preferences = Preferences::open(&browser).await;
    // Never offered: nothing to tap, and what can be had without is said.
    assert!(!offers(&browser).await);
    wait_for_words(&browser, "starts without a network", true).await;

    for outcome in ["dismissed", "accepted"] {
        // The browser's own banner is held back, so that it comes at no bad moment.
        let held_back = browser.run(OFFER, vec![json!(outcome)]).await;
        assert_eq!(held_back, json!(true));
        wait_for_words(&browser, INSTALL, true).await;
        preferences.leave().await;
        assert!(!offers(&browser).await);
        Preferences::open(&browser).await;
        tap_named(&browser, "main", INSTALL).await;
        // An offer is good for one question, whatever the answer.
        wait_for_words(&browser, INSTALL, false).await;
    }
    assert_eq!(browser.run("return asked", vec![]).await, json!(2));
    preferences.leave().await;
    Jobs(&browser).make("Works on", "").await;
}

/// In place of the browser's answers on keeping what is stored; `asked` counts the questions.
fn keeping(answer: &str) -> String {
    format!(
        "window.asked = 0; window.kept = false;
         navigator.storage.persisted = async () => kept;
         navigator.storage.persist = async () => {{ asked += 1; {answer} }};"
    )
}

const KEPT: &str = "The browser keeps it, even when the phone is short of room.";
const MAY_CLEAR: &str = "The browser may clear it when the phone is short of room";
const NOT_SAID: &str = "This browser does not say whether it keeps what is stored";

#[tokio::test]
async fn whether_the_storage_is_kept_is_said_whatever_the_browser_answers() {
    let site = serve_release();
    for (script, first, then) in [
        (keeping("return kept = true;"), MAY_CLEAR, KEPT),
        (keeping("return false;"), MAY_CLEAR, MAY_CLEAR),
        (
            keeping("throw new TypeError('put there by the test');"),
            MAY_CLEAR,
            NOT_SAID,
        ),
        (
            "Object.defineProperty(navigator, 'storage', { value: undefined });".to_owned(),
            NOT_SAID,
            NOT_SAID,
        ),
    ] {
        let browser = Browser::phone().await;
        browser.before_load(&script).await;
        Jobs::open(&browser, &site).await;
        Preferences::open(&browser).await;
        wait_for_words(&browser, first, true).await;
        if first == MAY_CLEAR {
            tap_named(&browser, "main", "Ask the browser to keep it").await;
            browser.wait_until("return asked === 1", vec![]).await;
        }
        wait_for_words(&browser, then, true).await;
        wait_for_words(&browser, "Ask the browser to keep it", then == MAY_CLEAR).await;
    }
}

/// By itself the app asks with the first entry that can be lost, once a visit; the demo job is no such thing.
#[tokio::test]
async fn the_browser_is_asked_to_keep_the_storage_with_the_first_entry() {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(&keeping("return false;")).await;
    Jobs::open(&browser, &site).await.demo().await;
    wait_until_saved(&browser).await;
    assert_eq!(browser.run("return asked", vec![]).await, json!(0));
    browser.tap(".bar a.tool").await;
    Jobs(&browser).make("Worth it", "").await;
    browser.wait_until("return asked === 1", vec![]).await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    for _ in 0..3 {
        pass.on_target().await;
    }
    pass.wait_until_saved().await;
    assert_eq!(browser.run("return asked", vec![]).await, json!(1));
}

#[tokio::test]
async fn that_a_private_window_forgets_is_said_where_work_begins_and_with_the_storage() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    let words = "A private window loses everything when it closes";
    wait_for_words(&browser, words, true).await;
    Preferences::open(&browser).await;
    wait_for_words(&browser, words, true).await;
}
