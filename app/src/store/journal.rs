//! The journal: every entry in IndexedDB, one record each, with strict durability.
//!
//! An entry counts as saved when its transaction is complete. Until then, and while the
//! journal fails, it is kept in memory and shown as not saved.

use evenhand_core::job::{Entry, JobId};
use indexed_db_futures::database::Database;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{
    Transaction, TransactionDurability, TransactionMode, TransactionOptions,
};
use indexed_db_futures::{KeyRange, OpenDbResult};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::desk::Desk;
use crate::device;
use crate::place::Screen;

const NAME: &str = "evenhand";
const VERSION: u8 = 1;
/// Records: the entry's line under `job/clock-device-seq`, so that a job's entries lie together.
const ENTRIES: &str = "entries";
/// The jobs that there are: their ids as keys; and the place of the last entry.
const JOBS: &str = "jobs";
const LAST_PLACE: &str = "place";

/// What stays on the screen while entries cannot be saved.
pub const NOT_SAVING: &str = "The last entries could not be saved on this phone. They are kept while this page stays open: do not close it. Export the job now to be safe; saving is tried again by itself.";
const NO_JOURNAL: &str = "This browser gives Evenhand no storage, so nothing can be saved here. Entries are kept while this page stays open: export the job before you close it.";

/// Where entries are kept. Signals and stored values only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Journal {
    database: StoredValue<Option<Database>, LocalStorage>,
    waiting: StoredValue<Vec<(JobId, Entry)>, LocalStorage>,
    writing: StoredValue<bool>,
    /// How many entries are not saved yet.
    pub unsaved: RwSignal<usize>,
}

/// What reading a job found.
#[derive(Default)]
pub struct Read {
    /// Its entries, those not saved yet among them.
    pub entries: Vec<Entry>,
    /// What to tell: records that cannot be read.
    pub notices: Vec<String>,
    /// Whether the stored entries could not be read at all.
    pub failed: bool,
}

impl Journal {
    /// A journal that is not open yet; what is written waits.
    pub fn new() -> Journal {
        Journal {
            database: StoredValue::new_local(None),
            waiting: StoredValue::new_local(Vec::new()),
            writing: StoredValue::new(false),
            unsaved: RwSignal::new(0),
        }
    }

    /// Opens it.
    ///
    /// # Errors
    /// A sentence to show where the browser gives no storage.
    pub async fn open(self) -> Result<(), String> {
        match open_database().await {
            Ok(database) => {
                self.database.set_value(Some(database));
                Ok(())
            }
            Err(_) => Err(NO_JOURNAL.to_owned()),
        }
    }

    /// The jobs that it holds.
    ///
    /// # Errors
    /// Where the journal cannot be read.
    pub async fn jobs(self) -> Result<Vec<JobId>, ()> {
        let database = self.database.get_value().ok_or(())?;
        let keys = read_keys(&database).await.map_err(|_| ())?;
        Ok(keys.iter().filter_map(|key| key.parse().ok()).collect())
    }

    /// The screen at which the last entry was made, and when.
    pub async fn last_place(self) -> Option<(i64, Screen)> {
        let database = self.database.get_value()?;
        let place = read_place(&database).await.ok()??;
        let (at_ms, address) = place.split_once(' ')?;
        Some((at_ms.parse().ok()?, Screen::of(address)?))
    }

    /// The entries of a job. A record that cannot be read is set aside and named.
    pub async fn read(self, id: JobId) -> Read {
        let mut read = Read::default();
        if self.database.with_value(Option::is_none) {
            // A failed save gives the connection up; without a journal at all this changes nothing.
            let _ = self.open().await;
        }
        if let Some(database) = self.database.get_value() {
            match read_lines(&database, id).await {
                Ok(lines) => {
                    for line in lines {
                        match Entry::from_line(&line) {
                            Ok(entry) => read.entries.push(entry),
                            Err(error) => read.notices.push(format!(
                                "One stored record could not be read ({error}). It was set aside; the rest of the job is here."
                            )),
                        }
                    }
                }
                Err(_) => {
                    read.failed = true;
                    read.notices.push(
                        "The stored entries could not be read, and nothing stored was changed. Close other tabs of Evenhand and try again."
                            .to_owned(),
                    );
                }
            }
        }
        self.waiting.with_value(|waiting| {
            let unsaved = waiting.iter().filter(|(job, _)| *job == id);
            read.entries.extend(unsaved.map(|(_, e)| e.clone()));
        });
        read
    }

    /// Takes entries to be saved, in order, and saves whatever waits.
    pub fn write(self, desk: Desk, id: JobId, entries: Vec<Entry>) {
        self.unsaved.update(|n| *n += entries.len());
        self.waiting
            .update_value(|w| w.extend(entries.into_iter().map(|e| (id, e))));
        self.save(desk);
    }

    /// Saves what waits, unless that is under way.
    fn save(self, desk: Desk) {
        if self.writing.get_value() {
            return;
        }
        self.writing.set_value(true);
        spawn_local(async move {
            while !self.waiting.with_value(Vec::is_empty) {
                let batch = self.waiting.get_value();
                if !self.save_batch(&batch).await {
                    self.writing.set_value(false);
                    desk.trouble(NOT_SAVING.to_owned());
                    set_timeout(move || self.save(desk), std::time::Duration::from_secs(3));
                    return;
                }
                self.waiting.update_value(|w| {
                    w.drain(..batch.len().min(w.len()));
                });
                self.unsaved.update(|n| *n = n.saturating_sub(batch.len()));
            }
            self.writing.set_value(false);
            let failed = desk
                .notices
                .with_untracked(|n| n.iter().any(|n| n.text == NOT_SAVING));
            if failed {
                desk.put_away(NOT_SAVING);
                desk.say("Saving works again: everything that was entered is saved.");
            }
        });
    }

    async fn save_batch(self, batch: &[(JobId, Entry)]) -> bool {
        if self.database.with_value(Option::is_none) && self.open().await.is_err() {
            return false;
        }
        let Some(database) = self.database.get_value() else {
            return false;
        };
        let saved = write_lines(&database, batch).await.is_ok();
        if !saved {
            // The connection may have been closed under us; the next attempt opens it anew.
            self.database.set_value(None);
        }
        saved
    }
}

async fn open_database() -> OpenDbResult<Database> {
    Database::open(NAME)
        .with_version(VERSION)
        .with_on_upgrade_needed(|event, database| {
            if event.old_version() < 1.0 {
                database.create_object_store(ENTRIES).build()?;
                database.create_object_store(JOBS).build()?;
            }
            Ok(())
        })
        .await
}

type Done<T> = Result<T, indexed_db_futures::error::Error>;

fn strict<'a>(database: &'a Database) -> Done<Transaction<'a>> {
    let options = TransactionOptions::new().with_durability(TransactionDurability::Strict);
    database
        .transaction([ENTRIES, JOBS])
        .with_mode(TransactionMode::Readwrite)
        .with_options(options)
        .build()
}

async fn write_lines(database: &Database, batch: &[(JobId, Entry)]) -> Done<()> {
    let transaction = strict(database)?;
    let entries = transaction.object_store(ENTRIES)?;
    let jobs = transaction.object_store(JOBS)?;
    let mut last = None;
    for (job, entry) in batch {
        // `put` and not `add`: an attempt whose answer was lost may be repeated.
        entries
            .put(entry.to_line())
            .with_key(key(*job, entry))
            .primitive()?;
        if last != Some(*job) {
            jobs.put(1u8).with_key(job.to_string()).primitive()?;
            last = Some(*job);
        }
    }
    let place = format!("{} {}", device::now_ms(), Screen::here().href());
    jobs.put(place).with_key(LAST_PLACE).primitive()?;
    transaction.commit().await
}

fn key(job: JobId, entry: &Entry) -> String {
    format!(
        "{job}/{:016x}-{}-{:016x}",
        entry.clock, entry.id.device, entry.id.seq
    )
}

async fn read_lines(database: &Database, id: JobId) -> Done<Vec<String>> {
    let transaction = database.transaction(ENTRIES).build()?;
    let store = transaction.object_store(ENTRIES)?;
    // All keys that begin with the id and a slash: `0` follows `/`.
    let range = KeyRange::Bound(format!("{id}/"), false, format!("{id}0"), true);
    let lines = store
        .get_all::<Line>()
        .with_query::<String, _>(range)
        .primitive()?
        .await?;
    lines.map(|line| line.map(|l| l.0)).collect()
}

/// A stored record as text; whatever else is found there reads as an unreadable line.
struct Line(String);

impl indexed_db_futures::primitive::TryFromJs for Line {
    fn from_js(
        value: wasm_bindgen::JsValue,
    ) -> Result<Line, indexed_db_futures::error::SimpleValueError> {
        Ok(Line(value.as_string().unwrap_or_default()))
    }
}

async fn read_keys(database: &Database) -> Done<Vec<String>> {
    let transaction = database.transaction(JOBS).build()?;
    let store = transaction.object_store(JOBS)?;
    let keys = store.get_all_keys::<String>().primitive()?.await?;
    keys.collect()
}

async fn read_place(database: &Database) -> Done<Option<String>> {
    let transaction = database.transaction(JOBS).build()?;
    let store = transaction.object_store(JOBS)?;
    store.get(LAST_PLACE).primitive()?.await
}
