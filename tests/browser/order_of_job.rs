//! The steps of one job: arranged, left out, added to, and a drying time that is ended early.

use evenhand_core::note::Note;

use crate::browser::Browser;
use crate::outside::accessibility_faults;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named};

#[tokio::test]
async fn a_step_is_moved_left_out_and_added_and_a_refusal_names_the_prerequisite() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Own way", "").await;
    let order = Order(&browser);
    order.arrange().await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    let before = order.arranged().await;
    let place = |ids: &[String], id: &str| ids.iter().position(|i| i == id).expect("the step");

    // The drop is measured from the let-off point.
    order.shift("drop", "up").await;
    let refused = browser.text(".reach .refused").await;
    assert!(
        refused.contains("“Drop” cannot stand before “Let-off”"),
        "{refused}"
    );
    assert_eq!(order.arranged().await, before);

    order.shift("rest_cushion", "up").await;
    let moved = place(&before, "rest_cushion") - 1;
    let there = "return [...document.querySelectorAll('[data-step]')][arguments[0]].dataset.step === 'rest_cushion'";
    browser.wait_until(there, vec![moved.into()]).await;

    // A step that is left out stays where it stood, and comes back there.
    let before = order.arranged().await;
    order.shift("key_tops", "leave out").await;
    browser.wait_for("[data-step='key_tops'].left-out").await;
    assert_eq!(order.arranged().await, before);
    browser.screenshot("order-left-out").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    order.shift("key_tops", "take back in").await;
    browser
        .wait_for("[data-step='key_tops']:not(.left-out)")
        .await;
    assert_eq!(order.arranged().await, before);
    order.shift("key_tops", "leave out").await;
    browser.wait_for("[data-step='key_tops'].left-out").await;
    browser.tap(".with-undo [aria-label='Undo']").await;
    browser
        .wait_for("[data-step='key_tops']:not(.left-out)")
        .await;
    order.shift("key_tops", "leave out").await;
    browser.wait_for("[data-step='key_tops'].left-out").await;

    tap_named(&browser, ".reach", "Own step").await;
    browser.tap("dialog label:first-child input").await;
    browser.type_keys("Lid hinges oiled").await;
    tap_named(&browser, "dialog[open]", "Add the step").await;
    browser.wait_for("[data-step^='own_']").await;
    tap_named(&browser, ".reach", "Done").await;
    browser.wait_for(".order a[href*='/pass/own_']").await;
    assert_eq!(browser.count(".order a[href$='/pass/key_tops']").await, 0);
}

#[tokio::test]
async fn a_cure_is_begun_and_ended_early_with_a_reason() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Overnight", "")
        .await;
    Order(&browser).begin("cauls_in").await;
    let pass = Pass(&browser);
    let before = browser.taps();
    for note in Note::all() {
        pass.wait_for_note(&note.name()).await;
        pass.key("1").await;
    }
    assert_eq!(browser.taps() - before, 88);
    browser.tap(".through .main").await;
    let says = "return document.querySelector('.through')?.innerText.includes(arguments[0])";
    browser.wait_until(says, vec!["12 h left".into()]).await;
    browser.tap(".bar a.tool").await;
    let order = Order(&browser);
    order.wait_for_line("cauls_in", "12 h left").await;

    browser.tap(".order a[href$='/pass/cauls_in']").await;
    tap_named(&browser, ".through", "End drying early").await;
    browser.tap(".through input").await;
    browser.type_keys("dry by touch").await;
    tap_named(&browser, ".through", "End it").await;
    let ended = "drying ended early: dry by touch";
    browser.wait_until(says, vec![ended.into()]).await;
    browser.tap(".bar a.tool").await;
    order.wait_for_line("cauls_in", ended).await;
}
