//! A guard around screens that need the open job.

use leptos::prelude::*;

use crate::parts::busy_bar::BusyBar;
use crate::state::{Busy, use_session};

/// Shows its content once the job of the route is open.
#[component]
pub fn RequireOpenJob(children: ChildrenFn) -> impl IntoView {
    let session = use_session();
    let ready = Memo::new(move |_| {
        let wanted = session.app.route.with(|s| s.job());
        session
            .app
            .open_job
            .with(|o| wanted.is_some() && o.as_ref().map(|o| o.id) == wanted)
    });
    view! {
        <Show
            when=move || ready.get()
            fallback=|| view! { <main class="page"><BusyBar busy=Busy { with: "Opening the job…", percent: None }/></main> }
        >
            {children()}
        </Show>
    }
}
