//! How a measure changed since an earlier job, and when to check again.

use super::super::compare::ReadingSet;
use super::super::evenness::Moments;
use crate::trade::Measure;

/// Of fewer notes no pace is told (M).
pub const MIN_NOTES: usize = 8;

/// The direction in which a measure changed. There is no default.
///
/// ```
/// use evenhand_core::analysis::drift::{Direction, drift, next_job};
/// use evenhand_core::job::{Job, JobId, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let phone = ReplicaId::new(7);
/// let read = |job: &mut Job, note, occasion, mm: i64| {
///     let value = Value::Nm(Length::from_mm_hundredths(100 * mm));
///     let on = Subject::Note(note);
///     job.apply(job.reading(phone, 0, MeasureId::of("blow"), on, Place::Piano, occasion, value, ""));
/// };
/// // On a grand no source tells which way wear moves the blow.
/// for (found, expected) in [(47, Direction::Moved), (45, Direction::Stayed), (43, Direction::Moved)] {
///     let (mut first, mut next) = (Job::new().with_id(JobId::new(1)), Job::new());
///     Note::all().take(2).for_each(|note| read(&mut first, note, Occasion::AsLeft, 45));
///     next_job(&first).into_iter().for_each(|kind| { next.apply(next.draft(phone, 0, kind)); });
///     Note::all().take(2).for_each(|note| read(&mut next, note, Occasion::AsFound, found));
///     assert_eq!(drift(&next).unwrap().quantities[0].direction, expected);
/// }
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// By no more than the uncertainty of the readings.
    Stayed,
    /// In the direction of wear.
    Wear,
    /// Against the direction of wear: it was set, or the climate changed it.
    AgainstWear,
    /// It changed, and no rule gives the direction of wear.
    Moved,
}

/// One measure then and now, on the notes that were measured both times: at least one. Part of [`Drift`]; it has no
/// default.
///
/// ```
/// use evenhand_core::analysis::drift::{drift, next_job};
/// use evenhand_core::job::{Job, JobId, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (phone, blow, on) = (ReplicaId::new(7), MeasureId::of("blow"), Subject::Note(Note::FIRST));
/// let mm = |mm: i64| Value::Nm(Length::from_mm_hundredths(100 * mm));
/// let (mut first, mut next) = (Job::new().with_id(JobId::new(1)), Job::new());
/// first.apply(first.reading(phone, 0, blow.clone(), on, Place::Bench, Occasion::Working, mm(45), "45"));
/// for kind in next_job(&first) {
///     next.apply(next.draft(phone, 0, kind));
/// }
/// next.apply(next.reading(phone, 0, blow, on, Place::Piano, Occasion::AsFound, mm(48), "48"));
/// let found = &drift(&next).unwrap().quantities[0];
/// assert_eq!((found.change.mean, found.went_out, found.then_on_bench), (3_000_000.0, 1, 1));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Drifted {
    /// The measure.
    pub measure: Measure,
    /// The readings as left then.
    pub then: ReadingSet,
    /// The readings as found today.
    pub now: ReadingSet,
    /// The change, today minus then, over all notes: mean and standard deviation in the stored
    /// unit.
    pub change: Moments,
    /// The change in each section, bass first.
    pub sections: Vec<Option<Moments>>,
    /// The direction of the change.
    pub direction: Direction,
    /// How many notes were on target or acceptable then and are out today.
    pub went_out: usize,
    /// How many of the earlier readings were taken on the bench.
    pub then_on_bench: usize,
}

/// A suggested time until the next check, in months, between 2 and 36. [`drift()`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::drift::{drift, next_job};
/// use evenhand_core::job::{Job, JobId, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// const YEAR_MS: i64 = 365 * 86_400_000;
/// let phone = ReplicaId::new(7);
/// let read = |job: &mut Job, at_ms, occasion, notes, hundredths| for note in Note::all().take(notes) {
///     let (on, value) = (Subject::Note(note), Value::Nm(Length::from_mm_hundredths(hundredths)));
///     job.apply(job.reading(phone, at_ms, MeasureId::of("blow"), on, Place::Piano, occasion, value, ""));
/// };
/// let of = |notes| {
///     let (mut first, mut next) = (Job::new().with_id(JobId::new(1)), Job::new());
///     read(&mut first, 0, Occasion::AsLeft, notes, 4500);
///     for kind in next_job(&first) {
///         next.apply(next.draft(phone, YEAR_MS, kind));
///     }
///     read(&mut next, YEAR_MS, Occasion::AsFound, notes, 4550);
///     drift(&next).unwrap()
/// };
/// // Half of the way to the limit in a year, each note alike: all of it in two.
/// assert_eq!(of(8).interval.unwrap().months, 24);
/// // Of few notes no pace is known.
/// assert!(of(7).interval.is_none() && of(7).is_of_too_few());
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Interval {
    /// The suggested time: at the fastest pace that the readings allow.
    pub months: u32,
    /// The reason, as a sentence.
    pub reason: String,
}

/// Returns the standard error of the mean change, or `None` for a single note.
pub(super) fn standard_error(change: &Moments) -> Option<f64> {
    Some(change.sd? / (change.count as f64).sqrt())
}
