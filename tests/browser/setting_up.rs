//! Setup and targets by thumb: what is typed is kept or said why not, a changed target changes
//! verdicts, and the travel balance adds up.

use serde_json::Value;

use crate::browser::Browser;
use crate::pages::fields::Typing;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

#[tokio::test]
async fn the_setup_is_filled_in_by_touch_and_refuses_in_a_sentence() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Levers", "").await;
    let typing = Typing(&browser);
    typing.go("setup/keys").await;
    typing.fill("key-natural", 0, "25x").await;
    typing.fill("key-natural", 1, "226").await;
    typing.fill("key-natural", 2, "238").await;
    typing.enter().await;
    typing
        .wait_for_refusal("key-natural", "“25x” is not a length")
        .await;
    assert_eq!(typing.text("key-natural", 0).await, "25x");
    // A refused value outlives the screen, too.
    browser.back().await;
    browser.wait_for(".order .step").await;
    typing.go("setup/keys").await;
    assert_eq!(typing.text("key-natural", 0).await, "25x");
    typing.fill("key-natural", 0, "252").await;
    typing.enter().await;
    // 0.1 × (252 + 226) ÷ 226, the lever law.
    typing
        .wait_for_words("#keys", "lifts the front by 0.21 mm")
        .await;

    typing.unfold("sections").await;
    typing.fill("breaks", 0, "20, 52").await;
    typing.enter().await;
    typing.wait_for_words("#sections", "Section 3").await;
    typing.unfold("heights").await;
    for (group, texts) in [
        ("height-0", ["1965", "197,2"]),
        ("height-1", ["7 3/4 in", "198"]),
    ] {
        typing.fill(group, 0, texts[0]).await;
        typing.fill(group, 1, texts[1]).await;
        typing.enter().await;
    }
    typing.wait_for_text("height-0", 0, "196.5").await;
    typing.wait_for_text("height-1", 0, "196.85").await;
    typing
        .wait_for_words("#heights", "4 of 6 section ends measured")
        .await;

    typing.unfold("punchings").await;
    browser.tap("#punchings .pair button").await;
    typing.wait_for_words("#punchings", "8 thicknesses").await;
    typing.unfold("trials").await;
    for (at, text) in ["1/4", "46", "44.2"].into_iter().enumerate() {
        typing.fill("trial", at, text).await;
    }
    typing.press("trial").await;
    typing
        .wait_for_refusal("trial", "The reading went the other way")
        .await;
    typing.fill("trial", 2, "48.2").await;
    typing.press("trial").await;
    typing.wait_for_words("#trials", "one trial").await;

    // Undo takes the trial back, and nothing else.
    browser.tap("button[aria-label=Undo]").await;
    typing.wait_for_words("#trials", "none yet").await;
    typing.wait_until_saved().await;
    browser.reload().await;
    typing.wait_for_text("key-natural", 0, "252.0").await;
    typing.wait_for_words("#heights", "4 of 6").await;
    typing.wait_for_words("#punchings", "8 thicknesses").await;
}

#[tokio::test]
async fn what_is_being_typed_outlives_the_page() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Away", "").await;
    let typing = Typing(&browser);
    typing.go("setup/job").await;
    typing.fill("serial", 0, "A 1234").await;
    browser.reload().await;
    typing.wait_for_text("serial", 0, "A 1234").await;
    browser.back().await;
    browser.wait_for(".order .step").await;
    typing.go("setup/keys").await;
    // Half a lever is none yet, and stays typed.
    typing.fill("key-sharp", 1, "22").await;
    browser.reload().await;
    typing.wait_for_text("key-sharp", 1, "22").await;
    typing.wait_for_refusal("key-sharp", "not saved yet").await;
}

#[tokio::test]
async fn a_changed_target_changes_the_verdict_and_goes_back_to_the_default() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let typing = Typing(&browser);
    typing.go("targets/let_off").await;
    typing
        .wait_for_words("#let_off [role=status]", "5 of the 40 measured are out")
        .await;
    typing.wait_for_words("#let_off", "Common practice").await;
    // Narrower for what may stay than for the aim: refused, and what was typed stays.
    typing.fill("let_off-job-flat", 2, "0.1").await;
    typing.enter().await;
    typing
        .wait_for_refusal("let_off-job-flat", "cannot be narrower")
        .await;
    assert_eq!(typing.text("let_off-job-flat", 2).await, "0.1");
    typing.fill("let_off-job-flat", 2, "0.8").await;
    typing.enter().await;
    // 2.8 may stay now; 1.1, 3.0 and 3.2 are out as before.
    typing
        .wait_for_words("#let_off [role=status]", "4 of the 40 measured are out")
        .await;
    typing
        .wait_for_words("#let_off summary", "changed for this job")
        .await;

    browser.back().await;
    Order(&browser).wait_for_line("let_off", "4 out").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.travel_to(6).await;
    pass.wait_for_note("D1").await;
    assert!(pass.verdict().await.starts_with("acceptable"));

    typing.go("targets/let_off").await;
    browser
        .tap("#let_off .part-in > .button:not([type=submit]):last-of-type")
        .await;
    typing
        .wait_for_words("#let_off [role=status]", "5 of the 40 measured are out")
        .await;
    typing
        .wait_for_words("#let_off", "back to the wider target")
        .await;
}

/// The lengths of the travel bar, in mm: of the dip, and of what it is spent on.
async fn bar(browser: &Browser) -> (f64, f64) {
    let lengths = "return [...document.querySelectorAll('.bar-row')].map(r => [...r.querySelectorAll('b')].reduce((sum, b) => sum + parseFloat(b.innerText.replace('−', '-')), 0))";
    let lengths: Value = browser.run(lengths, vec![]).await;
    let of = |at: usize| lengths[at].as_f64().expect("a length");
    (of(0), of(1))
}

#[tokio::test]
async fn the_travel_bar_adds_up_and_follows_a_changed_dip() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Balance", "").await;
    let typing = Typing(&browser);
    typing.go("targets").await;
    browser.tap("#travel .choice label:first-child").await;
    typing
        .wait_for_words(
            "#travel summary",
            "aftertouch is left to follow dip and blow",
        )
        .await;
    let (dip, spent) = bar(&browser).await;
    assert!(
        (dip - 10.0).abs() < 0.001 && (spent - dip).abs() < 0.015,
        "{dip} {spent}"
    );
    typing.unfold("natural_dip").await;
    typing.fill("natural_dip-job-flat", 0, "106").await;
    typing.enter().await;
    typing
        .wait_for_words("#travel .bar-row:first-child", "10.60")
        .await;
    let (dip, spent) = bar(&browser).await;
    assert!((spent - dip).abs() < 0.015, "{dip} {spent}");
    // The bars are of one length on the screen as well.
    let wide = "return [...document.querySelectorAll('.bar-row')].map(r => r.lastElementChild.getBoundingClientRect().right)";
    let wide = browser.run(wide, vec![]).await;
    assert_eq!(wide[0], wide[1]);
    // A ratio of the targets alone fits whatever is aimed at, so nothing can be warned of.
    typing
        .wait_for_words("#travel", "from the targets alone")
        .await;
    assert_eq!(browser.count("#travel .refused").await, 0);
}

#[tokio::test]
async fn a_wider_let_off_gives_more_aftertouch_until_it_leaves_its_range() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let typing = Typing(&browser);
    typing.go("targets").await;
    browser.tap("#travel .choice label:first-child").await;
    typing
        .wait_for_words(
            "#travel summary",
            "aftertouch is left to follow dip and blow",
        )
        .await;
    let after = "return parseFloat(document.querySelector('.part-of.after b').innerText)";
    let before = browser.run(after, vec![]).await;
    // The let-off of the note in hand is not read yet, so its aim counts.
    typing.unfold("let_off").await;
    typing.fill("let_off-job-flat", 0, "4.5").await;
    typing.enter().await;
    typing
        .wait_for_words("#travel .refused", "brings it back")
        .await;
    let now = browser.run(after, vec![]).await;
    // 2.5 mm at the hammer is 2.5 ÷ 4.86 at the key.
    let more = now.as_f64().expect("a length") - before.as_f64().expect("a length");
    assert!((more - 2.5 / 4.86).abs() < 0.02, "{more}");
    let (dip, spent) = bar(&browser).await;
    assert!((spent - dip).abs() < 0.015, "{dip} {spent}");
}

#[tokio::test]
async fn the_setup_names_who_works_on_this_phone_and_not_on_the_other() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let typing = Typing(&browser);
    typing.go("setup/job").await;
    typing
        .wait_for_text("technician", 0, "First phone (made up)")
        .await;
    // Also on a later visit, which has another name in the log.
    typing.wait_until_saved().await;
    browser.reload().await;
    typing
        .wait_for_text("technician", 0, "First phone (made up)")
        .await;
}
