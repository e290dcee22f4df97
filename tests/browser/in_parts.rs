//! The program is loaded in parts: the first screen answers before the others are there, and a part that does not come is
//! told, costs nothing that was entered, and can be tried again.

use std::fs;

use evenhand_tests::Site;

use crate::browser::Browser;
use crate::offline::{copy_of_release, copy_release_to};
use crate::outside::accessibility_faults;
use crate::pages::jobs::Jobs;
use crate::pages::order::Order;
use crate::pages::pass::Pass;

/// A copy of the release without the parts whose names begin so.
fn copy_without(begin: &str) -> tempfile::TempDir {
    let copy = copy_of_release();
    let mut removed = 0;
    for file in fs::read_dir(copy.path()).expect("the copy") {
        let file = file.expect("a file");
        if file.file_name().to_string_lossy().starts_with(begin) {
            fs::remove_file(file.path()).expect("it is removed");
            removed += 1;
        }
    }
    assert!(removed > 0);
    copy
}

#[tokio::test]
async fn a_part_that_does_not_come_is_told_and_tried_again_and_costs_no_reading() {
    let copy = copy_without("split_office");
    let site = Site::of(copy.path()).start().expect("a site");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site)
        .await
        .make("Torn line", "")
        .await;
    Order(&browser).begin("let_off").await;
    Pass(&browser).on_target().await;
    Pass(&browser).wait_until_saved().await;
    let job = browser
        .run("return location.hash.split('/')[1]", vec![])
        .await;
    let job = job.as_str().expect("a job").to_owned();
    let report = format!("location.hash = '#/{job}/report'");
    browser.run(&report, vec![]).await;
    browser.wait_for(".page .refused").await;
    let said = browser.text(".page .refused").await;
    assert!(said.contains("could not be loaded"), "{said}");
    assert!(said.contains("Nothing that was entered is lost"), "{said}");
    assert_eq!(browser.text("h1").await, "Not loaded");
    browser.wait_for("header a[href='#/']").await;
    browser.screenshot("part-not-loaded").await;
    assert_eq!(accessibility_faults(&browser).await, [""; 0]);

    // Tried again in vain, and then with the file there.
    browser.tap(".page .button.main").await;
    browser.wait_for(".page .refused").await;
    copy_release_to(copy.path());
    browser.tap(".page .button.main").await;
    browser.wait_for(".care").await;

    let back = format!("location.hash = '#/{job}/pass/let_off'");
    browser.run(&back, vec![]).await;
    browser.wait_for(".pass .pad").await;
    let caption = Pass(&browser).caption().await;
    assert!(caption.starts_with("1 of 88 measured"), "{caption}");
}

#[tokio::test]
async fn the_list_of_jobs_works_while_no_other_part_is_there() {
    let copy = copy_without("split_");
    let site = Site::of(copy.path()).start().expect("a site");
    let browser = Browser::phone().await;
    Jobs::open(&browser, &site).await;
    // A file, the demo and a new job need parts; each says so.
    browser.tap(".jobs-reach .pair button:last-child").await;
    browser.wait_for(".notice").await;
    let said = browser.text(".notice").await;
    assert!(said.contains("could not be loaded"), "{said}");
    browser.tap("a[href='#/new']").await;
    browser.wait_for(".page .refused").await;
    copy_release_to(copy.path());
    browser.tap(".page .button.main").await;
    browser.wait_for("button[type=submit]").await;
}
