//! The bar at the top of a screen.

use leptos::prelude::*;

use super::icons::{BACK, Icon};
use crate::device;
use crate::state::use_session;

/// Where the focus goes when what had it is gone: to the first control of an open sheet, to the job of the list that Tab
/// stops at, else to the title.
const FOCUS_AFTER_LOSS: [&str; 3] = [
    "dialog[open] button",
    ".screen .jobs [tabindex='0']",
    ".screen h1",
];

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
    keep_focus();
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

/// Takes back the focus when a key has removed what had it, as the end of a pass removes its pad: without a focus the
/// next Tab would begin at the top of the page, and a screen reader would say nothing.
fn keep_focus() {
    let handle = window_event_listener(leptos::ev::keyup, |_| {
        // What the key did is drawn by then.
        request_animation_frame(|| {
            for selector in FOCUS_AFTER_LOSS {
                if !device::is_focused() {
                    device::focus_first(selector);
                }
            }
        });
    });
    on_cleanup(move || handle.remove());
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
