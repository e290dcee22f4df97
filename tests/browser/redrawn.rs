//! Parts of a screen that go, or are drawn again, while somebody has them in hand: nothing stops, and nothing that was
//! typed into one field turns up in another.

use serde_json::json;

use crate::browser::Browser;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

/// That the program goes on, and the browser saw no error.
async fn goes_on(browser: &Browser) {
    assert_eq!(browser.console_errors().await, [""; 0]);
    assert_eq!(browser.count("button.copy").await, 0);
}

#[tokio::test]
async fn a_screen_that_is_left_with_a_field_or_a_sheet_in_hand_stops_nothing() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Left", "").await;
    let place = browser.run("return location.hash", vec![]).await;
    let typing = Typing(&browser);
    typing.go("setup/keys").await;
    typing.fill("key-natural", 0, "252").await;
    // Taken out of the page with the focus in it, as by an address that is opened.
    browser.run("location.hash = '#/new'", vec![]).await;
    browser.wait_for("form").await;
    goes_on(&browser).await;
    let back = "location.hash = arguments[0] + '/setup/keys'";
    browser.run(back, vec![place.clone()]).await;
    typing.wait_for_text("key-natural", 0, "252").await;

    browser
        .run("location.hash = arguments[0]", vec![place])
        .await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    for _ in 0..2 {
        pass.wait_for_note("A0").await;
        pass.more().await;
        browser.wait_for("dialog[open]").await;
        browser.run("history.back()", vec![]).await;
        browser.wait_for(".order .step").await;
        assert_eq!(browser.count("dialog").await, 0);
        goes_on(&browser).await;
        Order(&browser).begin("let_off").await;
    }
    // A sheet that the browser closes is gone, and can be opened again.
    for _ in 0..2 {
        pass.more().await;
        browser.wait_for("dialog[open]").await;
        browser.type_keys("\u{e00c}").await;
        let gone = "return !document.querySelector('dialog')";
        browser.wait_until(gone, vec![]).await;
    }
    goes_on(&browser).await;
    pass.on_target().await;
    pass.wait_for_note("A♯0").await;
}

#[tokio::test]
async fn a_row_that_takes_itself_out_with_the_focus_on_it_stops_nothing() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Rows", "").await;
    let typing = Typing(&browser);
    typing.go("setup/heights").await;
    for note in ["A4", "C6"] {
        for (at, text) in [note, "250", "190"].into_iter().enumerate() {
            typing.fill("control", at, text).await;
        }
        typing.press("control").await;
        typing.wait_for_words("#heights .rows", note).await;
    }
    browser
        .tap("button[aria-label='Take out the control note A4']")
        .await;
    let left = "return document.querySelector('#heights .rows').innerText.replace(/\\s+/g, ' ')";
    browser
        .wait_until(
            "return !document.querySelector('#heights .rows').innerText.includes('A4')",
            vec![],
        )
        .await;
    assert_eq!(
        browser.run(left, vec![]).await,
        json!("C6 250.0 on the bench, 190.0 over the key bed")
    );
    // What is left is still its own row: its key takes out C6 and nothing else.
    browser
        .tap("button[aria-label='Take out the control note C6']")
        .await;
    browser
        .wait_until(
            "return !document.querySelector('#heights .rows li')",
            vec![],
        )
        .await;
    goes_on(&browser).await;
}

#[tokio::test]
async fn a_field_in_hand_keeps_focus_caret_and_text_when_something_else_is_entered() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Typing", "").await;
    let typing = Typing(&browser);
    typing.go("setup/job").await;
    typing.unfold("sections").await;
    typing.fill("serial", 0, "A 1234").await;
    let caret = "document.activeElement.setSelectionRange(2, 3)";
    browser.run(caret, vec![]).await;
    // Inches, chosen without a touch, so that the hand stays where it is.
    let choose = "document.querySelector('#sections input[type=radio]:not(:checked)').click()";
    browser.run(choose, vec![]).await;
    typing.wait_until_saved().await;
    let held = "const f = document.querySelector(\"[data-fields='serial'] input\"); return [f === document.activeElement, f.selectionStart, f.selectionEnd, f.value]";
    assert_eq!(
        browser.run(held, vec![]).await,
        json!([true, 2, 3, "A 1234"])
    );
    goes_on(&browser).await;
}

#[tokio::test]
async fn the_fields_of_another_scope_take_over_neither_text_nor_focus() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let typing = Typing(&browser);
    typing.go("targets/let_off").await;
    typing.fill("let_off-job-flat", 0, "2x").await;
    typing.enter().await;
    typing
        .wait_for_refusal("let_off-job-flat", "“2x” is not a length")
        .await;
    let scope = |at: usize| format!(".choice label:nth-child({at}) input[name='scope-let_off']");
    // Chosen without a touch, so that the focus stays in the refused field.
    let choose = "document.querySelector(\"[data-fields] input\").focus(); document.querySelector(arguments[0]).click()";
    browser.run(choose, vec![json!(scope(2))]).await;
    typing.wait_for_text("let_off-s0-flat", 0, "2.0").await;
    let refused =
        "return document.querySelector(\"[data-fields='let_off-s0-flat'] .refused\").innerText";
    assert_eq!(browser.run(refused, vec![]).await, json!(""));
    let held = "return !!document.activeElement.closest('[data-fields]')";
    assert_eq!(browser.run(held, vec![]).await, json!(false));
    // What was refused waits where it was typed.
    browser.tap(&scope(1)).await;
    typing.wait_for_text("let_off-job-flat", 0, "2x").await;
    goes_on(&browser).await;
}

#[tokio::test]
async fn a_list_of_choices_shows_what_holds_after_every_change() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Choices", "20, 52")
        .await;
    let typing = Typing(&browser);
    typing.go("targets/let_off").await;
    let scope = |at: usize| format!(".choice label:nth-child({at}) input[name='scope-let_off']");
    browser.tap(&scope(2)).await;
    let choose = "const s = document.querySelector('#let_off select'); s.value = arguments[0]; s.dispatchEvent(new Event('change', { bubbles: true }))";
    let shown = "return document.querySelector('#let_off select').value === arguments[0]";
    for section in ["2", "1", "0", "2"] {
        browser.wait_for("#let_off select").await;
        browser.run(choose, vec![json!(section)]).await;
        typing
            .wait_for_text(&format!("let_off-s{section}-flat"), 0, "2.0")
            .await;
        browser.wait_until(shown, vec![json!(section)]).await;
    }
    browser.tap(&scope(1)).await;
    typing.wait_for_text("let_off-job-flat", 0, "2.0").await;
    browser.tap(&scope(2)).await;
    typing.wait_for_text("let_off-s0-flat", 0, "2.0").await;
    browser.wait_until(shown, vec![json!("0")]).await;
    goes_on(&browser).await;
}
