//! What was done, and what was left, in the words of a letter.

use super::super::handover::{capital, in_sentence};
use super::super::listed::listed;
use super::super::open_points::values_out;
use super::found::{name, part_where};
use crate::job::{ItemState, Progress, State, Subject};
use crate::note::Note;
use crate::trade::{Decision, Measure, Occasion, Part, Stage, Step, Verdict};
use crate::unit::{Kind, Value};

/// The most notes that are named one by one.
const MAX_NAMED: usize = 5;
/// The most steps that are named in a letter.
const MAX_STEPS: usize = 8;

/// What was done to one measure, note by note.
pub(super) struct Row {
    pub measure: Measure,
    /// The notes on which the job takes it.
    expected: usize,
    /// How it stands now: a verdict, or `None` if it is to re-measure.
    now: Vec<(Note, Option<Verdict>)>,
    /// The notes that were looked along or done in one stroke.
    pub swept: Vec<Note>,
    /// How many notes were adjusted.
    adjusted: usize,
}

impl Row {
    fn count(&self, verdict: Verdict) -> usize {
        self.now
            .iter()
            .filter(|(_, now)| *now == Some(verdict))
            .count()
    }
}

/// Returns the measures that were worked on, in the order of the job: numbers and grades taken on notes in a step
/// after the reconditioning. What a later step took counts.
pub(super) fn rows(state: &State, all: &[(Step, Progress)]) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    let regulating = |(step, p): &&(Step, Progress)| {
        step.stage >= Stage::Align && step.occasion != Occasion::AsFound && p.is_begun()
    };
    for (step, _) in all.iter().filter(regulating) {
        for item in state.items(step) {
            let Some((measure, note)) = state.measure(item.measure.as_str()).zip(item.on.note())
            else {
                continue;
            };
            if matches!(measure.kind, Kind::Tick | Kind::Good) {
                continue;
            }
            let at = rows.iter().position(|r| r.measure.id == measure.id);
            let at = at.unwrap_or_else(|| {
                rows.push(Row {
                    measure: measure.clone(),
                    expected: 0,
                    now: Vec::new(),
                    swept: Vec::new(),
                    adjusted: 0,
                });
                rows.len() - 1
            });
            let now = match state.item_state(step, &item) {
                ItemState::NotRead | ItemState::MarkedOut(_) => continue,
                ItemState::Read(_, judged) => {
                    Some(judged.map_or(Verdict::Acceptable, |j| j.verdict))
                }
                ItemState::Swept(_) => {
                    rows[at].swept.push(note);
                    Some(Verdict::OnTarget)
                }
                ItemState::Remeasure(..) | ItemState::SweepAgain(..) => None,
            };
            match rows[at].now.iter_mut().find(|(n, _)| *n == note) {
                Some(of_note) => of_note.1 = now,
                None => rows[at].now.push((note, now)),
            }
        }
    }
    rows.retain(|row| !row.now.is_empty());
    for row in &mut rows {
        row.expected = expected(state, all, &row.measure);
        let notes = row.now.iter().map(|(note, now)| (*note, *now));
        row.adjusted = notes
            .filter(|of| is_adjusted(state, &row.measure, *of))
            .count();
    }
    rows
}

/// Returns the largest number of notes on which a step of the job takes a measure.
fn expected(state: &State, all: &[(Step, Progress)], measure: &Measure) -> usize {
    let of_step = |(step, _): &(Step, Progress)| {
        let items = state.items(step).into_iter();
        items.filter(|item| item.measure == measure.id).count()
    };
    all.iter().map(of_step).max().unwrap_or(0)
}

/// Returns whether a note was adjusted: recorded so, or found out and now in.
fn is_adjusted(state: &State, measure: &Measure, (note, now): (Note, Option<Verdict>)) -> bool {
    let (id, on) = (measure.id.as_str(), Subject::Note(note));
    let places = [crate::trade::Place::Piano, crate::trade::Place::Bench];
    let mut known = places
        .into_iter()
        .filter_map(|place| state.measure_state(id, on, place));
    let recorded = known.any(|known| known.changes().next().is_some());
    let found = || {
        let found = state.found(id, on)?;
        Some(state.judge(id, on, found.value)?.verdict)
    };
    recorded || (found() == Some(Verdict::Out) && now.is_some_and(|now| now != Verdict::Out))
}

/// Returns `1 note`, `88 notes`.
fn notes(count: usize) -> String {
    match count {
        1 => "1 note".to_owned(),
        count => format!("{count} notes"),
    }
}

/// Returns what was done: each measure with its counts, then the other steps that are done.
pub(super) fn sentences(rows: &[Row], all: &[(Step, Progress)]) -> Vec<String> {
    let mut said: Vec<String> = rows.iter().map(row_sentence).collect();
    let also = !said.is_empty();
    said.extend(steps(all).map(|steps| match also {
        true => format!("Also done: {steps}"),
        false => capital(&steps),
    }));
    said
}

/// Returns `Let-off: checked on all 88 notes, 31 adjusted. Now 85 are on target, 3 acceptable.`
fn row_sentence(row: &Row) -> String {
    let checked = row.now.len();
    let on = match checked == row.expected {
        true => format!("all {}", notes(checked)),
        false => format!("{checked} of {}", notes(row.expected)),
    };
    let adjusted = match row.adjusted {
        0 => String::new(),
        count => format!(", {count} adjusted"),
    };
    let counts = [
        (Verdict::OnTarget, "on target"),
        (Verdict::Acceptable, "acceptable"),
        (Verdict::Out, "out"),
    ];
    let counts = counts.map(|(verdict, word)| (row.count(verdict), word));
    let mut counts = counts.into_iter().filter(|(count, _)| *count > 0);
    let first = counts.next().map(|(count, word)| match count {
        1 => format!(" Now 1 is {word}"),
        count => format!(" Now {count} are {word}"),
    });
    let rest: String = counts
        .map(|(count, word)| format!(", {count} {word}"))
        .collect();
    let now = first.map_or_else(String::new, |first| format!("{first}{rest}."));
    format!("{}: checked on {on}{adjusted}.{now}", name(&row.measure))
}

/// Moves of the action and other work of which no client asks.
const UNSAID: [&str; 4] = ["action_in", "stack_on", "stand_in", "play_in"];

/// Returns the steps that are done and not said by their counts, as the end of a sentence: marks and ticks.
fn steps(all: &[(Step, Progress)]) -> Option<String> {
    let is_said = |(step, p): &&(Step, Progress)| {
        let is_work = step.stage >= Stage::Recondition && step.occasion == Occasion::Working;
        let is_number = |id: &str| matches!(id, "key_pin" | "climate_bench" | "climate_return");
        is_work
            && p.is_recorded()
            && p.expected > 0
            && !UNSAID.contains(&step.id.as_str())
            && !is_number(step.id.as_str())
    };
    let done = all
        .iter()
        .filter(is_said)
        .filter(|(step, _)| is_ticked(step));
    let words = done.map(|(step, p)| {
        let name = in_sentence(&step.name);
        // A whole row needs no count.
        match p.expected {
            count @ 2..Note::COUNT if step.takes.len() == 1 => format!("{name} ({count})"),
            _ => name,
        }
    });
    let words: Vec<String> = words.collect();
    let (named, rest) = words.split_at(words.len().min(MAX_STEPS));
    let more = match rest.len() {
        0 => String::new(),
        count => format!("; and {count} more"),
    };
    (!named.is_empty()).then(|| format!("{}{more}.", named.join("; ")))
}

/// Returns whether a step takes no number and no grade on notes, so that only its name can be said.
fn is_ticked(step: &Step) -> bool {
    let trade = crate::trade::Instrument::Grand.measures().iter();
    let mut measures = trade.chain(crate::trade::Instrument::Upright.measures());
    !measures.any(|m| step.takes.contains(&m.id) && !matches!(m.kind, Kind::Tick | Kind::Good))
}

/// Returns what was left and why: what is out still, what is not checked while the work goes on, what was found out and
/// not set, parts that are worn and not treated, and open faults.
pub(super) fn left(
    state: &State,
    rows: &[Row],
    all: &[(Step, Progress)],
    goes_on: bool,
) -> Vec<String> {
    let mut said: Vec<String> = rows.iter().filter_map(still_out).collect();
    let unchecked = rows
        .iter()
        .filter(|row| goes_on && row.now.len() < row.expected);
    said.extend(unchecked.map(|row| {
        let count = row.expected - row.now.len();
        let is = if count == 1 { "is" } else { "are" };
        let of = notes(row.expected);
        format!(
            "{}: {count} of {of} {is} not checked yet.",
            name(&row.measure)
        )
    }));
    said.extend(not_worked_on(state, rows, all));
    said.extend(worn(state));
    let until = match goes_on {
        true => "still to be seen to",
        false => "noted for the next visit",
    };
    said.extend(state.open_faults().map(|fault| {
        let text = fault.text.trim().trim_end_matches('.');
        let text = if text.is_empty() { "a fault" } else { text };
        match fault.on {
            Subject::Note(note) => format!("Note {note}: {text}, {until}."),
            Subject::Section(_) => format!("{}: {text}, {until}.", fault.on.words()),
            Subject::Whole => format!("{text}, {until}."),
        }
    }));
    said
}

/// Returns ` (A1, C4 and E5)`, or nothing for many notes.
fn named(mut of: Vec<Note>) -> String {
    of.sort_unstable();
    of.dedup();
    let names: Vec<String> = of.iter().map(|n| n.name().to_string()).collect();
    match names.len() {
        1..=MAX_NAMED => format!(" ({})", listed(&names)),
        _ => String::new(),
    }
}

fn still_out(row: &Row) -> Option<String> {
    let out = row.now.iter().filter(|(_, now)| *now == Some(Verdict::Out));
    let out: Vec<Note> = out.map(|(note, _)| *note).collect();
    (!out.is_empty()).then(|| {
        let count = notes(out.len());
        let is = if out.len() == 1 { "is" } else { "are" };
        format!(
            "{}: {count}{} {is} still out.",
            name(&row.measure),
            named(out)
        )
    })
}

/// Returns a sentence on the quantities that were found out and that a step of the job sets but nobody did yet, and one
/// on those that are no part of the work.
fn not_worked_on(state: &State, rows: &[Row], all: &[(Step, Progress)]) -> Vec<String> {
    let mut counts: Vec<(bool, String, usize)> = Vec::new();
    for value in values_out(state) {
        let worked = rows.iter().any(|row| row.measure.id == value.measure);
        let Some(measure) = state.measure(value.measure.as_str()) else {
            continue;
        };
        if worked || value.on.note().is_none() {
            continue;
        }
        let sets = |(step, _): &(Step, Progress)| {
            step.occasion == Occasion::Working && step.takes.contains(&value.measure)
        };
        let (is_set, name) = (all.iter().any(sets), name(measure).to_lowercase());
        match counts.iter_mut().find(|(_, of, _)| *of == name) {
            Some((.., count)) => *count += 1,
            None => counts.push((is_set, name, 1)),
        }
    }
    let words = [
        (true, "Out, and not set yet"),
        (false, "Out, and not part of this work"),
    ];
    let said = words.into_iter().filter_map(|(is_set, words)| {
        let those = counts.iter().filter(|(of, ..)| *of == is_set);
        let each = those.map(|(_, name, count)| format!("{name} on {}", notes(*count)));
        let each: Vec<String> = each.collect();
        (!each.is_empty()).then(|| format!("{words}: {}.", listed(&each)))
    });
    said.collect()
}

/// Returns what is worn and stays so, as decided or because nothing was decided.
fn worn(state: &State) -> Vec<String> {
    let sections = || 0..state.sections().count();
    let on = |section: usize| Subject::Section(section as u8);
    let is_worn = |part: Part, section: usize| {
        let read = state.surveyed(part.wear(), on(section));
        read.is_some_and(|r| matches!(r.value, Value::Grade(1..)))
    };
    let decided = |part: Part, section: usize| {
        let read = state.surveyed(part.decision(), on(section))?;
        Decision::of(read.value)
    };
    let is_treated = |part: Part| {
        let mut works = std::iter::once(part.renewal()).chain(part.treatments().iter().copied());
        works.any(|work| {
            let step = state
                .order()
                .steps()
                .iter()
                .find(|s| s.takes.iter().any(|m| m.as_str() == work));
            step.is_some_and(|step| state.progress_of(step).is_recorded())
        })
    };
    let all = [
        (Some(Decision::Leave), "Worn, left as they are, as agreed"),
        (
            Some(Decision::Renew),
            "We propose to renew, see the estimate",
        ),
        (Some(Decision::Recondition), "We propose to recondition"),
        (None, "Worn, noted for a later visit"),
    ];
    let said = all.into_iter().filter_map(|(decision, words)| {
        let left = decision == Some(Decision::Leave);
        let parts: Vec<String> = Part::ALL
            .into_iter()
            .filter_map(|part| {
                let here = sections().filter(|s| {
                    let is_so = decided(part, *s) == decision;
                    is_worn(part, *s) && is_so && (left || !is_treated(part))
                });
                let here: Vec<usize> = here.collect();
                (!here.is_empty()).then(|| part_where(state, part, &here))
            })
            .collect();
        (!parts.is_empty()).then(|| format!("{words}: {}.", parts.join("; ")))
    });
    said.collect()
}
