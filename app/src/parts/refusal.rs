//! Why something typed was refused.

use leptos::{html, prelude::*};
use web_sys::{ScrollIntoViewOptions, ScrollLogicalPosition};

/// A sentence that says why something typed was refused. It is scrolled into view when it appears: below a footer it
/// would make the button above it look dead.
#[component]
pub fn Refusal(
    /// The sentence; nothing is shown while it is empty.
    #[prop(into)]
    words: Signal<String>,
) -> impl IntoView {
    let line = NodeRef::<html::P>::new();
    Effect::new(move |_| {
        if words.with(String::is_empty) {
            return;
        }
        // The sentence is laid out first.
        request_animation_frame(move || {
            if let Some(line) = line.try_get_untracked().flatten() {
                let nearest = ScrollIntoViewOptions::new();
                nearest.set_block(ScrollLogicalPosition::Nearest);
                line.scroll_into_view_with_scroll_into_view_options(&nearest);
            }
        });
    });
    view! { <p node_ref=line class="refused" role="alert">{words}</p> }
}
