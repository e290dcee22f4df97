//! One part of the setup, and which conflicts stand in it.

use evenhand_core::analysis::conflicts::Conflict;
use evenhand_core::job::Topic;
use leptos::prelude::*;

use crate::device;
use crate::parts::conflicts::{OpenConflicts, marked};
use crate::parts::disclosure::Disclosure;

/// The open conflicts of all parts.
#[derive(Clone, Copy)]
pub struct SetupConflicts(pub Memo<Vec<Conflict>>);

/// One part, folded to its heading and summary; unfolded where two people differ.
#[component]
pub fn Part(
    /// Its id in the page and the route.
    name: &'static str,
    /// Its heading.
    title: &'static str,
    /// The part that a link leads to.
    opened: &'static str,
    /// Its present values, in a few words.
    summary: Signal<String>,
    /// Its content.
    children: ChildrenFn,
) -> impl IntoView {
    let all = expect_context::<SetupConflicts>().0;
    let conflicts = Memo::new(move |_| {
        let mut open = all.get();
        open.retain(|c| part_of(&c.topic) == Some(name));
        open
    });
    // On a wide window there is room for all of them.
    let differ = conflicts.with_untracked(|open| !open.is_empty());
    let open = opened == name || differ || device::is_wide();
    view! {
        <Disclosure name title open summary=marked(conflicts, summary)>
            <OpenConflicts open=conflicts/>
            {children()}
        </Disclosure>
    }
}

/// Returns the part in which a topic is stated; `None` if it is stated on another screen.
pub fn part_of(topic: &Topic) -> Option<&'static str> {
    Some(match topic {
        Topic::Detail(field) => match field.as_str() {
            "travel_cents" | "tax_percent_hundredths" | "valid_days" | "price_cents" => "prices",
            _ => "job",
        },
        Topic::Remark(_) => "job",
        Topic::Archived => "archive",
        Topic::Setup(field) => match field.as_str() {
            "samples" | "sample_seed" | "measure_all" | "sample_measures" | "sample_by_note" => {
                "samples"
            }
            "control_notes" => "heights",
            "natural_key" | "sharp_key" => "keys",
            "papers_nm" => "punchings",
            "trials" => "trials",
            "part_prices_cents" => "prices",
            "floats" | "part_sizes" => return None,
            _ => "sections",
        },
        _ => return None,
    })
}
