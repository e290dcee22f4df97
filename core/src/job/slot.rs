use std::collections::HashSet;

use super::{Correction, DeviceId, EntryId, Stamp};
use crate::trade::{Measure, Occasion};
use crate::unit::{Turns, Value};

/// How many readings back one is looked for that a later one was compared with: more
/// than one note ever has in a job, and few enough that no file can make a tap slow.
const LOOKED_BACK: usize = 64;

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
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Its place in the order.
    pub stamp: Stamp,
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
pub struct Slot {
    readings: Vec<Reading>,
    changes: Vec<Change>,
    work: Work,
}

/// The latest work, as far as it has been followed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Work {
    /// Work of any kind: an adjustment, or a reading that tells of one.
    worked: Option<Stamp>,
    /// An adjustment that was entered as such.
    changed: Option<Stamp>,
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
        let mut taken: HashSet<EntryId> = HashSet::new();
        let mut known: HashSet<DeviceId> = HashSet::new();
        let mut heads = Vec::new();
        for reading in self.readings().rev() {
            taken.extend(&reading.over);
            if reading.occasion == Occasion::AsFound {
                continue;
            }
            // A device knows what it read itself.
            let id = reading.stamp.id;
            if known.insert(id.device) && !taken.contains(&id) {
                heads.push(id);
            }
        }
        heads.reverse();
        heads
    }

    /// The readings of other devices that stand beside the one in force, and differ from it.
    pub fn others(&self) -> Vec<&Reading> {
        let Some(now) = self.in_force() else {
            return Vec::new();
        };
        let mut heads = self.heads().into_iter().peekable();
        // Both stand in the order of the log.
        self.readings()
            .filter(|r| heads.next_if_eq(&r.stamp.id).is_some())
            .filter(|r| r.stamp != now.stamp && r.value != now.value)
            .collect()
    }

    /// When it was last worked on, as far as the entries tell.
    pub fn worked(&self) -> Option<Stamp> {
        self.work.worked
    }

    /// Whether it was worked on after one entry and before another, as far as the entries tell.
    pub(super) fn worked_between(&self, from: Stamp, to: Stamp) -> bool {
        let between = |stamp: Stamp| from < stamp && stamp < to;
        let mut later = self.changes().rev().take_while(|c| from < c.stamp);
        self.work.worked.is_some_and(between) || later.any(|c| c.stamp < to)
    }

    /// When an adjustment was last entered.
    pub(super) fn changed(&self) -> Option<Stamp> {
        self.work.changed
    }

    /// The adjustment made after the latest reading: the reading no longer holds.
    pub fn changed_since_read(&self) -> Option<&Change> {
        let read = self.in_force().or(self.latest()).map(|r| r.stamp);
        let change = self.changes().next_back()?;
        read.is_none_or(|r| r < change.stamp).then_some(change)
    }

    /// Takes in the newest reading.
    pub(super) fn read(&mut self, reading: Reading, measure: Option<&Measure>) {
        let at = self.readings.len();
        self.readings.push(reading);
        self.work = self.after_reading(at, self.work, measure);
    }

    /// Takes in the newest adjustment.
    pub(super) fn change(&mut self, stamp: Stamp, made: Correction, alive: bool) {
        let change = Change { stamp, made, alive };
        self.work = self.work.after(&change);
        self.changes.push(change);
    }

    /// Takes an entry back, or takes that back.
    pub(super) fn set_alive(&mut self, id: EntryId, alive: bool, measure: Option<&Measure>) {
        if let Some(r) = self.readings.iter_mut().rfind(|r| r.stamp.id == id) {
            r.alive = alive;
        }
        if let Some(c) = self.changes.iter_mut().rfind(|c| c.stamp.id == id) {
            c.alive = alive;
        }
        let mut work = Work::default();
        let mut changes = self.changes.iter().peekable();
        for (at, reading) in self.readings.iter().enumerate() {
            while let Some(change) = changes.next_if(|c| c.stamp < reading.stamp) {
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
                worked: work.worked.max(Some(reading.stamp)),
                ..work
            };
        }
        work
    }

    /// The latest reading before this one that its reader can have known: one whose place
    /// it takes, or one of the same device. Not one as found: what happened between that and
    /// the first reading of the work happened at no time that anybody told.
    fn known_to<'a>(&self, reading: &Reading, before: &'a [Reading]) -> Option<&'a Reading> {
        let device = reading.stamp.id.device;
        let over = &reading.over[..reading.over.len().min(LOOKED_BACK)];
        before.iter().rev().take(LOOKED_BACK).find(|r| {
            let known = r.stamp.id.device == device || over.contains(&r.stamp.id);
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
            worked: self.worked.max(Some(change.stamp)),
            changed: self.changed.max(Some(change.stamp)),
        }
    }
}

/// Whether a record tells of work: a tick and its like by itself, a mark that turned
/// from needs-work to good, a number or grade that moved from the one before by more than
/// reading it again would, where no adjustment entered between them tells it already.
fn is_work(
    before: Option<&Reading>,
    reading: &Reading,
    changed: Option<Stamp>,
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
    if changed > Some(before.stamp) {
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
        stamp: Stamp,
        at_ms: i64,
        occasion: Occasion,
        value: Value,
        over: Vec<EntryId>,
        alive: bool,
    ) -> Reading {
        Reading {
            stamp,
            at_ms,
            occasion,
            value,
            over,
            alive,
        }
    }
}
