//! The log: the entries of a job, in order, and the union of two copies.

use std::collections::HashMap;

use super::rank::Ranking;
use super::{Entry, EntryId, Knew, LogPosition, ReplicaId};

/// The entries of a job, sorted by [`LogPosition`], each id once.
///
/// The default is empty. A log only grows: no entry is changed or removed. Two
/// logs with the same entries are in the same order, however the entries arrived. Two entries of one id with
/// different content are not merged: the one stored first stays.
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
///
/// let phone = ReplicaId::new(7);
/// let mut job = Job::new();
/// job.apply(job.draft(phone, 1_000, EntryKind::Made { job: JobId::new(1) }));
/// assert_eq!(job.log().len(), 1);
/// assert_eq!(job.log().next_clock(), 2);
/// assert_eq!(job.log().next_seq(phone), 2);
/// assert_eq!(job.log().next_seq(ReplicaId::new(8)), 1);
/// ```
#[derive(Clone, Debug, Default)]
pub struct Log {
    entries: Vec<Entry>,
    /// The position of each entry.
    positions: Vec<LogPosition>,
    /// Index into `entries` by id.
    index: HashMap<EntryId, usize>,
    /// The largest sequence number of each replica.
    last_seq: HashMap<ReplicaId, u64>,
    ranking: Ranking,
}

/// The outcome of a merge. The default is that of merging nothing.
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
///
/// let made = EntryKind::Made { job: JobId::new(1) };
/// let entry = Job::new().draft(ReplicaId::new(7), 1_000, made);
/// let mut job = Job::from_entries([entry.clone()]);
/// let again = job.merge([entry]);
/// assert_eq!((again.new, again.known), (0, 1));
/// assert!(again.differing.is_empty());
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Merged {
    /// The number of entries that were added.
    pub new: usize,
    /// The number of entries that were present already, with the same content.
    pub known: usize,
    /// Entries whose id is present with other content. The stored one was kept.
    pub differing: Vec<Entry>,
    /// Whether an entry that was there before is at another position now.
    pub(super) moved: bool,
}

impl Log {
    /// Returns the entries, sorted by position.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Returns the entries, sorted by position, and consumes the log.
    pub fn into_entries(self) -> Vec<Entry> {
        self.entries
    }

    /// Returns each entry with its position, sorted by position.
    pub(super) fn ranked(&self) -> impl DoubleEndedIterator<Item = (&Entry, LogPosition)> {
        self.entries.iter().zip(self.positions.iter().copied())
    }

    /// Returns the entry at an index, with its position.
    pub(super) fn at(&self, index: usize) -> Option<(&Entry, LogPosition)> {
        Some((self.entries.get(index)?, *self.positions.get(index)?))
    }

    /// Returns the number of entries.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Returns `true` if there is no entry.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Returns the entry with the largest position, or `None` if the log is empty.
    pub fn last(&self) -> Option<&Entry> {
        self.entries.last()
    }

    /// Returns the entry with this id, or `None` if the log has none.
    pub fn get(&self, id: EntryId) -> Option<&Entry> {
        self.index.get(&id).map(|&at| &self.entries[at])
    }

    /// Returns the position of the entry with this id, or `None` if the log has none.
    ///
    /// Entries that are added later can change it, if what they tell of clocks does.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
    ///
    /// let mut job = Job::new();
    /// let entry = job.draft(ReplicaId::new(7), 1_000, EntryKind::Made { job: JobId::new(1) });
    /// job.apply(entry.clone());
    /// assert_eq!(job.log().position(entry.id).map(|p| p.ms), Some(1_000));
    /// ```
    pub fn position(&self, id: EntryId) -> Option<LogPosition> {
        self.index.get(&id).map(|&at| self.positions[at])
    }

    /// Returns `true` if an entry may refer to the one with the id `target`: the log has it, and it was written before.
    pub(super) fn binds(&self, entry: &Entry, target: EntryId) -> bool {
        self.get(target)
            .is_some_and(|target| target.written() < entry.written())
    }

    /// Returns the index of the entry with this id, or `None` if the log has none.
    pub(super) fn index(&self, id: EntryId) -> Option<usize> {
        self.index.get(&id).copied()
    }

    /// Returns the clock of the next entry: one more than the largest in the log, from 1.
    ///
    /// It saturates at [`Entry::MAX`], because an entry above could be stored but not read
    /// back. Time, replica and sequence number alone then give the order.
    pub fn next_clock(&self) -> u64 {
        self.ranking.clock().saturating_add(1).min(Entry::MAX)
    }

    /// Returns the sequence number of the next entry of a replica: one more than its largest, or
    /// the lowest free one if that would exceed [`Entry::MAX`].
    pub fn next_seq(&self, replica: ReplicaId) -> u64 {
        match self.last_seq.get(&replica) {
            None => 1,
            Some(&last) if last < Entry::MAX => last + 1,
            Some(_) => (1..Entry::MAX)
                .find(|&seq| !self.index.contains_key(&EntryId { replica, seq }))
                .unwrap_or(Entry::MAX),
        }
    }

    /// Keeps an id from being given to a new entry: a record with it is stored but cannot be read.
    pub(super) fn reserve(&mut self, id: EntryId) {
        let last = self.last_seq.entry(id.replica).or_default();
        *last = id.seq.min(Entry::MAX).max(*last);
    }

    /// Returns what an entry made now must state of other clocks.
    pub(super) fn knew(&self, replica: ReplicaId, at_ms: i64) -> Option<Knew> {
        self.ranking.knew(&self.entries, replica, at_ms)
    }

    /// Returns the entries whose time is more than a day after `at_ms` and that nobody has called ahead so far, the
    /// last of each replica.
    pub(super) fn ahead(&self, at_ms: i64) -> Vec<EntryId> {
        self.ranking.ahead(&self.entries, at_ms)
    }

    /// Adds the entries of another copy that are not present.
    pub(super) fn merge(&mut self, entries: impl IntoIterator<Item = Entry>) -> Merged {
        let mut merged = Merged::default();
        let from = self.entries.len();
        for entry in entries {
            match self.index.get(&entry.id) {
                Some(&at) if self.entries[at] == entry => merged.known += 1,
                Some(_) => merged.differing.push(entry),
                None => {
                    self.reserve(entry.id);
                    self.index.insert(entry.id, self.entries.len());
                    self.entries.push(entry);
                }
            }
        }
        merged.new = self.entries.len() - from;
        merged.moved = !self.rank_from(from);
        merged
    }

    /// Ranks and sorts the entries from an index on. Returns `true` if those before it stay where they are.
    fn rank_from(&mut self, from: usize) -> bool {
        for at in from..self.entries.len() {
            if !self.ranking.is_next(&self.entries[at]) {
                self.rank_all();
                return false;
            }
            self.rank_next(at);
        }
        let is_sorted = |positions: &[LogPosition]| positions.is_sorted();
        if !is_sorted(&self.positions[from.saturating_sub(1)..]) {
            self.sort();
            return false;
        }
        true
    }

    /// Ranks the entry at an index, which is the next in the order of [`Entry::written`].
    fn rank_next(&mut self, at: usize) {
        let time_of = |id: EntryId| Some(self.positions.get(*self.index.get(&id)?)?.ms);
        let position = self.ranking.rank(&self.entries[at], time_of);
        self.positions.push(position);
    }

    /// Ranks and sorts all entries.
    fn rank_all(&mut self) {
        self.entries.sort_unstable_by_key(Entry::written);
        self.reindex();
        self.positions.clear();
        let find = |id: EntryId| self.index.get(&id).map(|&at| &self.entries[at]);
        self.ranking = Ranking::begin(&self.entries, find);
        for at in 0..self.entries.len() {
            self.rank_next(at);
        }
        if !self.positions.is_sorted() {
            self.sort();
        }
    }

    /// Sorts the entries by position.
    fn sort(&mut self) {
        let positions = std::mem::take(&mut self.positions).into_iter();
        let mut ranked: Vec<(LogPosition, Entry)> =
            positions.zip(std::mem::take(&mut self.entries)).collect();
        ranked.sort_unstable_by_key(|(position, _)| *position);
        (self.positions, self.entries) = ranked.into_iter().unzip();
        self.reindex();
    }

    /// Rebuilds the index after entries moved.
    fn reindex(&mut self) {
        for (at, entry) in self.entries.iter().enumerate() {
            self.index.insert(entry.id, at);
        }
    }
}
