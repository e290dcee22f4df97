//! Hours: whose time, on which day, at which step; to see, to enter and to correct.

use evenhand_core::analysis::hours::{Hours, HoursLine, Total, hours};
use evenhand_core::job::{State, TimeSource, Topic, WorkDay};
use evenhand_core::trade::StepId;
use leptos::prelude::*;

use crate::device::local_time;
use crate::parts::conflicts::{OpenConflicts, open_conflicts};
use crate::parts::header::{Header, Saved};
use crate::parts::require_open_job::RequireOpenJob;
use crate::parts::undo::UndoTool;
use crate::route::Route;
use crate::state::use_session;
use crate::storage::preferences;
use crate::text;
use form::{Editing, TimeSheet};

mod form;

/// The hours of the open job.
#[component]
pub fn HoursScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <HoursOfJob/>
        </RequireOpenJob>
    }
}

#[component]
fn HoursOfJob() -> impl IntoView {
    let session = use_session();
    let back = session.app.route.with_untracked(Route::order_href);
    let name = Signal::derive(move || session.app.job_name());
    let worked = Memo::new(move |_| session.app.with_state(hours).unwrap_or_default());
    let editing = RwSignal::new(None::<Editing>);
    let price = move || {
        let minutes = worked.with(Hours::minutes);
        let details = session.app.with_state(|s| s.details().clone())?;
        let cents = Total::of(&details, minutes).cents?;
        let rate = i64::from(details.rate()?);
        let currency = details.currency.unwrap_or_default();
        let at = format!("At {} an hour", text::money(rate, &currency));
        Some(view! { <div><dt>{at}</dt><dd>{text::money(cents, &currency)}</dd></div> })
    };
    let days = move || {
        worked.with(|worked| {
            let by_day = worked
                .lines
                .chunk_by(|a, b| a.time.worked.day == b.time.worked.day);
            by_day
                .map(|lines| day_section(lines, editing))
                .collect_view()
        })
    };
    let is_empty = move || worked.with(|w| w.lines.is_empty() && w.untimed.is_empty());
    view! {
        <Header back back_label="Back to the order" title=Signal::stored("Hours".to_owned()) line=name>
            <Saved/>
            <UndoTool/>
        </Header>
        <main class="page hours" tabindex="0">
            <Show when=is_empty>
                <p class="quiet">"No working time yet. It counts while you measure, mark or adjust in a step. Enter the rest here."</p>
            </Show>
            <dl class="figures">
                <div><dt>"Working time"</dt><dd>{move || text::minutes(worked.with(Hours::minutes))}</dd></div>
                {price}
            </dl>
            <OpenConflicts open=open_conflicts(session, |topic| matches!(topic, Topic::Minutes(..)))/>
            {move || flagged(
                "Done, no time counted",
                "Tap a step to enter how long it took.",
                worked.with(|w| w.untimed.clone()),
                editing,
            )}
            {move || flagged(
                "Ticked off faster than the work takes",
                "Only the minutes of ticking count. Tap a step to enter how long it took.",
                worked.with(|w| w.ticked.clone()),
                editing,
            )}
            {move || by_person(&worked.get())}
            {days}
        </main>
        <footer class="reach">
            <button class="button main" type="button" on:click=move |_| editing.set(Some(Editing::new(own_day(), None)))>"Enter time"</button>
        </footer>
        {move || editing.get().map(|of| {
            view! { <TimeSheet of close=Callback::new(move |()| editing.set(None))/> }
        })}
    }
}

/// Returns today, of the technician of this device.
fn own_day() -> WorkDay {
    WorkDay {
        day: local_time::day(local_time::now_ms()),
        technician: preferences::technician(),
    }
}

/// Steps whose time is missing, each a button that asks for it.
fn flagged(
    title: &'static str,
    says: &'static str,
    steps: Vec<(StepId, String)>,
    editing: RwSignal<Option<Editing>>,
) -> Option<impl IntoView> {
    let session = use_session();
    let line = move |(step, name): (StepId, String)| {
        let asked = name.clone();
        let ask = move |_| {
            let worked = |s: &State| s.last_worked(step.as_str());
            let worked = session.app.with_state_untracked(worked).flatten();
            // Where nobody is named it is likely the one who holds the device.
            let worked = worked.map_or_else(own_day, |worked| WorkDay {
                technician: worked.technician.or_else(preferences::technician),
                ..worked
            });
            editing.set(Some(Editing::new(
                worked,
                Some((step.clone(), asked.clone())),
            )));
        };
        view! { <li><button class="hours-line" type="button" on:click=ask><span>{name}</span></button></li> }
    };
    (!steps.is_empty()).then(|| {
        view! {
            <section>
                <h2>{title}</h2>
                <p class="quiet">{says}</p>
                <ul class="hours-lines">{steps.into_iter().map(line).collect_view()}</ul>
            </section>
        }
    })
}

/// The time of each person, if there is more than one or it is nobody's.
fn by_person(worked: &Hours) -> Option<impl IntoView + use<>> {
    let all = worked.by_technician();
    let is_unnamed = all.iter().any(|(name, _)| name.is_none());
    let is_told = all.len() > 1 || is_unnamed;
    let row = |(name, minutes): (Option<String>, i64)| {
        view! { <tr><th scope="row">{text::technician(name)}</th><td class="num">{text::minutes(minutes)}</td></tr> }
    };
    is_told.then(|| {
        view! {
            <section>
                <h2>"By person"</h2>
                <table class="table">
                    <thead class="hidden"><tr><th>"Person"</th><th>"Time"</th></tr></thead>
                    <tbody>{all.into_iter().map(row).collect_view()}</tbody>
                </table>
                {is_unnamed.then(|| view! { <p class="quiet">"Tap a line without a name to enter whose time it is."</p> })}
            </section>
        }
    })
}

/// The lines of one day.
fn day_section(lines: &[HoursLine], editing: RwSignal<Option<Editing>>) -> impl IntoView + use<> {
    let day = lines
        .first()
        .map(|line| local_time::long_day(line.time.worked.day));
    let minutes = lines.iter().map(|line| line.time.minutes()).sum();
    let line = |line: &HoursLine| {
        let of = Editing::of(line);
        let small = format!(
            "{}, {}, {}",
            text::technician(line.time.worked.technician.clone()),
            line.stage.name(),
            source(line),
        );
        view! {
            <li>
                <button class="hours-line" type="button" on:click=move |_| editing.set(Some(of.clone()))>
                    <span>{line.name.clone()}<small>{small}</small></span>
                    <span class="num">{text::minutes(line.time.minutes())}</span>
                </button>
            </li>
        }
    };
    view! {
        <section>
            <h2 class="hours-day"><span>{day}</span><span class="num">{text::minutes(minutes)}</span></h2>
            <ul class="hours-lines">{lines.iter().map(line).collect_view()}</ul>
        </section>
    }
}

/// Returns how a time is known: `counted`, `stated`, or, by somebody else, `stated by Office`.
fn source(line: &HoursLine) -> String {
    match &line.time.source {
        TimeSource::Counted => "counted".to_owned(),
        TimeSource::Stated { by: Some(by), .. }
            if line.time.worked.technician.as_ref() != Some(by) =>
        {
            format!("stated by {by}")
        }
        TimeSource::Stated { .. } => "stated".to_owned(),
    }
}
