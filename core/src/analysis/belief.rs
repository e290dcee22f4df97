//! What is known of a value, and how well: a mean and a variance for each note of a measure, from its readings, its
//! turns, and what work on other measures did to it. It decides which notes are measured again.
//!
//! **Rule** (P: the Kalman filter, Kalman 1960, with one value a note).
//! - A reading r of an unknown value is believed with its own variance `R = σ² + q²/12`, σ the standard deviation of a
//!   reading and q the step to which it is rounded. A first reading counts as the first readings of its section let
//!   expect ([`FirstReadings`]).
//! - Another reading moves the mean by `V/(V + R)` of its difference. One that lies 3.5 standard deviations off is not
//!   averaged: it stands alone.
//! - A turn of t moves the mean by `0.96·b·t`, b the response learned here: the felt takes a little back. It adds
//!   `t²(s_b² + (h b)²) + (0.025 b t)² + (0.004 b)²` to the variance: the response, how notes and turns of this hand
//!   differ ([`Response::hand`]), the felt, and the play of the screw (M: 0.96, 0.025 and 0.004).
//! - Bending or setting by eye brings it to the aim, as far off as it was where it was measured after (the mean square,
//!   less that of a reading, shrunk by four notes to a quarter of the accepted deviation, M).
//! - Work on another measure moves it by the travel balance: aftertouch by the change of dip less that of blow,
//!   more that of let-off, both over the action ratio; drop by half of the change of let-off against it, ±0.2 of it (M);
//!   checking by what the dip loses (M).
//! - A look along the row in which a note did not stand out says that it was seen within what the eye flags
//!   ([`Belief::looked`], [`Look`]).
//! - After any other work nothing is known until it is measured.
//!
//! A note is not measured again if it is out with a probability of at most 0.03, lies within its aim, at least three
//! turns of its section were measured (of what is bent by eye, three of the action: the eye is the same everywhere), and the
//! alarm is silent ([`Alarm`]). What was measured is measured a second time if it is out with a probability of more than 0.05.
//! **Range**: lengths, on notes. **Error**: a screw turned the wrong way is not seen until the row is looked along; so a
//! final look is proposed, and these probabilities count on it: on invented actions it leaves one in thirty of what is out,
//! one in six at doubled noise (`docs/SUMS.md`).
//!
//! A turn settles its own note as it is recorded ([`after_correction`]), by an entry; nothing that was recorded before is
//! read in another way because the setup or the release changed.

mod look;
mod model;
mod repeat;
mod walk;

pub use look::{FinalLook, Look, final_look, missed_by_look};
pub use model::{Alarm, Belief, Repeatability, Update, normal_below, turned};
pub use repeat::{repeatability, twice};

use crate::job::{EntryKind, Item, ItemState, State, Subject};
use crate::note::Note;
use crate::trade::{Band, Occasion, Place, Step};
use crate::unit::{Length, Value};

#[cfg(doc)]
use super::learned::FirstReadings;
#[cfg(doc)]
use super::response::Response;

/// What is said of a note that is not measured again.
pub const NOT_AGAIN: &str = "not measured again: the turn is known well here";

/// The largest probability of being out at which a note is not measured again (M, by `docs/SUMS.md`).
const MAX_OUT: f64 = 0.03;
/// The probability of being out beyond which a note that was measured is measured a second time (M).
const EDGE: f64 = 0.05;
/// The probability of being out beyond which a note that was not measured again is measured after all. It is larger, so
/// that what is learned from note to note does not change the mind each time, and since the final look sees these notes
/// anyway: at 0.1 more were measured and as many were out at the end (M, by `docs/SUMS.md`).
const DOUBTFUL: f64 = 0.2;

/// What is known of one measure at one place, note by note. [`Beliefs::of`] computes it.
///
/// ```
/// use evenhand_core::analysis::belief::Beliefs;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let mut job = Job::new();
/// let (on, place) = (Subject::Note(Note::FIRST), Place::Bench);
/// let (let_off, value) = (MeasureId::of("let_off"), Value::Nm(Length::from_mm_hundredths(210)));
/// job.apply(job.reading(ReplicaId::new(7), 0, let_off, on, place, Occasion::Working, value, "2.1"));
/// let known = Beliefs::of(job.state(), "let_off", place).unwrap();
/// // 0.1 mm of a reading, and what rounding to 0.1 mm adds.
/// let belief = known.note(Note::FIRST).unwrap();
/// assert!((belief.mean - 2.1).abs() < 1e-12 && (belief.variance - 0.01 - 0.01 / 12.0).abs() < 1e-12);
/// assert!(!known.is_known(Note::FIRST));
/// ```
pub struct Beliefs<'a> {
    state: &'a State,
    measure: &'a str,
    place: Place,
    notes: Vec<Option<Belief>>,
    alarm: Alarm,
    /// Of each section, whether enough of its turns were measured.
    verified: Vec<bool>,
}

impl<'a> Beliefs<'a> {
    /// Computes what is known of a measure, or returns `None` if it is not a length.
    pub fn of(state: &'a State, measure: &'a str, place: Place) -> Option<Beliefs<'a>> {
        let walk = walk::Walker::new(state, measure, place)?;
        let mut seen = Vec::new();
        let notes = Note::all().map(|note| walk.note(note, &mut seen).belief);
        let notes = notes.collect();
        seen.sort_unstable_by_key(|(position, _)| *position);
        let mut alarm = Alarm::default();
        seen.iter().for_each(|(_, z)| alarm.add(*z));
        Some(Beliefs {
            state,
            measure,
            place,
            notes,
            alarm,
            verified: walk.verified(),
        })
    }

    /// Returns what is known of a note, or `None` if nothing is.
    pub fn note(&self, note: Note) -> Option<Belief> {
        self.notes[note.index()]
    }

    /// Returns whether readings fall farther from what is expected than they should.
    pub fn alarm(&self) -> Alarm {
        self.alarm
    }

    /// Returns the probability that a note is out, or `None` if nothing is known of it or it has no target.
    pub fn out(&self, note: Note) -> Option<f64> {
        let band = self.state.band(self.measure, Subject::Note(note))?;
        let (low, high) = limits(band.accept);
        Some(self.note(note)?.out(low, high))
    }

    /// Returns `true` if a note that was worked on need not be measured again.
    pub fn is_known(&self, note: Note) -> bool {
        self.is_good(note) && !self.alarm.sounds()
    }

    fn is_good(&self, note: Note) -> bool {
        let section = self.state.sections().of(note);
        let in_aim = |belief: Belief, band: Band| {
            let (low, high) = limits(band.within);
            low <= belief.mean && belief.mean <= high
        };
        let band = self.state.band(self.measure, Subject::Note(note));
        self.verified.get(section) == Some(&true)
            && self
                .note(note)
                .zip(band)
                .is_some_and(|(b, band)| in_aim(b, band))
            && self.out(note).is_some_and(|p| p <= MAX_OUT)
    }

    /// Returns `true` if a note that was measured lies so near a limit that a second reading should decide.
    pub fn is_at_the_edge(&self, note: Note) -> bool {
        let band = self.state.band(self.measure, Subject::Note(note));
        let outside = |belief: Belief, band: Band| {
            let (low, high) = limits(band.accept);
            belief.mean < low || high < belief.mean
        };
        let is_out = self
            .note(note)
            .zip(band)
            .is_some_and(|(b, band)| outside(b, band));
        !is_out && self.out(note).is_some_and(|p| p > EDGE)
    }

    /// Returns `true` if a note is at the edge and was measured no more than once since it was worked on.
    pub fn asks_again(&self, note: Note) -> bool {
        let own = self
            .state
            .measure_state(self.measure, Subject::Note(note), self.place);
        self.is_at_the_edge(note)
            && own.is_some_and(|own| {
                let worked = own.changes().next_back().map(|c| c.position);
                let after = own.readings().filter(|r| worked < Some(r.position));
                after.filter(|r| r.occasion == Occasion::Working).count() < 2
            })
    }

    /// Returns the place that it was computed for.
    pub fn place(&self) -> Place {
        self.place
    }
}

fn limits((low, high): (Option<i64>, Option<i64>)) -> (f64, f64) {
    let mm = |nm: i64| Length::from_nm(nm).mm();
    (
        low.map_or(f64::NEG_INFINITY, mm),
        high.map_or(f64::INFINITY, mm),
    )
}

/// Returns the entries to record right after a correction: one for each measure of the note that it moved and that need
/// not be measured again. None if the job is set up to measure every note ([`Setup::measure_all`](crate::job::Setup)).
///
/// It looks at this correction only: in a job begun before, what is to measure stays to measure, whatever is known of it.
///
/// ```
/// use evenhand_core::analysis::belief::after_correction;
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// // Nothing was turned and measured yet, so nothing is known.
/// let job = Job::new();
/// assert!(after_correction(job.state(), "let_off", Subject::Note(Note::FIRST), Place::Bench).is_empty());
/// ```
pub fn after_correction(state: &State, measure: &str, on: Subject, place: Place) -> Vec<EntryKind> {
    let every_note = state.setup().measure_all == Some(true);
    let Some(note) = on.note().filter(|_| !every_note) else {
        return Vec::new();
    };
    let own = std::iter::once(measure);
    let moved = own.chain(walk::moved_by(measure).iter().copied());
    let known = |measure: &str| {
        // Only what was measured or looked along before, and is to measure again.
        let view = state.looked(measure);
        let read = view.measure_state(on, place).and_then(|s| s.in_effect());
        let settled = read.map(|r| r.position).max(view.latest_look(on, place))?;
        view.disturbed_since(settled, on, place)?;
        let beliefs = Beliefs::of(state, measure, place)?;
        let belief = beliefs.note(note).filter(|_| beliefs.is_known(note))?;
        Some(EntryKind::NotRemeasured {
            measure: state.measure(measure)?.id.clone(),
            note,
            place,
            expected_nm: Length::from_mm(belief.mean),
        })
    };
    moved.filter_map(known).collect()
}

/// Returns the notes of a step to measure once more: those that were not measured again and that what was learned from
/// the others makes less certain, and those that were measured once since their turn and lie at the edge.
pub fn doubtful(state: &State, step: &Step) -> Vec<Item> {
    let place = step.place_or(state.place());
    let mut all = Vec::new();
    if step.occasion != Occasion::Working {
        return all;
    }
    for measure in &step.takes {
        let Some(known) = Beliefs::of(state, measure.as_str(), place) else {
            continue;
        };
        for item in state.items(step) {
            let (true, Some(note)) = (item.measure == *measure, item.on.note()) else {
                continue;
            };
            let is_doubtful = match state.item_state(step, &item) {
                ItemState::Swept(s) if s.expected.is_some() => {
                    known.out(note).is_none_or(|p| p > DOUBTFUL)
                }
                ItemState::Read(..) => known.asks_again(note),
                _ => false,
            };
            if is_doubtful {
                all.push(item);
            }
        }
    }
    all
}

/// Returns what a note that was not measured again should read, in words: `should read 45.2, usually 45.0 to 45.4`. The
/// range holds two readings of three.
pub fn should_read(state: &State, item: &Item, place: Place, expected: Length) -> Option<String> {
    let measure = state.measure(item.measure.as_str())?;
    let known = Beliefs::of(state, measure.id.as_str(), place)?;
    let noise = repeat::noise(state, measure.id.as_str())?;
    let sd = Length::from_mm((known.note(item.on.note()?)?.variance + noise).sqrt());
    let shown = |length| measure.shown(Value::Nm(length), state.length_unit());
    let (low, high) = (expected - sd, expected + sd);
    Some(format!(
        "should read {}, usually {} to {}",
        shown(expected),
        shown(low),
        shown(high)
    ))
}

#[cfg(test)]
mod tests;
