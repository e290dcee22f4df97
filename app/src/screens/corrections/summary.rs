//! The line that says how much there is to do.

use evenhand_core::analysis::advice::Movement;
use leptos::prelude::*;

use super::state::{CorrectionRow, CorrectionsState};
use crate::text;

/// The counts of corrections to make, made, waiting and left as they are.
#[component]
pub fn Summary(corrections: CorrectionsState, rows: Memo<Vec<CorrectionRow>>) -> impl IntoView {
    let words = move || {
        let done = rows.with(|rows| {
            rows.iter()
                .filter(|r| corrections.entry(r).is_some())
                .count()
        });
        let open = rows.with(Vec::len) - done;
        corrections.found.with(|found| {
            let of =
                |is: fn(&Movement) -> bool| found.rows.iter().filter(|a| is(&a.movement)).count();
            let missing = of(|m| matches!(m, Movement::Missing(_)));
            if open + done + found.left + missing == 0 {
                return String::new();
            }
            let mut parts = Vec::new();
            if open > 0 {
                parts.push(text::counted(
                    open,
                    "1 correction to make",
                    "corrections to make",
                ));
            }
            if done > 0 {
                parts.push(format!("{done} made"));
            }
            if missing > 0 {
                parts.push(text::counted(
                    missing,
                    "1 waits for what is missing",
                    "wait for what is missing",
                ));
            }
            let strayed = corrections.strayed.with(Vec::len);
            if strayed > 0 {
                parts.push(format!("{strayed} out of range"));
            }
            parts.push(format!("{} left as they are", found.left - strayed));
            let mut words = format!("{}.", parts.join(", "));
            if open > 0 {
                let readings = text::counted(found.readings, "1 reading", "readings");
                words = format!("{words} After that, {readings}.");
            }
            words
        })
    };
    view! { <p class="summary" role="status">{words}</p> }
}
