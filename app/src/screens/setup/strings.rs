//! The string heights at the ends of the sections.

use evenhand_core::job::{State, Subject};
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Occasion, Place};
use evenhand_core::unit::Value;
use leptos::prelude::*;

use super::heights::all_heights;
use super::part::Part;
use crate::device::local_time;
use crate::parts::fields::{FieldSpec, Fields, Validation};
use crate::state::{Session, use_session};
use crate::text;

/// The measure whose readings the heights are.
const HEIGHT: &str = "string_height";

/// String heights at the ends of each section, and what follows from them for all 88.
#[component]
pub fn StringsPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let sections = Memo::new(move |_| session.app.sections());
    let read = Memo::new(move |_| {
        let count = |s: &State| {
            let ends = s.sections().all_ends();
            let read = ends.iter().filter(|n| height(s, **n).is_some()).count();
            (read, ends.len())
        };
        session.app.with_state(count).unwrap_or_default()
    });
    let summary = Signal::derive(move || match read.get() {
        (0, _) => "not measured yet".to_owned(),
        (read, all) => format!("{read} of {all} section ends measured"),
    });
    let by_section = move || {
        let sections = sections.get();
        (0..sections.count())
            .map(|at| section_fields(session, &sections, at))
            .collect_view()
    };
    view! {
        <Part name="heights" title="String heights" opened summary>
            <p class="quiet">
                "Over the key bed, at the strike point, to the underside of the strings. Measure them here or in the pass; both are the same readings. Straight lines between them give all 88."
            </p>
            {by_section}
            {between(session)}
            {move || all_heights(session)}
        </Part>
    }
}

/// Returns the latest reading of the height of a note's strings.
fn height(state: &State, note: Note) -> Option<Value> {
    let measure_state = state.measure_state(HEIGHT, Subject::Note(note), Place::Piano)?;
    Some(measure_state.latest()?.value)
}

fn section_fields(
    session: Session,
    sections: &Sections,
    at: usize,
) -> Option<impl IntoView + use<>> {
    let (low, high) = sections.ends(at)?;
    let mut ends = vec![low, high];
    ends.dedup();
    let unit = session.app.length_unit().symbol();
    let specs = ends
        .iter()
        .map(|n| FieldSpec::number(n.name(), unit))
        .collect();
    let notes = ends.clone();
    let now = Signal::derive(move || {
        let shown = |n: &Note| session.app.with_state(|s| shown(s, *n)).unwrap_or_default();
        notes.iter().map(shown).collect()
    });
    let record = Callback::new(move |(typed, confirmed): (Vec<String>, bool)| {
        let before = now.get_untracked();
        for ((note, typed), before) in ends.iter().zip(&typed).zip(&before) {
            if typed.trim() != before
                && let Some(not) = record_height(session, *note, typed, confirmed)
            {
                return not;
            }
        }
        Validation::Accepted
    });
    let legend = format!("Section {}", at + 1);
    Some(view! { <Fields key=format!("height-{at}") legend specs now record/> })
}

/// Fields for a note between the ends, if a straight line is not enough.
fn between(session: Session) -> impl IntoView {
    let read = Signal::derive(move || {
        let of = |s: &State| {
            let ends = s.sections().all_ends();
            let read = Note::all().filter(|n| !ends.contains(n) && height(s, *n).is_some());
            let read: Vec<String> = read.map(|n| format!("{n}: {}", shown(s, n))).collect();
            read.join(", ")
        };
        session.app.with_state(of).unwrap_or_default()
    });
    let record = Callback::new(move |(typed, confirmed): (Vec<String>, bool)| {
        match typed[0].parse::<Note>() {
            Err(error) => Validation::Refused(error.to_string()),
            Ok(note) => {
                record_height(session, note, &typed[1], confirmed).unwrap_or(Validation::Accepted)
            }
        }
    });
    // Not tracked: otherwise each entry would make the field again while it is used.
    let unit = session.app.length_unit_untracked();
    let specs = vec![
        FieldSpec::text("Note"),
        FieldSpec::number("Height", unit.symbol()),
    ];
    let now = Signal::stored(vec![String::new(); 2]);
    view! {
        <Fields key="height-between".to_owned() legend="A note between the ends" specs now record note=read button="Add"/>
    }
}

fn shown(state: &State, note: Note) -> String {
    let shown = height(state, note).zip(state.measure(HEIGHT));
    shown.map_or_else(String::new, |(v, m)| m.shown(v, state.length_unit()))
}

/// Records a height as a reading of the survey. Returns why not, if it is refused or must be confirmed.
fn record_height(session: Session, note: Note, typed: &str, confirmed: bool) -> Option<Validation> {
    if typed.trim().is_empty() {
        return Some(Validation::Refused(format!(
            "Type the height at {note}. A measured one stays until Undo takes it back."
        )));
    }
    let (measure, unit) = session
        .app
        .with_state_untracked(|s| Some((s.measure(HEIGHT)?.clone(), s.length_unit())))??;
    match measure.read_typed(typed, unit) {
        Err(error) => Some(Validation::Refused(error.to_string())),
        Ok(value) if !confirmed && !measure.is_plausible(value) => {
            Some(Validation::Confirm(text::doubt(&measure, value, unit)))
        }
        Ok(value) => {
            session.record_with(|job| {
                job.reading(
                    session.replica(),
                    local_time::now_ms(),
                    measure.id.clone(),
                    Subject::Note(note),
                    Place::Piano,
                    Occasion::AsFound,
                    value,
                    typed.trim(),
                )
            });
            None
        }
    }
}
