//! The journal: every entry in IndexedDB, one record each, with strict durability.
//!
//! An entry counts as saved when its transaction is complete. Until then it is in memory and shown as being saved, or
//! as not saved while the journal fails or takes too long.
//!
//! The journal knows neither screens nor state: it reports by its signals, and calls back with what it has saved.

mod database;
mod deleted;
mod fault;

use std::rc::Rc;
use std::time::Duration;

use evenhand_core::job::{Entry, EntryKind, JobId, ReplicaId};
use indexed_db_futures::database::Database;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::{self, local_time};
use crate::storage::local_storage::{self, UnsavedEntries};
use database::{SLICE_BYTES, open_database, read_keys, read_lines, read_place, write_lines};
pub use fault::{Fault, RECOVERED};

/// How long opening may take before the journal counts as timed out.
const OPEN_TIMEOUT: Duration = Duration::from_secs(3);
/// How long the database may take to accept a slice or to commit before the journal counts as timed out.
const WRITE_TIMEOUT: Duration = Duration::from_secs(6);
/// The pause between two attempts.
const RETRY_INTERVAL: Duration = Duration::from_secs(3);

/// The stored entries. Signals and stored values only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Journal {
    database: StoredValue<Option<Database>, LocalStorage>,
    /// Entries to be saved, in order.
    queue: StoredValue<Vec<(JobId, Entry)>, LocalStorage>,
    /// Whether saving is under way.
    writing: StoredValue<bool>,
    /// When saving began, or the database last answered since.
    last_answer_ms: StoredValue<i64>,
    /// Whether a retry is scheduled.
    retry_due: StoredValue<bool>,
    /// Who writes the entries of this visit; the key of its unsaved entries in local storage.
    replica: StoredValue<ReplicaId>,
    /// What earlier visits left unsaved, until it is saved.
    earlier: StoredValue<Option<UnsavedEntries>, LocalStorage>,
    /// Called with each batch that was saved.
    on_saved: StoredValue<Option<OnSaved>, LocalStorage>,
    /// How many entries are not saved yet.
    pub unsaved: RwSignal<usize>,
    /// Why the journal does not work; `None` while it does.
    pub fault: RwSignal<Option<Fault>>,
    /// Notifies when the journal works again, so that failed reads can be repeated.
    pub reopened: Trigger,
}

type OnSaved = Rc<dyn Fn(&[(JobId, Entry)])>;

/// A job as it was read.
#[derive(Default)]
pub struct StoredJob {
    /// Its entries, including those not saved yet.
    pub entries: Vec<Entry>,
    /// Sentences about records that could not be read.
    pub notices: Vec<String>,
    /// Whether the stored entries could not be read at all; the journal's fault says why.
    pub failed: bool,
}

impl StoredJob {
    /// Returns whether a job can be shown: it was read, or it was made since and is whole in memory.
    pub fn is_whole(&self) -> bool {
        let made = |e: &Entry| matches!(e.kind, EntryKind::Made { .. });
        !self.entries.is_empty() && (!self.failed || self.entries.iter().any(made))
    }
}

impl Journal {
    /// Returns a journal that is not open yet; entries that earlier visits left unsaved wait in its queue.
    pub fn new(replica: ReplicaId) -> Journal {
        let earlier = local_storage::unsaved_entries();
        Journal {
            unsaved: RwSignal::new(earlier.entries.len()),
            queue: StoredValue::new_local(earlier.entries.clone()),
            earlier: StoredValue::new_local(Some(earlier)),
            database: StoredValue::new_local(None),
            writing: StoredValue::new(false),
            last_answer_ms: StoredValue::new(0),
            retry_due: StoredValue::new(false),
            replica: StoredValue::new(replica),
            on_saved: StoredValue::new_local(None),
            fault: RwSignal::new(None),
            reopened: Trigger::new(),
        }
    }

    /// Calls `run` with each batch that is saved from now on.
    pub fn on_saved(self, run: impl Fn(&[(JobId, Entry)]) + 'static) {
        self.on_saved.set_value(Some(Rc::new(run)));
    }

    /// Returns the open database, opening it first if needed. `None` if it cannot be opened; the fault says why.
    async fn open(self) -> Option<Database> {
        if let Some(database) = self.database.get_value() {
            return Some(database);
        }
        let answered = StoredValue::new(false);
        let time_out = move || {
            if !answered.get_value() {
                self.fault.set(Some(Fault::TimedOut));
            }
        };
        set_timeout(time_out, OPEN_TIMEOUT);
        let opened = open_database().await;
        answered.set_value(true);
        match opened {
            Ok(database) => {
                // Opened more than once while the browser did not answer: one connection is enough.
                if let Some(first) = self.database.get_value() {
                    database.close();
                    return Some(first);
                }
                self.database.set_value(Some(database.clone()));
                self.close_for_upgrade(database.clone());
                Some(database)
            }
            Err(error) => {
                self.fault.set(Some(Fault::of_opening(&error)));
                None
            }
        }
    }

    /// Closes the connection when a newer version of the app, in another tab, wants to change the stores: an open
    /// connection would block it. New entries stay in the queue from then on.
    fn close_for_upgrade(self, database: Database) {
        spawn_local(async move {
            let Ok(mut changes) = database.version_changes() else {
                return;
            };
            let change = changes.recv().await;
            self.database.set_value(None);
            database.close();
            if change.is_some_and(|c| c.new_version().is_some()) {
                self.fault.set(Some(Fault::NewerVersion));
            }
        });
    }

    /// Returns the ids of the stored jobs.
    ///
    /// # Errors
    /// Fails if the journal cannot be read; its fault says why.
    pub async fn jobs(self) -> Result<Vec<JobId>, ()> {
        let database = self.open().await.ok_or(())?;
        match read_keys(&database).await {
            Ok(keys) => Ok(keys.iter().filter_map(|key| key.parse().ok()).collect()),
            Err(_) => {
                self.fault.set(Some(Fault::ReadFailed));
                Err(())
            }
        }
    }

    /// Returns when the last entry was saved, in milliseconds since 1970, and the address of the screen then.
    pub async fn last_route(self) -> Option<(i64, String)> {
        let database = self.database.get_value()?;
        let place = read_place(&database).await.ok()??;
        let (at_ms, address) = place.split_once(' ')?;
        Some((at_ms.parse().ok()?, address.to_owned()))
    }

    /// Reads the entries of a job. A record that cannot be read stays stored, and a notice names it.
    pub async fn read(self, id: JobId) -> StoredJob {
        let mut read = StoredJob::default();
        let lines = match self.open().await {
            Some(database) => read_lines(&database, id).await.map_err(|_| {
                // The browser may have closed the connection; the next attempt opens it again.
                self.database.set_value(None);
                self.fault.set(Some(Fault::ReadFailed));
            }),
            // Without IndexedDB nothing is stored that could be left unread.
            None if self.fault.get_untracked() == Some(Fault::Unsupported) => Ok(Vec::new()),
            None => Err(()),
        };
        read.failed = lines.is_err();
        let mut at_once = 0;
        for (at, line) in lines.unwrap_or_default().iter().enumerate() {
            at_once += line.len();
            if at_once > SLICE_BYTES {
                at_once = 0;
                device::pause(0).await;
            }
            match Entry::from_line(line) {
                Ok(entry) => read.entries.push(entry),
                Err(error) => read.notices.push(format!(
                    "The stored record {} of this job could not be read ({error}). It was set aside; the rest of the job is here.",
                    at + 1
                )),
            }
        }
        self.queue.with_value(|queue| {
            let unsaved = queue.iter().filter(|(job, _)| *job == id);
            read.entries.extend(unsaved.map(|(_, e)| e.clone()));
        });
        read
    }

    /// Appends entries to the queue and saves it.
    pub fn write(self, id: JobId, entries: Vec<Entry>) {
        self.unsaved.update(|n| *n += entries.len());
        self.queue
            .update_value(|queue| queue.extend(entries.into_iter().map(|e| (id, e))));
        if self.fault.with_untracked(Option::is_some) {
            self.set_aside();
        }
        self.save();
    }

    /// Sets the fault [`Fault::TimedOut`] if saving is under way and the database has not answered for too long.
    pub fn check_answer(self) {
        let silent_ms = local_time::now_ms() - self.last_answer_ms.get_value();
        if self.writing.get_value()
            && self.fault.with_untracked(Option::is_none)
            && silent_ms > WRITE_TIMEOUT.as_millis() as i64
        {
            self.fault.set(Some(Fault::TimedOut));
            self.set_aside();
        }
    }

    /// Copies the queue to local storage, for a next visit, while the journal does not work.
    fn set_aside(self) {
        self.queue.with_value(|queue| {
            local_storage::set_unsaved_entries(self.replica.get_value(), queue)
        });
    }

    /// Saves the queue, unless that is under way.
    fn save(self) {
        if self.writing.get_value() {
            return;
        }
        self.writing.set_value(true);
        spawn_local(async move {
            while !self.queue.with_value(Vec::is_empty) {
                let batch = self.queue.get_value();
                self.last_answer_ms.set_value(local_time::now_ms());
                if !self.save_batch(&batch).await {
                    self.writing.set_value(false);
                    self.set_aside();
                    self.retry_soon();
                    return;
                }
                self.queue.update_value(|queue| {
                    queue.drain(..batch.len().min(queue.len()));
                });
                self.unsaved.update(|n| *n = n.saturating_sub(batch.len()));
                if let Some(run) = self.on_saved.get_value() {
                    run(&batch);
                }
            }
            self.writing.set_value(false);
            // What earlier visits left in local storage is saved by now.
            if let Some(earlier) = self.earlier.try_update_value(Option::take).flatten() {
                earlier.forget();
            }
            if self.fault.with_untracked(Option::is_some) {
                self.set_aside();
                self.clear_fault_except(&[Fault::ReadFailed]);
            }
        });
    }

    /// Clears the fault, unless it is one of `but_for`.
    fn clear_fault_except(self, but_for: &[Fault]) {
        let fault = self.fault.get_untracked();
        if fault.is_some_and(|f| !but_for.contains(&f)) {
            self.fault.set(None);
        }
    }

    /// Schedules a retry.
    pub fn retry_soon(self) {
        if !self.retry_due.get_value() {
            self.retry_due.set_value(true);
            let again = move || {
                self.retry_due.set_value(false);
                self.retry();
            };
            set_timeout(again, RETRY_INTERVAL);
        }
    }

    /// Opens the database again, saves the queue, and notifies [`Journal::reopened`].
    pub fn retry(self) {
        spawn_local(async move {
            if self.open().await.is_none() || self.jobs().await.is_err() {
                return self.retry_soon();
            }
            if self.queue.with_value(Vec::is_empty) {
                self.clear_fault_except(&[]);
            } else {
                self.clear_fault_except(&[Fault::Full, Fault::WriteFailed, Fault::TimedOut]);
                self.save();
            }
            self.reopened.notify();
        });
    }

    /// Writes a batch and returns whether it is saved; otherwise sets the fault.
    async fn save_batch(self, batch: &[(JobId, Entry)]) -> bool {
        let Some(database) = self.open().await else {
            return false;
        };
        let Err(error) = write_lines(&database, batch, self.last_answer_ms).await else {
            return true;
        };
        self.fault.set(Some(Fault::of_writing(&error)));
        // The browser may have closed the connection; the next attempt opens it again.
        self.database.set_value(None);
        false
    }
}
