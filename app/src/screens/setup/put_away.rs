//! Archiving a job, and deleting it from this device.

use evenhand_core::job::{EntryKind, JobId, State};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::part::Part;
use crate::device::local_time;
use crate::parts::notices::TAKE_BACK;
use crate::parts::sheet::Sheet;
use crate::state::use_session;
use crate::storage::local_storage;
use crate::text;

/// The ways to put the job away.
#[component]
pub fn PutAwayPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let archived = Memo::new(move |_| session.app.with_state(State::is_archived) == Some(true));
    let summary = Signal::derive(move || match archived.get() {
        true => "archived".to_owned(),
        false => "in the list of jobs".to_owned(),
    });
    let archive = move |_| {
        let archived = !archived.get_untracked();
        session.record(EntryKind::Archived { archived });
        // The list tells of it at once, also if the page is closed now.
        session.jobs.renew();
    };
    // Whether there is an import, and it is in effect.
    let import = Memo::new(move |_| {
        let last = session.app.open_job.with(|open| {
            open.as_ref()?
                .job
                .last_opened(&local_storage::own_replicas())
        });
        last.map(|(_, undos)| undos.is_empty())
    });
    let turn = move |_| {
        session.app.dismiss_imports();
        session.turn_import();
    };
    let deleting = RwSignal::new(false);
    let close = Callback::new(move |()| deleting.set(false));
    let job = session.app.job_untracked();
    view! {
        <Part name="archive" title="Archive or delete" opened summary>
            <p class="quiet">"An archived job is folded away at the end of the list. Nothing else about it changes."</p>
            <button class="button" type="button" on:click=archive>
                {move || if archived.get() { "Take it out of the archive" } else { "Archive this job" }}
            </button>
            {move || import.get().map(|in_effect| view! {
                <p class="quiet">"You can take back all that the last file brought into this job, and bring it back again. What you entered since stays."</p>
                <button class="button" type="button" on:click=turn>{if in_effect { TAKE_BACK } else { "Bring this import back" }}</button>
            })}
            <p class="quiet">"A deleted job can be brought back for 30 days. Only this device deletes it; files that were exported stay."</p>
            <button class="button" type="button" on:click=move |_| deleting.set(true)>"Delete this job"</button>
            {move || deleting.get().then(|| job.map(|id| view! { <DeleteSheet id close/> }))}
        </Part>
    }
}

/// Asks before the job is deleted; offers its export where it has work that was not exported.
#[component]
fn DeleteSheet(id: JobId, close: Callback<()>) -> impl IntoView {
    let session = use_session();
    // The line in the list is renewed only after a pause.
    session.jobs.renew();
    let line = session.jobs.line(id);
    let is_unexported = line.is_none_or(|l| l.has_unexported_work());
    let name = text::name(&session.app.job_name());
    let title = format!("Delete “{name}”?");
    let delete = move |_| {
        close.run(());
        spawn_local(session.delete_job(id));
    };
    let export = move |_| {
        close.run(());
        spawn_local(session.export_and_delete(id));
    };
    let keep = view! {
        <button class="button" type="button" on:click=move |_| close.run(())>"Keep the job"</button>
    };
    let choices = if is_unexported {
        view! {
            <p>"It has work that was not exported. Export it first: the file can be opened again at any time."</p>
            <button class="button main" type="button" on:click=export>"Export, then delete"</button>
            <div class="pair">
                <button class="button" type="button" on:click=delete>"Delete without export"</button>
                {keep}
            </div>
            <p class="quiet">"If it is not exported, it stays under “Deleted” in the list of jobs until you bring it back."</p>
        }
        .into_any()
    } else {
        let until = local_time::long_date(session.deletion_now().erased_from_ms());
        let words =
            format!("You can bring it back until {until}: see “Deleted” in the list of jobs.");
        view! {
            <p>{words}</p>
            <button class="button main" type="button" on:click=delete>"Delete the job"</button>
            {keep}
        }
        .into_any()
    };
    view! { <Sheet title close>{choices}</Sheet> }
}
