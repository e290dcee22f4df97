//! The jobs on this device.

use evenhand_core::job::JobId;
use leptos::html;
use leptos::prelude::*;

use crate::device::local_time;
use crate::parts::header::Header;
use crate::parts::icons::{ADD, EXPORT, Icon};
use crate::route::Route;
use crate::state::{ListView, Which, list_rows, use_session};
use crate::storage::job_summary::JobSummary;

mod actions;
mod folded;
mod grid;
mod keys;
pub mod line;
mod place;
pub mod toolbar;

use actions::{ChosenActions, JobActions};
use grid::JobGrid;
use line::Rows;
use toolbar::Toolbar;

/// So many jobs are seen at a glance.
const MAX_WITHOUT_TOOLS: usize = 5;
/// More rows than a screen shows; the others are drawn once the journal has answered.
const FIRST_ROWS: usize = 40;

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
    let app = session.app;
    let empty = move || app.jobs.with(Vec::is_empty);
    let known = move || app.jobs_known.get();
    let rows = Rows {
        chosen: RwSignal::new(None),
        acting: RwSignal::new(None),
    };
    let chosen = rows.chosen;
    let newer = move || -> Vec<JobId> {
        let of = |list: &Vec<JobSummary>| {
            let newer = list.iter().filter(|l| l.has_unexported_work());
            newer.map(|l| l.id).collect()
        };
        app.jobs.with(of)
    };
    // A demo job can be exported too; the reminder is of work.
    let is_work = move || app.jobs.with(|list| list.iter().any(|l| !l.invented));
    let reminder = move || match newer().len() {
        0 if is_work() => "All work is exported.".to_owned(),
        0 => "Only demo jobs are here.".to_owned(),
        1 => "1 job has work that is not exported.".to_owned(),
        n => format!("{n} jobs have work that is not exported."),
    };
    let choose = move |ids: Vec<JobId>| chosen.set(Some(ids));
    let is_choosing = move || chosen.with(Option::is_some);
    let all_rows = Memo::new(move |_| {
        let today = local_time::day(app.now_ms.get_untracked());
        app.jobs.with(|jobs| list_rows(jobs, today))
    });
    // Of few jobs none need be found.
    let has_tools = Memo::new(move |_| app.jobs.with(Vec::len) > MAX_WITHOUT_TOOLS);
    let shown = Memo::new(move |_| {
        let view = match has_tools.get() {
            true => app.list_view.get(),
            false => ListView::default(),
        };
        let mut shown = all_rows.with(|rows| view.shown(rows));
        if !app.jobs_known.get() {
            // The first paint comes from the stored lines.
            shown.truncate(FIRST_ROWS);
        }
        shown
    });
    let all = move || shown.with_untracked(|rows| rows.iter().map(|r| r.line.id).collect());
    let is_filtered = move || has_tools.get() && app.list_view.with(ListView::is_filtered);
    let list = NodeRef::<html::Div>::new();
    place::keep(app, list);
    let scrolls = StoredValue::new(0);
    // The sheet gives the focus back to the row from which it was opened.
    let close = Callback::new(move |()| {
        rows.acting.set(None);
        request_animation_frame(move || grid::focus_stop(list));
    });
    view! {
        <div class="page job-list" class:choosing=is_choosing node_ref=list on:scroll=move |_| place::remember(app, list, scrolls)>
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
            <Show when=move || has_tools.get()>
                <Toolbar rows=all_rows shown/>
            </Show>
            <Show when=move || !empty()>
                <JobGrid label="Jobs" jobs=shown rows/>
            </Show>
            <Show when=move || is_filtered() && shown.with(Vec::is_empty)>
                <p class="quiet" role="status">"No job is found so. Look for fewer words, or show all."</p>
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
            <Show when=move || !is_filtered()>
                <folded::ArchivedJobs all=all_rows rows/>
            </Show>
            <Show when=move || !is_filtered() || app.list_view.with(|v| v.which == Which::Archived)>
                <folded::DeletedJobs/>
            </Show>
        </div>
        <footer class="reach jobs-reach">
            <Show
                when=is_choosing
                fallback=move || view! {
                    <a class="button main" href=Route::NewJob.href()><Icon path=ADD/>"New job"</a>
                    <div class="pair">
                        <FileButton/>
                        <button class="button" type="button" on:click=move |_| session.open_demo()>"Demo job"</button>
                    </div>
                }
            >
                <ChosenActions rows/>
            </Show>
        </footer>
        {move || rows.acting.get().map(|id| view! { <JobActions id rows close/> })}
    }
}

/// The button that opens job files.
#[component]
fn FileButton() -> impl IntoView {
    let session = use_session();
    let chosen = move |event: web_sys::Event| {
        let input: web_sys::HtmlInputElement = event_target(&event);
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
