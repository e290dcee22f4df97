//! Two tabs on one job: both stay right, and closing either loses nothing.

use evenhand_tests::RunningSite;

use crate::browser::Browser;
use crate::pages::fields::Typing;
use crate::pages::jobs::{Jobs, wait_for_notice};
use crate::pages::office::Handover;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

async fn wait_for_caption(browser: &Browser, says: &str) {
    let there = "return document.querySelector('.caption')?.innerText.startsWith(arguments[0])";
    browser.wait_until(there, vec![says.into()]).await;
}

/// A job with one reading, and the same pass in a second tab, which is looked at then.
async fn read_and_open_twice(browser: &Browser, site: &RunningSite) {
    Jobs::open(browser, site).await.make("Twice", "").await;
    Order(browser).begin("let_off").await;
    Pass(browser).on_target().await;
    Pass(browser).wait_until_saved().await;
    let place = browser.run("return location.hash", vec![]).await;
    browser.open_tab().await;
    let place = place.as_str().unwrap_or_default();
    Pass(browser).reopen(&site.url(), place).await;
}

#[tokio::test]
async fn two_tabs_on_one_job_converge_and_either_may_close() {
    let site = serve_release();
    let browser = Browser::phone().await;
    read_and_open_twice(&browser, &site).await;
    let pass = Pass(&browser);
    pass.travel_to(40).await;
    pass.wait_for_note("C4").await;
    pass.type_and_enter("18").await;
    pass.wait_until_saved().await;

    // The first tab has taken it in without a reload, and goes on.
    browser.show_tab(0).await;
    wait_for_caption(&browser, "2 of 88 measured").await;
    pass.on_target().await;
    wait_for_caption(&browser, "3 of 88 measured").await;
    pass.wait_until_saved().await;

    // The second has taken that in too, reads a note that the first has read, and is closed.
    browser.show_tab(1).await;
    wait_for_caption(&browser, "3 of 88 measured").await;
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    pass.type_and_enter("21").await;
    pass.wait_until_saved().await;
    browser.close_tab().await;
    wait_for_caption(&browser, "3 of 88 measured").await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    wait_for_caption(&browser, "3 of 88 measured").await;
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    assert_eq!(pass.reading().await, "2.1");
    pass.travel_to(40).await;
    pass.wait_for_note("C4").await;
    assert_eq!(pass.reading().await, "1.8");
}

/// The tab in which the job was made is closed; the other goes on, also with what was entered last in the first.
#[tokio::test]
async fn the_tab_that_made_the_job_may_close_too() {
    let site = serve_release();
    let browser = Browser::phone().await;
    read_and_open_twice(&browser, &site).await;
    let pass = Pass(&browser);
    wait_for_caption(&browser, "1 of 88 measured").await;

    browser.show_tab(0).await;
    pass.on_target().await;
    wait_for_caption(&browser, "2 of 88 measured").await;
    pass.wait_until_saved().await;
    browser.close_tab().await;
    wait_for_caption(&browser, "2 of 88 measured").await;
    pass.travel_to(40).await;
    pass.wait_for_note("C4").await;
    pass.type_and_enter("18").await;
    wait_for_caption(&browser, "3 of 88 measured").await;
    pass.wait_until_saved().await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    wait_for_caption(&browser, "3 of 88 measured").await;
}

/// Two phones with names and one job: each has read A0 for itself, both out of tolerance, and the first one opens the
/// file of the second.
async fn apart_and_together(one: &Browser, other: &Browser, site: &RunningSite) {
    Jobs::open(one, site).await.make("Shared", "").await;
    Handover(one).open().await;
    Handover(one).sign("S. Stack").await;
    one.back().await;
    let shared = Order(one).export().await;
    Jobs::open(other, site).await.choose(&shared).await;
    other.wait_for(".order .step").await;
    Handover(other).open().await;
    Handover(other).sign("K. Keys").await;
    other.back().await;

    one.tap(".bar a.tool").await;
    for (phone, read, serial) in [(one, ["35", "20"], "4711"), (other, ["31", "20"], "4717")] {
        phone.wait_for(".order .step").await;
        Order(phone).begin("let_off").await;
        for digits in read {
            Pass(phone).type_and_enter(digits).await;
        }
        Pass(phone).wait_for_note("B0").await;
        Pass(phone).wait_until_saved().await;
        let typing = Typing(phone);
        typing.go("setup/job").await;
        typing.fill("serial", 0, serial).await;
        typing.enter().await;
        typing.wait_until_saved().await;
        // Back to the pass, and from there to the order.
        phone.tap(".bar a.tool").await;
        phone.wait_for(".pass .pad").await;
        phone.tap(".bar a.tool").await;
        phone.wait_for(".order .step").await;
    }
    let file = Order(other).export().await;
    one.tap(".bar a.tool").await;
    Jobs(one).merge(&file).await;
}

/// Waits until an element's text has all of these words.
async fn wait_for_all(browser: &Browser, selector: &str, words: &[&str]) {
    let has = "const text = document.querySelector(arguments[0])?.innerText ?? ''; return arguments[1].every(w => text.includes(w))";
    let arguments = vec![selector.into(), serde_json::json!(words)];
    browser.wait_until(has, arguments).await;
}

#[tokio::test]
async fn what_two_phones_said_differently_stands_at_its_place_until_it_is_settled() {
    let site = serve_release();
    let (one, other) = (Browser::phone().await, Browser::phone().await);
    apart_and_together(&one, &other, &site).await;
    let said = wait_for_notice(&one, "Two people differ").await;
    assert!(said.contains("4711") && said.contains("4717"), "{said}");
    // A warning, which stays.
    assert!(one.count(".notice.trouble").await > 0);

    // In the pass, beside the correction and not in its place; a reload hides nothing.
    let pass = Pass(&one);
    Order(&one).begin("let_off").await;
    for reloaded in [false, true] {
        if reloaded {
            one.reload().await;
            one.wait_for(".pass .pad").await;
        }
        pass.travel_to(1).await;
        pass.wait_for_note("A0").await;
        // Which of the two counts follows from the times; both are on the screen.
        let beside = match pass.reading().await.as_str() {
            "3.5" => ["3.1 mm", "K. Keys"],
            "3.1" => ["3.5 mm", "S. Stack"],
            other => panic!("neither phone read {other}"),
        };
        wait_for_all(&one, ".differing", &beside).await;
        assert_eq!(one.count(".message.act .turned").await, 1, "the correction");
        let in_sight = "const of = s => document.querySelector(s).getBoundingClientRect(); \
            return of('.message').bottom <= of('.read').bottom && of('.note').top >= of('.read').top";
        // The notice of the merge has gone with the reload, and there is room for both at once.
        let both = one.run(in_sight, vec![]).await;
        assert!(!reloaded || both == true, "both at once");
    }
    one.screenshot("conflict-pass").await;
    // The same value on both phones is no conflict.
    pass.travel_to(2).await;
    pass.wait_for_note("A♯0").await;
    assert_eq!(one.count(".differing").await, 0);

    // In the setup, and in a list in the handover, the report and the table.
    let setup = ["Serial number", "4711", "S. Stack", "4717", "K. Keys"];
    Typing(&one).go("setup/job").await;
    wait_for_all(&one, ".conflicts", &setup).await;
    assert_eq!(one.count(".conflict").await, 1);
    let handover = Handover(&one);
    handover.open().await;
    let all = [
        &setup[..],
        &["Let-off, note 1 (A0), on the bench", "3.5 mm", "3.1 mm"],
    ]
    .concat();
    wait_for_all(&one, ".conflicts", &all).await;
    assert_eq!(one.count(".conflict").await, 2);
    one.run(
        "document.querySelector('.conflicts').scrollIntoView()",
        vec![],
    )
    .await;
    one.screenshot("conflict-handover").await;
    let table = handover.table("conflicts").await;
    let table = std::fs::read_to_string(table).expect("a table");
    for words in &all {
        assert!(
            table.contains(words.trim_start_matches("Let-off, ")),
            "{words}: {table}"
        );
    }
    assert_eq!(table.lines().count(), 5);
    let report = handover.letter("report").await;
    for words in &all {
        assert!(report.contains(words), "{words}: {report}");
    }

    // Each is settled by keeping one: in the handover, and in the pass.
    handover.open().await;
    one.tap(".conflict:nth-of-type(1) [aria-label='Keep 4711']")
        .await;
    let left = "return document.querySelectorAll('.conflict').length === 1";
    one.wait_until(left, vec![]).await;
    one.tap(".conflict a.button").await;
    pass.wait_for_note("A0").await;
    one.tap(".differing").await;
    one.wait_for("dialog[open] .conflict").await;
    one.screenshot("conflict-sheet").await;
    one.tap("dialog[open] [aria-label='Keep 3.1 mm']").await;
    let closed = "return !document.querySelector('dialog[open], .differing')";
    one.wait_until(closed, vec![]).await;
    pass.wait_until_saved().await;
    handover.open().await;
    one.reload().await;
    one.wait_for(".figures").await;
    assert_eq!(one.count(".conflicts").await, 0);
    one.tap(".bar a.tool").await;
    Order(&one).begin("let_off").await;
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    assert_eq!(pass.reading().await, "3.1");
}

#[tokio::test]
async fn measuring_again_settles_a_reading() {
    let site = serve_release();
    let (one, other) = (Browser::phone().await, Browser::phone().await);
    apart_and_together(&one, &other, &site).await;
    wait_for_notice(&one, "Two people differ").await;
    Handover(&one).open().await;
    one.tap(".conflict a.button").await;
    let pass = Pass(&one);
    pass.wait_for_note("A0").await;
    one.wait_for(".differing").await;
    pass.type_and_enter("19").await;
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    assert_eq!(pass.reading().await, "1.9");
    assert_eq!(one.count(".differing").await, 0);
}
