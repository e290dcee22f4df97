use super::{EntryId, Stamp};
use crate::trade::{Measure, Occasion};
use crate::unit::{Turns, Value};

/// A reading as the log holds it.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Its place in the order.
    pub stamp: Stamp,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// As found, working or as left.
    pub occasion: Occasion,
    /// The value.
    pub value: Value,
    over: Vec<EntryId>,
    alive: bool,
}

/// An adjustment as the log holds it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Change {
    /// Its place in the order.
    pub stamp: Stamp,
    /// How far it was turned, where it was turned.
    pub turned: Option<Turns>,
    alive: bool,
}

/// All that happened to one measure of one note (or section, or whole) at one place.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Slot {
    readings: Vec<Reading>,
    changes: Vec<Change>,
    worked: Option<Stamp>,
}

impl Slot {
    /// The readings that were not taken back, in order.
    pub fn readings(&self) -> impl DoubleEndedIterator<Item = &Reading> {
        self.readings.iter().filter(|r| r.alive)
    }

    /// The adjustments that were not taken back, in order.
    pub fn changes(&self) -> impl DoubleEndedIterator<Item = &Change> {
        self.changes.iter().filter(|c| c.alive)
    }

    /// The reading that counts: the latest that was not as found.
    pub fn in_force(&self) -> Option<&Reading> {
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
    pub fn heads(&self) -> Vec<EntryId> {
        let taken = |id: EntryId| self.readings().any(|r| r.over.contains(&id));
        self.readings()
            .filter(|r| r.occasion != Occasion::AsFound && !taken(r.stamp.id))
            .map(|r| r.stamp.id)
            .collect()
    }

    /// The readings of other devices that stand beside the one in force, and differ from it.
    pub fn others(&self) -> Vec<&Reading> {
        let Some(now) = self.in_force() else {
            return Vec::new();
        };
        let heads = self.heads();
        self.readings()
            .filter(|r| heads.contains(&r.stamp.id) && r.stamp != now.stamp && r.value != now.value)
            .collect()
    }

    /// When it was last worked on, as far as the entries tell.
    pub fn worked(&self) -> Option<Stamp> {
        self.worked
    }

    /// The adjustment made after the latest reading: the reading no longer holds.
    pub fn changed_since_read(&self) -> Option<&Change> {
        let read = self.in_force().or(self.latest()).map(|r| r.stamp);
        self.changes()
            .rev()
            .find(|c| read.is_none_or(|r| r < c.stamp))
    }

    pub(super) fn read(&mut self, reading: Reading, measure: Option<&Measure>) {
        let before = self.latest().map(|r| r.value);
        if is_work(before, &reading, measure) {
            self.worked = Some(reading.stamp);
        }
        self.readings.push(reading);
    }

    pub(super) fn change(&mut self, stamp: Stamp, turned: Option<Turns>) {
        self.worked = Some(stamp);
        self.changes.push(Change {
            stamp,
            turned,
            alive: true,
        });
    }

    /// Takes an entry back, or takes that back.
    pub(super) fn set_alive(&mut self, id: EntryId, alive: bool, measure: Option<&Measure>) {
        if let Some(r) = self.readings.iter_mut().rfind(|r| r.stamp.id == id) {
            r.alive = alive;
        }
        if let Some(c) = self.changes.iter_mut().rfind(|c| c.stamp.id == id) {
            c.alive = alive;
        }
        let mut before = None;
        let mut worked = self.changes().map(|c| c.stamp).next_back();
        for reading in self.readings.iter().filter(|r| r.alive) {
            if is_work(before, reading, measure) {
                worked = worked.max(Some(reading.stamp));
            }
            before = Some(reading.value);
        }
        self.worked = worked;
    }
}

/// Whether a record tells of work: a tick and its like by itself, a mark that turned
/// from needs-work to good, a number or grade that moved from the one before by more than reading it again would.
fn is_work(before: Option<Value>, reading: &Reading, measure: Option<&Measure>) -> bool {
    if reading.occasion == Occasion::AsFound {
        return false;
    }
    let done = reading.value.base() != 0;
    if measure.is_some_and(|m| m.records_work) {
        return done || reading.value.kind().is_number();
    }
    match (before, reading.value) {
        (Some(Value::Good(was)), Value::Good(is)) => !was && is,
        (Some(was), is) => {
            let moved = was.base().abs_diff(is.base());
            moved > 0 && moved >= measure.map_or(0, |m| m.repeat.unsigned_abs())
        }
        (None, _) => false,
    }
}

impl Reading {
    pub(super) fn new(
        stamp: Stamp,
        at_ms: i64,
        occasion: Occasion,
        value: Value,
        over: Vec<EntryId>,
    ) -> Reading {
        Reading {
            stamp,
            at_ms,
            occasion,
            value,
            over,
            alive: true,
        }
    }
}
