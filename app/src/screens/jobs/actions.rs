//! What can be done with one job of the list, and with those that are chosen.

use evenhand_core::job::JobId;
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::line::Rows;
use crate::device::files;
use crate::parts::icons::{EXPORT, Icon};
use crate::parts::photos::WithPhotos;
use crate::parts::sheet::Sheet;
use crate::route::Route;
use crate::state::use_session;
use crate::text;

/// The sheet of one job: open, its instrument, export, archive, choose.
#[component]
pub fn JobActions(
    /// The job.
    id: JobId,
    /// What the rows share.
    rows: Rows,
    /// Called when the sheet is closed.
    close: Callback<()>,
) -> impl IntoView {
    let session = use_session();
    let line = session.jobs.line(id);
    let (name, archived) = line.map_or((String::new(), false), |l| (l.name, l.archived));
    let export = move |shared: bool| {
        close.run(());
        spawn_local(session.export_jobs(vec![id], shared));
    };
    let archive = move |_| {
        close.run(());
        spawn_local(session.set_archived(vec![id], !archived));
    };
    let choose = move |_| {
        close.run(());
        rows.toggle(id);
    };
    let is_chosen = rows
        .chosen
        .with_untracked(|c| c.as_ref().is_some_and(|c| c.contains(&id)));
    view! {
        <Sheet title=name close>
            <div class="choices">
                <button class="button" type="button" on:click=move |_| export(false)><Icon path=EXPORT/>"Export"</button>
                {files::can_share().then(|| view! { <button class="button" type="button" on:click=move |_| export(true)>"Share"</button> })}
                <button class="button" type="button" on:click=archive>{if archived { "Take it out of the archive" } else { "Archive" }}</button>
                <button class="button" type="button" on:click=choose>{if is_chosen { "Do not choose" } else { "Choose several" }}</button>
                <a class="button" href=Route::Instrument(id).href() on:click=move |_| close.run(())>"Visits to this instrument"</a>
                <a class="button" href=Route::Order(id).href() on:click=move |_| close.run(())>"Open"</a>
            </div>
        </Sheet>
    }
}

/// The buttons for the chosen jobs: export as one file, order parts, archive.
#[component]
pub fn ChosenActions(
    /// What the rows share.
    rows: Rows,
) -> impl IntoView {
    let session = use_session();
    let chosen = rows.chosen;
    let count = move || chosen.with(|c| c.as_ref().map_or(0, Vec::len));
    let none = move || count() == 0;
    let take = move || {
        let ids = chosen.get_untracked().unwrap_or_default();
        chosen.set(None);
        ids
    };
    let words = move || match count() {
        0 => "Choose jobs to export".to_owned(),
        n => format!("Export {}", text::counted(n, "1 job", "jobs")),
    };
    view! {
        <WithPhotos size=None/>
        <button class="button main" type="button" disabled=none on:click=move |_| spawn_local(session.export_jobs(take(), false))>
            <Icon path=EXPORT/>{words}
        </button>
        <div class="pair">
            {files::can_share().then(|| view! {
                <button class="button" type="button" disabled=none on:click=move |_| spawn_local(session.export_jobs(take(), true))>{move || format!("Share {}", text::counted(count(), "1 job", "jobs"))}</button>
            })}
            <button class="button" type="button" disabled=none on:click=move |_| spawn_local(session.download_parts(take()))>"Parts to order"</button>
            <button class="button" type="button" disabled=none on:click=move |_| spawn_local(session.set_archived(take(), true))>"Archive"</button>
            <button class="button" type="button" on:click=move |_| chosen.set(None)>"Cancel"</button>
        </div>
    }
}
