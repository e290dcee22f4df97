//! The office's screens: the handover with its letters, and the jobs beside the open one.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::json;

use crate::browser::Browser;

/// The handover of the open job.
pub struct Handover<'a>(pub &'a Browser);

impl Handover<'_> {
    /// Goes there from wherever the job is open.
    pub async fn open(&self) {
        let job = "return location.hash.split('/')[1]";
        let job = self.0.run(job, vec![]).await;
        let job = job.as_str().unwrap_or_default().to_owned();
        let go = "location.hash = arguments[0]";
        self.0
            .run(go, vec![json!(format!("#/{job}/handover"))])
            .await;
        self.0.wait_for(".figures").await;
    }

    /// Says who works on this device.
    pub async fn sign(&self, name: &str) {
        self.0.tap(".sender input").await;
        self.0.type_keys(name).await;
        // Leaving the field keeps it.
        self.0.tap(".sender textarea").await;
    }

    /// Opens one of the letters, `report` or `estimate`, and returns its text.
    pub async fn letter(&self, which: &str) -> String {
        self.0.tap(&format!(".letters a[href$='/{which}']")).await;
        self.0.text(".letter").await
    }

    /// Begins the next job of the same instrument; its form is shown then.
    pub async fn next_job(&self) {
        self.0.tap(".letters a[href*='#/new/']").await;
        self.0.wait_for("form").await;
    }

    /// Takes a table, `readings`, `materials`, `hours`, `open-points`, `conflicts` or `parts`, as a download.
    pub async fn table(&self, which: &str) -> PathBuf {
        let words = match which {
            "readings" => "Readings",
            "materials" => "Materials",
            "hours" => "Hours",
            "open-points" => "Open points",
            "conflicts" => "Conflicts",
            "parts" => "Parts to order",
            other => panic!("no table {other}"),
        };
        super::tap_named(self.0, ".tables", words).await;
        self.0.download(&format!("-{which}.csv")).await
    }
}

/// What stands on the pages of a PDF, page by page, as poppler reads it.
pub fn pages_of(pdf: &Path) -> Vec<String> {
    let read = Command::new("pdftotext")
        .args(["-layout", "-enc", "UTF-8"])
        .arg(pdf)
        .arg("-")
        .output()
        .expect("pdftotext, which './evenhand test' installs");
    assert!(read.status.success(), "the PDF can be read");
    let text = String::from_utf8_lossy(&read.stdout).into_owned();
    // Every page ends with a form feed.
    let mut pages: Vec<String> = text.split('\u{c}').map(str::to_owned).collect();
    pages.pop();
    pages
}

/// Fills in the form of a new job of all steps in the office, with the keyboard, and makes it.
pub async fn make_in_office(browser: &Browser, fields: &[(&str, &str)]) {
    browser
        .tap(".kind input[value='Full reconditioning']")
        .await;
    for (label, text) in fields {
        let focus = "const l = [...document.querySelectorAll('form label')].find(l => l.innerText.startsWith(arguments[0])); l?.querySelector('input, textarea').focus(); return !!l";
        browser.wait_until(focus, vec![json!(label)]).await;
        browser.type_keys(text).await;
    }
    browser.type_keys("\u{e007}").await;
    browser.wait_for(".order .step").await;
}

/// Drops a file on the window, as a mouse would.
pub async fn drop_file(browser: &Browser, file: &Path) {
    let text = std::fs::read_to_string(file).expect("the file can be read");
    let script = "const dropped = new DataTransfer(); \
        dropped.items.add(new File([arguments[0]], 'dropped.job.json', { type: 'application/json' })); \
        window.dispatchEvent(new DragEvent('drop', { dataTransfer: dropped, bubbles: true, cancelable: true }))";
    browser.run(script, vec![json!(text)]).await;
}
