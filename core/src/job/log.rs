//! The log: the entries of a job, ordered and merged.

use std::collections::HashMap;

use super::{Entry, EntryId, LogPosition, ReplicaId};

/// The entries of a job, in their order, each once.
#[derive(Clone, Debug, Default)]
pub struct Log {
    entries: Vec<Entry>,
    places: HashMap<EntryId, usize>,
    last_seq: HashMap<ReplicaId, u64>,
}

/// What a merge found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Merged {
    /// How many entries were new.
    pub new: usize,
    /// How many were here already.
    pub known: usize,
    /// Entries whose id is here already with other content: the stored one was kept.
    pub differing: Vec<Entry>,
    /// The earliest of the new ones.
    pub(super) first: Option<LogPosition>,
}

impl Log {
    /// The entries in their order.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The entries in their order, taken out.
    pub fn into_entries(self) -> Vec<Entry> {
        self.entries
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// The last in order.
    pub fn last(&self) -> Option<&Entry> {
        self.entries.last()
    }

    /// The entry of this name.
    pub fn get(&self, id: EntryId) -> Option<&Entry> {
        self.places.get(&id).map(|&at| &self.entries[at])
    }

    /// The clock of the next entry made here: one more than any seen.
    ///
    /// At [`Entry::MAX`] it stays there, and device and number alone give the order:
    /// an entry past it could be stored and never be read again.
    pub fn next_clock(&self) -> u64 {
        self.last()
            .map_or(1, |e| e.clock.saturating_add(1).min(Entry::MAX))
    }

    /// The number of the next entry of a device: one more than any seen, or the
    /// lowest free one where that would lie past [`Entry::MAX`].
    pub fn next_seq(&self, replica: ReplicaId) -> u64 {
        match self.last_seq.get(&replica) {
            None => 1,
            Some(&last) if last < Entry::MAX => last + 1,
            Some(_) => (1..Entry::MAX)
                .find(|&seq| !self.places.contains_key(&EntryId { replica, seq }))
                .unwrap_or(Entry::MAX),
        }
    }

    /// Puts an entry in its place; whether it is new. One whose id is here already changes nothing.
    pub(super) fn insert(&mut self, entry: Entry) -> bool {
        if self.places.contains_key(&entry.id) {
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
            self.places.insert(entry.id, at);
            self.entries.push(entry);
        } else {
            self.entries.insert(at, entry);
            self.index();
        }
        true
    }

    /// Takes in whatever is new of another copy.
    pub(super) fn merge(&mut self, entries: Vec<Entry>) -> Merged {
        let mut merged = Merged::default();
        for entry in entries {
            match self.places.get(&entry.id) {
                Some(&at) if self.entries[at] == entry => merged.known += 1,
                Some(_) => merged.differing.push(entry),
                None => {
                    let position = entry.position();
                    merged.first = Some(merged.first.map_or(position, |f| f.min(position)));
                    merged.new += 1;
                    self.note_seq(&entry);
                    self.places.insert(entry.id, self.entries.len());
                    self.entries.push(entry);
                }
            }
        }
        if !self.entries.is_sorted_by_key(Entry::position) {
            self.entries.sort_by_key(Entry::position);
            self.index();
        }
        merged
    }

    fn note_seq(&mut self, entry: &Entry) {
        let last = self.last_seq.entry(entry.id.replica).or_default();
        *last = entry.id.seq.max(*last);
    }

    fn index(&mut self) {
        for (at, entry) in self.entries.iter().enumerate() {
            self.places.insert(entry.id, at);
        }
    }
}
