//! Printing, and what stands in the margins of each page.

use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::CssStyleSheet;

/// Opens the print dialog. A browser that cannot print does nothing.
pub fn print() {
    let _ = window().print();
}

/// Writes what a paper is and its job at the foot of each printed page, with the number of the page, for as long as the
/// present screen is shown. An engine without margin boxes leaves the foot empty.
pub fn number_pages(title: &str, name: &str) {
    let foot = match name.is_empty() {
        true => title.to_owned(),
        false => format!("{title}: {name}"),
    };
    let text = quoted(&foot);
    // The first style sheet is the app's own. A rule that the engine does not know is left out by it.
    let sheet = document().style_sheets().get(0);
    let Some(sheet) = sheet.and_then(|s| s.dyn_into::<CssStyleSheet>().ok()) else {
        return;
    };
    let rule = format!(
        "@page {{ @bottom-left {{ content: {text}; font: 8pt system-ui, sans-serif; }} \
         @bottom-right {{ content: counter(page) \" of \" counter(pages); font: 8pt system-ui, sans-serif; }} }}"
    );
    if let Ok(at) = sheet.insert_rule(&rule) {
        let sheet = send_wrapper::SendWrapper::new(sheet);
        on_cleanup(move || {
            let _ = sheet.delete_rule(at);
        });
    }
}

/// Returns a text as a string of CSS: a name from a file ends no rule.
fn quoted(text: &str) -> String {
    let mut quoted = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => quoted.extend(['\\', c]),
            c if c.is_control() => quoted.push(' '),
            c => quoted.push(c),
        }
    }
    quoted.push('"');
    quoted
}
