//! A line for the first minute.

use leptos::prelude::*;

use crate::storage::preferences;

/// A line that helps in the first minute: gone at a touch, and never shown again on this device.
#[component]
pub fn Hint(
    /// Its name among those that were put away.
    name: &'static str,
    /// What it says.
    words: &'static str,
) -> impl IntoView {
    let shown = RwSignal::new(!preferences::is_hint_seen(name));
    let put_away = move |_| {
        preferences::set_hint_seen(name);
        shown.set(false);
    };
    view! {
        <Show when=move || shown.get()>
            <button class="hint" type="button" on:click=put_away><span>{words}</span><b>"Got it"</b></button>
        </Show>
    }
}
