//! What is drawn from the readings: the profile of a step, the corrections, the plan of the job.

use crate::browser::Browser;
use crate::pages::corrections::Corrections;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;
use crate::pages::plan::Plan;
use crate::pages::profile::Profile;
use crate::pages::{serve_release, tap_named};

/// The address of the job that is open.
async fn job(browser: &Browser) -> String {
    let hash = browser.run("return location.hash", vec![]).await;
    hash.as_str().unwrap_or_default().to_owned()
}

fn sorted(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values
}

#[tokio::test]
async fn the_picture_of_a_step_shows_what_its_table_says() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let job = job(&browser).await;
    let profile = Profile(&browser);
    profile.go(&job, "let_off").await;
    for (marks, column, class, count) in [
        (".dots.now", "Now", "", 40),
        (".dots.now.out", "Now", "out", 5),
        (".dots.found", "As found", "", 20),
    ] {
        let drawn = sorted(profile.drawn(marks).await);
        let told = sorted(profile.column(column, class).await);
        assert_eq!(told.len(), count, "{marks}");
        assert_eq!(drawn.len(), count, "{marks}");
        for (drawn, told) in drawn.iter().zip(&told) {
            // A tenth of a pixel is some hundredth of a millimeter.
            assert!((drawn - told).abs() < 0.02, "{marks}: {drawn} for {told}");
        }
    }
    profile.tap_note(6).await;
    assert!(
        profile
            .said()
            .await
            .contains("D1 (6): now 2.8 mm, wide by 0.8")
    );
    // A pass with this note in hand, and like any other from there on.
    tap_named(&browser, ".reach", "Measure D1").await;
    let pass = Pass(&browser);
    pass.wait_for_note("D1").await;
    assert_eq!(pass.reading().await, "2.8");
    let place = browser.run("return location.hash", vec![]).await;
    assert_eq!(place, format!("{job}/pass/let_off"));
    pass.on_target().await;
    pass.wait_for_note("D♯1").await;
    pass.wait_until_saved().await;
    browser.reload().await;
    // The first that was not read.
    pass.wait_for_note("C♯4").await;
    browser.back().await;
    browser.wait_for(".picture-of .plot path").await;
}

#[tokio::test]
async fn a_correction_is_ticked_in_one_tap_and_taken_back_in_one() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let job = job(&browser).await;
    let corrections = Corrections(&browser);
    corrections.go(&job, "let_off").await;
    corrections.wait_for_summary("5 corrections to make").await;
    assert!(corrections.first().await.contains("button up 1/8"));
    corrections.tick_first().await;
    corrections
        .wait_for_summary("4 corrections to make, 1 made")
        .await;
    // It stays in its place, and says what comes next.
    let made = "made, not measured again: the turn is known well here";
    assert!(corrections.first().await.contains(made));
    corrections.tick_first().await;
    corrections.wait_for_summary("5 corrections to make").await;
    corrections.tick_first().await;
    corrections.wait_for_summary("1 made").await;
    browser.tap(".bar a.tool").await;
    let order = Order(&browser);
    order.wait_for_line("let_off", "4 out").await;
}

#[tokio::test]
async fn a_sum_that_lacks_a_length_says_which_and_leads_to_it() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("No levers", "")
        .await;
    let job = job(&browser).await;
    Order(&browser).begin("natural_dip").await;
    Pass(&browser).type_and_enter("95").await;
    Pass(&browser).wait_for_note("B0").await;
    let corrections = Corrections(&browser);
    corrections.go(&job, "natural_dip").await;
    assert!(corrections.asked().await.ends_with("/setup/keys"));
}

#[tokio::test]
async fn the_days_of_the_plan_show_what_its_table_says_and_lead_to_the_work() {
    let site = serve_release();
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await.demo().await;
    let job = job(&browser).await;
    let plan = Plan(&browser);
    plan.go(&job).await;
    let (drawn, told) = (plan.drawn().await, plan.told().await);
    // A step that goes on the next day has a block on each.
    assert!(told.len() > 10 && drawn.len() >= told.len());
    for (day, minute) in &told {
        // Half a pixel, which a block keeps off its neighbor, is under a minute.
        let is = |(d, m): &&(String, f64)| d == day && (m - minute).abs() < 2.0;
        assert!(drawn.iter().any(|b| is(&b)), "{day} {minute} is not drawn");
    }
    let name = plan.begin_first().await;
    assert_eq!(browser.text(".bar h1").await, name);
}
