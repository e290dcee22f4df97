//! The jobs as a grid: one stop for Tab, the rest by arrows and letters.

use leptos::html;
use leptos::prelude::*;
use web_sys::Element;

use super::keys;
use super::line::{JobLine, Rows};
use crate::device;
use crate::state::{ListRow, Sort, use_session};

/// The heads of the columns, each with what sorts by it.
const HEADS: [(&str, Option<Sort>); 9] = [
    ("Choose", None),
    ("Piano", Some(Sort::Piano)),
    ("Client", Some(Sort::Client)),
    ("Serial", None),
    ("State", Some(Sort::Standing)),
    ("Last work", Some(Sort::Latest)),
    ("Next visit", Some(Sort::NextVisit)),
    ("Exported", None),
    ("More", None),
];

/// The jobs: a table where there is room, otherwise cards.
#[component]
pub fn JobGrid(
    /// What is in it.
    label: &'static str,
    /// The jobs.
    jobs: Memo<Vec<ListRow>>,
    /// What the rows share.
    rows: Rows,
) -> impl IntoView {
    let app = use_session().app;
    let grid = NodeRef::<html::Div>::new();
    let typed = StoredValue::new((0.0, String::new()));
    // The job that has or had the focus, and one beside it.
    let place = StoredValue::new([None; 2]);
    let follow = move |event: web_sys::FocusEvent| {
        if let Some(focused) = keys::follow_focus(&event) {
            place.set_value(focused);
        }
    };
    let keep = move || {
        let (Some(grid), Some(place)) = (grid.try_get_untracked().flatten(), place.try_get_value())
        else {
            return;
        };
        let last = app.open_job.with_untracked(|o| o.as_ref().map(|o| o.id));
        let had_focus = place[0].is_some() && !device::is_focused();
        let stop = keys::keep_stop(&grid, place.into_iter().chain([last]).flatten());
        if let Some(stop) = stop.filter(|_| had_focus) {
            keys::focus(&stop);
        }
    };
    Effect::new(move |_| {
        jobs.with(|_| ());
        request_animation_frame(keep);
    });
    let head = move |(name, sort): (&'static str, Option<Sort>)| {
        let sorted = move || {
            let is = sort.is_some_and(|sort| app.list_view.with(|v| v.sort == sort));
            is.then_some(if sort == Some(Sort::Latest) {
                "descending"
            } else {
                "ascending"
            })
        };
        view! { <span role="columnheader" aria-sort=sorted>{name}</span> }
    };
    view! {
        <div class="jobs" role="grid" aria-label=label node_ref=grid
            on:focusin=follow on:keydown=move |event| keys::press(&event, rows, typed)>
            <div role="row" class="heads">{HEADS.map(head).collect_view()}</div>
            <For each=move || jobs.get() key=key let(row)>
                <JobLine row rows/>
            </For>
        </div>
    }
}

/// Returns what a row depends on; it is made again when this changes.
fn key(row: &ListRow) -> impl std::hash::Hash + Eq + use<> {
    let line = &row.line;
    let (entries, exported) = (line.entries, line.exported);
    (
        line.id,
        entries,
        exported,
        line.overview.is_some(),
        row.due().is_some(),
        row.visits,
    )
}

/// Focuses the stop for Tab of a list.
pub fn focus_stop(list: NodeRef<html::Div>) {
    let Some(list) = list.try_get_untracked().flatten() else {
        return;
    };
    let list: &Element = &list;
    if let Ok(Some(stop)) = list.query_selector(".jobs [tabindex='0']") {
        keys::focus(&stop);
    }
}
