use std::collections::HashMap;

use super::{DeviceId, Entry, EntryId, Stamp};

/// The entries of a job, in their order, each once.
#[derive(Clone, Debug, Default)]
pub struct Log {
    entries: Vec<Entry>,
    places: HashMap<EntryId, usize>,
    last_seq: HashMap<DeviceId, u64>,
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
    pub(super) first: Option<Stamp>,
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
    /// At [`Entry::MOST`] it stays there, and device and number alone give the order:
    /// an entry past it could be stored and never be read again.
    pub fn next_clock(&self) -> u64 {
        self.last()
            .map_or(1, |e| e.clock.saturating_add(1).min(Entry::MOST))
    }

    /// The number of the next entry of a device: one more than any seen, or the
    /// lowest free one where that would lie past [`Entry::MOST`].
    pub fn next_seq(&self, device: DeviceId) -> u64 {
        match self.last_seq.get(&device) {
            None => 1,
            Some(&last) if last < Entry::MOST => last + 1,
            Some(_) => (1..Entry::MOST)
                .find(|&seq| !self.places.contains_key(&EntryId { device, seq }))
                .unwrap_or(Entry::MOST),
        }
    }

    /// Puts an entry in its place; whether it is new. One whose id is here already changes nothing.
    pub(super) fn insert(&mut self, entry: Entry) -> bool {
        if self.places.contains_key(&entry.id) {
            return false;
        }
        let at = match self.last() {
            Some(last) if entry.stamp() < last.stamp() => {
                let stamp = entry.stamp();
                self.entries.partition_point(|e| e.stamp() < stamp)
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
                    let stamp = entry.stamp();
                    merged.first = Some(merged.first.map_or(stamp, |f| f.min(stamp)));
                    merged.new += 1;
                    self.note_seq(&entry);
                    self.places.insert(entry.id, self.entries.len());
                    self.entries.push(entry);
                }
            }
        }
        if !self.entries.is_sorted_by_key(Entry::stamp) {
            self.entries.sort_by_key(Entry::stamp);
            self.index();
        }
        merged
    }

    fn note_seq(&mut self, entry: &Entry) {
        let last = self.last_seq.entry(entry.id.device).or_default();
        *last = entry.id.seq.max(*last);
    }

    fn index(&mut self) {
        for (at, entry) in self.entries.iter().enumerate() {
            self.places.insert(entry.id, at);
        }
    }
}
