//! The journal: every entry in IndexedDB, one record each, with strict durability.
//!
//! An entry counts as saved when its transaction is complete. Until then it is in memory and shown as being saved, or
//! as not saved while the journal fails or takes too long.
//!
//! The journal knows neither screens nor state: it reports by its signals, and calls back with what it has saved. The file
//! is long because queue, time-outs and recovery are one state that only makes sense whole.

mod database;
mod deleted;
mod fault;

use std::collections::HashSet;
use std::rc::Rc;
use std::time::Duration;

use evenhand_core::job::{Deletion, Entry, EntryId, EntryKind, Job, JobId};
use indexed_db_futures::database::Database;
use indexed_db_futures::error::Error;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::{self, local_time};
use crate::storage::put_aside::{self, PutAsideList, Waiting};
use database::{
    SLICE_BYTES, id_of, is_unread, name_store, open_database, read_jobs, read_lines, read_place,
    read_store_id, write_lines, write_unread,
};
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
    /// The id of the store that this visit found; `None` before it has one. Another one means that it was emptied.
    store: StoredValue<Option<String>>,
    /// Entries to be saved, in order.
    queue: StoredValue<Vec<Waiting>, LocalStorage>,
    /// Whether saving is under way.
    writing: StoredValue<bool>,
    /// When saving began, or the database last answered since, on the clock that never goes back.
    last_answer_ms: StoredValue<f64>,
    /// Whether a retry is scheduled.
    retry_due: StoredValue<bool>,
    /// The jobs that could not be read when they last were.
    unread: StoredValue<HashSet<JobId>>,
    /// The lists that earlier versions put aside, until they are saved.
    lists: StoredValue<Vec<PutAsideList>>,
    /// Called with each batch that was saved.
    on_saved: StoredValue<Option<OnSaved>, LocalStorage>,
    /// Called when the store was emptied; returns what the page still has.
    on_emptied: StoredValue<Option<OnEmptied>, LocalStorage>,
    /// How many values that were put aside could not be read. They stay where they are.
    pub unreadable: usize,
    /// How many entries are not saved yet.
    pub unsaved: RwSignal<usize>,
    /// How many of them could not be put aside either, while the journal does not work.
    pub only_here: RwSignal<usize>,
    /// Why the journal does not work; `None` while it does.
    pub fault: RwSignal<Option<Fault>>,
    /// Notifies when the journal works again, so that failed reads can be repeated.
    pub reopened: Trigger,
}

type OnSaved = Rc<dyn Fn(&[Waiting])>;
type OnEmptied = Rc<dyn Fn() -> Vec<(JobId, Vec<Entry>)>>;

/// A job as it was read.
#[derive(Default)]
pub struct StoredJob {
    /// The job, with the entries that are not saved yet.
    pub job: Job,
    /// Sentences about records that could not be read; the job has them set aside.
    pub notices: Vec<String>,
    /// Whether the stored entries could not be read at all; the journal's fault says why.
    pub failed: bool,
}

fn names(waiting: &[Waiting]) -> HashSet<(JobId, EntryId)> {
    waiting.iter().map(Waiting::name).collect()
}

impl StoredJob {
    /// Returns whether there is no entry.
    pub fn is_empty(&self) -> bool {
        self.job.log().is_empty()
    }

    /// Returns whether a job can be shown: it was read, or it was made since and is whole in memory.
    pub fn is_whole(&self) -> bool {
        let made = |e: &Entry| matches!(e.kind, EntryKind::Made { .. });
        !self.is_empty() && (!self.failed || self.job.log().entries().iter().any(made))
    }
}

impl Journal {
    /// Returns a journal that is not open yet; entries that earlier visits put aside wait in its queue.
    pub fn new() -> Journal {
        let found = put_aside::find();
        Journal {
            unsaved: RwSignal::new(found.waiting.len()),
            unreadable: found.unreadable,
            queue: StoredValue::new_local(found.waiting),
            lists: StoredValue::new(found.lists),
            database: StoredValue::new_local(None),
            store: StoredValue::new(None),
            writing: StoredValue::new(false),
            last_answer_ms: StoredValue::new(0.0),
            retry_due: StoredValue::new(false),
            unread: StoredValue::new(HashSet::new()),
            on_saved: StoredValue::new_local(None),
            on_emptied: StoredValue::new_local(None),
            only_here: RwSignal::new(0),
            fault: RwSignal::new(None),
            reopened: Trigger::new(),
        }
    }

    /// Calls `run` with each batch that is saved from now on.
    pub fn on_saved(self, run: impl Fn(&[Waiting]) + 'static) {
        self.on_saved.set_value(Some(Rc::new(run)));
    }

    /// Calls `run` when the store was emptied while it was in use; it returns the entries that the page still has,
    /// which are stored again.
    pub fn on_emptied(self, run: impl Fn() -> Vec<(JobId, Vec<Entry>)> + 'static) {
        self.on_emptied.set_value(Some(Rc::new(run)));
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
        let store = match &opened {
            Ok(database) => read_store_id(database).await,
            Err(_) => Ok(None),
        };
        answered.set_value(true);
        match (opened, store) {
            (Ok(database), Ok(store)) => {
                // Opened more than once while the browser did not answer: one connection is enough.
                if let Some(first) = self.database.get_value() {
                    database.close();
                    return Some(first);
                }
                self.database.set_value(Some(database.clone()));
                self.close_for_upgrade(database.clone());
                self.compare_store(store, &database);
                Some(database)
            }
            (Ok(database), Err(_)) => {
                database.close();
                self.fault.set(Some(Fault::ReadFailed));
                None
            }
            (Err(error), _) => {
                self.fault.set(Some(Fault::of_opening(&error)));
                None
            }
        }
    }

    /// Compares the store that was found with the one that this visit knows. If it is another, that one was emptied: what
    /// the page still has is put before the queue.
    fn compare_store(self, found: Option<String>, database: &Database) {
        let emptied = self
            .store
            .with_value(|known| known.is_some() && *known != found);
        self.store.set_value(found.clone());
        if found.is_none() {
            let database = database.clone();
            spawn_local(async move {
                // If it fails, so does the first write, which tries it again and tells.
                if let Ok(id) = name_store(&database).await {
                    self.store.set_value(Some(id));
                }
            });
        }
        let run = self.on_emptied.get_value().filter(|_| emptied);
        let kept = run.map(|run| run()).unwrap_or_default();
        let queued = self.queue.with_value(|queue| names(queue));
        let kept: Vec<_> = kept
            .into_iter()
            .flat_map(|(job, entries)| {
                let missing = entries.into_iter();
                let missing = missing.filter(|e| !queued.contains(&(job, e.id)));
                Waiting::of(job, missing.collect())
            })
            .collect();
        if kept.is_empty() {
            return;
        }
        self.unsaved.update(|n| *n += kept.len());
        self.queue
            .update_value(|queue| drop(queue.splice(..0, kept)));
        if self.fault.with_untracked(Option::is_some) {
            self.put_aside();
        }
        // Found by a read, and not by the writing itself, they would wait for the next entry.
        self.save();
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
            } else {
                // Deleted, or closed by the browser: opened again at once, it is seen what is gone.
                self.retry_soon();
            }
        });
    }

    /// Returns the ids of the stored jobs, each with its mark if it was deleted.
    ///
    /// # Errors
    /// Fails if the journal cannot be read; its fault says why.
    pub async fn jobs(self) -> Result<Vec<(JobId, Option<Deletion>)>, ()> {
        let database = self.open().await.ok_or(())?;
        let Ok(mut jobs) = read_jobs(&database).await else {
            self.fail_to_read();
            return Err(());
        };
        // A job may be in the queue alone while writing fails.
        self.queue.with_value(|queue| {
            for of_one in queue.chunk_by(|a, b| a.job == b.job) {
                let job = of_one[0].job;
                if !jobs.iter().any(|(id, _)| *id == job) {
                    jobs.push((job, None));
                }
            }
        });
        Ok(jobs)
    }

    fn fail_to_read(self) {
        // The browser may have closed the connection; the next attempt opens it again.
        self.database.set_value(None);
        self.fault.set(Some(Fault::ReadFailed));
    }

    /// Returns when the last entry was saved, in milliseconds since 1970, and the address of the screen then.
    pub async fn last_route(self) -> Option<(i64, String)> {
        let database = self.database.get_value()?;
        let place = read_place(&database).await.ok()??;
        let (at_ms, address) = place.split_once(' ')?;
        Some((at_ms.parse().ok()?, address.to_owned()))
    }

    /// Reads a job. A record that cannot be read stays stored, and a notice names it.
    pub async fn read(self, id: JobId) -> StoredJob {
        let lines = match self.open().await {
            Some(database) => match read_lines(&database, id).await {
                Ok(lines) => {
                    self.unread
                        .update_value(|unread| unread.retain(|of| *of != id));
                    Some(lines)
                }
                Err(_) => {
                    self.unread.update_value(|unread| unread.extend([id]));
                    self.fail_to_read();
                    None
                }
            },
            // Without IndexedDB nothing is stored that could be left unread.
            None if self.fault.get_untracked() == Some(Fault::Unsupported) => Some(Vec::new()),
            None => None,
        };
        let failed = lines.is_none();
        let (mut entries, mut set_aside) = (Vec::new(), Vec::new());
        let (mut notices, mut reserved) = (Vec::new(), Vec::new());
        let mut at_once = 0;
        for (at, (key, line)) in lines.unwrap_or_default().into_iter().enumerate() {
            at_once += line.len();
            if at_once > SLICE_BYTES {
                at_once = 0;
                device::pause(0).await;
            }
            if is_unread(&key) {
                set_aside.push(line);
                continue;
            }
            match Entry::from_line(&line) {
                Ok(entry) => entries.push(entry),
                Err(error) => {
                    notices.push(format!(
                        "The stored record {} of this job could not be read ({error}). It was set aside; the rest of the job is here.",
                        at + 1
                    ));
                    set_aside.push(line);
                    reserved.extend(id_of(&key));
                }
            }
        }
        match set_aside.len() - notices.len() {
            0 => {}
            1 => notices.push("1 record of a file of this job could not be read where it was written. It is kept as it was.".to_owned()),
            n => notices.push(format!("{n} records of files of this job could not be read where they were written. They are kept as they were.")),
        }
        let torn = set_aside.len();
        self.queue.with_value(|queue| {
            let unsaved = queue.iter().filter(|w| w.job == id);
            entries.extend(unsaved.map(|w| w.entry.clone()));
        });
        let mut job = Job::stored(id, entries, set_aside);
        if job.records_set_aside().len() > torn {
            notices.push("The beginning of another job is stored with this one. It was set aside; the rest of the job is here.".to_owned());
        }
        // What is entered next must not take the key of a record that could not be read.
        reserved.into_iter().for_each(|id| job.reserve(id));
        StoredJob {
            job,
            notices,
            failed,
        }
    }

    /// Stores records of a file that could not be read where it was written, to be passed on. Returns whether they are
    /// stored.
    pub async fn keep_unread(self, id: JobId, records: &[String]) -> bool {
        let Some(database) = self.open().await else {
            return false;
        };
        write_unread(&database, id, records).await.is_ok()
    }

    /// Appends entries to the queue and saves it.
    pub fn write(self, id: JobId, entries: Vec<Entry>) {
        self.unsaved.update(|n| *n += entries.len());
        self.queue
            .update_value(|queue| queue.extend(Waiting::of(id, entries)));
        if self.fault.with_untracked(Option::is_some) {
            self.put_aside();
        }
        self.save();
    }

    /// Sets the fault [`Fault::TimedOut`] if saving is under way and the database has not answered for too long.
    pub fn check_answer(self) {
        let silent_ms = local_time::monotonic_ms() - self.last_answer_ms.get_value();
        if self.writing.get_value()
            && self.fault.with_untracked(Option::is_none)
            && silent_ms > WRITE_TIMEOUT.as_millis() as f64
        {
            self.fault.set(Some(Fault::TimedOut));
            self.put_aside();
        }
    }

    /// Puts the queue aside in local storage, for a next visit, while the journal does not work.
    fn put_aside(self) {
        self.queue.update_value(|queue| put_aside::put_aside(queue));
        self.count_only_here();
    }

    fn count_only_here(self) {
        // Nothing is put aside while the journal works.
        if self.fault.with_untracked(Option::is_none) {
            return;
        }
        let only_here = |queue: &Vec<Waiting>| queue.iter().filter(|w| !w.is_aside()).count();
        self.only_here.set(self.queue.with_value(only_here));
    }

    /// Saves the queue, unless that is under way.
    fn save(self) {
        if self.writing.get_value() {
            return;
        }
        self.writing.set_value(true);
        spawn_local(async move {
            while !self.queue.with_value(Vec::is_empty) {
                self.last_answer_ms.set_value(local_time::monotonic_ms());
                let Some(database) = self.open().await else {
                    return self.stop_saving();
                };
                let batch = self.queue.get_value();
                self.last_answer_ms.set_value(local_time::monotonic_ms());
                match write_lines(&database, &batch, self.last_answer_ms).await {
                    Ok(found) => {
                        self.take_as_saved(&batch);
                        if found.is_none() || self.store.with_value(|known| *known != found) {
                            self.compare_store(found, &database);
                        }
                    }
                    Err(error) => return self.fail_to_save(&error),
                }
            }
            self.writing.set_value(false);
            // What earlier versions put aside is saved by now.
            let lists = self.lists.try_update_value(std::mem::take);
            for list in lists.unwrap_or_default() {
                list.forget();
            }
            self.only_here.set(0);
            self.clear_fault_except(&[Fault::ReadFailed]);
        });
    }

    /// Takes the entries of a batch out of the queue, as saved. What was put aside meanwhile is forgotten too.
    fn take_as_saved(self, batch: &[Waiting]) {
        // The queue may have been put together anew since: they need not be its first.
        let written = names(batch);
        let taken = self.queue.try_update_value(|queue| {
            let of_batch = |w: &mut Waiting| written.contains(&w.name());
            queue.extract_if(.., of_batch).collect::<Vec<_>>()
        });
        let saved = taken.unwrap_or_default();
        saved.iter().for_each(Waiting::forget);
        self.count_only_here();
        self.unsaved.update(|n| *n = n.saturating_sub(saved.len()));
        if let Some(run) = self.on_saved.get_value() {
            run(&saved);
        }
    }

    fn fail_to_save(self, error: &Error) {
        self.fault.set(Some(Fault::of_writing(error)));
        // The browser may have closed the connection; the next attempt opens it again.
        self.database.set_value(None);
        self.stop_saving();
    }

    /// Puts the queue aside, and schedules a retry.
    fn stop_saving(self) {
        self.writing.set_value(false);
        self.put_aside();
        self.retry_soon();
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
            let Some(database) = self.open().await else {
                return self.retry_soon();
            };
            if self.jobs().await.is_err() {
                return self.retry_soon();
            }
            let waits = !self.queue.with_value(Vec::is_empty);
            if waits {
                self.save();
            }
            // Those that could not be read are tried before it is said to work: otherwise the fault would come and go.
            for id in self.unread.get_value() {
                if read_lines(&database, id).await.is_err() {
                    self.database.set_value(None);
                    return self.retry_soon();
                }
            }
            self.unread.update_value(HashSet::clear);
            if waits {
                self.clear_fault_except(&[Fault::Full, Fault::WriteFailed, Fault::TimedOut]);
            } else {
                self.clear_fault_except(&[]);
            }
            self.reopened.notify();
        });
    }
}
