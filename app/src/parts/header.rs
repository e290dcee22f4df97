//! The bar at the top of a screen.

use leptos::prelude::*;

use super::icons::{BACK, Icon};
use crate::state::use_session;

/// The bar at the top: the link back, the title, and the tools of the screen.
#[component]
pub fn Header(
    /// Where the arrow leads; no arrow without it.
    #[prop(optional, into)]
    back: Option<String>,
    /// What the arrow leads to, for screen readers.
    #[prop(default = "Back")]
    back_label: &'static str,
    /// The title.
    #[prop(into)]
    title: Signal<String>,
    /// A line below it.
    #[prop(into, optional)]
    line: Signal<String>,
    /// The tools at the right.
    #[prop(optional)]
    children: Option<Children>,
) -> impl IntoView {
    view! {
        <header class="bar">
            {back.map(|href| view! { <a class="tool" href=href aria-label=back_label><Icon path=BACK/></a> })}
            <div class="bar-words">
                <h1 tabindex="-1">{title}</h1>
                <Show when=move || !line.with(String::is_empty)>
                    <p>{line}</p>
                </Show>
            </div>
            {children.map(|c| c())}
        </header>
    }
}

/// Whether all entries are saved. Marked as trouble only while the journal has a fault.
#[component]
pub fn Saved() -> impl IntoView {
    let journal = use_session().journal;
    let failed = move || journal.fault.with(Option::is_some);
    let words = move || match (journal.unsaved.get(), failed()) {
        (0, _) => "saved".to_owned(),
        (n, true) => format!("{n} not saved"),
        (1, false) => "saving".to_owned(),
        (n, false) => format!("saving {n}"),
    };
    view! { <span class="saved" class:not-yet=move || { journal.unsaved.get() > 0 && failed() }>{words}</span> }
}
