//! Before and after: what was found beside what is left, measure by measure.

use super::evenness::Evenness;
use crate::job::{Job, Reading, State, Subject};
use crate::note::Note;
use crate::trade::{Measure, Occasion, Per, Place, Verdict};
use crate::unit::Value;

/// The readings of one measure at one time, in its whole small units, and their figures.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// One reading a note, rising.
    pub readings: Vec<(Note, i64)>,
    /// The figures of all of them.
    pub whole: Option<Evenness>,
    /// The figures of each section, bass first.
    pub sections: Vec<Option<Evenness>>,
}

impl Row {
    /// With its figures by the targets in force.
    pub fn of(state: &State, measure: &Measure, readings: Vec<(Note, i64)>) -> Row {
        let stands = |note, base| {
            let value = Value::from_base(measure.kind, base);
            let judged = state.judge(measure.id.as_str(), Subject::Note(note), value);
            judged.map_or(Verdict::Accepted, |j| j.verdict)
        };
        Row {
            whole: Evenness::of(&readings, stands),
            sections: Evenness::by_section(&readings, state.sections(), stands),
            readings,
        }
    }

    /// How many lie outside their accept band.
    pub fn out(&self) -> usize {
        self.whole.map_or(0, |e| e.moments.count - e.in_accept)
    }
}

/// One quantity before and after.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// What is read.
    pub measure: Measure,
    /// Whether there is a target to be in or out of.
    pub judged: bool,
    /// As found.
    pub found: Row,
    /// As left: what was read last and still holds.
    pub left: Row,
    /// How many of the readings left were read on the bench and not in the piano since.
    pub left_on_bench: usize,
}

/// What was read on a subject before any work, in the piano before the bench.
pub fn found<'a>(state: &'a State, measure: &str, on: Subject) -> Option<&'a Reading> {
    let at = |place| {
        state
            .measure_state(measure, on, place)?
            .of(Occasion::AsFound)
    };
    at(Place::Piano).or_else(|| at(Place::Bench))
}

/// What was read last on a subject and still holds, in the piano before the bench; a reading
/// that later work disturbed is nothing that was left.
pub fn left<'a>(state: &'a State, measure: &str, on: Subject) -> Option<(&'a Reading, Place)> {
    let at = |place| {
        let reading = state.measure_state(measure, on, place)?.in_effect()?;
        let holds = state.disturbed(measure, on, place).is_none();
        holds.then_some((reading, place))
    };
    at(Place::Piano).or_else(|| at(Place::Bench))
}

/// The measures that are compared note by note: numbers and grades taken on notes, in the
/// order of the work. Levels of stand-ins and strings are set once, and are not among them.
pub fn quantities(state: &State) -> Vec<&Measure> {
    let mut all: Vec<&Measure> = Vec::new();
    let order = state.order();
    for id in order.steps().iter().flat_map(|s| &s.takes) {
        let Some(measure) = state.measure(id.as_str()) else {
            continue;
        };
        let on_notes = matches!(measure.per, Per::Note | Per::Natural | Per::Sharp);
        let compares = measure.kind.is_number() || !measure.grades.is_empty();
        if on_notes && compares && all.iter().all(|m| m.id != measure.id) {
            all.push(measure);
        }
    }
    all
}

/// Every quantity that was read, before and after.
pub fn compared(job: &Job) -> Vec<Compared> {
    let state = job.state();
    let all = quantities(state).into_iter();
    all.map(|measure| compare(state, measure))
        .filter(|c| !c.found.readings.is_empty() || !c.left.readings.is_empty())
        .collect()
}

fn compare(state: &State, measure: &Measure) -> Compared {
    let id = measure.id.as_str();
    let (mut before, mut after, mut left_on_bench) = (Vec::new(), Vec::new(), 0);
    let mut judged = false;
    for note in Note::all() {
        let on = Subject::Note(note);
        judged |= state.band(id, on).is_some();
        if let Some(reading) = found(state, id, on) {
            before.push((note, reading.value.base()));
        }
        if let Some((reading, place)) = left(state, id, on) {
            after.push((note, reading.value.base()));
            left_on_bench += usize::from(place == Place::Bench);
        }
    }
    Compared {
        judged,
        found: Row::of(state, measure, before),
        left: Row::of(state, measure, after),
        left_on_bench,
        measure: measure.clone(),
    }
}
