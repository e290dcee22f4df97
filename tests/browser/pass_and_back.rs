//! What a pass asks once, refuses, shows at its end, and comes back to.

use serde_json::json;

use crate::browser::{Browser, Profile as BrowserProfile};
use crate::device::Device;
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::{Jobs, notices, wait_for_notice};
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::preferences::Preferences;
use crate::pages::profile::Profile;
use crate::pages::{serve_release, tap_named};

/// Makes a job on a phone; its order is shown then.
async fn make(browser: &Browser, site: &evenhand_tests::RunningSite, breaks: &str) -> String {
    Jobs::open(browser, site).await.make("Small", breaks).await;
    let job = browser.run("return location.hash", vec![]).await;
    job.as_str().unwrap_or_default().to_owned()
}

/// Waits until an element says so, and returns all that it says.
async fn wait_for_words(browser: &Browser, selector: &str, says: &str) -> String {
    let said = "const t = document.querySelector(arguments[0])?.innerText; return t?.includes(arguments[1]) ? t : null";
    let said = browser
        .wait_until(said, vec![json!(selector), json!(says)])
        .await;
    said.as_str().unwrap_or_default().to_owned()
}

#[tokio::test]
async fn the_last_note_of_a_pass_is_corrected_at_its_end() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.travel_to(88).await;
    pass.wait_for_note("C8").await;
    pass.type_and_enter("13").await;
    let end = wait_for_words(&browser, ".through", "C8 close by 0.7, button down 1/8").await;
    assert!(
        end.contains("1 of 88 measured, 87 not measured, 1 out."),
        "{end}"
    );
    // Minutes can be stated after readings too.
    assert!(end.contains("so far, counted"), "{end}");
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("pass-end-out").await;
    pass.turned().await;
    pass.wait_for_note("C8").await;
    pass.wait_for_message("Turned 1/8 down. Re-measure.").await;
    pass.type_and_enter("20").await;
    let end = wait_for_words(&browser, ".through", "none out").await;
    assert!(!end.contains("button down"), "{end}");
    // On a desk, the end has the same correction.
    pass.on_through("Undo the last").await;
    pass.wait_for_note("C8").await;
}

#[tokio::test]
async fn what_no_piano_can_have_is_refused_and_no_chip_offers_what_is_implausible() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("blow").await;
    let pass = Pass(&browser);
    pass.type_and_enter("9999999").await;
    pass.wait_for_message("9999999.0 mm cannot be: no piano has it. Blow is 0 to 5000 mm.")
        .await;
    assert!(pass.caption().await.starts_with("0 of 88 measured"));
    pass.key("undo").await;
    browser.type_keys("-1 3/4 in\u{e007}").await;
    pass.wait_for_message("cannot be").await;
    assert!(pass.caption().await.starts_with("0 of 88 measured"));
    pass.key("undo").await;
    // Unusual is asked about once, and kept.
    pass.type_and_enter("4500").await;
    pass.wait_for_message("4500.0 mm? Usual is 30.0 to 60.0.")
        .await;
    tap_named(&browser, ".message", "Keep it").await;
    pass.wait_for_note("A♯0").await;
    assert!(pass.caption().await.starts_with("1 of 88 measured"));
    assert!(!pass.repeat("4500.0").await);
    pass.type_and_enter("46").await;
    pass.wait_for_note("B0").await;
    assert!(pass.repeat("46.0").await);
    pass.wait_for_note("C1").await;
}

#[tokio::test]
async fn cauls_drawn_while_the_bushings_dry_are_asked_about_once() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("cauls_in").await;
    let pass = Pass(&browser);
    browser.type_keys(&"\u{e007}".repeat(88)).await;
    pass.on_through("Start the 12 h drying time").await;
    wait_for_words(&browser, ".through", "drying until").await;
    pass.back().await;
    Order(&browser).begin("cauls_out").await;
    pass.key("1").await;
    pass.wait_for_message("“Key bushings treated, cauls in” is drying until")
        .await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.screenshot("pass-drying").await;
    tap_named(&browser, ".message", "No").await;
    let gone = "return document.querySelector('.message') === null";
    browser.wait_until(gone, vec![]).await;
    assert!(pass.caption().await.starts_with("0 of 88 done"));
    pass.key("1").await;
    pass.wait_for_message("is drying until").await;
    tap_named(&browser, ".message", "Keep it").await;
    pass.wait_for_note("A♯0").await;
    pass.key("1").await;
    pass.wait_for_note("B0").await;
    assert!(pass.caption().await.starts_with("2 of 88 done"));
}

#[tokio::test]
async fn the_sample_as_found_is_too_late_once_the_action_is_out() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("action_out").await;
    Pass(&browser).key("1").await;
    Pass(&browser).through().await;
    tap_named(&browser, ".through", "Back to the order").await;
    let sample = "a.step[href$='/pass/found_sample']";
    let said = wait_for_words(&browser, sample, "too late: action out").await;
    assert!(!said.contains("stack off"), "{said}");
    browser.screenshot("order-too-late").await;
    let open = "location.hash += '/plan'";
    browser.run(open, vec![]).await;
    browser.wait_for(".days .work").await;
    let plan = browser.text("main").await;
    assert!(!plan.contains("As-found sample"), "{plan}");
    assert!(plan.contains("As-left sample"), "{plan}");
}

#[tokio::test]
async fn an_undo_says_what_it_took_back_until_the_next_entry() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("jack_position").await;
    let pass = Pass(&browser);
    let fault = async |word: &str| {
        pass.more().await;
        pass.on_sheet(word).await;
        pass.on_sheet("Keep as a fault").await;
        pass.wait_for_message(&format!("Fault: {word}")).await;
    };
    fault("worn").await;
    // In a pass it stands at the place of the messages, so that nothing moves.
    pass.key("undo").await;
    pass.wait_for_message("Taken back: a fault.").await;
    assert_eq!(notices(&browser).await, [""; 0]);
    pass.key("1").await;
    pass.wait_for_note("A♯0").await;
    let gone = "return document.querySelector('.message') === null";
    browser.wait_until(gone, vec![]).await;
    fault("loose").await;
    pass.back().await;
    Order(&browser).arrange().await;
    Order(&browser).shift("voicing", "leave out").await;
    tap_named(&browser, "footer", "Undo").await;
    wait_for_notice(&browser, "Taken back: a change of the order.").await;
    tap_named(&browser, "footer", "Undo").await;
    wait_for_notice(&browser, "Taken back: a fault.").await;
    assert_eq!(notices(&browser).await, ["Taken back: a fault."]);
    Order(&browser).shift("tuning", "leave out").await;
    let none = "return document.querySelector('.notice') === null";
    browser.wait_until(none, vec![]).await;
}

#[tokio::test]
async fn the_climate_is_counted_as_two_readings_from_the_first() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("climate").await;
    let pass = Pass(&browser);
    assert_eq!(pass.caption().await, "0 of 2 measured");
    pass.type_and_enter("45").await;
    let one = "return document.querySelector('.caption').innerText === '1 of 2 measured'";
    browser.wait_until(one, vec![]).await;
    pass.type_and_enter("215").await;
    assert!(pass.through().await.contains("2 of 2 measured"));
    pass.back().await;
    // Of several measures by note, the strip's is named.
    Order(&browser).begin("centre_pins").await;
    assert_eq!(pass.caption().await, "0 of 12 hammer flange friction");
}

#[tokio::test]
async fn a_count_has_no_gap_where_others_have_a_unit() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("hammer_swings").await;
    assert_eq!(browser.text(".bar p").await, "5, 4 to 7");
    let pass = Pass(&browser);
    pass.type_and_enter("99").await;
    pass.wait_for_message("99? Usual is 0 to 20.").await;
}

#[tokio::test]
async fn a_house_pitch_is_one_touch() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let job = make(&browser, &site, "").await;
    let go = async |place: &str| {
        let place = vec![json!(format!("{job}/{place}"))];
        browser.run("location.hash = arguments[0]", place).await;
    };
    go("targets/pitch_a4").await;
    browser.wait_for("[aria-label='House pitch']").await;
    tap_named(&browser, "[aria-label='House pitch']", "442 Hz").await;
    go("pass/pitch_a4").await;
    wait_for_words(&browser, ".bar p", "442.0 Hz, 440.0 to 444.0").await;
}

#[tokio::test]
async fn a_note_outside_the_sample_joins_a_step_on_the_sample() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    let order = Order(&browser);
    order.begin("hammer_swings").await;
    let pass = Pass(&browser);
    // B0 is no sample note.
    pass.more().await;
    browser.tap("dialog[open] form.line input").await;
    browser.type_keys("3\u{e007}").await;
    pass.wait_for_note("B0").await;
    pass.type_and_enter("12").await;
    pass.wait_until_saved().await;
    pass.back().await;
    order.wait_for_line("hammer_swings", "1 out").await;
}

#[tokio::test]
async fn a_note_set_by_eye_before_it_is_read_says_so() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("checking").await;
    let pass = Pass(&browser);
    pass.more().await;
    pass.on_sheet("Set by eye").await;
    pass.wait_for_message("Set by eye. Not measured yet.").await;
    assert_eq!(pass.note().await, "A0");
    pass.key("undo").await;
    let gone = "return document.querySelector('.message') === null";
    browser.wait_until(gone, vec![]).await;
}

#[tokio::test]
async fn the_way_back_from_the_targets_leads_to_the_same_note_in_the_same_order() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let job = make(&browser, &site, "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    for (reading, next) in [("13", "A♯0"), ("20", "B0"), ("29", "C1"), ("13", "C♯1")] {
        pass.type_and_enter(reading).await;
        pass.wait_for_note(next).await;
    }
    let about = async || {
        browser.tap("[aria-label='About this step']").await;
        browser.wait_for("dialog[open]").await;
    };
    about().await;
    pass.on_sheet("Only those out").await;
    pass.wait_for_note("A0").await;
    browser.tap("[aria-label='Skip this note']").await;
    pass.wait_for_note("B0").await;
    for page in ["Targets", "Profile", "Corrections"] {
        about().await;
        pass.on_sheet(page).await;
        browser.wait_for("[aria-label='Back to the pass']").await;
        browser.tap("[aria-label='Back to the pass']").await;
        pass.wait_for_note("B0").await;
        about().await;
        let chosen = "return [...document.querySelectorAll('dialog [aria-pressed=true]')].map(b => b.innerText)";
        let chosen = browser.run(chosen, vec![]).await;
        assert_eq!(chosen, json!(["Only those out"]), "{page}");
        browser.tap("[aria-label='Close']").await;
    }
    // The browser's own way back leads there too.
    about().await;
    pass.on_sheet("Targets").await;
    browser.wait_for("[aria-label='Back to the pass']").await;
    browser.run("history.back()", vec![]).await;
    pass.wait_for_note("B0").await;
    browser.tap("[aria-label='Skip this note']").await;
    pass.wait_for_note("C1").await;
    // By way of the order the pass begins anew, and the targets lead back to the order.
    pass.back().await;
    let targets = vec![json!(format!("{job}/targets"))];
    browser.run("location.hash = arguments[0]", targets).await;
    browser.wait_for("[aria-label='Back to the order']").await;
}

#[tokio::test]
async fn what_is_missing_is_filled_in_and_the_note_is_found_again() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("aftertouch").await;
    let pass = Pass(&browser);
    pass.travel_to(40).await;
    pass.wait_for_note("C4").await;
    pass.type_and_enter("200").await;
    pass.wait_for_note("C♯4").await;
    browser.tap("[aria-label='More on this note']").await;
    browser.tap("[aria-label='Close']").await;
    browser.type_keys("\u{e012}").await;
    pass.wait_for_note("C4").await;
    tap_named(&browser, ".message", "Fill in").await;
    // The choice itself is open.
    tap_named(&browser, "#travel", "Dip").await;
    browser.tap("[aria-label='Back to the pass']").await;
    pass.wait_for_note("C4").await;
    assert_eq!(pass.reading().await, "2.00");
}

#[tokio::test]
async fn corrections_made_meanwhile_come_first_when_the_pass_is_opened_again() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    for (reading, next) in [("13", "A♯0"), ("20", "B0")] {
        pass.type_and_enter(reading).await;
        pass.wait_for_note(next).await;
    }
    browser.tap("[aria-label='About this step']").await;
    pass.on_sheet("Corrections").await;
    browser.tap(".todo tbody button").await;
    browser.tap("[aria-label='Back to the pass']").await;
    pass.wait_for_note("A0").await;
    pass.wait_for_message("Turned 1/8 down. Re-measure.").await;
}

#[tokio::test]
async fn a_refusal_is_scrolled_into_view() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    let typing = Typing(&browser);
    typing.go("setup/keys").await;
    typing.fill("key-natural", 0, "abc").await;
    // The field stands at the lower edge of what is seen.
    let low = "
        const [main, field] = ['main', \"[data-fields='key-natural'] .fields-row\"].map(s => document.querySelector(s));
        main.scrollTop += field.getBoundingClientRect().bottom - main.getBoundingClientRect().bottom;
        return Math.abs(main.getBoundingClientRect().bottom - field.getBoundingClientRect().bottom) < 2";
    assert_eq!(browser.run(low, vec![]).await, json!(true));
    browser.run("document.activeElement.blur()", vec![]).await;
    let seen = "
        const [main, said] = ['main', \"[data-fields='key-natural'] .refused\"].map(s => document.querySelector(s).getBoundingClientRect());
        return said.height > 0 && said.bottom <= main.bottom + 1";
    browser.wait_until(seen, vec![]).await;
}

#[tokio::test]
async fn minutes_of_an_own_step_that_are_no_number_are_refused() {
    let site = serve_release();
    let browser = Browser::phone().await;
    make(&browser, &site, "").await;
    Order(&browser).arrange().await;
    tap_named(&browser, "footer", "Own step").await;
    browser.tap("form.own label:first-child input").await;
    browser.type_keys("Damper felts").await;
    browser.tap("form.own input[inputmode=numeric]").await;
    browser.type_keys("2 h").await;
    tap_named(&browser, "form.own", "Add the step").await;
    wait_for_words(
        &browser,
        "form.own .refused",
        "“2 h” is not a number of minutes",
    )
    .await;
    let row = "return [...document.querySelectorAll('[data-step]')].some(r => r.innerText.includes('Damper felts'))";
    assert_eq!(browser.run(row, vec![]).await, json!(false));
    browser.tap("form.own input[inputmode=numeric]").await;
    browser.run("document.activeElement.select()", vec![]).await;
    browser.type_keys("120").await;
    tap_named(&browser, "form.own", "Add the step").await;
    browser.wait_until(row, vec![]).await;
}

#[tokio::test]
async fn a_table_in_inches_has_fractions_or_decimals_and_not_both() {
    let site = serve_release();
    let browser = Browser::open(Device::DESK, BrowserProfile::fresh()).await;
    Jobs::open(&browser, &site).await;
    let likes = Preferences::open(&browser).await;
    likes.choose("unit", "Inches").await;
    likes.leave().await;
    let job = make(&browser, &site, "").await;
    Order(&browser).begin("blow").await;
    browser
        .type_keys("1 3/4\u{e007}1 25/32\u{e007}1.772\u{e007}")
        .await;
    Pass(&browser).wait_for_note("C1").await;
    let column = "return [...document.querySelectorAll('.readings tbody td:nth-child(2)')].map(c => c.innerText)";
    Profile(&browser).go(&job, "blow").await;
    assert_eq!(
        browser.run(column, vec![]).await,
        json!(["1.750", "1.781", "1.772"])
    );
    let rest = "return document.querySelector('.readings').innerText.includes('/')";
    assert_eq!(browser.run(rest, vec![]).await, json!(false));
}

#[tokio::test]
async fn a_sample_step_leads_to_its_choice_and_back_to_the_note() {
    let site = serve_release();
    let browser = Browser::phone().await;
    let job = make(&browser, &site, "").await;
    Typing(&browser)
        .choose_samples("1, 45, 46, 57, 58, 88")
        .await;
    Order(&browser).begin("hammer_swings").await;
    let pass = Pass(&browser);
    pass.wait_for_note("A0").await;
    pass.type_and_enter("5").await;
    pass.wait_for_note("F4").await;
    browser.tap("[aria-label='About this step']").await;
    browser.screenshot("sheet-sample").await;
    tap_named(&browser, "dialog[open]", "Choose the sample").await;
    wait_for_words(&browser, "h1", "Setup").await;
    let fields = Typing(&browser);
    fields.fill("samples", 0, "1, 45, 46, 57, 58, 70, 88").await;
    fields.enter().await;
    browser.tap("[aria-label='Back to the pass']").await;
    pass.wait_for_note("F4").await;
    wait_for_words(&browser, ".caption", "1 of 7 measured").await;
    let at = browser.run("return location.hash", vec![]).await;
    assert_eq!(at, json!(format!("{job}/pass/hammer_swings")));
}
