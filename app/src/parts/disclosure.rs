//! A fold-out part of a screen.

use leptos::prelude::*;

use super::icons::{EXPAND, Icon};

/// A part of a screen, folded to its heading and summary. Its content is made when it is first opened.
#[component]
pub fn Disclosure(
    /// Its id in the page.
    #[prop(into)]
    name: String,
    /// Its heading.
    #[prop(into)]
    title: String,
    /// Whether it is open to begin with.
    open: bool,
    /// Its present values, in a few words.
    #[prop(into)]
    summary: Signal<String>,
    /// Its content.
    children: ChildrenFn,
) -> impl IntoView {
    let drawn = RwSignal::new(open);
    let toggled = move |_| {
        if !drawn.get_untracked() {
            drawn.set(true);
        }
    };
    view! {
        <details class="part" id=name open=open on:toggle=toggled>
            <summary>
                <span class="part-words"><h2>{title}</h2><small>{summary}</small></span>
                <Icon path=EXPAND/>
            </summary>
            <div class="part-in">{move || drawn.get().then(|| children())}</div>
        </details>
    }
}
