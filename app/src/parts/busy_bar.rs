//! A progress bar for what takes noticeable time.

use leptos::prelude::*;

use crate::state::Busy;

/// Says what the program is busy with, above a bar.
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
