//! The corrections in working order, with their ticks.

use evenhand_core::analysis::belief::NOT_AGAIN;
use evenhand_core::job::State;
use evenhand_core::note::Sections;
use evenhand_core::trade::{MeasureId, Place};
use leptos::prelude::*;

use super::state::{CorrectionRow, CorrectionsState};
use crate::parts::icons::{DONE, Icon};
use crate::parts::plot;
use crate::route::Route;
use crate::text;

/// The corrections in working order, grouped by the measure that is moved.
#[component]
pub fn ToDo(corrections: CorrectionsState, rows: Memo<Vec<CorrectionRow>>) -> impl IntoView {
    let groups = Memo::new(move |_| {
        let mut groups: Vec<MeasureId> = Vec::new();
        rows.with(|rows| {
            for row in rows {
                if !groups.contains(&row.moves) {
                    groups.push(row.moves.clone());
                }
            }
        });
        groups
    });
    let is_empty = move || groups.with(Vec::is_empty);
    view! {
        <Show when=move || !is_empty() fallback=move || view! { <NothingToDo corrections/> }>
            <table class="table todo">
                <thead class="hidden"><tr><th scope="col">"Note"</th><th scope="col">"What to do"</th><th scope="col">"Made"</th></tr></thead>
                <For each=move || groups.get() key=Clone::clone let(moves)>
                    <Group corrections rows moves/>
                </For>
            </table>
        </Show>
    }
}

/// The corrections of one measure that is moved, with their picture.
#[component]
fn Group(
    corrections: CorrectionsState,
    rows: Memo<Vec<CorrectionRow>>,
    moves: MeasureId,
) -> impl IntoView {
    let name = corrections.name(&moves);
    let pass = corrections.pass_of(&moves);
    let of = StoredValue::new(moves);
    let own = Memo::new(move |_| {
        let own = |r: &&CorrectionRow| of.with_value(|m| r.moves == *m);
        rows.with(|rows| rows.iter().filter(own).cloned().collect::<Vec<_>>())
    });
    let sections = corrections
        .session
        .app
        .with_state_untracked(|s| s.sections().clone())
        .unwrap_or_default();
    let picture = move || {
        let done = |r: &CorrectionRow| corrections.entry(r).is_some();
        own.with(|rows| picture_of(rows, &sections, done))
    };
    let label = format!("{name}: which notes, and which way the reading goes");
    view! {
        <tbody>
            <tr class="group">
                <th colspan="3" scope="rowgroup">
                    <span class="group-head">
                        <span>{name.clone()}</span>
                        {pass.map(|href| view! { <a class="button" href=href>"Measure"<span class="hidden">" "{name}</span></a> })}
                    </span>
                    <svg class="plot moves" viewBox="0 0 360 44" role="img" aria-label=label inner_html=picture/>
                </th>
            </tr>
            <For each=move || own.get() key=|r| (r.measure.clone(), r.on, r.words.clone(), r.more.clone()) let(row)>
                <RowLine corrections row/>
            </For>
        </tbody>
    }
}

fn picture_of(
    rows: &[CorrectionRow],
    sections: &Sections,
    done: impl Fn(&CorrectionRow) -> bool,
) -> String {
    let bars: Vec<_> = rows
        .iter()
        .filter_map(|r| Some((r.on.note()?, r.way, done(r))))
        .collect();
    plot::movements::draw(&bars, sections)
}

/// One correction, with its tick.
#[component]
fn RowLine(corrections: CorrectionsState, row: CorrectionRow) -> impl IntoView {
    let row = StoredValue::new(row);
    let done = move || row.with_value(|r| corrections.entry(r).is_some());
    let tick = move |_| row.with_value(|r| corrections.tick(r));
    let (name, number) = row.with_value(|r| {
        (
            text::subject(r.on),
            r.on.note().map(|n| n.number().to_string()),
        )
    });
    let (what, more) = row.with_value(|r| (r.words.clone(), r.more.clone()));
    let label = format!("{name}: {what}, made");
    let more = move || match done() {
        true if row.with_value(|r| corrections.is_known(r)) => format!("made, {NOT_AGAIN}"),
        true => "made, re-measure".to_owned(),
        false => more.clone(),
    };
    view! {
        <tr class:done=done>
            <th scope="row">{name}" "<small>{number}</small></th>
            <td>
                {what}
                <small>{more}</small>
            </td>
            <td>
                <button class="tick" type="button" aria-pressed=move || done().to_string() aria-label=label on:click=tick>
                    <Icon path=DONE/>
                </button>
            </td>
        </tr>
    }
}

/// What to do if nothing is to be corrected.
#[component]
fn NothingToDo(corrections: CorrectionsState) -> impl IntoView {
    (move || {
        let (left, waits) = corrections.found.with(|f| (f.left, f.rows.len()));
        let waits = waits + corrections.strayed.with(Vec::len) + corrections.marked.with(Vec::len);
        let here = corrections.session.app.with_state(State::place).unwrap_or(Place::Piano);
        let all = corrections.chosen.with(Option::is_none);
        let elsewhere = corrections.out_elsewhere();
        let (head, words) = match (left, waits) {
            (_, 0) if !elsewhere.is_empty() => (
                "Nothing to correct here",
                "Out of tolerance in other steps:",
            ),
            (0, 0) if all && here == Place::Piano => (
                "Nothing to correct in the piano",
                "What is measured on the bench is corrected there. Choose its step above.",
            ),
            (0, 0) if all => (
                "Nothing to correct on the bench",
                "What is measured in the piano is corrected there. Choose its step above.",
            ),
            (0, 0) => (
                "Nothing measured here yet",
                "Measure the step. Each reading off its target then stands here, with what to turn, bend or shim.",
            ),
            (_, 0) => (
                "Nothing to correct",
                "Every reading is on target, or so near that no hand can do it finer.",
            ),
            _ => (
                "Nothing to turn yet",
                "Do what is named here first; then this list fills itself.",
            ),
        };
        let read = corrections
            .chosen
            .get()
            .and_then(|step| Some(Route::Pass(corrections.job?, step).href()));
        view! {
            <div class="teach">
                <h2>{head}</h2>
                <p>{words}</p>
                {(waits == 0 && !elsewhere.is_empty()).then(|| view! {
                    <ul class="points">
                        {elsewhere.into_iter().map(|(words, href)| view! { <li><a href=href>{words}</a></li> }).collect_view()}
                    </ul>
                })}
                {read.filter(|_| left + waits == 0).map(|href| view! { <a class="button main" href=href>"Measure this step"</a> })}
            </div>
        }
    })
    .into_any()
}
