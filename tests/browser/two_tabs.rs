//! Two tabs on one job: both stay right, and closing either loses nothing.

use crate::browser::Browser;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::serve_release;

async fn wait_for_caption(browser: &Browser, says: &str) {
    let there = "return document.querySelector('.caption')?.innerText.startsWith(arguments[0])";
    browser.wait_until(there, vec![says.into()]).await;
}

#[tokio::test]
async fn two_tabs_on_one_job_converge_and_either_may_close() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.make("Twice", "").await;
    Order(&browser).begin("let_off").await;
    let pass = Pass(&browser);
    pass.on_target().await;
    pass.wait_until_saved().await;
    let place = browser.run("return location.hash", vec![]).await;
    let place = place.as_str().unwrap_or_default().to_owned();

    browser.open_tab().await;
    pass.reopen(&site.url(), &place).await;
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
