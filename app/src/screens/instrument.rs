//! The page of an instrument: its visits, how it drifted, its open faults, and when it is next due.

use evenhand_core::analysis::instrument::{Visit, visit};
use evenhand_core::job::JobId;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::local_time;
use crate::parts::header::{Header, Saved};
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::screens::jobs::line::next_visit_words;
use crate::screens::jobs::toolbar::events;
use crate::state::{ListRow, list_rows, use_session, visits_of};
use crate::text;

/// The visits to the instrument of a job.
#[component]
pub fn InstrumentScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <VisitsToInstrument/>
        </RequireOpenJob>
    }
}

#[component]
fn VisitsToInstrument() -> impl IntoView {
    let session = use_session();
    let app = session.app;
    let back = app.route.with_untracked(Route::order_href);
    let visits = Memo::new(move |_| {
        let today = local_time::day(app.now_ms.get_untracked());
        let id = app.route.with_untracked(Route::job);
        app.jobs.with(|jobs| {
            let rows = list_rows(jobs, today);
            id.map(|id| visits_of(jobs, rows, id)).unwrap_or_default()
        })
    });
    // Each is read from the journal, the latest first.
    let known = RwSignal::new(Vec::<(JobId, Visit)>::new());
    let ids: Vec<JobId> = visits.with_untracked(|v| v.iter().map(|r| r.line.id).collect());
    spawn_local(async move {
        for id in ids {
            let job = session.jobs.job(id).await;
            let read = job.map(|job| (id, visit(&job)));
            // The page may have been left meanwhile.
            if known.try_update(|known| known.extend(read)).is_none() {
                return;
            }
        }
    });
    let name = Signal::derive(move || app.job_name());
    let faults = move || {
        let latest = visits.with(|v| v.first().map(|r| r.line.id))?;
        known.with(|known| {
            let of_latest = known.iter().find(|(id, _)| *id == latest);
            of_latest.map(|(_, visit)| visit.faults.clone())
        })
    };
    let about = move || {
        let first = visits.with(|v| v.first().cloned())?;
        let next = next_visit_words(&first);
        let shown = first.line.overview.clone();
        let (client, serial) = shown.map(|o| (o.client, o.serial)).unwrap_or_default();
        let next = if next.is_empty() {
            "not before this job is done".to_owned()
        } else {
            next
        };
        let rows = [
            ("Client", client),
            ("Instrument", first.line.described.clone()),
            ("Serial", serial),
            ("Next visit", next),
        ];
        let rows = rows.into_iter().filter(|(_, words)| !words.is_empty());
        Some(
            rows.map(
                |(name, words)| view! { <div><dt>{name}</dt><dd dir="auto">{words}</dd></div> },
            )
            .collect_view(),
        )
    };
    let next_job = move || visits.with(|v| v.first().map(|r| Route::NextJob(r.line.id).href()));
    let calendar = move |_| session.download_calendar(&events(&visits.get_untracked()));
    view! {
        <Header back back_label="Back to the order" title=Signal::stored("Instrument".to_owned()) line=name>
            <Saved/>
        </Header>
        <main class="page instrument" tabindex="0">
            <dl class="about">{about}</dl>
            <section>
                <h2>{move || text::counted(visits.with(Vec::len), "1 visit", "visits")}</h2>
                <ol class="visits">
                    {move || visits.get().into_iter().map(|row| view! { <VisitLine row known/> }).collect_view()}
                </ol>
            </section>
            <section>
                <h2>"Open faults"</h2>
                {move || match faults() {
                    None => view! { <p class="quiet" role="status">"Reading the visits…"</p> }.into_any(),
                    Some(faults) if faults.is_empty() => view! { <p class="quiet">"None."</p> }.into_any(),
                    Some(faults) => view! { <ul class="points">{faults.into_iter().map(|f| view! { <li dir="auto">{f}</li> }).collect_view()}</ul> }.into_any(),
                }}
            </section>
        </main>
        <footer class="reach">
            <a class="button main" href=next_job>"Next job of this instrument"</a>
            <button class="button" type="button" on:click=calendar>"Calendar file"</button>
        </footer>
    }
}

/// One visit: when, how far, and how the instrument had drifted since the one before.
#[component]
fn VisitLine(row: ListRow, known: RwSignal<Vec<(JobId, Visit)>>) -> impl IntoView {
    let line = row.line;
    let id = line.id;
    let state = line.overview.as_ref().map(|o| o.standing.name());
    let state = if line.archived {
        Some("Archived")
    } else {
        state
    };
    let drift = move || {
        let drift = known.with(|known| {
            let visit = known.iter().find(|(of, _)| *of == id)?;
            visit.1.drift.clone()
        })?;
        Some(match drift.is_empty() {
            true => view! { <p class="quiet">"Nothing was measured both times yet."</p> }.into_any(),
            false => view! {
                <p class="quiet">"Since the visit before:"</p>
                <ul class="points">{drift.into_iter().map(|d| view! { <li>{d}</li> }).collect_view()}</ul>
            }
            .into_any(),
        })
    };
    let worked = local_time::long_date(line.worked_ms());
    view! {
        <li>
            <a class="letter-link" href=Route::Order(id).href()>
                {worked}
                <small dir="auto">{format!("{}, {}", line.name, state.unwrap_or("not read yet").to_lowercase())}</small>
            </a>
            {drift}
        </li>
    }
}
