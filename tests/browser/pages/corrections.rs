//! What to do to which note.

use serde_json::json;

use crate::browser::Browser;

/// The corrections of a step, or of all.
pub struct Corrections<'a>(pub &'a Browser);

impl Corrections<'_> {
    /// Goes to the corrections of a step of the open job, or, with an empty name, of all.
    pub async fn go(&self, job: &str, step: &str) {
        let place = format!("{job}/corrections/{step}");
        let go = "location.hash = arguments[0]";
        self.0.run(go, vec![json!(place)]).await;
        self.0.wait_for(".corrections .summary").await;
    }

    /// What is to be done to the first note of the list.
    pub async fn first(&self) -> String {
        self.0.text(".todo tr:nth-child(2)").await
    }

    /// Taps the box of the first note of the list.
    pub async fn tick_first(&self) {
        self.0.tap(".todo tr:nth-child(2) .tick").await;
    }

    /// Waits until the line that counts says so.
    pub async fn wait_for_summary(&self, says: &str) {
        let said = "return document.querySelector('.summary')?.innerText.includes(arguments[0])";
        self.0.wait_until(said, vec![json!(says)]).await;
    }

    /// Where the link leads that enters what a sum needs.
    pub async fn asked(&self) -> String {
        self.0.wait_for(".asked a").await;
        let href = "return document.querySelector('.asked a').getAttribute('href')";
        let href = self.0.run(href, vec![]).await;
        href.as_str().unwrap_or_default().to_owned()
    }
}
