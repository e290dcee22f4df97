//! The jobs on this device, and making one.

use std::path::Path;

use evenhand_tests::RunningSite;
use serde_json::json;

use super::open_app;
use crate::browser::Browser;

/// The list of jobs.
pub struct Jobs<'a>(pub &'a Browser);

impl<'a> Jobs<'a> {
    /// Opens the app at its list of jobs.
    pub async fn open(browser: &'a Browser, site: &RunningSite) -> Self {
        open_app(browser, site).await;
        browser.wait_for("a[href='#/new']").await;
        Self(browser)
    }

    /// Makes a job of all steps by touch and keyboard; the order of its steps is shown then.
    pub async fn make(&self, name: &str, breaks: &str) {
        self.make_of("Full reconditioning", name, breaks).await;
    }

    /// Makes a job of a kind.
    pub async fn make_of(&self, kind: &str, name: &str, breaks: &str) {
        let browser = self.0;
        browser.tap("a[href='#/new']").await;
        browser.tap("form main > label input").await;
        browser.type_keys(name).await;
        browser.tap(&format!(".kind input[value='{kind}']")).await;
        if !breaks.is_empty() {
            self.unfold_form().await;
            browser.tap("input.breaks").await;
            browser.type_keys(breaks).await;
        }
        browser.tap("button[type=submit]").await;
        browser.wait_for(".order .step").await;
    }

    /// Unfolds what is optional in the form of a new job.
    pub async fn unfold_form(&self) {
        self.0.wait_for("form .more:last-of-type").await;
        // On a wide screen it is unfolded to begin with.
        let is_folded = "return !document.querySelector('form .more:last-of-type').open";
        if self.0.run(is_folded, vec![]).await == json!(true) {
            self.0.tap("form .more:last-of-type > summary").await;
        }
        self.0.wait_for("input.breaks").await;
    }

    /// Opens the invented demo job.
    pub async fn demo(&self) {
        self.0.tap(".pair > button").await;
        self.0.wait_for(".order .step").await;
    }

    /// The names of the jobs, first to last, once the list is there and known.
    pub async fn names(&self) -> Vec<String> {
        self.0.wait_for(".job-list :is(.job-name, .teach)").await;
        // A line has no inner text before the browser has found that it is in sight (`content-visibility`).
        let names =
            "return [...document.querySelectorAll('.job-name')].map(n => n.textContent.trim())";
        let names = self.0.run(names, vec![]).await;
        serde_json::from_value(names).expect("a list of names")
    }

    /// Opens the first job of the list.
    pub async fn open_first(&self) {
        self.0.tap(".job").await;
        self.0.wait_for(".order .step").await;
    }

    /// Chooses a file of a job that is here, and opens it once its changes are shown. Returns what they are.
    pub async fn merge(&self, file: &Path) -> String {
        self.choose(file).await;
        self.confirm_merge().await
    }

    /// Opens the file whose changes are shown. Returns what they are.
    pub async fn confirm_merge(&self) -> String {
        let changes = self.0.text(".opened").await;
        self.0.tap(".sheet .button.main").await;
        changes
    }

    /// Goes to the list of jobs from any screen.
    pub async fn show(&self) {
        self.0.run("location.hash = '#/'", vec![]).await;
        self.0.wait_for(".screen .job-list").await;
    }

    /// Unfolds the archived or the deleted jobs, and returns the text of the part.
    pub async fn unfold(&self, part: &str) -> String {
        let part = format!(".screen #{part}");
        self.0.wait_for(&part).await;
        let open = "return document.querySelector(arguments[0]).open";
        if self.0.run(open, vec![json!(part)]).await == json!(false) {
            self.0.tap(&format!("{part} > summary")).await;
        }
        self.0.wait_for(&format!("{part} :is(li, .job-row)")).await;
        self.0.text(&part).await
    }

    /// Chooses a file to open.
    pub async fn choose(&self, file: &Path) {
        self.0
            .choose_file("input[type=file][accept*=json]", file)
            .await;
    }
}

/// The sentences that stand above every screen.
pub async fn notices(browser: &Browser) -> Vec<String> {
    let texts = "return [...document.querySelectorAll('.notice p')].map(n => n.innerText)";
    let texts = browser.run(texts, vec![]).await;
    serde_json::from_value(texts).expect("a list of sentences")
}

/// Waits until a notice says so, folded or not, and returns it.
pub async fn wait_for_notice(browser: &Browser, says: &str) -> String {
    let found = "return [...document.querySelectorAll('.notice p')].map(n => n.textContent).find(t => t.includes(arguments[0]))";
    let found = browser.wait_until(found, vec![json!(says)]).await;
    found.as_str().unwrap_or_default().to_owned()
}
