//! The hours of a job: who, when, how long.

use serde_json::json;

use super::tap_named;
use crate::browser::Browser;

/// The hours of the open job.
pub struct Hours<'a>(pub &'a Browser);

/// What the sheet is filled with; an empty text leaves a field as it is.
#[derive(Clone, Copy, Default)]
pub struct Time<'a> {
    /// The id of the step, where it is to be chosen.
    pub step: &'a str,
    pub who: &'a str,
    pub day: &'a str,
    pub minutes: &'a str,
}

impl Hours<'_> {
    /// Goes there from wherever the job is open.
    pub async fn open(&self) {
        let go = "location.hash = `#/${location.hash.split('/')[1]}/hours`";
        self.0.run(go, vec![]).await;
        self.0.wait_for(".page.hours").await;
    }

    /// All that the screen says.
    pub async fn text(&self) -> String {
        self.0.text(".page.hours").await
    }

    /// The lines of time: step, person, stage and source, and minutes, in one text each.
    pub async fn lines(&self) -> Vec<String> {
        let lines = "return [...document.querySelectorAll('.hours-line:has(.num)')].map(l => l.innerText.replace(/\\s*\\n\\s*/g, ' | '))";
        let lines = self.0.run(lines, vec![]).await;
        serde_json::from_value(lines).expect("a list of lines")
    }

    /// Waits until there is a line that says so.
    pub async fn wait_for_line(&self, says: &str) {
        let there = "return [...document.querySelectorAll('.hours-line')].some(l => l.innerText.replace(/\\s*\\n\\s*/g, ' | ') === arguments[0])";
        self.0.wait_until(there, vec![json!(says)]).await;
    }

    /// Taps the first line that begins so, which opens its sheet.
    pub async fn tap_line(&self, begins: &str) {
        let mark = "
            document.querySelectorAll('[data-line]').forEach(e => delete e.dataset.line);
            const line = [...document.querySelectorAll('.hours-line')].find(l => l.innerText.startsWith(arguments[0]));
            if (line) line.dataset.line = '';
            return line !== undefined;
        ";
        self.0.wait_until(mark, vec![json!(begins)]).await;
        self.0.tap("[data-line]").await;
        self.0.wait_for("dialog[open] form.time").await;
    }

    /// Opens the sheet for a new time.
    pub async fn enter(&self) {
        self.0.tap(".screen .reach .main").await;
        self.0.wait_for("dialog[open] form.time").await;
    }

    /// What stands in the sheet: who, day, minutes.
    pub async fn fields(&self) -> Vec<String> {
        let values =
            "return [...document.querySelectorAll('dialog form.time input')].map(i => i.value)";
        let values = self.0.run(values, vec![]).await;
        serde_json::from_value(values).expect("a list of texts")
    }

    /// Fills in the sheet.
    pub async fn fill(&self, time: Time<'_>) {
        if !time.step.is_empty() {
            let choose = "const s = document.querySelector('dialog form.time select'); s.value = arguments[0]; s.dispatchEvent(new Event('change', { bubbles: true }))";
            self.0.run(choose, vec![json!(time.step)]).await;
        }
        for (place, text) in [(0, time.who), (2, time.minutes)] {
            if !text.is_empty() {
                let focus = "const i = document.querySelectorAll('dialog form.time input')[arguments[0]]; i.focus(); i.select()";
                self.0.run(focus, vec![json!(place)]).await;
                self.0.type_keys(text).await;
            }
        }
        if !time.day.is_empty() {
            // How a date is typed depends on the place; the browser's own field gives this in the end.
            let set = "const i = document.querySelector('dialog form.time input[type=date]'); i.value = arguments[0]; i.dispatchEvent(new Event('input', { bubbles: true }))";
            self.0.run(set, vec![json!(time.day)]).await;
        }
    }

    /// Saves the sheet; it is closed then.
    pub async fn save(&self) {
        tap_named(self.0, "dialog[open]", "Save").await;
        let closed = "return document.querySelector('dialog[open]') === null";
        self.0.wait_until(closed, vec![]).await;
    }

    /// Tries to save the sheet, and returns why it is refused.
    pub async fn refused(&self) -> String {
        tap_named(self.0, "dialog[open]", "Save").await;
        let said = "return document.querySelector('dialog .refused').innerText";
        let said = self.0.wait_until(said, vec![]).await;
        said.as_str().unwrap_or_default().to_owned()
    }
}
