//! Open conflicts, each with who said what and when, and what settles it.

use evenhand_core::analysis::conflicts::{Conflict, Statement, conflicts, step_to_measure};
use evenhand_core::job::{Subject, Topic};
use leptos::prelude::*;

use crate::device::local_time;
use crate::route::Route;
use crate::state::{Session, use_session};
use crate::text;

/// Returns the open conflicts about some topics.
pub fn open_conflicts(session: Session, of: fn(&Topic) -> bool) -> Memo<Vec<Conflict>> {
    Memo::new(move |_| {
        let open = session.app.open_job;
        let mut all = open.with(|o| o.as_ref().map_or_else(Vec::new, |o| conflicts(&o.job)));
        all.retain(|c| of(&c.topic));
        all
    })
}

/// Returns the summary of a fold-out part, which names the open conflicts in it first.
pub fn marked(open: Memo<Vec<Conflict>>, summary: Signal<String>) -> Signal<String> {
    Signal::derive(move || match open.with(Vec::len) {
        0 => summary.get(),
        n => {
            let mark = text::counted(n, "1 conflict", "conflicts");
            format!("{mark}; {}", summary.get())
        }
    })
}

/// These open conflicts; nothing where there are none.
#[component]
pub fn OpenConflicts(
    /// The conflicts.
    open: Memo<Vec<Conflict>>,
) -> impl IntoView {
    let session = use_session();
    let cards = move || {
        let all = open.get().into_iter();
        let card = |conflict: Conflict| {
            let again = measure_again(session, &conflict.topic);
            conflict_card(session, conflict, again)
        };
        all.map(card).collect_view()
    };
    view! {
        <Show when=move || open.with(|all| !all.is_empty())>
            <section class="conflicts">
                <h2>"Conflicts"</h2>
                <p class="quiet">
                    "Two people said different things, and neither knew of the other. The first one shown counts until you keep one or re-measure."
                </p>
                {cards}
            </section>
        </Show>
    }
}

/// One conflict: each value with who said it and when, and the keys that settle it; for a reading also the pass in which
/// it is measured again.
pub fn conflict_card(
    session: Session,
    conflict: Conflict,
    again: Option<Route>,
) -> impl IntoView + use<> {
    let statements = conflict.statements.into_iter().enumerate();
    let line = |(at, statement): (usize, Statement)| {
        let when = said_by(&statement);
        let counts = (at == 0).then_some(", counts now");
        view! {
            <li>
                <span>{statement.value.clone()}<small>{when}{counts}</small></span>
                {keep_button(session, statement)}
            </li>
        }
    };
    view! {
        <article class="conflict">
            <h3>{conflict.about}</h3>
            <ul class="rows">{statements.map(line).collect_view()}</ul>
            {again.map(|route| view! { <a class="button" href=route.href()>"Re-measure"</a> })}
        </article>
    }
}

/// The key that keeps what was stated; nothing for a reading that later work spoiled.
fn keep_button(session: Session, statement: Statement) -> Option<impl IntoView + use<>> {
    let Statement { keep, value, .. } = statement;
    let keep = keep?;
    let label = format!("Keep {value}");
    let record = move |_| {
        session.record(keep.clone());
    };
    Some(
        view! { <button class="button" type="button" aria-label=label on:click=record>"Keep"</button> },
    )
}

/// Returns who stated it and when: `R. Sample, 25 November 2026 10:42`.
pub fn said_by(statement: &Statement) -> String {
    let name = technician(statement);
    let at_ms = statement.at_ms;
    let (date, time) = (local_time::long_date(at_ms), local_time::clock(at_ms));
    format!("{name}, {date} {time}")
}

/// Returns the name of who stated it.
pub fn technician(statement: &Statement) -> &str {
    let name = statement.technician.as_deref();
    name.unwrap_or("a device without a name")
}

/// Returns the pass in which a reading is taken again; `None` for what is not measured, or by no step of the order.
fn measure_again(session: Session, topic: &Topic) -> Option<Route> {
    let job = session.app.job_untracked()?;
    let Topic::Reading { on, .. } = topic else {
        return None;
    };
    let step = |s: &evenhand_core::job::State| step_to_measure(s, topic).map(|s| s.id.clone());
    let step = session.app.with_state_untracked(step)??;
    Some(match on {
        Subject::Note(note) => Route::PassAt(job, step, *note),
        _ => Route::Pass(job, step),
    })
}
