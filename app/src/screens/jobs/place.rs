//! The place in the list of jobs: kept when the list is left, and the open job is in view beside it.

use evenhand_core::job::JobId;
use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::Element;

use crate::state::AppState;

type ListRef = NodeRef<html::Div>;

/// How many of the jobs in view are remembered; the first may stand elsewhere when the list is shown again.
const MAX_REMEMBERED: usize = 8;

/// Restores the place once the jobs are there, and then shows the open job wherever it changes.
pub fn keep(app: AppState, list: ListRef) {
    let has_jobs = Memo::new(move |_| app.jobs.with(|l| !l.is_empty()));
    let known = app.jobs_known;
    let open = Memo::new(move |_| app.route.with(|r| r.job()));
    Effect::new(move |restored: Option<bool>| {
        open.get();
        known.track();
        let restored = restored == Some(true);
        if !has_jobs.get() {
            return restored;
        }
        let place = app.list_place.get_value();
        request_animation_frame(move || {
            if !restored {
                restore(app, list, &place);
                // Lines that come into view may be taller than they were estimated.
                after_layout(move || restore(app, list, &place));
            }
            show_open(list);
        });
        true
    });
}

/// Calls `run` when the lines that a scroll has brought into view have their heights.
fn after_layout(run: impl FnOnce() + 'static) {
    request_animation_frame(move || request_animation_frame(run));
}

fn rows(list: &Element) -> Vec<Element> {
    let Ok(found) = list.query_selector_all(":scope > .jobs > .job-row") else {
        return Vec::new();
    };
    let rows = (0..found.length()).filter_map(|at| found.get(at)?.dyn_into().ok());
    rows.collect()
}

fn job_of(row: &Element) -> Option<JobId> {
    row.get_attribute("data-job")?.parse().ok()
}

/// Returns how far an element lies below the top of the list, in pixels.
fn below_top(list: &Element, of: &Element) -> f64 {
    of.get_bounding_client_rect().top() - list.get_bounding_client_rect().top()
}

/// Remembers which jobs are in view once a scroll has come to rest; `scrolls` counts its events.
pub fn remember(app: AppState, list: ListRef, scrolls: StoredValue<u32>) {
    let count = scrolls.get_value().wrapping_add(1);
    scrolls.set_value(count);
    after_layout(move || {
        if scrolls.try_get_value() == Some(count) {
            remember_now(app, list);
        }
    });
}

fn remember_now(app: AppState, list: ListRef) {
    let Some(list) = list.try_get_untracked().flatten() else {
        return;
    };
    let list: &Element = &list;
    let rows = rows(list);
    // The rows stand one below the other, so the first in view is found by halving.
    let first = rows.partition_point(|row| {
        row.get_bounding_client_rect().bottom() <= list.get_bounding_client_rect().top()
    });
    let in_view = rows.iter().skip(first).take(MAX_REMEMBERED);
    let place = in_view.filter_map(|row| Some((job_of(row)?, below_top(list, row))));
    app.list_place.set_value(place.collect());
}

/// Scrolls to where the list was left.
fn restore(app: AppState, list: ListRef, place: &[(JobId, f64)]) {
    let Some(list) = list.try_get_untracked().flatten() else {
        return;
    };
    let list: &Element = &list;
    let rows = rows(list);
    // The job that was worked on has moved to the top meanwhile: the ones beside it have not.
    let last = app.open_job.with_untracked(|o| o.as_ref().map(|o| o.id));
    let (open, others): (Vec<(JobId, f64)>, Vec<_>) =
        place.iter().partition(|(id, _)| Some(*id) == last);
    let mut places = others.into_iter().chain(open);
    let found = places.find_map(|(id, top)| {
        let row = rows.iter().find(|row| job_of(row) == Some(id))?;
        Some(below_top(list, row) - top)
    });
    if let Some(by) = found {
        list.set_scroll_top(list.scroll_top() + by.round() as i32);
    }
}

/// Scrolls to the open job if it is out of view.
fn show_open(list: ListRef) {
    let Some(list) = list.try_get_untracked().flatten() else {
        return;
    };
    let list: &Element = &list;
    let Ok(Some(open)) = list.query_selector(".job-row:has([aria-current])") else {
        return;
    };
    let top = below_top(list, &open);
    let (height, room) = (
        open.get_bounding_client_rect().height(),
        list.client_height(),
    );
    if top < 0.0 || top + height > f64::from(room) {
        let by = top - (f64::from(room) - height) / 2.0;
        list.set_scroll_top(list.scroll_top() + by.round() as i32);
    }
}
