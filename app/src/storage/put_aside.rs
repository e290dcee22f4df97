//! Entries that wait for the journal, put aside in local storage for a next visit: one key for each, so that no tab
//! touches what another put aside. A key is deleted only by its exact value, and only once the journal has saved it.
//! What cannot be read, or is from a newer version, is neither taken for nothing nor deleted.

use evenhand_core::job::{Entry, EntryId, JobId};
use gloo_storage::{LocalStorage, Storage};

use super::local_storage::is_available;

/// The prefix of the keys: the job, the writer and the number follow. `app/rescue.js` reads them too.
const PREFIX: &str = "aside/";
/// The prefix of the keys of versions up to 0.1.1: one for each visit, with a list of jobs and lines.
const PREFIX_OF_LISTS: &str = "unsaved/";
/// How many UTF-16 units a file or another long batch may fill, so that single entries always find room: browsers give
/// some five million.
const ROOM_FOR_BATCHES: usize = 2_000_000;
/// A batch of more entries than this was not typed: it is in a file, or can be made again.
const LONG_BATCH: usize = 200;
/// Neither was one of more bytes than this.
const LARGE_BATCH: usize = 100_000;

/// An entry that waits for the journal.
#[derive(Clone)]
pub struct Waiting {
    /// Its job.
    pub job: JobId,
    /// The entry.
    pub entry: Entry,
    /// The texts under which it stands in local storage. `None` if it does not.
    aside: Option<Aside>,
    /// Whether it came in a batch that nobody typed.
    from_batch: bool,
}

/// A key and its value.
type Aside = (String, String);

impl Waiting {
    /// Returns entries of a job that came at once, none of them put aside.
    pub fn of(job: JobId, entries: Vec<Entry>) -> Vec<Waiting> {
        let is_large = || {
            let bytes = || entries.iter().map(|e| e.to_line().len()).sum::<usize>();
            entries.len() > 1 && bytes() > LARGE_BATCH
        };
        let from_batch = entries.len() > LONG_BATCH || is_large();
        let waiting = |entry| Waiting {
            job,
            entry,
            aside: None,
            from_batch,
        };
        entries.into_iter().map(waiting).collect()
    }

    /// Returns what it is known by: its job and its entry's id.
    pub fn name(&self) -> (JobId, EntryId) {
        (self.job, self.entry.id)
    }

    /// Returns whether it is put aside.
    pub fn is_aside(&self) -> bool {
        self.aside.is_some()
    }

    /// Forgets that it was put aside, once the journal has saved it.
    pub fn forget(&self) {
        if let Some((key, value)) = &self.aside {
            delete(key, value);
        }
    }
}

/// Puts aside those that are not yet, single entries first.
pub fn put_aside(waiting: &mut [Waiting]) {
    if !is_available() {
        return;
    }
    let length = |w: &Waiting| {
        w.aside
            .as_ref()
            .map_or(0, |(key, value)| key.len() + value.len())
    };
    // It is not known of those that an earlier visit put aside whether they were typed.
    let mut used: usize = waiting.iter().map(length).sum();
    for from_batch in [false, true] {
        for one in waiting.iter_mut() {
            if one.from_batch != from_batch || one.is_aside() {
                continue;
            }
            let id = one.entry.id;
            let key = format!("{PREFIX}{}/{}-{:016x}", one.job, id.replica, id.seq);
            let value = one.entry.to_line();
            used += key.len() + value.len();
            if from_batch && used > ROOM_FOR_BATCHES {
                return;
            }
            if LocalStorage::raw().set_item(&key, &value).is_err() {
                return;
            }
            one.aside = Some((key, value));
        }
    }
}

/// What earlier visits or other tabs have put aside.
#[derive(Default)]
pub struct Found {
    /// The entries.
    pub waiting: Vec<Waiting>,
    /// The lists of earlier versions.
    pub lists: Vec<PutAsideList>,
    /// How many values could not be read. They stay.
    pub unreadable: usize,
}

/// Returns what is put aside. It stays in local storage until it is saved.
pub fn find() -> Found {
    let mut found = Found::default();
    if !is_available() {
        return found;
    }
    let storage = LocalStorage::raw();
    let keys = (0..LocalStorage::length()).filter_map(|at| storage.key(at).ok().flatten());
    for key in keys.collect::<Vec<_>>() {
        let Ok(Some(value)) = storage.get_item(&key) else {
            continue;
        };
        if let Some(name) = key.strip_prefix(PREFIX) {
            match read(name, &value) {
                Some((job, entry)) => found.waiting.push(Waiting {
                    job,
                    entry,
                    aside: Some((key, value)),
                    from_batch: false,
                }),
                None => found.unreadable += 1,
            }
        } else if key.starts_with(PREFIX_OF_LISTS) {
            found.take_list(key, value);
        }
    }
    // Local storage has no order, and the journal saves in that in which they were made.
    found
        .waiting
        .sort_unstable_by_key(|w| (w.job, w.entry.clock, w.entry.id.replica, w.entry.id.seq));
    found
}

impl Found {
    fn take_list(&mut self, key: String, value: String) {
        let items: Option<Vec<serde_json::Value>> = serde_json::from_str(&value).ok();
        let Some(items) = items else {
            self.unreadable += 1;
            return;
        };
        let mut rest = Vec::new();
        for item in items {
            let named: Option<(JobId, String)> = serde_json::from_value(item.clone()).ok();
            match named.and_then(|(job, line)| Some((job, Entry::from_line(&line).ok()?))) {
                Some((job, entry)) => self.waiting.extend(Waiting::of(job, vec![entry])),
                None => rest.push(item),
            }
        }
        self.unreadable += rest.len();
        self.lists.push(PutAsideList { key, value, rest });
    }
}

/// A list that an earlier version put aside.
#[derive(Clone)]
pub struct PutAsideList {
    key: String,
    value: String,
    /// What could not be read of it.
    rest: Vec<serde_json::Value>,
}

impl PutAsideList {
    /// Forgets the entries that were read, once the journal has saved them: found again, they would bring back what was
    /// erased since. What could not be read stays.
    pub fn forget(self) {
        let storage = LocalStorage::raw();
        if self.rest.is_empty() {
            delete(&self.key, &self.value);
        } else if storage.get_item(&self.key).ok().flatten().as_ref() == Some(&self.value) {
            let rest = serde_json::Value::Array(self.rest).to_string();
            // If it finds no room, the list stays as it was.
            let _ = storage.set_item(&self.key, &rest);
        }
    }
}

/// Reads the entry of a key, named by its job, writer and number. `None` if the key and the value do not agree.
fn read(name: &str, value: &str) -> Option<(JobId, Entry)> {
    let (job, named) = name.split_once('/')?;
    let entry = Entry::from_line(value).ok()?;
    let is_named = format!("{}-{:016x}", entry.id.replica, entry.id.seq) == named;
    Some((job.parse().ok()?, is_named.then_some(entry)?))
}

/// Deletes a key if it still has this value.
pub fn delete(key: &str, value: &str) {
    let storage = LocalStorage::raw();
    if storage.get_item(key).ok().flatten().as_deref() == Some(value) {
        LocalStorage::delete(key);
    }
}
