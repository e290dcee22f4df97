use crate::kept::Signal;
use crate::view::view;
use leptos::prelude::*;

use super::icons::{BACK, Icon};
use crate::desk::desk;

/// The bar at the top: the way back, what this is, and what else belongs there.
#[component]
pub fn Header(
    /// Where the arrow leads; without it there is none.
    #[prop(optional, into)]
    back: Option<String>,
    /// What the arrow leads to, for screen readers.
    #[prop(default = "Back")]
    back_label: &'static str,
    /// What this is.
    #[prop(into)]
    title: Signal<String>,
    /// A line below it.
    #[prop(into, optional)]
    line: Signal<String>,
    /// What stands at the right.
    #[prop(optional)]
    children: Option<Children>,
) -> AnyView {
    view! {
        <header class="bar">
            {back.map(|href| view! { <a class="tool" href=href aria-label=back_label><Icon path=BACK/></a> })}
            <div class="bar-words">
                <h1>{title}</h1>
                <Show when=move || !line.with(String::is_empty)>
                    <p>{line}</p>
                </Show>
            </div>
            {children.map(|c| c())}
        </header>
    }
}

/// Whether all that was entered is saved.
#[component]
pub fn Saved() -> AnyView {
    let unsaved = desk().journal.unsaved;
    let words = move || match unsaved.get() {
        0 => "saved".to_owned(),
        n => format!("{n} not saved"),
    };
    view! { <span class="saved" class:not-yet=move || { unsaved.get() > 0 }>{words}</span> }
}
