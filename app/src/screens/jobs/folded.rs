//! What is folded away at the end of the list: archived jobs, and deleted ones until they are erased.

use leptos::prelude::*;
use leptos::task::spawn_local;

use super::grid::JobGrid;
use super::line::Rows;
use crate::device::local_time;
use crate::parts::disclosure::Disclosure;
use crate::state::{ListRow, ListView, Which, use_session};
use crate::storage::job_summary::DeletedJob;
use crate::text;

/// The archived jobs; shows nothing if there are none.
#[component]
pub fn ArchivedJobs(
    /// All jobs.
    all: Memo<Vec<ListRow>>,
    /// What the rows of the list share.
    rows: Rows,
) -> impl IntoView {
    let app = use_session().app;
    let archived = Memo::new(move |_| {
        let view = ListView {
            which: Which::Archived,
            ..ListView::default()
        };
        all.with(|rows| view.shown(rows))
    });
    let any = Memo::new(move |_| archived.with(|a| !a.is_empty()));
    let summary = Signal::derive(move || text::counted(archived.with(Vec::len), "1 job", "jobs"));
    // The open job must not be hidden.
    let has_open = move || {
        let open = app.route.with_untracked(|r| r.job());
        archived.with_untracked(|a| a.iter().any(|r| Some(r.line.id) == open))
    };
    view! {
        <Show when=move || any.get()>
            <Disclosure name="archived" title="Archived" open=has_open() summary>
                <JobGrid label="Archived jobs" jobs=archived rows/>
            </Disclosure>
        </Show>
    }
}

/// The deleted jobs, each with the day of erasing and the way back; shows nothing if there are none.
#[component]
pub fn DeletedJobs() -> impl IntoView {
    let app = use_session().app;
    let any = Memo::new(move |_| app.deleted.with(|d| !d.is_empty()));
    let summary =
        Signal::derive(move || text::counted(app.deleted.with(Vec::len), "1 job", "jobs"));
    view! {
        <Show when=move || any.get()>
            <Disclosure name="deleted" title="Deleted" open=false summary>
                <ul class="rows">
                    <For each=move || app.deleted.get() key=|d| (d.job.id, d.at_ms) let(deleted)>
                        <DeletedLine deleted/>
                    </For>
                </ul>
            </Disclosure>
        </Show>
    }
}

#[component]
fn DeletedLine(deleted: DeletedJob) -> impl IntoView {
    let session = use_session();
    let DeletedJob { job, .. } = &deleted;
    let until = match job.has_unexported_work() {
        true => "Not exported, so it is kept. Bring it back to export it.".to_owned(),
        false => {
            let day = local_time::long_date(deleted.deletion().erased_from_ms());
            format!("Will be erased on {day}")
        }
    };
    let (id, name) = (job.id, job.name.clone());
    let label = format!("Bring back {name}");
    view! {
        <li>
            <span>{name}<small>{until}</small></span>
            <button class="button" type="button" aria-label=label on:click=move |_| spawn_local(session.bring_back(id))>
                "Bring back"
            </button>
        </li>
    }
}
