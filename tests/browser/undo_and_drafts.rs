//! Undo says what it takes back, and asks before it takes back what is of another step; what is typed and not entered is
//! not lost.

use serde_json::json;

use crate::browser::Browser;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named, wait_until_saved};

#[tokio::test]
async fn an_undo_of_another_step_is_asked_and_can_be_brought_back() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Undone", "").await;
    let pass = Pass(&browser);
    Order(&browser).begin("pitch_a4").await;
    pass.type_and_enter("441.5").await;
    pass.through().await;
    pass.back().await;
    Order(&browser).begin("let_off").await;
    pass.key("undo").await;
    let asks = "Take back Pitch of A4, 441.5 Hz?";
    pass.wait_for_message(asks).await;
    tap_named(&browser, ".message", "No").await;
    let gone = "return document.querySelector('.message.ask') === null";
    browser.wait_until(gone, vec![]).await;
    pass.key("undo").await;
    pass.wait_for_message(asks).await;
    browser.screenshot("undo-asks").await;
    tap_named(&browser, ".message", "Take back").await;
    pass.wait_for_message("Taken back: Pitch of A4, 441.5 Hz.")
        .await;
    tap_named(&browser, ".message", "Bring back").await;
    wait_until_saved(&browser).await;
    // It is there again: the next Undo asks about the same.
    pass.key("undo").await;
    pass.wait_for_message(asks).await;
}

#[tokio::test]
async fn what_is_typed_and_not_entered_is_there_again_and_a_remark_is_kept() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Typed", "").await;
    let pass = Pass(&browser);
    Order(&browser).begin("blow").await;
    pass.key("4").await;
    pass.key("6").await;
    browser.reload().await;
    let typed = "return document.querySelector('.value.typing output')?.innerText.startsWith('46')";
    browser.wait_until(typed, vec![json!(null)]).await;
    pass.key("enter").await;
    pass.wait_for_note("A♯0").await;
    // Entered once, it is no draft any more.
    browser.reload().await;
    pass.wait_for_note("A♯0").await;
    assert_eq!(browser.count(".value.typing").await, 0);
    pass.more().await;
    browser.tap("#remark").await;
    browser.type_keys("hums").await;
    browser.tap("dialog[open] header .tool").await;
    pass.wait_for_message("Remark: hums").await;
}
