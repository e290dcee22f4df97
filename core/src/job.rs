//! What happened on one instrument: a job is a log of entries, and everything
//! else is a pure function of the log.
//!
//! Saving appends one entry; nothing is ever rewritten. Two phones on one
//! action merge by the union of their entries. The log is ordered by (time, clock,
//! replica, sequence), where the time is the wall time but never before what the writer
//! knew, so that the result is the same on every device.

mod called_for;
mod concurrent;
mod day;
mod deletion;
mod details;
mod drying;
mod earlier;
mod entry;
#[cfg(any(test, feature = "simulation"))]
pub mod every_kind;
mod file;
mod fits;
mod id;
mod in_files;
mod incoming;
mod latest;
mod log;
mod looks;
mod mark;
mod measure_state;
mod measure_states;
mod new_steps;
mod photo;
mod progress;
mod rank;
mod raw;
mod reach;
mod run;
mod state;
mod sweep;
mod swept_notes;
mod technicians;
mod times;
mod verdict;
mod work_time;

pub use concurrent::{Concurrent, Topic};
pub use day::{Day, DayError, WorkDay};
pub use deletion::Deletion;
pub use details::{ControlNote, Details, FollowingLength, KeyLever, OwnStep, Setup, Trial};
pub use drying::Drying;
pub use earlier::{Earlier, Left, Responded};
pub use entry::{Correction, Entry, EntryId, EntryKind, Knew, LogPosition, Scope, Subject};
pub(crate) use file::Table;
pub use file::{
    ConcludedConflict, ConcludedStatement, Conclusions, FORMAT, FileError, JOBS_END, JOBS_FORMAT,
    JOBS_SEPARATOR, JOBS_VERSION, JobParts, JobsIndex, JobsScan, MAX_BYTES, MAX_BYTES_WITH_PHOTOS,
    MAX_ENTRIES, MAX_JOBS, MAX_JOBS_BYTES, OpenPoint, Opened, Opening, PHOTOS_END,
    PHOTOS_SEPARATOR, PartToOrder, PhotosScan, PointKind, ValueOut, conflicts_csv, jobs_start,
    leaves_room, materials_csv, missing_photos, open_points_csv, out_of_step, readings_csv,
    unknown, with_photos, without_mark, write_file, write_log,
};
pub use id::{EntryError, JobId, ReplicaId};
pub use in_files::InFiles;
pub use incoming::Incoming;
pub use latest::Latest;
pub use log::{Log, Merged};
pub use looks::Look;
pub use mark::Mark;
pub use measure_state::{Change, MeasureState, Reading};
pub use measure_states::TargetChange;
pub use photo::{
    MAX_PHOTO_BYTES, MAX_PHOTO_LINE, MAX_PHOTO_PIXELS, MAX_PHOTO_SIDE, MAX_PHOTOS, PhotoError,
    PhotoFormat, PhotoHash, PhotoHeader, Taken, photo_line, read_photo_line,
};
pub(crate) use progress::needed_by;
pub use progress::{Item, ItemState, Progress, StageProgress};
pub use raw::UnknownFields;
pub(crate) use reach::{reached_by, reached_from};
pub use run::Run;
pub use state::{FaultOrigin, Photo, Remark, State};
pub use sweep::Sweep;
pub use swept_notes::SweptNotes;
pub(crate) use verdict::MeasureView;
pub use verdict::{Cause, Judged};
pub use work_time::{TimeSource, WorkTime};

use std::collections::HashSet;

use crate::trade::{MeasureId, Occasion};
use crate::unit::Value;

/// One job: its log and the state computed from it.
///
/// The default is an empty job. Two jobs with the same entries have the same state, whatever
/// the order in which the entries arrived.
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
    /// The id by which it is stored or filed.
    id: Option<JobId>,
    log: Log,
    state: State,
    /// Stored records that could not be read as entries.
    set_aside: Vec<String>,
}

impl Job {
    /// Returns an empty job.
    pub fn new() -> Job {
        Job::default()
    }

    /// Returns the job with these entries, which may come in any order.
    ///
    /// Of two entries with the same id the first is kept. [`Job::merge`] reports such pairs.
    pub fn from_entries(entries: impl IntoIterator<Item = Entry>) -> Job {
        let mut job = Job::new();
        job.merge(entries);
        job
    }

    /// Returns the job under the id by which it is stored or filed. No entry changes it.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
    ///
    /// let mut job = Job::new().with_id(JobId::new(1));
    /// job.apply(job.draft(ReplicaId::new(7), 0, EntryKind::Made { job: JobId::new(2) }));
    /// assert_eq!(job.id(), Some(JobId::new(1)));
    /// ```
    pub fn with_id(self, id: JobId) -> Job {
        Job {
            id: Some(id),
            ..self
        }
    }

    /// Returns the id by which it is stored or filed, otherwise that of its [`EntryKind::Made`], or `None` if it
    /// has neither.
    pub fn id(&self) -> Option<JobId> {
        self.id.or(self.state.id())
    }

    /// Returns the entries whose time is more than a day after a wall time in milliseconds since 1970 (UTC), the last of
    /// each replica, sorted.
    ///
    /// The clock that made them, or the one asked now, is wrong. They are kept and count, but no entry made here follows
    /// their time: the next one ([`Job::draft`]) names them, by which they rank before it on every device, and are no
    /// longer returned.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
    ///
    /// const DAY_MS: i64 = 24 * 60 * 60 * 1_000;
    /// let mut job = Job::new();
    /// let ahead = job.draft(ReplicaId::new(1), 3 * DAY_MS, EntryKind::Made { job: JobId::new(1) });
    /// job.apply(ahead.clone());
    /// assert_eq!(job.ahead(DAY_MS), [ahead.id]);
    /// assert_eq!(job.ahead(2 * DAY_MS), []);
    ///
    /// let entry = job.draft(ReplicaId::new(2), DAY_MS, EntryKind::Arranged { steps: Vec::new() });
    /// job.apply(entry.clone());
    /// assert_eq!(job.log().last(), Some(&entry));
    /// assert_eq!(job.log().position(entry.id).map(|p| p.ms), Some(DAY_MS));
    /// assert_eq!(job.ahead(DAY_MS), []);
    /// ```
    pub fn ahead(&self, now_ms: i64) -> Vec<EntryId> {
        self.log.ahead(now_ms)
    }

    /// Returns who made an entry of the log, as [`State::technician_at`] does. `None` if it is not in the log.
    pub fn technician_of(&self, entry: &Entry) -> Option<&str> {
        self.state.technician_at(self.log.position(entry.id)?)
    }

    /// Returns the log.
    pub fn log(&self) -> &Log {
        &self.log
    }

    /// Returns the log and consumes the job.
    pub fn into_log(self) -> Log {
        self.log
    }

    /// Returns a job as it is stored under an id: its entries in any order, and the records that could not be read as
    /// entries, which its file hands on.
    ///
    /// An entry that begins another job, or this one a second time, is set aside like an unreadable record.
    ///
    /// ```
    /// use evenhand_core::job::{Conclusions, EntryKind, Job, JobId, ReplicaId, write_file};
    ///
    /// let id = JobId::new(1);
    /// let made = |replica, job| {
    ///     Job::new().draft(ReplicaId::new(replica), 0, EntryKind::Made { job })
    /// };
    /// let entries = vec![made(7, id), made(8, JobId::new(2)), made(9, id)];
    /// let job = Job::stored(id, entries, vec!["{torn".to_owned()]);
    /// assert_eq!((job.log().len(), job.records_set_aside().len()), (1, 3));
    /// assert!(write_file(&job, 0, Conclusions::default()).contains(r#""set_aside""#));
    /// ```
    pub fn stored(id: JobId, entries: Vec<Entry>, set_aside: Vec<String>) -> Job {
        let made = entries.iter().filter(|e| e.made() == Some(id));
        let first = made.map(|e| (e.clock, e.id)).min();
        let is_own = |e: &Entry| {
            e.made()
                .is_none_or(|of| of == id && Some((e.clock, e.id)) == first)
        };
        let (own, foreign): (Vec<Entry>, Vec<Entry>) = entries.into_iter().partition(is_own);
        let mut job = Job {
            set_aside,
            ..Job::from_entries(own).with_id(id)
        };
        for entry in foreign {
            job.reserve(entry.id);
            job.set_aside.push(entry.to_line());
        }
        job
    }

    /// Returns the stored records that could not be read as entries of this job.
    pub fn records_set_aside(&self) -> &[String] {
        &self.set_aside
    }

    /// Sets records aside that came in a file, beside those that are there. Returns those that are new.
    ///
    /// ```
    /// use evenhand_core::job::Job;
    ///
    /// let mut job = Job::new();
    /// assert_eq!(job.set_aside(vec!["{torn".to_owned()]), ["{torn"]);
    /// assert!(job.set_aside(vec!["{torn".to_owned()]).is_empty());
    /// ```
    pub fn set_aside(&mut self, records: Vec<String>) -> Vec<String> {
        let mut known: HashSet<String> = self.set_aside.iter().cloned().collect();
        let new = records.into_iter();
        let new: Vec<String> = new.filter(|r| known.insert(r.clone())).collect();
        self.set_aside.extend_from_slice(&new);
        new
    }

    /// Keeps an id from being given to a new entry: a record that cannot be read is stored under it.
    ///
    /// ```
    /// use evenhand_core::job::{EntryId, Job, ReplicaId};
    ///
    /// let mut job = Job::new();
    /// job.reserve(EntryId { replica: ReplicaId::new(7), seq: 4 });
    /// assert_eq!(job.log().next_seq(ReplicaId::new(7)), 5);
    /// ```
    pub fn reserve(&mut self, id: EntryId) {
        self.log.reserve(id);
    }

    /// Returns the state computed from the log.
    pub fn state(&self) -> &State {
        &self.state
    }

    /// Returns the next entry of a replica, made at a wall time in milliseconds since 1970 (UTC).
    ///
    /// It supersedes what is in effect of the same things, and ranks after every entry of the log, even if the clock of
    /// this device stands behind theirs ([`Knew`]). The entry is not applied: the caller saves it first. The wall time
    /// is clamped to 0 to [`Entry::LAST_MS`].
    pub fn draft(&self, replica: ReplicaId, at_ms: i64, kind: EntryKind) -> Entry {
        let at_ms = at_ms.clamp(0, Entry::LAST_MS);
        Entry {
            id: EntryId {
                replica,
                seq: self.log.next_seq(replica),
            },
            clock: self.log.next_clock(),
            at_ms,
            supersedes: self.superseded_by(&kind),
            knew: self.log.knew(replica, at_ms).map(Box::new),
            kind,
        }
    }

    /// Returns the entry of one reading, which supersedes those in effect on its subject and place.
    ///
    /// Like [`Job::draft`], it applies nothing.
    #[allow(clippy::too_many_arguments)] // Each is one field of the entry.
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
            },
        )
    }

    /// Applies an entry. Returns `false`, and changes nothing, if its id is present.
    ///
    /// The cost does not grow with the job if the entry is the newest, as every entry made
    /// here is. An older one computes the state again from the whole log.
    pub fn apply(&mut self, entry: Entry) -> bool {
        self.merge([entry]).new == 1
    }

    /// Returns `false` if these entries begin the job a second time: with another [`EntryKind::Made`] than its own. They
    /// are of no copy of it.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
    ///
    /// let made = |replica| {
    ///     let kind = EntryKind::Made { job: JobId::new(1) };
    ///     Job::new().draft(ReplicaId::new(replica), 0, kind)
    /// };
    /// let job = Job::from_entries([made(1)]);
    /// assert!(job.begins_with(&[made(1)]) && job.begins_with(&[]));
    /// assert!(!job.begins_with(&[made(2)]));
    /// ```
    pub fn begins_with(&self, entries: &[Entry]) -> bool {
        let made = |entries: &[Entry]| entries.iter().find(|e| e.made().is_some()).map(|e| e.id);
        match (made(self.log.entries()), made(entries)) {
            (Some(own), Some(other)) => own == other,
            _ => true,
        }
    }

    /// Merges the entries of another copy of this job: the result is the union.
    ///
    /// The result does not depend on the order of the entries, except that of two with the same
    /// id and different content the first stays ([`Merged::differing`]).
    pub fn merge(&mut self, entries: impl IntoIterator<Item = Entry>) -> Merged {
        /// Up to this many entries apply incrementally; beyond it, refolding is cheaper.
        const MAX_INCREMENTAL: usize = 64;
        let from = self.log.len();
        let merged = self.log.merge(entries);
        let new = &self.log.entries()[from..];
        let undoes_batch = || new.iter().any(|e| State::undoes_batch(&self.log, e));
        if merged.new <= MAX_INCREMENTAL && !merged.moved && !undoes_batch() {
            for at in from..self.log.len() {
                self.state.apply(&self.log, at);
            }
        } else {
            self.state = State::folded(&self.log);
        }
        merged
    }

    /// Returns the latest [`EntryKind::Opened`] of these replicas: what another device opened may be one's own work. With
    /// it the undos that take it back now: one undo of it takes it back, one of
    /// each of them brings it back.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
    ///
    /// let phone = ReplicaId::new(7);
    /// let made = Job::new().draft(ReplicaId::new(8), 0, EntryKind::Made { job: JobId::new(1) });
    /// let mut job = Job::from_entries([made.clone()]);
    /// job.apply(job.draft(phone, 0, EntryKind::opened(&[made]).expect("one is new")));
    /// let (opened, undos) = job.last_opened(&[phone]).expect("a batch");
    /// assert_eq!(undos, []);
    /// let undo = job.draft(phone, 0, EntryKind::Undo { entry: opened });
    /// job.apply(undo.clone());
    /// assert_eq!(job.last_opened(&[phone]), Some((opened, vec![undo.id])));
    /// ```
    pub fn last_opened(&self, own: &[ReplicaId]) -> Option<(EntryId, Vec<EntryId>)> {
        let entries = self.log.entries();
        let opened = entries.iter().rev();
        let is_own = |e: &&Entry| own.contains(&e.id.replica);
        let opened = opened.filter(is_own);
        let mut opened = opened.filter(|e| matches!(e.kind, EntryKind::Opened { .. }));
        let id = opened.next()?.id;
        let undoes = |e: &&Entry| {
            matches!(e.kind, EntryKind::Undo { entry } if entry == id) && self.log.binds(e, id)
        };
        let undos = entries.iter().filter(undoes).map(|e| e.id);
        Some((id, undos.filter(|id| self.state.is_alive(*id)).collect()))
    }

    /// Returns the latest record of these replicas that undo would take back, or `None` if there is none.
    ///
    /// Entries that only note the time, and those taken back already, are skipped.
    pub fn undoable(&self, replicas: &[ReplicaId]) -> Option<&Entry> {
        self.log.entries().iter().rev().find(|e| {
            e.kind.can_be_undone() && replicas.contains(&e.id.replica) && self.state.is_alive(e.id)
        })
    }
}

#[cfg(test)]
pub(crate) mod tests;
