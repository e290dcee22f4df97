//! Two tabs on one job: both stay right, and closing either loses nothing.

use evenhand_tests::RunningSite;

use crate::browser::Browser;
use crate::pages::jobs::{Jobs, wait_for_notice};
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
    wait_for_caption(&browser, "2 of 88 read").await;
    pass.on_target().await;
    wait_for_caption(&browser, "3 of 88 read").await;
    pass.wait_until_saved().await;

    // The second has taken that in too, reads a note that the first has read, and is closed.
    browser.show_tab(1).await;
    wait_for_caption(&browser, "3 of 88 read").await;
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    pass.type_and_enter("21").await;
    pass.wait_until_saved().await;
    browser.close_tab().await;
    wait_for_caption(&browser, "3 of 88 read").await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    wait_for_caption(&browser, "3 of 88 read").await;
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
    wait_for_caption(&browser, "1 of 88 read").await;

    browser.show_tab(0).await;
    pass.on_target().await;
    wait_for_caption(&browser, "2 of 88 read").await;
    pass.wait_until_saved().await;
    browser.close_tab().await;
    wait_for_caption(&browser, "2 of 88 read").await;
    pass.travel_to(40).await;
    pass.wait_for_note("C4").await;
    pass.type_and_enter("18").await;
    wait_for_caption(&browser, "3 of 88 read").await;
    pass.wait_until_saved().await;
    browser.reload().await;
    browser.wait_for(".pass .pad").await;
    wait_for_caption(&browser, "3 of 88 read").await;
}

/// Two phones with one job: each has read A0 for itself, and one opens the other's file.
#[tokio::test]
async fn what_two_phones_read_differently_is_said_and_shown_until_it_is_read_again() {
    let site = serve_release();
    let (one, other) = (Browser::phone().await, Browser::phone().await);
    Jobs::open(&one, &site).await.make("Shared", "").await;
    let shared = Order(&one).export().await;
    Jobs::open(&other, &site).await.choose(&shared).await;
    other.wait_for(".order .step").await;

    one.tap(".bar a.tool").await;
    for (phone, read) in [(&one, ["21", "20"]), (&other, ["18", "20"])] {
        Order(phone).begin("let_off").await;
        for digits in read {
            Pass(phone).type_and_enter(digits).await;
        }
        Pass(phone).wait_for_note("B0").await;
        Pass(phone).wait_until_saved().await;
        phone.tap(".bar a.tool").await;
    }
    let file = Order(&other).export().await;
    one.tap(".bar a.tool").await;
    Jobs(&one).merge(&file).await;
    let said = wait_for_notice(&one, "Two people differ").await;
    assert!(said.contains("A0"), "{said}");
    // A warning, which stays.
    assert!(one.count(".notice.trouble").await > 0);

    let pass = Pass(&one);
    Order(&one).begin("let_off").await;
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    let (now, message) = (pass.reading().await, pass.message().await);
    // Which of the two counts follows from the phones' random numbers; both are on the screen.
    let beside = match now.as_str() {
        "2.1" => "1.8",
        "1.8" => "2.1",
        other => panic!("neither phone read {other}"),
    };
    assert!(
        message.contains(&format!("The other phone read {beside}")),
        "{message}"
    );
    // The same value on both phones is no conflict.
    pass.travel_to(2).await;
    pass.wait_for_note("A♯0").await;
    assert!(!one.text(".pass").await.contains("The other phone"));
    // Read again, it is settled, and opening the file once more says nothing of it.
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    pass.type_and_enter("19").await;
    pass.travel_to(1).await;
    pass.wait_for_note("A0").await;
    assert_eq!(pass.reading().await, "1.9");
    assert!(!one.text(".pass").await.contains("The other phone"));
}
