//! Whether the app starts without a network, and its installation.

use leptos::prelude::*;

use crate::device::shell;

/// Whether the app starts without a network, and a button to install it if the browser offers that.
#[component]
pub fn Installation() -> impl IntoView {
    let now = || (shell::is_offline_ready(), shell::can_install());
    let state = RwSignal::new(now());
    let changed = shell::on_change(move || state.set(now()));
    on_cleanup(move || changed.remove());
    let offline = move || {
        if state.get().0 {
            "The app is kept on this phone and starts without a network."
        } else {
            "The app does not start without a network yet. Open it once over https with a network, in a browser that can keep it."
        }
    };
    view! {
        <section>
            <h2>"Without a network"</h2>
            <p>{offline}</p>
            {shell::clears_unless_installed().then(|| view! {
                <p>"This phone clears a site’s storage after a week without a visit, unless the site is on the home screen. Put it there from the browser’s share menu, and export a job when a stage is done."</p>
            })}
            <Show when=move || state.get().1>
                <button class="button" type="button" on:click=move |_| shell::install()>"Install the app"</button>
            </Show>
        </section>
    }
}
