//! One job of the list.

use evenhand_core::job::JobId;
use leptos::prelude::*;

use crate::device::local_time;
use crate::route::Route;
use crate::state::use_session;
use crate::storage::job_summary::JobSummary;

/// A job: its name, when it was last changed, how far it is, and what is next.
#[component]
pub fn JobLine(
    /// What the list knows of the job.
    line: JobSummary,
    /// The jobs to be exported, while they are being chosen.
    chosen: RwSignal<Option<Vec<JobId>>>,
) -> impl IntoView {
    let session = use_session();
    let (done, steps) = line.done;
    let id = line.id;
    let newer = line.entries > line.exported;
    let exported = match (line.exported, newer) {
        (0, _) => "not exported yet",
        (_, true) => "changed since its export",
        (_, false) => "exported",
    };
    let mark = line
        .invented
        .then(|| view! { <span class="mark">"demo"</span> });
    let about = if line.described.is_empty() {
        String::new()
    } else {
        format!("{}, ", line.described)
    };
    let is_chosen = move || chosen.with(|c| c.as_ref().is_some_and(|c| c.contains(&id)));
    let choose = move |_| {
        chosen.update(|c| {
            if let Some(c) = c {
                match c.iter().position(|other| *other == id) {
                    Some(at) => drop(c.remove(at)),
                    None => c.push(id),
                }
            }
        });
    };
    let name = line.name.clone();
    let is_open = move || session.app.route.with(|s| s.job()) == Some(id);
    view! {
        <li data-job=id.to_string()>
            <Show when=move || chosen.with(Option::is_some)>
                <label class="choose">
                    <input type="checkbox" prop:checked=is_chosen on:change=choose aria-label=format!("Export {name}")/>
                </label>
            </Show>
            <a class="job" href=Route::Order(line.id).href() aria-current=move || is_open().then_some("page")>
                <span class="job-name" dir="auto">{line.name.clone()} {mark}</span>
                <span class="quiet">{about}{format!("{}, {exported}", local_time::day_and_time(line.last_ms))}</span>
                <span class="progress-line">
                    <progress max=steps.max(1) value=done aria-label=format!("{done} of {steps} steps")></progress>
                    <span class="num">{format!("{done} of {steps}")}</span>
                </span>
                <span class="quiet">"Next: "{line.next.clone()}</span>
            </a>
        </li>
    }
}
