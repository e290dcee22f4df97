//! Fields that are kept when they are left, and the parts that they stand in.

use serde_json::json;

use super::wait_until_saved;
use crate::browser::Browser;

/// The fields of a setup or targets screen.
pub struct Typing<'a>(pub &'a Browser);

impl Typing<'_> {
    /// Goes to a page of the open job, such as `setup/keys`.
    pub async fn go(&self, page: &str) {
        let go =
            "location.hash = location.hash.split('/').slice(0, 2).join('/') + '/' + arguments[0]";
        self.0.run(go, vec![json!(page)]).await;
        self.0.wait_for(".part").await;
    }

    /// Opens the part with this name, where it is folded.
    pub async fn unfold(&self, part: &str) {
        let open = "return document.getElementById(arguments[0]).open";
        if self.0.run(open, vec![json!(part)]).await == json!(false) {
            self.0.tap(&format!("#{part} > summary")).await;
        }
        self.0.wait_for(&format!("#{part} .part-in > *")).await;
    }

    /// Chooses the sample notes of the open job in its setup, in place of those that are drawn, and goes back.
    pub async fn choose_samples(&self, notes: &str) {
        self.go("setup/samples").await;
        self.fill("samples", 0, notes).await;
        self.enter().await;
        wait_until_saved(self.0).await;
        self.0.back().await;
    }

    /// Types into a field of a group by touch and keyboard, in place of what stands there; stays in it.
    pub async fn fill(&self, group: &str, at: usize, text: &str) {
        self.0.tap(&input(group, at)).await;
        self.0.run("document.activeElement.select()", vec![]).await;
        self.0.type_keys(text).await;
    }

    /// Leaves the field that is typed into, as Enter on a caliper does.
    pub async fn enter(&self) {
        self.0.type_keys("\u{e007}").await;
    }

    /// What stands in a field.
    pub async fn text(&self, group: &str, at: usize) -> String {
        self.0.wait_for(&input(group, at)).await;
        let value = "return document.querySelector(arguments[0]).value";
        let value = self.0.run(value, vec![json!(input(group, at))]).await;
        value.as_str().unwrap_or_default().to_owned()
    }

    /// Waits until a field holds this text.
    pub async fn wait_for_text(&self, group: &str, at: usize, text: &str) {
        let holds = "return document.querySelector(arguments[0])?.value === arguments[1]";
        let arguments = vec![json!(input(group, at)), json!(text)];
        self.0.wait_until(holds, arguments).await;
    }

    /// Waits until the sentence beside a group says so, and that it is tied to the field.
    pub async fn wait_for_refusal(&self, group: &str, says: &str) {
        let tied = "const f = document.querySelector(arguments[0]); const s = document.getElementById(f?.getAttribute('aria-describedby')); return f?.getAttribute('aria-invalid') === 'true' && s?.innerText.includes(arguments[1])";
        let arguments = vec![json!(input(group, 0)), json!(says)];
        self.0.wait_until(tied, arguments).await;
    }

    /// Taps the button of a group.
    pub async fn press(&self, group: &str) {
        self.0.tap(&format!("[data-fields='{group}'] button")).await;
    }

    /// Waits until an element's text says so.
    pub async fn wait_for_words(&self, selector: &str, says: &str) {
        let said = "return document.querySelector(arguments[0])?.innerText.includes(arguments[1])";
        let arguments = vec![json!(selector), json!(says)];
        self.0.wait_until(said, arguments).await;
    }

    /// Waits until all that was entered is shown as saved.
    pub async fn wait_until_saved(&self) {
        super::wait_until_saved(self.0).await;
    }
}

fn input(group: &str, at: usize) -> String {
    format!(
        "[data-fields='{group}'] .field:nth-child({}) :is(input, textarea)",
        at + 1
    )
}
