//! A fold-out part of a screen.

use leptos::prelude::*;

use super::icons::{EXPAND, Icon};

/// A part of a screen, folded to its heading and what stands; its inside is drawn when it is opened.
#[component]
pub fn Disclosure(
    /// Its name in the address.
    #[prop(into)]
    name: String,
    /// Its heading.
    #[prop(into)]
    title: String,
    /// Whether it is open to begin with.
    open: bool,
    /// What stands, in a few words.
    #[prop(into)]
    summary: Signal<String>,
    /// What it shows.
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
