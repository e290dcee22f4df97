//! Before and after: the readings as found beside those as left, by measure.

use super::evenness::Evenness;
use crate::job::{Job, Reading, State, Subject};
use crate::note::Note;
use crate::trade::{Measure, Occasion, Per, Place, Verdict};
use crate::unit::Value;

/// The readings of one measure on one occasion, in its stored unit, with their statistics. The
/// default is no readings.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// One reading per note, from the bass up.
    pub readings: Vec<(Note, i64)>,
    /// The statistics of all readings, or `None` if there are none.
    pub whole: Option<Evenness>,
    /// The statistics of each section, bass first.
    pub sections: Vec<Option<Evenness>>,
}

impl Row {
    /// Computes the statistics by the targets in effect. A reading without a target counts as
    /// acceptable.
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

    /// Returns how many readings are out of tolerance.
    pub fn out(&self) -> usize {
        self.whole.map_or(0, |e| e.moments.count - e.in_accept)
    }
}

/// One measure before and after the work.
#[derive(Clone, Debug, PartialEq)]
pub struct Compared {
    /// The measure.
    pub measure: Measure,
    /// Whether it has a target on any note.
    pub judged: bool,
    /// The readings as found.
    pub found: Row,
    /// The readings as left: the latest that still hold.
    pub left: Row,
    /// How many of the readings as left were taken on the bench and not in the piano since.
    pub left_on_bench: usize,
}

/// Returns the reading on a subject from before any work, in the piano if there is one, otherwise
/// on the bench.
pub fn found<'a>(state: &'a State, measure: &str, on: Subject) -> Option<&'a Reading> {
    let at = |place| {
        state
            .measure_state(measure, on, place)?
            .of(Occasion::AsFound)
    };
    at(Place::Piano).or_else(|| at(Place::Bench))
}

/// Returns the latest reading on a subject that still holds, in the piano if there is one,
/// otherwise on the bench. A disturbed reading does not count.
pub fn left<'a>(state: &'a State, measure: &str, on: Subject) -> Option<(&'a Reading, Place)> {
    let at = |place| {
        let reading = state.measure_state(measure, on, place)?.in_effect()?;
        let holds = state.disturbed(measure, on, place).is_none();
        holds.then_some((reading, place))
    };
    at(Place::Piano).or_else(|| at(Place::Bench))
}

/// Returns the measures that are compared note by note, in the order of the work: numbers and
/// grades taken on notes. Heights of stand-ins and strings are set once and not among them.
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

/// Returns every measure that was read, before and after.
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
