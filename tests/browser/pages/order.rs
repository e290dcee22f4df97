//! The stages and steps of one job.

use std::path::PathBuf;

use serde_json::json;

use super::tap_named;
use crate::browser::Browser;

/// The order of the open job.
pub struct Order<'a>(pub &'a Browser);

impl Order<'_> {
    /// Opens the pass of a step.
    pub async fn begin(&self, step: &str) {
        self.0.tap(&link(step)).await;
        self.0.wait_for(".pass .pad").await;
    }

    /// What the card at the bottom says.
    pub async fn card(&self) -> String {
        self.0.text(".card").await
    }

    /// Taps the main button of the card.
    pub async fn do_now(&self) {
        self.0.tap(".card .main").await;
    }

    /// Turns to arranging the steps.
    pub async fn arrange(&self) {
        self.0.tap("[aria-label='Pages of this job']").await;
        tap_named(self.0, "dialog[open]", "Arrange the steps").await;
        self.0.wait_for("[data-step]").await;
    }

    /// While arranging, taps one of a step's keys: `up`, `down` or `leave out`.
    pub async fn shift(&self, step: &str, what: &str) {
        self.0
            .tap(&format!("[data-step='{step}'] [aria-label$=': {what}']"))
            .await;
    }

    /// The ids of the steps while they are arranged.
    pub async fn arranged(&self) -> Vec<String> {
        let ids = "return [...document.querySelectorAll('[data-step]')].map(e => e.dataset.step)";
        let ids = self.0.run(ids, vec![]).await;
        serde_json::from_value(ids).expect("a list of ids")
    }

    /// Goes to the handover and takes the job file as a download.
    pub async fn export(&self) -> PathBuf {
        self.0.tap("a[href$='/handover']").await;
        self.0.wait_for(".figures").await;
        self.0.tap(".screen .reach .main").await;
        self.0.download(".job.json").await
    }

    /// As [`Order::export`], and returns the text of the file that the app hands to the browser: for an
    /// engine whose driver has no folder for downloads.
    pub async fn export_text(&self) -> String {
        let watch = "window.handedOut = []; const real = URL.createObjectURL;
            URL.createObjectURL = blob => { handedOut.push(blob); return real.call(URL, blob); }";
        self.0.run(watch, vec![]).await;
        self.0.tap("a[href$='/handover']").await;
        self.0.wait_for(".figures").await;
        self.0.tap(".screen .reach .main").await;
        let text = "return handedOut.length > 0 && handedOut[0].text()";
        let text = self.0.wait_until(text, vec![]).await;
        text.as_str().expect("the text of a file").to_owned()
    }

    /// Waits until the line of a step says so.
    pub async fn wait_for_line(&self, step: &str, says: &str) {
        let said = "return document.querySelector(arguments[0])?.innerText.includes(arguments[1])";
        self.0
            .wait_until(said, vec![json!(link(step)), json!(says)])
            .await;
    }
}

fn link(step: &str) -> String {
    format!(".order a[href$='/pass/{step}']")
}
