//! Kinds of job: chosen for a new job, with its steps; changed and kept from a job; and what the sample measures.

use serde_json::json;

use crate::browser::{Browser, Profile};
use crate::device::Device;
use crate::main_job::read_json;
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named, wait_until_saved};

/// Whether all of the form is in sight.
const FITS: &str = "const page = document.querySelector('form main'); return page.scrollHeight <= page.clientHeight";

#[tokio::test]
async fn the_form_of_a_new_job_fits_a_phone_and_wants_no_more_than_its_kind() {
    let site = serve_release();
    for (name, device) in [
        ("new-job", Device::PHONE),
        ("new-job-dark", Device::PHONE.dark()),
        ("new-job-desk", Device::DESK),
    ] {
        let browser = Browser::open(device, Profile::fresh()).await;
        Jobs::open(&browser, &site).await;
        browser.run("location.hash = '#/new'", vec![]).await;
        browser.wait_for(".kind :checked").await;
        browser.screenshot(name).await;
        assert_eq!(accessibility_faults(&browser).await, [""; 0]);
        if name != "new-job-desk" {
            assert_eq!(browser.run(FITS, vec![]).await, json!(true), "{name}");
        }
    }
}

#[tokio::test]
async fn the_steps_of_a_kind_are_ticked_before_the_job_is_created() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    browser.tap("a[href='#/new']").await;
    browser.wait_for(".kind :checked").await;
    browser.tap("form .more:first-of-type > summary").await;
    tap_named(&browser, ".more-in", "Drop").await;
    tap_named(&browser, ".more-in", "Checking distance").await;
    tap_named(&browser, ".more-in", "Blow").await;
    tap_named(&browser, ".more-in", "Blow").await;
    browser.screenshot("new-job-steps").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    // What was ticked is kept like what was typed.
    browser.reload().await;
    browser.wait_for("form .reminder").await;
    let says =
        "return document.querySelector('form .more summary').innerText.startsWith('11 steps')";
    browser.wait_until(says, vec![]).await;
    browser.tap("button[type=submit]").await;
    browser.wait_for(".order .step").await;
    let steps = "return [...document.querySelectorAll('.order .step')].map(s => s.getAttribute('href').split('/pass/')[1])";
    assert_eq!(
        browser.run(steps, vec![]).await,
        json!([
            "climate",
            "pitch_a4",
            "found_sample",
            "let_off",
            "aftertouch",
            "checking",
            "spring",
            "damper_end",
            "damper_key",
            "play_test",
            "left_sample"
        ])
    );
    browser.screenshot("order-touch-up").await;
    // Nothing of a bench stands in a job that has none.
    let bench = "return /bench/i.test(document.querySelector('main.order').innerText)";
    assert_eq!(browser.run(bench, vec![]).await, json!(false));
}

#[tokio::test]
async fn a_job_is_kept_as_a_kind_and_the_next_new_job_can_be_of_it() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make_of("Touch-up in the piano", "Hall", "").await;
    let order = Order(&browser);
    order.arrange().await;
    order.shift("spring", "leave out").await;
    browser.tap("main.order .more > summary").await;
    let typing = Typing(&browser);
    // A name that is there already is refused, and nothing is kept.
    typing.fill("kind", 0, "Survey only").await;
    tap_named(&browser, "main.order .more", "Keep").await;
    typing
        .wait_for_refusal(
            "kind",
            "“Survey only” is built in. Type another name. Nothing was saved.",
        )
        .await;
    typing.fill("kind", 0, "Hall check").await;
    tap_named(&browser, "main.order .more", "Keep").await;
    let chosen = "return document.querySelector('main.order .more select').value === arguments[0]";
    browser.wait_until(chosen, vec![json!("Hall check")]).await;
    browser.screenshot("kind-kept").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    wait_until_saved(&browser).await;
    tap_named(&browser, ".reach", "Done").await;
    browser.wait_for(".order .step").await;
    // It travels with the job.
    let file = read_json(&order.export().await);
    assert_eq!(file["job"]["kind"], json!("Hall check"));

    jobs.show().await;
    jobs.make_of("Hall check", "Studio", "").await;
    assert_eq!(browser.count(".order .step").await, 10);
    assert_eq!(browser.count(".order a[href$='/pass/spring']").await, 0);
    // Another kind, in one touch on the list; the step that was added stays.
    order.arrange().await;
    let choose = "const s = document.querySelector('main.order .more select'); s.value = 'Survey only'; s.dispatchEvent(new Event('change', { bubbles: true }))";
    browser.run(choose, vec![]).await;
    let left = "return document.querySelectorAll('[data-step]').length === 4";
    browser.wait_until(left, vec![]).await;

    // A kind that is no longer wanted is forgotten; its jobs stay.
    jobs.show().await;
    browser.tap("a[href='#/new']").await;
    browser.tap(".kind input[value='Hall check']").await;
    browser.tap("form .more:first-of-type > summary").await;
    tap_named(&browser, ".more-in", "Forget this kind").await;
    let gone = "return document.querySelectorAll('.kind').length === 5";
    browser.wait_until(gone, vec![]).await;
}

#[tokio::test]
async fn the_sample_measures_what_is_ticked_and_goes_note_by_note() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let jobs = Jobs::open(&browser, &site).await;
    jobs.make("Sample", "").await;
    Typing(&browser).go("setup/samples").await;
    browser.wait_for(".measured input").await;
    // The notes are drawn; these are chosen.
    let typing = Typing(&browser);
    typing.fill("samples", 0, "1, 40, 88").await;
    typing.enter().await;
    wait_until_saved(&browser).await;
    for name in [
        "Sharp dip",
        "Blow",
        "Checking distance",
        "Repetition spring",
        "Down weight",
        "Up weight",
    ] {
        tap_named(&browser, ".measured", name).await;
    }
    tap_named(&browser, "#samples", "Note by note").await;
    let kept = "return document.querySelectorAll('.measured :checked').length === 4";
    browser.wait_until(kept, vec![]).await;
    browser.screenshot("setup-samples").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    wait_until_saved(&browser).await;
    browser.back().await;
    Order(&browser).begin("found_sample").await;
    let pass = Pass(&browser);
    for measure in ["natural dip", "let-off", "drop", "aftertouch"] {
        let there = "return document.querySelector('.note-name')?.innerText === 'A0' && document.querySelector('.pass .note small').innerText.includes(arguments[0])";
        browser.wait_until(there, vec![json!(measure)]).await;
        pass.on_target().await;
    }
    let next = "return document.querySelector('.note-name').innerText !== 'A0'";
    browser.wait_until(next, vec![]).await;
    // The last measure stays.
    Typing(&browser).go("setup/samples").await;
    browser.wait_for(".measured input").await;
    for name in ["Natural dip", "Let-off", "Drop", "Aftertouch"] {
        tap_named(&browser, ".measured", name).await;
    }
    let said = "return document.querySelector('.measured .refused').innerText.startsWith('One measure at least')";
    browser.wait_until(said, vec![]).await;
    let one = "return document.querySelectorAll('.measured :checked').length === 1";
    browser.wait_until(one, vec![]).await;
}
