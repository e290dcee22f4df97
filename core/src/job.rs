//! What happened on one instrument: a job is a list of entries, and everything
//! else is a pure function of the list.
//!
//! Saving is appending one entry; nothing is ever rewritten. Two phones on one
//! action merge by taking the union of their entries; the order is (clock,
//! device, sequence), so the result is the same on every device.

mod details;
mod earlier;
mod entry;
#[cfg(any(test, feature = "simulation"))]
pub mod every_kind;
mod file;
mod id;
mod log;
mod measure_state;
mod measure_states;
mod progress;
mod raw;
mod reach;
mod state;
mod times;
mod verdict;
mod waits;

pub use details::{ControlNote, Details, Floats, KeyLever, OwnStep, Setup, Trial};
pub use earlier::{Earlier, Left, Responded};
pub use entry::{Correction, Entry, EntryId, EntryKind, LogPosition, Scope, Subject};
pub use file::{
    Conclusions, FORMAT, FileError, MAX_BYTES, MAX_ENTRIES, Opened, Opening, materials_csv,
    readings_csv, write_file,
};
pub use id::{EntryError, JobId, ReplicaId};
pub use log::{Log, Merged};
pub use measure_state::{Change, MeasureState, Reading};
pub use measure_states::TargetChange;
pub use progress::{Item, ItemState, Progress, StageProgress};
pub use raw::UnknownFields;
pub(crate) use reach::{reached_by, reached_from};
pub use state::{Remark, State};
pub use verdict::{Cause, Judged};
pub use waits::Wait;

use crate::trade::{MeasureId, Occasion, StepId};
use crate::unit::Value;

/// One job: its entries and the state folded from them.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, LengthUnit, Value};
///
/// let mut job = Job::new();
/// let phone = ReplicaId::new(7);
/// let value = Value::Nm(Length::read("1.8", LengthUnit::Millimeter)?);
/// let a4 = Subject::Note(Note::new(49)?);
/// let entry = job.reading(phone, 1_000, MeasureId::of("let_off"), a4, Place::Bench, Occasion::Working, value, "1.8");
/// job.apply(entry);
/// let slot = job.state().measure_state("let_off", a4, Place::Bench).unwrap();
/// assert_eq!(slot.in_effect().unwrap().value, value);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, Default)]
pub struct Job {
    log: Log,
    state: State,
}

impl Job {
    /// A job in which nothing has happened.
    pub fn new() -> Job {
        Job::default()
    }

    /// The job that these entries tell, in whatever order they come.
    ///
    /// Of two entries with one id the first is kept; [`Job::merge`] reports the rest.
    pub fn from_entries(entries: impl IntoIterator<Item = Entry>) -> Job {
        let mut job = Job::new();
        job.merge(entries);
        job
    }

    /// The entries.
    pub fn log(&self) -> &Log {
        &self.log
    }

    /// The entries, taken out.
    pub fn into_log(self) -> Log {
        self.log
    }

    /// What follows from the entries.
    pub fn state(&self) -> &State {
        &self.state
    }

    /// The entry that `act` makes on a device at a wall time in milliseconds since 1970 (UTC).
    ///
    /// It is not applied: it counts once it is saved. A wall time outside what can be
    /// stored ([`Entry::LAST_MS`]) is moved to the nearest that can.
    pub fn draft(&self, replica: ReplicaId, at_ms: i64, act: EntryKind) -> Entry {
        Entry {
            id: EntryId {
                replica,
                seq: self.log.next_seq(replica),
            },
            clock: self.log.next_clock(),
            at_ms: at_ms.clamp(0, Entry::LAST_MS),
            kind: act,
        }
    }

    /// The entry of one reading, which takes the place of those in force on its note.
    #[allow(clippy::too_many_arguments)] // the eight things that a reading is
    pub fn reading(
        &self,
        replica: ReplicaId,
        at_ms: i64,
        measure: MeasureId,
        on: Subject,
        place: crate::trade::Place,
        occasion: Occasion,
        value: Value,
        typed: &str,
    ) -> Entry {
        let supersedes = self
            .state
            .measure_state(measure.as_str(), on, place)
            .map(MeasureState::unsuperseded)
            .unwrap_or_default();
        let typed = typed.to_owned();
        self.draft(
            replica,
            at_ms,
            EntryKind::Reading {
                measure,
                on,
                place,
                occasion,
                value,
                typed,
                supersedes,
            },
        )
    }

    /// Takes an entry in. The cost does not grow with the job when it is the newest,
    /// as it is for whatever is entered on this device.
    ///
    /// Returns whether it was new; an entry whose id is known changes nothing.
    pub fn apply(&mut self, entry: Entry) -> bool {
        let newest = self
            .log
            .last()
            .is_none_or(|l| l.position() < entry.position());
        if !self.log.insert(entry) {
            return false;
        }
        if newest {
            self.state.apply(&self.log, self.log.len() - 1);
        } else {
            self.state = State::folded(&self.log);
        }
        true
    }

    /// Takes in the entries of another copy of this job: the union.
    pub fn merge(&mut self, entries: impl IntoIterator<Item = Entry>) -> Merged {
        self.merge_all(entries.into_iter().collect())
    }

    fn merge_all(&mut self, entries: Vec<Entry>) -> Merged {
        /// So few new entries are taken in one by one; for more, folding anew costs less.
        const FEW: usize = 64;
        let before = self.log.last().map(Entry::position);
        let from = self.log.len();
        let merged = self.log.merge(entries);
        let follows = |first| before.is_none_or(|b| b < first);
        if merged.new <= FEW && merged.first.is_none_or(follows) {
            for at in from..self.log.len() {
                self.state.apply(&self.log, at);
            }
        } else {
            self.state = State::folded(&self.log);
        }
        merged
    }

    /// Working time by device and step, in milliseconds, by the rule of [`State::spent_ms`]; of
    /// each device those steps that it spent time on.
    pub fn spent_by_device(&self) -> Vec<(ReplicaId, StepId, i64)> {
        times::by_replica(self.log.entries(), |id| self.state.is_alive(id))
    }

    /// The latest entry of these devices that undo would take back: not a note of time, not taken back yet.
    pub fn undoable(&self, replicas: &[ReplicaId]) -> Option<&Entry> {
        self.log.entries().iter().rev().find(|e| {
            e.kind.can_be_undone() && replicas.contains(&e.id.replica) && self.state.is_alive(e.id)
        })
    }
}

#[cfg(test)]
pub(crate) mod tests;
