//! A guard around screens that need the open job.

use leptos::context::Provider;
use leptos::prelude::*;

use crate::parts::busy_bar::BusyBar;
use crate::state::{Busy, use_session};

/// Shows its content once the job of the route is open. The session of the content records in that job.
#[component]
pub fn RequireOpenJob(children: ChildrenFn) -> impl IntoView {
    let session = use_session();
    let wanted = session.app.job_untracked();
    let ready = Memo::new(move |_| {
        session
            .app
            .open_job
            .with(|o| wanted.is_some() && o.as_ref().map(|o| o.id) == wanted)
    });
    view! {
        // What these screens record belongs to this job, also when another is opened before they are taken away.
        <Provider value=session.of_job(wanted)>
            <Show
                when=move || ready.get()
                fallback=|| view! { <main class="page"><BusyBar busy=Busy { with: "Opening the job…", percent: None }/></main> }
            >
                {children()}
            </Show>
        </Provider>
    }
}
