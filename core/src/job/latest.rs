//! What was found of a measure on a subject, and what is known of it now, over both places and all
//! occasions.

use super::{Cause, Judged, LogPosition, Reading, State, Subject};
use crate::trade::{Occasion, Place};
use crate::unit::Value;

/// What is known of a measure on a subject now: the latest reading of the work or as left, otherwise
/// the one from the survey.
///
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Kind, Value};
///
/// let (on, bench) = (Subject::Note(Note::FIRST), Place::Bench);
/// let mut job = Job::new();
/// for (at_ms, nm) in [(1_000, 3_000_000), (2_000, 2_000_000)] {
///     let value = Value::from_base(Kind::Length, nm);
///     let let_off = MeasureId::of("let_off");
///     job.apply(job.reading(ReplicaId::new(7), at_ms, let_off, on, bench, Occasion::Working, value, ""));
/// }
/// let state = job.state();
/// assert_eq!(state.found("let_off", on).unwrap().value.base(), 3_000_000);
/// let latest = state.latest("let_off", on).unwrap();
/// assert_eq!(latest.reading.value.base(), 2_000_000);
/// assert!(latest.cause.is_none() && !latest.is_out());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Latest<'a> {
    /// The reading.
    pub reading: &'a Reading,
    /// Where the action was.
    pub place: Place,
    /// The reading against the target in effect, or `None` without a target.
    pub judged: Option<Judged>,
    /// The later work because of which the reading no longer holds, or `None` if it holds.
    pub cause: Option<Cause>,
}

impl Latest<'_> {
    /// Returns `true` if the reading holds and is out of tolerance.
    pub fn is_out(&self) -> bool {
        self.cause.is_none() && self.was_out()
    }

    /// Returns `true` if the reading is out of tolerance, whether or not it still holds.
    pub fn was_out(&self) -> bool {
        self.judged
            .is_some_and(|j| j.verdict == crate::trade::Verdict::Out)
    }
}

const PLACES: [Place; 2] = [Place::Piano, Place::Bench];

impl State {
    /// Returns the survey's reading on a subject: in the piano if there is one, otherwise on the
    /// bench.
    pub fn surveyed(&self, measure: &str, on: Subject) -> Option<&Reading> {
        self.surveyed_at(measure, on).map(|(reading, _)| reading)
    }

    /// As [`State::surveyed`], with the place.
    fn surveyed_at(&self, measure: &str, on: Subject) -> Option<(&Reading, Place)> {
        let at = |place| {
            let measure_state = self.measure_state(measure, on, place)?;
            Some((measure_state.of(Occasion::AsFound)?, place))
        };
        PLACES.into_iter().find_map(at)
    }

    /// Returns what was found on a subject: the survey's reading, otherwise the first reading of
    /// the job, at either place. Of a section that was graded again, the last grade before any work
    /// of the job.
    ///
    /// Work comes first where it was adjusted before it was first read, and where a record is itself
    /// work, such as a tick: there `None`.
    pub fn found(&self, measure: &str, on: Subject) -> Option<&Reading> {
        self.found_at(measure, on).map(|(reading, _)| reading)
    }

    /// As [`State::found`], with the place.
    pub(crate) fn found_at(&self, measure: &str, on: Subject) -> Option<(&Reading, Place)> {
        self.found_before(measure, on, || self.first_work())
    }

    /// As [`State::found_at`], for many subjects: `first_work` is [`State::first_work`], which looks through all
    /// measures.
    pub(super) fn found_before(
        &self,
        measure: &str,
        on: Subject,
        first_work: impl FnOnce() -> Option<LogPosition>,
    ) -> Option<(&Reading, Place)> {
        let surveyed = self.surveyed_at(measure, on);
        if let (Some(latest), Subject::Section(_)) = (surveyed, on) {
            let graded = self.graded_before(measure, on, first_work());
            return Some(graded.unwrap_or(latest));
        }
        if surveyed.is_some() || self.measure(measure).is_none_or(|m| m.records_work) {
            return surveyed;
        }
        let states = || {
            let at = |place| Some((self.measure_state(measure, on, place)?, place));
            PLACES.into_iter().filter_map(at)
        };
        let first = states()
            .filter_map(|(s, place)| Some((s.readings().next()?, place)))
            .min_by_key(|(r, _)| r.position)?;
        let mut adjusted = states().filter_map(|(s, _)| s.changes().next());
        let untouched = adjusted.all(|change| first.0.position < change.position);
        untouched.then_some(first)
    }

    /// Returns the position of the first work of the job: an adjustment, or a reading that is not as found.
    pub(super) fn first_work(&self) -> Option<LogPosition> {
        self.measures.iter().filter_map(|m| m.first_work()).min()
    }

    /// Returns the last survey reading before a position in the log, or of all where there is no work yet.
    fn graded_before(
        &self,
        measure: &str,
        on: Subject,
        work: Option<LogPosition>,
    ) -> Option<(&Reading, Place)> {
        let at = |place| {
            let measure_state = self.measure_state(measure, on, place)?;
            let last = match work {
                Some(work) => measure_state.of_before(Occasion::AsFound, work),
                None => measure_state.of(Occasion::AsFound),
            };
            Some((last?, place))
        };
        let found = PLACES.into_iter().filter_map(at);
        found.max_by_key(|(r, _)| r.position)
    }

    /// Returns what is known of a measure on a subject now, or `None` if it was not measured. A tick
    /// that was removed counts as not measured.
    pub fn latest(&self, measure: &str, on: Subject) -> Option<Latest<'_>> {
        let looked = self.looked(measure);
        let (reading, place) = self.latest_at(measure, on)?;
        (reading.value != Value::Done(false)).then(|| Latest {
            reading,
            place,
            judged: looked.judge(on, reading.value),
            cause: looked.disturbed_since(reading.position, on, place),
        })
    }

    /// Returns the reading that [`State::latest`] judges, also a tick that was removed.
    pub(super) fn latest_reading(&self, measure: &str, on: Subject) -> Option<&Reading> {
        self.latest_at(measure, on).map(|(reading, _)| reading)
    }

    fn latest_at(&self, measure: &str, on: Subject) -> Option<(&Reading, Place)> {
        let at = |place| Some((self.measure_state(measure, on, place)?.in_effect()?, place));
        let in_effect = PLACES.into_iter().filter_map(at);
        in_effect
            .max_by_key(|(r, _)| r.position)
            .or_else(|| self.surveyed_at(measure, on))
    }

    /// Returns the measures that were read or adjusted: those of the instrument in the order of its
    /// steps, then others in the order of their first entry.
    pub fn recorded_in_order(&self) -> Vec<&crate::trade::MeasureId> {
        let steps = self.instrument().steps();
        let place = |id: &crate::trade::MeasureId| {
            let taken = steps.iter().enumerate().find_map(|(step, s)| {
                let taken = s.takes.iter().position(|m| m == id)?;
                Some((step, taken))
            });
            taken.unwrap_or((steps.len(), 0))
        };
        let mut all: Vec<_> = self.recorded().collect();
        all.sort_by_key(|id| place(id));
        all
    }
}
