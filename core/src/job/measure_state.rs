//! What happened to one measure of one subject at one place: readings and corrections.

use std::collections::HashSet;

use super::{Correction, EntryId, LogPosition, ReplicaId};
use crate::trade::{Measure, Occasion};
use crate::unit::{Turns, Value};

/// How many readings back one is looked for that a later one was compared with: more
/// than one note ever has in a job, and few enough that no file can make a tap slow.
const MAX_LOOKBACK: usize = 64;

/// A reading as the log holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Its place in the order.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// As found, working or as left.
    pub occasion: Occasion,
    /// The value.
    pub value: Value,
    supersedes: Vec<EntryId>,
    alive: bool,
}

/// An adjustment as the log holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Its place in the order.
    pub position: LogPosition,
    /// What was done.
    pub made: Correction,
    alive: bool,
}

impl Change {
    /// How far it was turned, where it was turned.
    pub fn turned(&self) -> Option<Turns> {
        match self.made {
            Correction::Turned(turns) => Some(turns),
            Correction::Papers(_) | Correction::ByEye => None,
        }
    }
}

/// All that happened to one measure of one note (or section, or whole) at one place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MeasureState {
    readings: Vec<Reading>,
    changes: Vec<Change>,
    work: Work,
}

/// The latest work, as far as it has been followed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Work {
    /// Work of any kind: an adjustment, or a reading that tells of one.
    worked: Option<LogPosition>,
    /// An adjustment that was entered as such.
    changed: Option<LogPosition>,
}

impl MeasureState {
    /// The readings that were not taken back, in order.
    pub fn readings(&self) -> impl DoubleEndedIterator<Item = &Reading> {
        self.readings.iter().filter(|r| r.alive)
    }

    /// The adjustments that were not taken back, in order.
    pub fn changes(&self) -> impl DoubleEndedIterator<Item = &Change> {
        self.changes.iter().filter(|c| c.alive)
    }

    /// The reading that counts: the latest that was not as found.
    pub fn in_effect(&self) -> Option<&Reading> {
        self.readings()
            .rev()
            .find(|r| r.occasion != Occasion::AsFound)
    }

    /// The latest reading of an occasion.
    pub fn of(&self, occasion: Occasion) -> Option<&Reading> {
        self.readings().rev().find(|r| r.occasion == occasion)
    }

    /// The latest reading of any occasion: what the note is known to be.
    pub fn latest(&self) -> Option<&Reading> {
        self.readings().next_back()
    }

    /// Readings in force whose place no other reading has taken: more than one where
    /// two devices read the note without knowing of each other.
    pub fn unsuperseded(&self) -> Vec<EntryId> {
        let mut taken: HashSet<EntryId> = HashSet::new();
        let mut known: HashSet<ReplicaId> = HashSet::new();
        let mut unsuperseded = Vec::new();
        for reading in self.readings().rev() {
            taken.extend(&reading.supersedes);
            if reading.occasion == Occasion::AsFound {
                continue;
            }
            // A device knows what it read itself.
            let id = reading.position.id;
            if known.insert(id.replica) && !taken.contains(&id) {
                unsuperseded.push(id);
            }
        }
        unsuperseded.reverse();
        unsuperseded
    }

    /// The readings of other devices that stand beside the one in force, and differ from it.
    pub fn others(&self) -> Vec<&Reading> {
        let Some(now) = self.in_effect() else {
            return Vec::new();
        };
        let mut unsuperseded = self.unsuperseded().into_iter().peekable();
        // Both stand in the order of the log.
        self.readings()
            .filter(|r| unsuperseded.next_if_eq(&r.position.id).is_some())
            .filter(|r| r.position != now.position && r.value != now.value)
            .collect()
    }

    /// When it was last worked on, as far as the entries tell.
    pub fn worked(&self) -> Option<LogPosition> {
        self.work.worked
    }

    /// Whether it was worked on after one entry and before another, as far as the entries tell.
    pub(super) fn worked_between(&self, from: LogPosition, to: LogPosition) -> bool {
        let between = |position: LogPosition| from < position && position < to;
        let mut later = self.changes().rev().take_while(|c| from < c.position);
        self.work.worked.is_some_and(between) || later.any(|c| c.position < to)
    }

    /// When an adjustment was last entered.
    pub(super) fn changed(&self) -> Option<LogPosition> {
        self.work.changed
    }

    /// The adjustment made after the latest reading: the reading no longer holds.
    pub fn changed_since_read(&self) -> Option<&Change> {
        let read = self.in_effect().or(self.latest()).map(|r| r.position);
        let change = self.changes().next_back()?;
        read.is_none_or(|r| r < change.position).then_some(change)
    }

    /// Takes in the newest reading.
    pub(super) fn read(&mut self, reading: Reading, measure: Option<&Measure>) {
        let at = self.readings.len();
        self.readings.push(reading);
        self.work = self.after_reading(at, self.work, measure);
    }

    /// Takes in the newest adjustment.
    pub(super) fn change(&mut self, position: LogPosition, made: Correction, alive: bool) {
        let change = Change {
            position,
            made,
            alive,
        };
        self.work = self.work.after(&change);
        self.changes.push(change);
    }

    /// Takes an entry back, or takes that back.
    pub(super) fn set_alive(&mut self, id: EntryId, alive: bool, measure: Option<&Measure>) {
        if let Some(r) = self.readings.iter_mut().rfind(|r| r.position.id == id) {
            r.alive = alive;
        }
        if let Some(c) = self.changes.iter_mut().rfind(|c| c.position.id == id) {
            c.alive = alive;
        }
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

    fn after_reading(&self, at: usize, work: Work, measure: Option<&Measure>) -> Work {
        let reading = &self.readings[at];
        let known = self.known_to(reading, &self.readings[..at]);
        if reading.alive && is_work(known, reading, work.changed, measure) {
            return Work {
                worked: work.worked.max(Some(reading.position)),
                ..work
            };
        }
        work
    }

    /// The latest reading before this one that its reader can have known: one whose place
    /// it takes, or one of the same device. Not one as found: what happened between that and
    /// the first reading of the work happened at no time that anybody told.
    fn known_to<'a>(&self, reading: &Reading, before: &'a [Reading]) -> Option<&'a Reading> {
        let replica = reading.position.id.replica;
        let supersedes = &reading.supersedes[..reading.supersedes.len().min(MAX_LOOKBACK)];
        before.iter().rev().take(MAX_LOOKBACK).find(|r| {
            let known = r.position.id.replica == replica || supersedes.contains(&r.position.id);
            r.alive && r.occasion != Occasion::AsFound && known
        })
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

/// Whether a record tells of work: a tick and its like by itself, a mark that turned
/// from needs-work to good, a number or grade that moved from the one before by more than
/// reading it again would, where no adjustment entered between them tells it already.
fn is_work(
    before: Option<&Reading>,
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
    let Some(before) = before else {
        return false;
    };
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

impl Reading {
    pub(super) fn new(
        position: LogPosition,
        at_ms: i64,
        occasion: Occasion,
        value: Value,
        supersedes: Vec<EntryId>,
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
