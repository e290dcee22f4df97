use leptos::prelude::*;

use crate::desk::desk;
use crate::parts::progress::{Busy, Progress};

/// Shows its content once the job that the address names is open.
#[component]
pub fn Gate(children: ChildrenFn) -> impl IntoView {
    let desk = desk();
    let ready = Memo::new(move |_| {
        let wanted = desk.screen.with(|s| s.job());
        desk.open
            .with(|o| wanted.is_some() && o.as_ref().map(|o| o.id) == wanted)
    });
    view! {
        <Show
            when=move || ready.get()
            fallback=|| view! { <main class="page"><Progress busy=Busy { with: "Opening the job…", percent: None }/></main> }
        >
            {children()}
        </Show>
    }
}
