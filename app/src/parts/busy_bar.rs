//! The bar of what takes more than a blink.

use leptos::prelude::*;

use crate::state::Busy;

/// Says with what the program is busy, above a bar.
#[component]
pub fn BusyBar(busy: Busy) -> impl IntoView {
    let Busy { with, percent } = busy;
    let far = percent.map(|p| format!(" {p} %"));
    view! {
        <div class="busy" role="status">
            <p>{with}{far}</p>
            <progress max="100" value=percent.map(|p| p.to_string()) aria-label=with></progress>
        </div>
    }
}
