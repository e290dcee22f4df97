//! The open points as sentences.

use super::super::bench::stand_in_sentences;
use super::super::listed::{listed, sections as sections_in_sentence};
use super::values::{changed_since_found, contradictions, is_left, measures_out, worn_untreated};
use crate::job::{ItemState, OpenPoint, PointKind, Progress, State, Subject, ValueOut};
use crate::note::Note;
use crate::trade::{MeasureId, Part, Stage, Step, StepId};
use crate::unit::Kind;

/// The largest number of notes or steps that a sentence names one by one.
const MAX_NAMED: usize = 6;

/// Returns the open points of a job, by the rule of [`super`]: those of the steps in their order,
/// then steps not begun, then faults.
///
/// `all` is [`State::progress`], `out` is [`values_out`](super::values_out).
pub fn open_points(state: &State, all: &[(Step, Progress)], out: &[ValueOut]) -> Vec<OpenPoint> {
    let mut points: Vec<OpenPoint> = Vec::new();
    let changed = changed_since_found(state);
    let contradictions = contradictions(state);
    let places = all.iter().map(|(step, p)| (Some(step), Some(p)));
    // What no step of the job takes comes last.
    for (step, progress) in places.chain([(None, None)]) {
        let id = step.map(|s| &s.id);
        let add = |kind, text: String| OpenPoint {
            kind,
            step: id.cloned(),
            text,
        };
        let here: Vec<&ValueOut> = out.iter().filter(|v| v.step.as_ref() == id).collect();
        points.extend(
            out_sentences(state, step.zip(progress), &here, out)
                .map(|text| add(PointKind::Out, text)),
        );
        let worn = worn_sentences(state, step);
        points.extend(worn.map(|text| add(PointKind::Worn, text)));
        let changed: Vec<_> = changed.iter().filter(|c| c.0.as_ref() == id).collect();
        if let Some(first) = changed.first() {
            let name = step.map_or_else(|| name_of(state, &first.1), |s| s.name.to_string());
            points.push(add(
                PointKind::Changed,
                format!(
                    "{name}: {} found out of tolerance and changed since. Re-measure.",
                    changed.len()
                ),
            ));
        }
        let both: Vec<Note> = contradictions
            .iter()
            .filter(|(_, s)| s.as_ref() == id)
            .map(|(note, _)| *note)
            .collect();
        if !both.is_empty() {
            let text = format!(
                "Up weight above down weight: {}. Check whether the two were swapped.",
                named(&both)
            );
            points.push(add(PointKind::Contradiction, text));
        }
        let Some((step, p)) = step.zip(progress) else {
            continue;
        };
        if p.to_remeasure > 0 {
            let text = format!("{}: {} to re-measure.", step.name, p.to_remeasure);
            points.push(add(PointKind::Remeasure, text));
        }
        if p.marked_out > 0 {
            let text = marked_sentence(state, step, p.marked_out);
            points.push(add(PointKind::MarkedOut, text));
        }
        let left = p.left() - p.to_remeasure - p.marked_out;
        if p.is_begun() && left > 0 {
            let text = format!("{}: {left} of {} not measured.", step.name, p.expected);
            points.push(add(PointKind::NotMeasured, text));
        }
    }
    points.extend(not_begun(all));
    points.extend(state.open_faults().map(|fault| {
        OpenPoint {
            kind: PointKind::Fault,
            step: fault
                .step
                .clone()
                .filter(|id| state.step(id.as_str()).is_some()),
            text: fault_sentence(fault),
        }
    }));
    points
}

/// Returns `Let-off: 2 out, not measured. A4 and C5.`; of what is ticked off that it was left.
fn marked_sentence(state: &State, step: &Step, count: usize) -> String {
    let items = state.items(step).into_iter();
    let marked = items.filter(|i| matches!(state.item_state(step, i), ItemState::MarkedOut(_)));
    let mut notes: Vec<Note> = marked.filter_map(|i| i.on.note()).collect();
    notes.sort_unstable();
    notes.dedup();
    let which = match notes.len() {
        1..=MAX_NAMED => format!(" {}.", named(&notes)),
        _ => String::new(),
    };
    let is_tick = |id: &MeasureId| {
        let measure = state.measure(id.as_str());
        measure.is_some_and(|m| m.kind == Kind::Tick)
    };
    let what = match step.takes.iter().all(is_tick) {
        true => "to come back to",
        false => "out, not measured",
    };
    format!("{}: {count} {what}.{which}", step.name)
}

/// Returns a fault in words, with where it was carried from.
fn fault_sentence(fault: &crate::job::Remark) -> String {
    let said = format!("{}: {}", fault.on.words(), fault.text);
    let Some(origin) = &fault.origin else {
        return said;
    };
    match &origin.job_name {
        Some(name) => format!("{said} (open since the job “{name}”)"),
        None => format!("{said} (open since an earlier job)"),
    }
}

fn name_of(state: &State, measure: &MeasureId) -> String {
    let known = state.measure(measure.as_str());
    known.map_or_else(|| measure.to_string(), |m| m.name.to_string())
}

/// Returns what is out in a step: for wear grades a sentence for each kind of part, for anything else
/// one sentence with its measures.
fn out_sentences(
    state: &State,
    step: Option<(&Step, &Progress)>,
    here: &[&ValueOut],
    out: &[ValueOut],
) -> impl Iterator<Item = String> + use<> {
    let id: Option<&StepId> = step.map(|(s, _)| &s.id);
    let graded = |v: &&&ValueOut| matches!(v.on, Subject::Section(_)) && is_wear(&v.measure);
    let (wear, other): (Vec<&ValueOut>, Vec<&ValueOut>) =
        here.iter().copied().partition(|v| graded(&v));
    let mut said: Vec<String> = Vec::new();
    let left = |v: &ValueOut| {
        Part::of_wear(v.measure.as_str()).is_some_and(|part| is_left(state, part, v.on))
    };
    for of in wear.chunk_by(|a, b| a.measure == b.measure && left(a) == left(b)) {
        let word = state.measure(of[0].measure.as_str());
        let unit = state.length_unit();
        let word = word.map_or_else(String::new, |m| m.shown(of[0].value, unit));
        let sections = of.iter().map(|v| v.on);
        let name = name_of(state, &of[0].measure);
        let left = if left(of[0]) { ", left as decided" } else { "" };
        said.push(format!(
            "{name}: {word} in {}{left}.",
            sections_words(sections)
        ));
    }
    if !other.is_empty() {
        let mut counts = measures_out(state, out, id);
        counts.retain(|(name, _)| other.iter().any(|v| name_of(state, &v.measure) == *name));
        let mut text = measures_sentence(step, counts, &other);
        if other.iter().any(|v| v.measure.as_str() == "stand_in") {
            text = format!("{text} {}", stand_in_sentences(state, None).join(" "));
        }
        said.push(text);
    }
    said.into_iter()
}

/// Returns `Let-off: 3 of 88 out of tolerance. A4, C5 and D5.`, or for several measures their counts.
fn measures_sentence(
    step: Option<(&Step, &Progress)>,
    counts: Vec<(String, usize)>,
    other: &[&ValueOut],
) -> String {
    let total = other.len();
    let mut notes: Vec<Note> = other.iter().filter_map(|v| v.on.note()).collect();
    notes.sort_unstable();
    notes.dedup();
    let which = match notes.len() {
        1..=MAX_NAMED => format!(" {}.", named(&notes)),
        _ => String::new(),
    };
    match (step, counts.as_slice()) {
        (Some((step, p)), [(name, _)]) if *name == *step.name || step.takes.len() == 1 => {
            format!(
                "{}: {total} of {} out of tolerance.{which}",
                step.name, p.expected
            )
        }
        (step, counts) => {
            let each = counts
                .iter()
                .map(|(name, count)| format!("{} {count}", name.to_lowercase()));
            let each: Vec<String> = each.collect();
            let name = step.map_or("Other readings", |(s, _)| &s.name);
            format!(
                "{name}: {total} out of tolerance: {}.{which}",
                each.join(", ")
            )
        }
    }
}

fn is_wear(measure: &MeasureId) -> bool {
    Part::of_wear(measure.as_str()).is_some()
}

/// Returns a sentence for each kind of part that a step grades and that is worn and not treated; without a step for
/// those that no step of the order grades.
fn worn_sentences(state: &State, step: Option<&Step>) -> impl Iterator<Item = String> + use<> {
    let grades = |step: &Step, measure: &str| {
        step.stage == Stage::Survey && step.takes.iter().any(|m| m.as_str() == measure)
    };
    let mut said = Vec::new();
    for part in Part::ALL {
        let measure = part.wear();
        let is_here = match step {
            Some(step) => grades(step, measure),
            None => !state.order().steps().iter().any(|s| grades(s, measure)),
        };
        if is_here {
            let worn = worn_untreated(state, part).into_iter();
            let (left, open): (Vec<Subject>, Vec<Subject>) = worn
                .map(Subject::Section)
                .partition(|s| is_left(state, part, *s));
            for (worn, how) in [(open, "not treated"), (left, "left as decided")] {
                if !worn.is_empty() {
                    let name = name_of(state, &MeasureId::of(measure));
                    let sections = sections_words(worn.into_iter());
                    said.push(format!("{name}: worn in {sections}, {how}."));
                }
            }
        }
    }
    said.into_iter()
}

fn sections_words(sections: impl Iterator<Item = Subject>) -> String {
    sections_in_sentence(sections.filter_map(|on| match on {
        Subject::Section(s) => Some(usize::from(s)),
        _ => None,
    }))
}

/// Returns the steps that were not begun once the job was begun: named if they are few, counted if
/// they are many.
fn not_begun(all: &[(Step, Progress)]) -> Option<OpenPoint> {
    let idle = all.iter().filter(|(_, p)| !p.is_begun() && p.expected > 0);
    let idle: Vec<&Step> = idle.map(|(step, _)| step).collect();
    if idle.is_empty() || all.iter().all(|(_, p)| !p.is_begun()) {
        return None;
    }
    let text = match idle.len() {
        1..=MAX_NAMED => {
            let names: Vec<&str> = idle.iter().map(|s| s.name.as_ref()).collect();
            format!("Not begun: {}.", names.join("; "))
        }
        count => format!("Not begun: {count} steps."),
    };
    let step = (idle.len() == 1).then(|| idle[0].id.clone());
    Some(OpenPoint {
        kind: PointKind::NotBegun,
        step,
        text,
    })
}

fn named(notes: &[Note]) -> String {
    let names: Vec<String> = notes.iter().map(|n| n.name().to_string()).collect();
    listed(&names)
}
