//! One job of the list: a row of a table where there is room, otherwise a card.

use evenhand_core::analysis::overview::{Overview, Standing};
use evenhand_core::job::JobId;
use leptos::prelude::*;

use crate::device::local_time;
use crate::route::Route;
use crate::state::{ListRow, use_session};
use crate::text;

/// What the rows of the list share.
#[derive(Clone, Copy)]
pub struct Rows {
    /// The jobs that are chosen, while some are being chosen.
    pub chosen: RwSignal<Option<Vec<JobId>>>,
    /// The job whose sheet is open.
    pub acting: RwSignal<Option<JobId>>,
}

impl Rows {
    /// Chooses a job, or no longer.
    pub fn toggle(self, id: JobId) {
        self.chosen.update(|chosen| {
            let chosen = chosen.get_or_insert_with(Vec::new);
            match chosen.iter().position(|other| *other == id) {
                Some(at) => drop(chosen.remove(at)),
                None => chosen.push(id),
            }
        });
    }
}

/// A job: whose it is, how far it is, when it was last worked on and is next due, and whether it is exported.
#[component]
pub fn JobLine(
    /// What the list knows of the job.
    row: ListRow,
    /// What the rows share.
    rows: Rows,
) -> impl IntoView {
    let app = use_session().app;
    let next = next_visit_words(&row);
    let ListRow {
        line,
        visits,
        is_overdue,
        ..
    } = row;
    let id = line.id;
    let (done, steps) = line.done;
    let is_chosen = move || {
        rows.chosen
            .with(|c| c.as_ref().is_some_and(|c| c.contains(&id)))
    };
    let is_open = move || app.route.with(|s| s.job()) == Some(id);
    let mark = line
        .invented
        .then(|| view! { <span class="mark">"demo"</span> });
    let visits = (visits > 1).then(|| view! { <small>{format!("{visits} visits")}</small> });
    let shown = line.overview.as_ref();
    let client = shown.map(|o| o.client.clone()).filter(|c| !c.is_empty());
    let client = client.unwrap_or_else(|| line.described.clone());
    let serial = shown.map(|o| o.serial.clone()).unwrap_or_default();
    let state = shown.map(|o| standing_words(o, line.archived, app.now_ms.get_untracked()));
    let state = state.unwrap_or_else(|| format!("{done} of {steps} steps"));
    let (exported, is_out) = match (line.exported, line.entries > line.exported) {
        _ if line.invented => ("", true),
        (0, _) => ("not exported yet", false),
        (_, true) => ("changed since its export", false),
        (_, false) => ("exported", true),
    };
    let coming =
        (done < steps).then(|| view! { <small class="coming">"Next: " {line.next}</small> });
    let name = line.name;
    let (choose_label, more_label) = (format!("Export {name}"), format!("More for {name}"));
    view! {
        <div role="row" class="job-row" data-job=id.to_string()>
            <span role="gridcell" class="choose">
                <input type="checkbox" tabindex="-1" prop:checked=is_chosen on:change=move |_| rows.toggle(id) aria-label=choose_label/>
            </span>
            <span role="gridcell" class="job-title">
                <a class="job" tabindex="-1" href=Route::Order(id).href() aria-current=move || is_open().then_some("page")>
                    <span class="job-name" dir="auto">{name}</span>
                </a>
                {mark}{visits}
            </span>
            <span role="gridcell" class="job-client" dir="auto">{client}</span>
            <span role="gridcell" class="job-serial">{serial}</span>
            <span role="gridcell" class="job-state">
                <progress max=steps.max(1) value=done aria-label=format!("{done} of {steps} steps")></progress>
                <span>{state}</span>
                {coming}
            </span>
            <span role="gridcell" class="job-worked">{local_time::short_date(line.overview.map_or(line.last_ms, |o| o.worked_ms))}</span>
            <span role="gridcell" class="job-next" class:due=is_overdue>{next}</span>
            <span role="gridcell" class="job-exported" class:is-out=is_out>{exported}</span>
            <span role="gridcell" class="job-more">
                <button class="more-job" type="button" tabindex="-1" aria-label=more_label aria-haspopup="dialog" on:click=move |_| rows.acting.set(Some(id))>"More"</button>
            </span>
        </div>
    }
}

/// Returns how far a job is, in a few words.
fn standing_words(shown: &Overview, archived: bool, now_ms: i64) -> String {
    let drying = shown.drying.iter().map(|(_, until_ms)| *until_ms);
    let drying = drying.filter(|until_ms| *until_ms > now_ms).max();
    let state = match shown.standing {
        _ if archived => "Archived".to_owned(),
        Standing::InWork => match drying {
            Some(until_ms) => format!("Drying until {}", local_time::day_and_time(until_ms)),
            None => format!("{}, {}\u{a0}%", shown.stage, shown.percent()),
        },
        other => other.name().to_owned(),
    };
    let counts = [
        (shown.faults, "1 open fault", "open faults"),
        (shown.conflicts, "1 conflict", "conflicts"),
    ];
    let counts = counts.into_iter().filter(|(n, ..)| *n > 0);
    let counts = counts.map(|(n, one, many)| format!(", {}", text::counted(n, one, many)));
    state + &counts.collect::<String>()
}

/// Returns the month of the next visit; empty if none is due.
pub fn next_visit_words(row: &ListRow) -> String {
    let Some(day) = row.next_visit else {
        return String::new();
    };
    match row.is_overdue {
        true => format!("due since {}", local_time::short_month(day)),
        false => local_time::short_month(day),
    }
}
