//! The journal: every entry in IndexedDB, one record each, with strict durability.
//!
//! An entry counts as saved when its transaction is complete. Until then it is kept in memory
//! and shown as being saved; as not saved while the journal fails, or takes too long.
//!
//! The journal knows neither screens nor state: it reports by its signals, and calls back with what it has saved.

use std::rc::Rc;
use std::time::Duration;

use evenhand_core::job::{Act, DeviceId, Entry, JobId};
use indexed_db_futures::database::Database;
use indexed_db_futures::error::OpenDbError;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::{
    Transaction, TransactionDurability, TransactionMode, TransactionOptions,
};
use indexed_db_futures::{KeyRange, OpenDbResult};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device;
use crate::storage::local_storage::{self, UnsavedEntries};

const NAME: &str = "evenhand";
const VERSION: u8 = 1;
/// Records: the entry's line under `job/clock-device-seq`, so that a job's entries lie together.
const ENTRIES: &str = "entries";
/// The jobs that there are: their ids as keys; and the place of the last entry.
const JOBS: &str = "jobs";
const LAST_PLACE: &str = "place";

/// Why the journal does not work at present; it is tried again by itself until it does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fault {
    /// The browser has no such storage at all.
    Missing,
    /// It could not be opened.
    Closed,
    /// Opening it, or writing, takes long: something else holds it.
    Held,
    /// A newer version of the app has been at work in it.
    Newer,
    /// What is stored could not be read.
    Unread,
    /// There is no room left.
    Full,
    /// An entry could not be written.
    Unwritten,
}

impl Fault {
    /// The sentence that stays on the screen meanwhile.
    pub const fn sentence(self) -> &'static str {
        match self {
            Fault::Missing => {
                "This browser gives Evenhand no storage. Entries are kept while this page stays open: export the job before you close it."
            }
            Fault::Closed => {
                "The storage of this browser could not be opened. What is stored was not changed; entries are kept while this page stays open. It is tried again by itself. Export the job to be safe."
            }
            Fault::Held => {
                "The storage of this browser does not answer. Close other tabs of Evenhand. Entries are kept while this page stays open, and saved when it answers."
            }
            Fault::Newer => {
                "What is stored here is from a newer version of Evenhand, and was not changed. Close all its tabs and open it anew to get that version. Until then entries are kept only while this page stays open: export the job."
            }
            Fault::Unread => {
                "The stored entries could not be read, and nothing stored was changed. It is tried again by itself; if this stays, close other tabs of Evenhand."
            }
            Fault::Full => {
                "The browser did not store the last entries: most likely this phone has no room left. They are kept while this page stays open. Export the job now, then make room on the phone; saving is tried again by itself."
            }
            Fault::Unwritten => {
                "The last entries could not be saved on this phone. They are kept while this page stays open: do not close it. Export the job now to be safe; saving is tried again by itself."
            }
        }
    }
}

/// What is said when the journal works again.
pub const RECOVERED: &str = "The storage works again: everything that was entered is saved.";

/// How long opening may take before it counts as held.
const OPEN_TIMEOUT: Duration = Duration::from_secs(3);
/// How long the storage may take for a slice of what is written, or to lay it down, before it counts as held.
const WRITE_TIMEOUT: Duration = Duration::from_secs(6);
/// So many bytes of entries are read or written between two looks at the screen: a tenth of a second of a slow phone.
const SLICE: usize = 128 << 10;
/// Between two attempts.
const RETRY_INTERVAL: Duration = Duration::from_secs(3);

/// Where entries are kept. Signals and stored values only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Journal {
    database: StoredValue<Option<Database>, LocalStorage>,
    waiting: StoredValue<Vec<(JobId, Entry)>, LocalStorage>,
    writing: StoredValue<bool>,
    /// When saving was begun, or the storage last answered meanwhile.
    heard_ms: StoredValue<i64>,
    retry_due: StoredValue<bool>,
    /// Who writes the entries of this visit: the name under which they are put aside in local storage.
    replica: StoredValue<DeviceId>,
    /// What earlier visits left unsaved, until it is saved.
    earlier: StoredValue<Option<UnsavedEntries>, LocalStorage>,
    /// Called with each batch that was saved.
    on_saved: StoredValue<Option<OnSaved>, LocalStorage>,
    /// How many entries are not saved yet.
    pub unsaved: RwSignal<usize>,
    /// Why it does not work at present.
    pub fault: RwSignal<Option<Fault>>,
    /// Notifies when it works again: what could not be read can be read now.
    pub reopened: Trigger,
}

type OnSaved = Rc<dyn Fn(&[(JobId, Entry)])>;

/// What reading a job found.
#[derive(Default)]
pub struct Read {
    /// Its entries, those not saved yet among them.
    pub entries: Vec<Entry>,
    /// What to tell: records that cannot be read.
    pub notices: Vec<String>,
    /// Whether the stored entries could not be read at all; the journal's fault says why.
    pub failed: bool,
}

impl Read {
    /// Whether a job can be shown of it: with what is stored, or wholly made since.
    pub fn is_whole(&self) -> bool {
        let made = |e: &Entry| matches!(e.act, Act::Made { .. });
        !self.entries.is_empty() && (!self.failed || self.entries.iter().any(made))
    }
}

impl Journal {
    /// A journal that is not open yet; what is written waits.
    pub fn new(replica: DeviceId) -> Journal {
        let earlier = local_storage::unsaved_entries();
        Journal {
            unsaved: RwSignal::new(earlier.entries.len()),
            waiting: StoredValue::new_local(earlier.entries.clone()),
            earlier: StoredValue::new_local(Some(earlier)),
            database: StoredValue::new_local(None),
            writing: StoredValue::new(false),
            heard_ms: StoredValue::new(0),
            retry_due: StoredValue::new(false),
            replica: StoredValue::new(replica),
            on_saved: StoredValue::new_local(None),
            fault: RwSignal::new(None),
            reopened: Trigger::new(),
        }
    }

    /// Calls with each batch that is saved from now on.
    pub fn on_saved(self, run: impl Fn(&[(JobId, Entry)]) + 'static) {
        self.on_saved.set_value(Some(Rc::new(run)));
    }

    /// The open database; says why there is none otherwise.
    async fn ready(self) -> Option<Database> {
        if let Some(database) = self.database.get_value() {
            return Some(database);
        }
        let answered = StoredValue::new(false);
        let held = move || {
            if !answered.get_value() {
                self.fault.set(Some(Fault::Held));
            }
        };
        set_timeout(held, OPEN_TIMEOUT);
        let opened = open_database().await;
        answered.set_value(true);
        match opened {
            Ok(database) => {
                // Asked more than once while it did not answer: one connection is enough.
                if let Some(first) = self.database.get_value() {
                    database.close();
                    return Some(first);
                }
                self.database.set_value(Some(database.clone()));
                self.give_way(database.clone());
                Some(database)
            }
            Err(error) => {
                self.fault.set(Some(why_closed(&error)));
                None
            }
        }
    }

    /// Lets a newer version of the app, in another tab, change the stores: this connection would hold it up. What is
    /// entered from then on waits for that version.
    fn give_way(self, database: Database) {
        spawn_local(async move {
            let Ok(mut changes) = database.version_changes() else {
                return;
            };
            let change = changes.recv().await;
            self.database.set_value(None);
            database.close();
            if change.is_some_and(|c| c.new_version().is_some()) {
                self.fault.set(Some(Fault::Newer));
            }
        });
    }

    /// The jobs that it holds.
    ///
    /// # Errors
    /// Where the journal cannot be read; its fault says why.
    pub async fn jobs(self) -> Result<Vec<JobId>, ()> {
        let database = self.ready().await.ok_or(())?;
        match read_keys(&database).await {
            Ok(keys) => Ok(keys.iter().filter_map(|key| key.parse().ok()).collect()),
            Err(_) => {
                self.fault.set(Some(Fault::Unread));
                Err(())
            }
        }
    }

    /// Returns when the last entry was saved, in milliseconds since 1970, and the address of the screen then.
    pub async fn last_place(self) -> Option<(i64, String)> {
        let database = self.database.get_value()?;
        let place = read_place(&database).await.ok()??;
        let (at_ms, address) = place.split_once(' ')?;
        Some((at_ms.parse().ok()?, address.to_owned()))
    }

    /// The entries of a job. A record that cannot be read is set aside and named.
    pub async fn read(self, id: JobId) -> Read {
        let mut read = Read::default();
        let lines = match self.ready().await {
            Some(database) => read_lines(&database, id).await.map_err(|_| {
                // The connection may have been closed under us; the next attempt opens it anew.
                self.database.set_value(None);
                self.fault.set(Some(Fault::Unread));
            }),
            // Where there is no storage at all, nothing can be left unread in it.
            None if self.fault.get_untracked() == Some(Fault::Missing) => Ok(Vec::new()),
            None => Err(()),
        };
        read.failed = lines.is_err();
        let mut at_once = 0;
        for (at, line) in lines.unwrap_or_default().iter().enumerate() {
            at_once += line.len();
            if at_once > SLICE {
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
        self.waiting.with_value(|waiting| {
            let unsaved = waiting.iter().filter(|(job, _)| *job == id);
            read.entries.extend(unsaved.map(|(_, e)| e.clone()));
        });
        read
    }

    /// Takes entries to be saved, in order, and saves whatever waits.
    pub fn write(self, id: JobId, entries: Vec<Entry>) {
        self.unsaved.update(|n| *n += entries.len());
        self.waiting
            .update_value(|w| w.extend(entries.into_iter().map(|e| (id, e))));
        if self.fault.with_untracked(Option::is_some) {
            self.keep_aside();
        }
        self.save();
    }

    /// Says that the storage does not answer where something is being saved and nothing was heard for long.
    pub fn check_answer(self) {
        let silent_ms = device::now_ms() - self.heard_ms.get_value();
        if self.writing.get_value()
            && self.fault.with_untracked(Option::is_none)
            && silent_ms > WRITE_TIMEOUT.as_millis() as i64
        {
            self.fault.set(Some(Fault::Held));
            self.keep_aside();
        }
    }

    /// Keeps what waits in local storage too, where that works, while the journal does not.
    fn keep_aside(self) {
        self.waiting.with_value(|waiting| {
            local_storage::set_unsaved_entries(self.replica.get_value(), waiting)
        });
    }

    /// Saves what waits, unless that is under way.
    fn save(self) {
        if self.writing.get_value() {
            return;
        }
        self.writing.set_value(true);
        spawn_local(async move {
            while !self.waiting.with_value(Vec::is_empty) {
                let batch = self.waiting.get_value();
                self.heard_ms.set_value(device::now_ms());
                if !self.save_batch(&batch).await {
                    self.writing.set_value(false);
                    self.keep_aside();
                    self.retry_soon();
                    return;
                }
                self.waiting.update_value(|w| {
                    w.drain(..batch.len().min(w.len()));
                });
                self.unsaved.update(|n| *n = n.saturating_sub(batch.len()));
                if let Some(run) = self.on_saved.get_value() {
                    run(&batch);
                }
            }
            self.writing.set_value(false);
            // Only what was put aside needs to be taken away again.
            if let Some(earlier) = self.earlier.try_update_value(Option::take).flatten() {
                earlier.forget();
            }
            if self.fault.with_untracked(Option::is_some) {
                self.keep_aside();
                self.works(&[Fault::Unread]);
            }
        });
    }

    /// The journal works; a fault of another kind may still stand.
    fn works(self, but_for: &[Fault]) {
        let fault = self.fault.get_untracked();
        if fault.is_some_and(|f| !but_for.contains(&f)) {
            self.fault.set(None);
        }
    }

    /// Tries again after a pause.
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

    /// Tries again: opens, reads what could not be read, saves what waits.
    pub fn retry(self) {
        spawn_local(async move {
            if self.ready().await.is_none() || self.jobs().await.is_err() {
                return self.retry_soon();
            }
            if self.waiting.with_value(Vec::is_empty) {
                self.works(&[]);
            } else {
                self.works(&[Fault::Full, Fault::Unwritten, Fault::Held]);
                self.save();
            }
            self.reopened.notify();
        });
    }

    async fn save_batch(self, batch: &[(JobId, Entry)]) -> bool {
        let Some(database) = self.ready().await else {
            return false;
        };
        let Err(error) = write_lines(&database, batch, self.heard_ms).await else {
            return true;
        };
        self.fault.set(Some(why_unwritten(&error)));
        // The connection may have been closed under us; the next attempt opens it anew.
        self.database.set_value(None);
        false
    }
}

/// The browser's name for an error, where it is the browser's.
fn name_of(error: &indexed_db_futures::error::Error) -> Option<String> {
    match error {
        indexed_db_futures::error::Error::DomException(error) => {
            let error: web_sys::DomException = error.clone().into();
            Some(error.name())
        }
        _ => None,
    }
}

fn why_closed(error: &OpenDbError) -> Fault {
    match error {
        OpenDbError::UnsupportedEnvironment | OpenDbError::NullFactory => Fault::Missing,
        OpenDbError::Base(base) if name_of(base).as_deref() == Some("VersionError") => Fault::Newer,
        _ => Fault::Closed,
    }
}

fn why_unwritten(error: &indexed_db_futures::error::Error) -> Fault {
    match (error, name_of(error).as_deref()) {
        // A transaction that ends without a reason was refused when it was to be laid down on the disk.
        (indexed_db_futures::error::Error::MissingData(_), _) | (_, Some("QuotaExceededError")) => {
            Fault::Full
        }
        _ => Fault::Unwritten,
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

async fn write_lines(
    database: &Database,
    batch: &[(JobId, Entry)],
    heard_ms: StoredValue<i64>,
) -> Done<()> {
    let transaction = strict(database)?;
    let entries = transaction.object_store(ENTRIES)?;
    let jobs = transaction.object_store(JOBS)?;
    let mut last = None;
    let mut at_once = 0;
    for (job, entry) in batch {
        let line = entry.to_line();
        at_once += line.len();
        // `put` and not `add`: an attempt whose answer was lost may be repeated.
        let put = entries.put(line).with_key(key(*job, entry)).primitive()?;
        // An answer that is waited for leaves the browser time, and the transaction open.
        if at_once > SLICE {
            at_once = 0;
            put.await?;
            heard_ms.set_value(device::now_ms());
        }
        if last != Some(*job) {
            jobs.put(1u8).with_key(job.to_string()).primitive()?;
            last = Some(*job);
        }
    }
    let place = format!("{} {}", device::now_ms(), device::address());
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
