//! Without a network from the first visit on: a whole job of each kind by touches, from Create job to the exported file.

use evenhand_core::trade::{Instrument, JobKind};

use crate::browser::Browser;
use crate::offline::wait_until_kept;
use crate::pages::jobs::Jobs;
use crate::pages::serve_release;
use crate::touches::{CLOCK, work_whole_job};

/// Visits the app until all of it is kept, ends the host, and works a job of a kind.
async fn work_offline(kind: &JobKind) {
    let site = serve_release();
    let browser = Browser::phone().await;
    browser.before_load(CLOCK).await;
    Jobs::open(&browser, &site).await;
    wait_until_kept(&browser).await;
    let url = site.url();
    site.stop();
    browser.go_to("about:blank").await;
    browser.go_to(&url).await;
    browser.wait_for("a[href='#/new']").await;
    let (touches, _) = work_whole_job(&browser, kind).await;
    println!("{}: whole without a network, {touches} touches", kind.name);
    // That nobody answers is all that may be wrong.
    let errors = browser.console_errors().await;
    let mut errors = errors.iter().filter(|e| !e.contains("net::ERR_"));
    assert_eq!(errors.next(), None, "{}", kind.name);
}

#[tokio::test]
async fn a_whole_survey_is_done_without_a_network() {
    let kinds = JobKind::built_in(Instrument::Grand);
    let survey = kinds.iter().find(|kind| kind.name == "Survey only");
    work_offline(survey.expect("a survey")).await;
}

/// `./evenhand offline` runs this.
#[tokio::test]
#[ignore = "takes its time: ./evenhand offline"]
async fn whole_jobs_of_each_kind_offline() {
    let only = std::env::var("EVENHAND_KIND").unwrap_or_default();
    for kind in JobKind::built_in(Instrument::Grand) {
        if kind.name.contains(&only) {
            work_offline(&kind).await;
        }
    }
}
