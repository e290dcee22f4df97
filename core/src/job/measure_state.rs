//! The state of one measure of one subject at one place: its readings and adjustments.

use super::concurrent::{self, Known, Statement};
use super::mark::Marks;
use super::{Correction, EntryId, LogPosition};
use crate::trade::{Measure, Occasion};
use crate::unit::{Turns, Value};

/// How many earlier readings are searched for the one that a reading supersedes: more
/// than a note has in any job, and few enough that no file can make a tap slow.
const MAX_LOOKBACK: usize = 64;

/// A reading, as recorded in the log.
///
/// It has no default; [`MeasureState`] lists readings by position.
///
/// ```
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let value = Value::Nm(Length::from_nm(45_000_000));
/// let (blow, on) = (MeasureId::of("blow"), Subject::Section(0));
/// let mut job = Job::new();
/// job.apply(job.reading(ReplicaId::new(7), 1_000, blow, on, Place::Piano, Occasion::AsFound, value, "45"));
/// let reading = job.state().measure_state("blow", on, Place::Piano).unwrap().latest().unwrap();
/// assert_eq!((reading.value, reading.occasion, reading.at_ms), (value, Occasion::AsFound, 1_000));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The position in the log.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// `AsFound` in the survey, `AsLeft` in the final check, otherwise `Working`.
    pub occasion: Occasion,
    /// The value, in whole small units.
    pub value: Value,
    /// The readings that it supersedes.
    supersedes: Option<Vec<EntryId>>,
    alive: bool,
}

/// An adjustment, as recorded in the log. It has no default; [`MeasureState`] lists adjustments by position.
///
/// ```
/// use evenhand_core::job::{Correction, EntryKind, Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Place};
/// use evenhand_core::unit::Turns;
///
/// let (measure, on, place) = (MeasureId::of("blow"), Subject::Section(0), Place::Bench);
/// let mut job = Job::new();
/// for made in [Correction::Turned(Turns::from_64ths(-8)), Correction::ByEye] {
///     let kind = EntryKind::Correction { measure: measure.clone(), on, place, made };
///     job.apply(job.draft(ReplicaId::new(7), 1_000, kind));
/// }
/// let state = job.state().measure_state("blow", on, place).unwrap();
/// // By eye, no amount is known.
/// assert!(state.changes().map(|c| c.turned()).eq([Some(Turns::from_64ths(-8)), None]));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// The position in the log.
    pub position: LogPosition,
    /// What was done.
    pub made: Correction,
    alive: bool,
}

impl Change {
    /// Returns how far it was turned, or `None` if it was not a turn.
    pub fn turned(&self) -> Option<Turns> {
        match self.made {
            Correction::Turned(turns) => Some(turns),
            Correction::Punchings(_) | Correction::ByEye => None,
        }
    }
}

/// The state of one measure of one subject (note, section or whole) at one place.
///
/// The default has neither readings nor adjustments. At most one reading is in effect: the latest that is
/// not as found. Readings that two replicas took without knowing of each other are concurrent; both stay
/// until one supersedes them.
///
/// ```
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (on, place) = (Subject::Section(0), Place::Bench);
/// let take = |job: &Job, replica, mm: i64| {
///     let value = Value::Nm(Length::from_mm_hundredths(100 * mm));
///     job.reading(ReplicaId::new(replica), 0, MeasureId::of("blow"), on, place, Occasion::Working, value, "")
/// };
/// let mut job = Job::new();
/// let (first, second) = (take(&job, 1, 45), take(&job, 2, 46));
/// job.merge([first, second.clone()]);
/// let state = job.state().measure_state("blow", on, place).unwrap();
/// assert_eq!(state.in_effect().unwrap().position.id, second.id);
/// assert_eq!(state.others(Occasion::Working).len(), 1);
///
/// job.apply(take(&job, 1, 45));
/// let state = job.state().measure_state("blow", on, place).unwrap();
/// assert_eq!(state.readings().count(), 3);
/// assert!(state.others(Occasion::Working).is_empty());
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MeasureState {
    readings: Vec<Reading>,
    changes: Vec<Change>,
    pub(super) marks: Marks,
    work: Work,
}

/// The latest work that the entries so far tell of.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Work {
    /// The latest work of any kind: an adjustment, or a reading that implies one.
    worked: Option<LogPosition>,
    /// The latest adjustment that was entered as such.
    changed: Option<LogPosition>,
}

impl MeasureState {
    /// Returns the readings that are not taken back, in log order.
    pub fn readings(&self) -> impl DoubleEndedIterator<Item = &Reading> {
        self.readings.iter().filter(|r| r.alive)
    }

    /// Returns the adjustments that are not taken back, in log order.
    pub fn changes(&self) -> impl DoubleEndedIterator<Item = &Change> {
        self.changes.iter().filter(|c| c.alive)
    }

    /// Returns the reading in effect, the latest that is not as found, or `None` if there is none.
    pub fn in_effect(&self) -> Option<&Reading> {
        self.readings()
            .rev()
            .find(|r| r.occasion != Occasion::AsFound)
    }

    /// Returns the latest reading of an occasion, or `None` if there is none.
    pub fn of(&self, occasion: Occasion) -> Option<&Reading> {
        self.readings().rev().find(|r| r.occasion == occasion)
    }

    /// Returns the latest reading of an occasion before a position in the log, or `None` if there is none.
    pub(super) fn of_before(&self, occasion: Occasion, before: LogPosition) -> Option<&Reading> {
        let end = self.readings.partition_point(|r| r.position < before);
        let mut readings = self.readings[..end].iter().rev();
        readings.find(|r| r.alive && r.occasion == occasion)
    }

    /// Returns the latest reading of any occasion, or `None` if there is none.
    pub fn latest(&self) -> Option<&Reading> {
        self.readings().next_back()
    }

    /// Returns the readings of an occasion that no other reading supersedes, in log order. What was found stands by
    /// itself; all other readings take each other's place.
    ///
    /// Two or more are concurrent: their replicas did not know of each other's reading.
    pub fn unsuperseded(&self, occasion: Occasion) -> Vec<EntryId> {
        let left = self.unsuperseded_readings(occasion).into_iter();
        left.map(|r| r.position.id).collect()
    }

    fn unsuperseded_readings(&self, occasion: Occasion) -> Vec<&Reading> {
        let as_found = occasion == Occasion::AsFound;
        let of_occasion = |r: &&Reading| (r.occasion == Occasion::AsFound) == as_found;
        concurrent::unsuperseded(self.readings.iter().filter(of_occasion))
    }

    /// Returns the readings of an occasion that are concurrent with the one in effect and differ from it, in log
    /// order.
    pub fn others(&self, occasion: Occasion) -> Vec<&Reading> {
        // One reading, as nearly everywhere, has no other.
        if self.readings.len() < 2 {
            return Vec::new();
        }
        let mut left = self.unsuperseded_readings(occasion);
        let Some(now) = left.pop() else {
            return Vec::new();
        };
        left.retain(|r| r.value != now.value);
        left
    }

    /// Returns the position of the last reading or adjustment, also of one that was taken back, or `None` if there is
    /// none. No work on it is later.
    pub(super) fn newest(&self) -> Option<LogPosition> {
        let read = self.readings.last().map(|r| r.position);
        read.max(self.changes.last().map(|c| c.position))
    }

    /// Returns the position of the latest work, or `None` if the entries tell of none.
    ///
    /// Work is an adjustment, or a reading that implies one: a tick, a mark that became good, a
    /// number or grade that moved by at least the repeatability of its measure.
    pub fn worked(&self) -> Option<LogPosition> {
        self.work.worked
    }

    /// Returns `true` if the entries tell of work after `from` and before `to`.
    pub(super) fn worked_between(&self, from: LogPosition, to: LogPosition) -> bool {
        let between = |position: LogPosition| from < position && position < to;
        let mut later = self.changes().rev().take_while(|c| from < c.position);
        self.work.worked.is_some_and(between) || later.any(|c| c.position < to)
    }

    /// Returns the turns, added up whichever way they went, that were entered after `from` and before `to`, or
    /// until now for `None`.
    pub(super) fn turned_between(&self, from: LogPosition, to: Option<LogPosition>) -> Turns {
        let later = self.changes().rev().take_while(|c| from < c.position);
        let between = later.filter(|c| to.is_none_or(|to| c.position < to));
        let sum = between.fold(0i64, |sum, c| match c.made {
            Correction::Turned(turns) => sum.saturating_add(turns.in_64ths().saturating_abs()),
            _ => sum,
        });
        Turns::from_64ths(sum)
    }

    /// Returns the position of the latest adjustment entered as such.
    pub(super) fn changed(&self) -> Option<LogPosition> {
        self.work.changed
    }

    /// Returns the latest adjustment if it was made after the latest reading, which is then no longer valid.
    pub fn changed_since_read(&self) -> Option<&Change> {
        let read = self.in_effect().or(self.latest()).map(|r| r.position);
        let change = self.changes().next_back()?;
        read.is_none_or(|r| r < change.position).then_some(change)
    }

    /// Adds the newest reading. `measure` is the trade's, `None` for the user's own.
    pub(super) fn read(&mut self, reading: Reading, measure: Option<&Measure>) {
        let at = self.readings.len();
        self.readings.push(reading);
        self.work = self.after_reading(at, self.work, measure);
    }

    /// Adds the newest adjustment.
    pub(super) fn change(&mut self, position: LogPosition, made: Correction, alive: bool) {
        let change = Change {
            position,
            made,
            alive,
        };
        self.work = self.work.after(&change);
        self.changes.push(change);
    }

    /// Takes an entry back, or restores it, and computes the latest work again.
    pub(super) fn set_alive(&mut self, id: EntryId, alive: bool, measure: Option<&Measure>) {
        if let Some(r) = self.readings.iter_mut().rfind(|r| r.position.id == id) {
            r.alive = alive;
        }
        if let Some(c) = self.changes.iter_mut().rfind(|c| c.position.id == id) {
            c.alive = alive;
        }
        self.marks.set_alive(id, alive);
        let mut work = Work::default();
        let mut changes = self.changes.iter().peekable();
        for (at, reading) in self.readings.iter().enumerate() {
            while let Some(change) = changes.next_if(|c| c.position < reading.position) {
                work = work.after(change);
            }
            work = self.after_reading(at, work, measure);
        }
        self.work = changes.fold(work, Work::after);
    }

    /// Returns the latest work including the reading at index `at`.
    fn after_reading(&self, at: usize, work: Work, measure: Option<&Measure>) -> Work {
        let reading = &self.readings[at];
        let known = self.known_to(reading, &self.readings[..at]);
        if reading.alive && is_work(&known, reading, work.changed, measure) {
            return Work {
                worked: work.worked.max(Some(reading.position)),
                ..work
            };
        }
        work
    }

    /// Returns the readings that this one was taken in the place of: the latest of its own replica or that it
    /// supersedes, and those concurrent with that. Readings as found do not count, because the time of the work
    /// between them and the first working reading is unknown.
    fn known_to<'a>(&self, reading: &Reading, before: &'a [Reading]) -> Vec<&'a Reading> {
        let replica = reading.position.id.replica;
        let supersedes = reading.supersedes.as_deref().unwrap_or_default();
        let supersedes = &supersedes[..supersedes.len().min(MAX_LOOKBACK)];
        let mut known: Vec<&Reading> = Vec::new();
        for r in before.iter().rev().take(MAX_LOOKBACK) {
            let is_listed = supersedes.contains(&r.position.id);
            let is_latest = known.is_empty() && r.position.id.replica == replica;
            if r.alive && r.occasion != Occasion::AsFound && (is_listed || is_latest) {
                known.push(r);
            }
        }
        known
    }
}

impl Work {
    fn after(self, change: &Change) -> Work {
        if !change.alive {
            return self;
        }
        Work {
            worked: self.worked.max(Some(change.position)),
            changed: self.changed.max(Some(change.position)),
        }
    }
}

/// Returns `true` if a reading implies work since those `before`: a tick always does; a mark if it
/// changed from needs-work to good; a number or grade if it moved by at least the repeatability of its
/// measure. `false` if an adjustment was entered in between, which already records the work. Of concurrent readings,
/// one that it agrees with is enough: two rulers differ though nobody turned anything.
fn is_work(
    before: &[&Reading],
    reading: &Reading,
    changed: Option<LogPosition>,
    measure: Option<&Measure>,
) -> bool {
    if reading.occasion == Occasion::AsFound {
        return false;
    }
    if measure.is_some_and(|m| m.records_work) {
        return reading.value.base() != 0 || reading.value.kind().is_number();
    }
    !before.is_empty()
        && before
            .iter()
            .all(|b| has_moved(b, reading, changed, measure))
}

/// Returns `true` if a reading differs from an earlier one so that there was work in between, none of it entered.
fn has_moved(
    before: &Reading,
    reading: &Reading,
    changed: Option<LogPosition>,
    measure: Option<&Measure>,
) -> bool {
    if changed > Some(before.position) {
        return false;
    }
    match (before.value, reading.value) {
        (Value::Good(was), Value::Good(is)) => !was && is,
        (was, is) if was.kind() == is.kind() => {
            let moved = was.base().abs_diff(is.base());
            moved > 0 && moved >= measure.map_or(0, |m| m.repeat.unsigned_abs())
        }
        _ => false,
    }
}

impl Statement for &Reading {
    fn written(&self) -> (u64, EntryId) {
        (self.position.clock, self.position.id)
    }

    fn known(&self) -> Known<'_> {
        match &self.supersedes {
            Some(ids) => Known::These(ids),
            None => concurrent::known_to_reading(self.occasion),
        }
    }

    fn is_alive(&self) -> bool {
        self.alive
    }
}

impl Reading {
    pub(super) fn new(
        position: LogPosition,
        at_ms: i64,
        occasion: Occasion,
        value: Value,
        supersedes: Option<Vec<EntryId>>,
        alive: bool,
    ) -> Reading {
        Reading {
            position,
            at_ms,
            occasion,
            value,
            supersedes,
            alive,
        }
    }
}
