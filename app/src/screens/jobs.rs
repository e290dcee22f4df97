//! The jobs on this device.

use evenhand_core::job::JobId;
use leptos::html;
use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsCast;

use crate::device::files;
use crate::parts::header::Header;
use crate::parts::icons::{ADD, EXPORT, Icon};
use crate::parts::photos::WithPhotos;
use crate::route::Route;
use crate::state::use_session;
use crate::storage::job_summary::JobSummary;
use crate::text;

mod folded;
mod line;
mod place;

use line::JobLine;

/// The jobs on this device.
#[component]
pub fn JobsScreen() -> impl IntoView {
    view! {
        <Header title=Signal::stored("Evenhand".to_owned()) line=Signal::stored("Jobs on this device".to_owned())>
            <a class="tool-word" href=Route::Preferences.href()>"Preferences"</a>
        </Header>
        <main class="contents"><JobsPane/></main>
    }
}

/// The list of jobs and its buttons: on its own screen, or beside the open job.
#[component]
pub fn JobsPane() -> impl IntoView {
    let session = use_session();
    let empty = move || session.app.jobs.with(Vec::is_empty);
    let known = move || session.app.jobs_known.get();
    // The jobs to be exported, while they are being chosen.
    let chosen = RwSignal::new(None::<Vec<JobId>>);
    let newer = move || -> Vec<JobId> {
        let of = |list: &Vec<JobSummary>| {
            let newer = list.iter().filter(|l| l.has_unexported_work());
            newer.map(|l| l.id).collect()
        };
        session.app.jobs.with(of)
    };
    // A demo job can be exported too; the reminder is of work.
    let is_work = move || {
        session
            .app
            .jobs
            .with(|list| list.iter().any(|l| !l.invented))
    };
    let reminder = move || match newer().len() {
        0 if is_work() => "All work is exported.".to_owned(),
        0 => "Only demo jobs are here.".to_owned(),
        1 => "1 job has work that is not exported.".to_owned(),
        n => format!("{n} jobs have work that is not exported."),
    };
    let choose = move |ids: Vec<JobId>| chosen.set(Some(ids));
    let all = move || {
        session
            .app
            .jobs
            .with_untracked(|list| list.iter().map(|l| l.id).collect())
    };
    let is_choosing = move || chosen.with(Option::is_some);
    let shown = move || -> Vec<JobSummary> {
        let shown = |list: &Vec<JobSummary>| list.iter().filter(|l| !l.archived).cloned().collect();
        session.app.jobs.with(shown)
    };
    let list = NodeRef::<html::Div>::new();
    place::keep(session.app, list);
    let scrolls = StoredValue::new(0);
    view! {
        <div class="page job-list" node_ref=list on:scroll=move |_| place::remember(session.app, list, scrolls)>
            <Show when=move || !empty() && !is_choosing()>
                <div class="reminder" class:all-out=move || newer().is_empty()>
                    <p>{reminder}</p>
                    <button class="button" type="button" on:click=move |_| choose(newer())>"Export"</button>
                </div>
            </Show>
            <Show when=is_choosing>
                <div class="choices thirds choose-all" role="group" aria-label="Choose jobs to export">
                    <button class="button" type="button" on:click=move |_| choose(all())>"All"</button>
                    <button class="button" type="button" on:click=move |_| choose(newer())>"Not exported"</button>
                    <button class="button" type="button" on:click=move |_| choose(Vec::new())>"None"</button>
                </div>
            </Show>
            <Show when=move || !empty()>
                <ul class="jobs">
                    <For each=shown key=|l| (l.id, l.entries, l.exported) let(line)>
                        <JobLine line chosen/>
                    </For>
                </ul>
            </Show>
            <Show when=move || empty() && known()>
                <div class="teach">
                    <h2>"Regulate a piano, step by step"</h2>
                    <p>"Evenhand takes you through the steps in order, says which notes are out, and what to turn by how much."</p>
                    <p>"Tap New job to start. Tap Open a file for a job from the office."</p>
                    <p>"To look around first, tap Demo job. Everything in it is made up."</p>
                    <p>"A private window loses everything when it closes: use a normal one for work."</p>
                </div>
            </Show>
            <Show when=move || empty() && !known()>
                <p class="quiet" role="status">"Looking for jobs…"</p>
            </Show>
            <folded::ArchivedJobs chosen/>
            <folded::DeletedJobs/>
        </div>
        <footer class="reach">
            <Show
                when=move || chosen.with(Option::is_some)
                fallback=move || view! {
                    <a class="button main" href=Route::NewJob.href()><Icon path=ADD/>"New job"</a>
                    <div class="pair">
                        <FileButton/>
                        <button class="button" type="button" on:click=move |_| session.open_demo()>"Demo job"</button>
                    </div>
                }
            >
                <ExportChosen chosen/>
            </Show>
        </footer>
    }
}

/// The buttons that export the chosen jobs, as one file.
#[component]
fn ExportChosen(chosen: RwSignal<Option<Vec<JobId>>>) -> impl IntoView {
    let session = use_session();
    let count = move || chosen.with(|c| c.as_ref().map_or(0, Vec::len));
    let export = move |shared: bool| {
        let ids = chosen.get_untracked().unwrap_or_default();
        chosen.set(None);
        spawn_local(session.export_jobs(ids, shared));
    };
    let words = move || match count() {
        0 => "Choose jobs to export".to_owned(),
        n => format!("Export {}", text::counted(n, "1 job", "jobs")),
    };
    view! {
        <WithPhotos size=None/>
        <button class="button main" type="button" disabled=move || count() == 0 on:click=move |_| export(false)>
            <Icon path=EXPORT/>{words}
        </button>
        <div class="pair">
            {files::can_share().then(|| view! {
                <button class="button" type="button" disabled=move || count() == 0 on:click=move |_| export(true)>{move || format!("Share {}", text::counted(count(), "1 job", "jobs"))}</button>
            })}
            <button class="button" type="button" on:click=move |_| chosen.set(None)>"Cancel"</button>
        </div>
    }
}

/// The button that opens job files.
#[component]
fn FileButton() -> impl IntoView {
    let session = use_session();
    let chosen = move |event: web_sys::Event| {
        let target = event.target();
        let input = target.and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok());
        let Some(input) = input else { return };
        session.open_files(input.files());
        // So that the same file can be chosen again.
        input.set_value("");
    };
    view! {
        <label class="button file">
            <Icon path=EXPORT/>
            "Open a file"
            <input type="file" multiple accept=".json,application/json" on:change=chosen/>
        </label>
    }
}
