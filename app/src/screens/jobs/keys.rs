//! The list by keyboard: one stop for Tab, then arrows, Home and End, and the first letters of a name (P: WAI-ARIA
//! Authoring Practices, grid pattern and keyboard interface, 2024).

use evenhand_core::job::JobId;
use leptos::prelude::*;
use wasm_bindgen::JsCast;
use web_sys::{Element, HtmlElement, KeyboardEvent};

use super::line::Rows;
use crate::device::local_time;

/// Letters that come within this time belong to one word (M).
const WORD_MS: f64 = 1_000.0;
/// How many rows Page Up and Page Down go.
const PAGE: usize = 10;

/// The letters that were typed, and when the last one was.
pub type Typed = StoredValue<(f64, String)>;

/// Makes an element the one stop of its list for Tab.
fn make_stop(grid: &Element, to: &Element) {
    if let Ok(Some(old)) = grid.query_selector("[tabindex='0']") {
        // A number is a valid value, here and below.
        let _ = old.set_attribute("tabindex", "-1");
    }
    let _ = to.set_attribute("tabindex", "0");
}

/// Makes what has got the focus the stop for Tab. Returns the job of the row and one beside it, which takes its place if
/// the row goes.
pub fn follow_focus(event: &web_sys::FocusEvent) -> Option<[Option<JobId>; 2]> {
    let element = |target: Option<web_sys::EventTarget>| target?.dyn_into::<Element>().ok();
    let (grid, to) = (element(event.current_target())?, element(event.target())?);
    let row = to.closest("[data-job]").ok()??;
    make_stop(&grid, &to);
    let beside = steps(&row, 1, true).or_else(|| steps(&row, 1, false));
    Some([job_of(&row), beside.and_then(|row| job_of(&row))])
}

/// Gives a list its stop for Tab if it has none: the first of these jobs that is there, otherwise the first of the list.
/// Returns it.
pub fn keep_stop(grid: &Element, jobs: impl IntoIterator<Item = JobId>) -> Option<Element> {
    if matches!(grid.query_selector("[tabindex='0']"), Ok(Some(_))) {
        return None;
    }
    let selector = |id: JobId| format!("[data-job='{id}'] .job");
    let mut jobs = jobs.into_iter();
    let known = jobs.find_map(|id| grid.query_selector(&selector(id)).ok()?);
    let to = known.or_else(|| grid.query_selector(".job").ok()?)?;
    make_stop(grid, &to);
    Some(to)
}

/// Moves the focus by a key. Typing a name goes to the job of that name; the space key chooses the job.
pub fn press(event: &KeyboardEvent, rows: Rows, typed: Typed) {
    let element = |target: Option<web_sys::EventTarget>| target?.dyn_into::<Element>().ok();
    let (Some(grid), Some(at)) = (element(event.current_target()), element(event.target())) else {
        return;
    };
    let Ok(Some(row)) = at.closest("[data-job]") else {
        return;
    };
    if event.ctrl_key() || event.alt_key() || event.meta_key() {
        return;
    }
    let is_word = typed
        .with_value(|(ms, word)| !word.is_empty() && local_time::monotonic_ms() - ms < WORD_MS);
    let key = event.key();
    let to = match key.as_str() {
        "ArrowDown" => steps(&row, 1, true),
        "ArrowUp" => steps(&row, 1, false),
        "PageDown" => steps(&row, PAGE, true),
        "PageUp" => steps(&row, PAGE, false),
        "Home" => end(&grid, "[data-job]"),
        "End" => end(&grid, "[data-job]:last-child"),
        "ArrowRight" => return beside(event, &row, &at, true),
        "ArrowLeft" => return beside(event, &row, &at, false),
        " " if !is_word && at.matches(".job") == Ok(true) => {
            event.prevent_default();
            if let Some(id) = job_of(&row) {
                rows.toggle(id);
            }
            return;
        }
        // The button and the box take the space key themselves.
        " " if !is_word => return,
        letter if letter.chars().count() == 1 => named(&grid, &row, letter, is_word, typed),
        _ => return,
    };
    event.prevent_default();
    // The same column of the other row.
    let columns = [".more-job", "input"];
    let column = columns.into_iter().find(|c| at.matches(c) == Ok(true));
    if let Some(to) = to.and_then(|to| to.query_selector(column.unwrap_or(".job")).ok()?) {
        focus(&to);
    }
}

/// Focuses an element.
pub fn focus(to: &Element) {
    if let Some(to) = to.dyn_ref::<HtmlElement>() {
        // An element that cannot take the focus leaves it where it is.
        let _ = to.focus();
    }
}

fn job_of(row: &Element) -> Option<JobId> {
    row.get_attribute("data-job")?.parse().ok()
}

fn is_job(row: &Element) -> bool {
    row.has_attribute("data-job")
}

/// Returns the row so many rows on, or the last in that direction.
fn steps(row: &Element, count: usize, down: bool) -> Option<Element> {
    let beside = |row: &Element| match down {
        true => row.next_element_sibling(),
        false => row.previous_element_sibling().filter(is_job),
    };
    let rows = std::iter::successors(beside(row), |row| beside(row));
    rows.take(count).last()
}

fn end(grid: &Element, selector: &str) -> Option<Element> {
    grid.query_selector(selector).ok()?
}

/// Moves the focus within the row.
fn beside(event: &KeyboardEvent, row: &Element, at: &Element, right: bool) {
    let Ok(all) = row.query_selector_all("input, .job, .more-job") else {
        return;
    };
    let of = |at: u32| all.get(at)?.dyn_into::<Element>().ok();
    // What is not drawn cannot be reached.
    let drawn = (0..all.length())
        .filter_map(of)
        .filter(|e| e.client_width() > 0 || e.get_bounding_client_rect().width() > 0.0);
    let drawn: Vec<Element> = drawn.collect();
    let here = drawn.iter().position(|e| e == at);
    let to = here.and_then(|here| match right {
        true => drawn.get(here + 1),
        false => drawn.get(here.checked_sub(1)?),
    });
    if let Some(to) = to {
        event.prevent_default();
        focus(to);
    }
}

/// Returns the next row whose name begins with what was typed, from the top again after the last.
fn named(
    grid: &Element,
    row: &Element,
    letter: &str,
    goes_on: bool,
    typed: Typed,
) -> Option<Element> {
    let now_ms = local_time::monotonic_ms();
    let mut word = typed.with_value(|(_, word)| if goes_on { word.clone() } else { String::new() });
    word.push_str(&letter.to_lowercase());
    typed.set_value((now_ms, word.clone()));
    let is = |row: &Element| {
        let name = row.query_selector(".job-name").ok().flatten();
        let name = name.and_then(|n| n.text_content()).unwrap_or_default();
        name.trim().to_lowercase().starts_with(&word)
    };
    // The first letter goes on from the next row; further letters look from this one.
    if goes_on && is(row) {
        return Some(row.clone());
    }
    let below = std::iter::successors(row.next_element_sibling(), Element::next_element_sibling);
    let from_top = std::iter::successors(end(grid, "[data-job]"), Element::next_element_sibling);
    below.chain(from_top).find(is)
}
