//! A turn whose result is known is not measured again: the pass says so, a reading still counts, and the end of the pass
//! proposes a look along the row.

use evenhand_core::analysis::job_file::open;
use serde_json::{Value, json};

use crate::browser::Browser;
use crate::outside::accessibility_faults;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::{serve_release, tap_named, wait_until_saved};
use crate::sweeps::sweep;

const NOT_AGAIN: &str = "not measured again: the turn is known well here";

/// Reads a let-off that is close, says that it was turned, and reads it again if asked. Returns whether it was not asked.
async fn turned(browser: &Browser) -> bool {
    let pass = Pass(browser);
    let before = pass.note().await;
    pass.type_and_enter("13").await;
    pass.wait_for_message("close by 0.7").await;
    pass.turned().await;
    let is_settled = "const was = document.querySelector('.was').innerText; const is = document.querySelector('.note-name').innerText === arguments[0]; return is || was.includes('not measured again') ? [was] : null";
    let was = browser.wait_until(is_settled, vec![json!(before)]).await;
    // The first time it is said at the note itself, with the key that leads on.
    let is_told = "return document.querySelector('.message .every') !== null";
    if browser.run(is_told, vec![]).await == json!(true) {
        pass.wait_for_message("Not measured again").await;
        assert_eq!(pass.note().await, before);
        tap_named(browser, ".message", "Next note").await;
        return true;
    }
    let is_known = was[0].as_str().is_some_and(|was| was.contains(NOT_AGAIN));
    if !is_known {
        pass.type_and_enter("20").await;
    }
    is_known
}

async fn exported(browser: &Browser) -> Value {
    wait_until_saved(browser).await;
    Pass(browser).back().await;
    let file = std::fs::read(Order(browser).export().await).expect("the file");
    assert_eq!(open(&file).expect("a job").notices, [""; 0]);
    browser.back().await;
    browser.wait_for(".order .step").await;
    serde_json::from_slice(&file).expect("JSON")
}

/// Turns note after note until one is not measured again. Returns how many were measured before it.
async fn turned_until_known(browser: &Browser) -> u32 {
    let mut asked = 0;
    while !turned(browser).await {
        asked += 1;
        assert!(asked < 12, "never known");
    }
    asked
}

fn not_again(file: &Value) -> Vec<u64> {
    let notes = file["notes"].as_array().expect("the notes").iter();
    let named = notes
        .zip(1..)
        .filter(|(note, _)| note["not_remeasured"] == json!(["let_off"]));
    named.map(|(_, number)| number).collect()
}

#[tokio::test]
async fn a_turn_that_is_known_is_not_measured_again_and_the_end_proposes_a_look() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Known", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    // The first turns of a section are always measured.
    let asked = turned_until_known(&browser).await;
    assert!(asked >= 3, "{asked}");
    let note = asked + 1;
    pass.travel_to(note).await;
    pass.wait_for_message("Not measured again: the turn is known well here. Should read ")
        .await;
    assert_eq!(pass.verdict().await, "not measured again");
    let caption = pass.caption().await;
    assert!(
        caption.contains("not measured again") && !caption.contains("swept"),
        "{caption}"
    );
    // In a form of its own on the strip, where it should read.
    assert_eq!((pass.bars("known").await, pass.bars("swept").await), (3, 0));
    browser.screenshot("known-note").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    let file = exported(&browser).await;
    assert!(not_again(&file).contains(&u64::from(note)));
    // A reading still counts.
    Order(&browser).begin("let_off").await;
    pass.travel_to(note).await;
    pass.wait_for_message("Not measured again: the turn is known well here. Should read ")
        .await;
    pass.type_and_enter("21").await;
    let file = exported(&browser).await;
    assert!(!not_again(&file).contains(&u64::from(note)));
    // One more that is known, and the rest in one touch.
    Order(&browser).begin("let_off").await;
    while !turned(&browser).await {}
    sweep(&browser, "Whole row by gauge").await;
    let end = pass.through().await;
    assert!(
        end.contains("not measured again") && end.contains("use a gauge"),
        "{end}"
    );
    browser.screenshot("known-end").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    pass.on_through("None stands out").await;
    let gone =
        "return document.querySelector('.through')?.innerText.includes('Look along') === false";
    browser.wait_until(gone, vec![]).await;
    assert_eq!(not_again(&exported(&browser).await), [0; 0]);
}

#[tokio::test]
async fn one_touch_asks_for_every_note_and_the_profile_draws_those_that_are_known() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Every", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    let note = turned_until_known(&browser).await + 1;
    // Drawn where it should read, and said in words; the old reading is not called one to take again.
    let typing = Typing(&browser);
    wait_until_saved(&browser).await;
    pass.back().await;
    let to_profile = "location.hash = location.hash.split('/').slice(0, 2).join('/') + '/profile/let_off/let_off'";
    browser.run(to_profile, vec![]).await;
    browser.wait_for(".plot .swept").await;
    let picture = "return document.querySelector('.picture-of svg').getAttribute('aria-label')";
    let says = browser.run(picture, vec![]).await;
    assert!(
        says.as_str()
            .is_some_and(|s| s.contains("1 not measured again")),
        "{says}"
    );
    let table = browser.text(".readings").await;
    assert!(
        table.contains("not measured again, should read 1.9") && !table.contains("re-measure"),
        "{table}"
    );
    browser.screenshot("known-profile").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);
    browser.back().await;
    browser.wait_for(".order .step").await;
    Order(&browser).begin("let_off").await;
    pass.travel_to(note).await;
    pass.wait_for_message("Not measured again: the turn is known well here.")
        .await;
    browser.tap(".message .every").await;
    // The pass goes to what was not measured again, and the choice stands in Setup.
    pass.type_and_enter("20").await;
    assert_eq!(pass.bars("known").await, 0);
    pass.travel_to(note + 1).await;
    assert!(!turned(&browser).await);
    wait_until_saved(&browser).await;
    pass.back().await;
    typing.go("setup/samples").await;
    let chosen = "return document.querySelector('input[name=measure-all]:checked').closest('label').innerText.trim()";
    assert_eq!(browser.run(chosen, vec![]).await, json!("Every note"));
}
