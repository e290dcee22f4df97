//! A whole job by keyboard alone, from Create job to the exported file, with the focus drawn, in sight and never lost.

use evenhand_core::trade::{Instrument, JobKind};

use crate::browser::Browser;
use crate::main_job::schema;
use crate::outside::schema_faults;
use crate::pages::hand::Hand;
use crate::pages::jobs::Jobs;
use crate::pages::keys::Keys;
use crate::pages::serve_release;
use crate::touches::{address, assert_done, job_of};

#[tokio::test]
async fn a_whole_touch_up_is_done_by_keyboard_alone() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    let kind = &JobKind::built_in(Instrument::Grand)[0];
    let keys = Keys::new(&browser);
    keys.press("a[href='#/new']").await;
    browser.wait_for("form").await;
    keys.check_focus("New job").await;
    let choice = format!(".kind input[value='{}']", kind.name);
    keys.choose(".kinds", &choice).await;
    keys.press("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    keys.check_focus("Create job").await;
    let mut hand = Hand::by_keys(&browser, job_of(kind, &address(&browser).await));
    let file = hand.work().await;
    assert_eq!(browser.taps(), 0);
    assert_eq!(schema_faults(&schema(), &file), [""; 0]);
    assert_done(&file, kind);
    let faults = [keys.faults(), hand.focus_faults()].concat();
    assert_eq!(faults, [""; 0]);
}

#[tokio::test]
async fn a_sheet_that_is_closed_gives_the_focus_back() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Sheets", "").await;
    let keys = Keys::new(&browser);
    for (opener, goes_to) in [
        ("[aria-label='Pages of this job']", ""),
        (".order a[href$='/pass/let_off']", ".pass .pad"),
        ("[aria-label='About this step']", ""),
        ("[aria-label='More on this note']", ""),
    ] {
        keys.press(opener).await;
        if !goes_to.is_empty() {
            browser.wait_for(goes_to).await;
            continue;
        }
        browser.wait_for("dialog[open]").await;
        keys.press("dialog[open] header .tool").await;
        let is_back = "return !document.querySelector('dialog') && document.activeElement.matches(arguments[0])";
        browser.wait_until(is_back, vec![opener.into()]).await;
    }
    assert_eq!(keys.faults(), [""; 0]);
}
