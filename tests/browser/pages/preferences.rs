//! What the user likes.

use super::tap_named;
use crate::browser::Browser;

/// The preferences, reached from the jobs.
pub struct Preferences<'a>(pub &'a Browser);

impl<'a> Preferences<'a> {
    /// Opens them from the list of jobs.
    pub async fn open(browser: &'a Browser) -> Self {
        browser.tap("a[href='#/preferences']").await;
        browser.wait_for(".preferences").await;
        Self(browser)
    }

    /// Chooses one of a group.
    pub async fn choose(&self, group: &str, words: &str) {
        let inside = format!(".preferences fieldset:has([name='{group}'])");
        tap_named(self.0, &inside, words).await;
    }

    /// Goes back to the jobs.
    pub async fn leave(&self) {
        self.0.tap(".bar a.tool").await;
        self.0.wait_for("a[href='#/new']").await;
    }
}
