//! The log: the entries of a job, in order, and the union of two copies.

use std::collections::HashMap;

use super::{Entry, EntryId, LogPosition, ReplicaId};

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
    /// Index into `entries` by id.
    index: HashMap<EntryId, usize>,
    /// The largest sequence number of each replica.
    last_seq: HashMap<ReplicaId, u64>,
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
    /// The earliest position of those added.
    pub(super) first: Option<LogPosition>,
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

    /// Returns the clock of the next entry: one more than the largest in the log, from 1.
    ///
    /// It saturates at [`Entry::MAX`], because an entry above could be stored but not read
    /// back. Replica and sequence number alone then give the order.
    pub fn next_clock(&self) -> u64 {
        self.last()
            .map_or(1, |e| e.clock.saturating_add(1).min(Entry::MAX))
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

    /// Inserts an entry at its position. Returns `false`, and changes nothing, if its id is present.
    pub(super) fn insert(&mut self, entry: Entry) -> bool {
        if self.index.contains_key(&entry.id) {
            return false;
        }
        let at = match self.last() {
            Some(last) if entry.position() < last.position() => {
                let position = entry.position();
                self.entries.partition_point(|e| e.position() < position)
            }
            _ => self.entries.len(),
        };
        self.note_seq(&entry);
        if at == self.entries.len() {
            self.index.insert(entry.id, at);
            self.entries.push(entry);
        } else {
            self.entries.insert(at, entry);
            self.reindex();
        }
        true
    }

    /// Adds the entries of another copy that are not present.
    pub(super) fn merge(&mut self, entries: Vec<Entry>) -> Merged {
        let mut merged = Merged::default();
        for entry in entries {
            match self.index.get(&entry.id) {
                Some(&at) if self.entries[at] == entry => merged.known += 1,
                Some(_) => merged.differing.push(entry),
                None => {
                    let position = entry.position();
                    merged.first = Some(merged.first.map_or(position, |f| f.min(position)));
                    merged.new += 1;
                    self.note_seq(&entry);
                    self.index.insert(entry.id, self.entries.len());
                    self.entries.push(entry);
                }
            }
        }
        if !self.entries.is_sorted_by_key(Entry::position) {
            self.entries.sort_by_key(Entry::position);
            self.reindex();
        }
        merged
    }

    fn note_seq(&mut self, entry: &Entry) {
        let last = self.last_seq.entry(entry.id.replica).or_default();
        *last = entry.id.seq.max(*last);
    }

    /// Rebuilds the index after entries moved.
    fn reindex(&mut self) {
        for (at, entry) in self.entries.iter().enumerate() {
            self.index.insert(entry.id, at);
        }
    }
}
