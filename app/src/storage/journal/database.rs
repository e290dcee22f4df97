//! The database: its stores, their keys, and one transaction for each thing that is asked of it.

use evenhand_core::job::{Deletion, Entry, EntryId, JobId};
use indexed_db_futures::database::Database;
use indexed_db_futures::object_store::ObjectStore;
use indexed_db_futures::prelude::*;
use indexed_db_futures::transaction::Transaction;
use indexed_db_futures::{KeyRange, OpenDbResult};
use leptos::prelude::{SetValue, StoredValue};

use crate::device::{self, local_time};
use crate::storage::indexed_db::{self, DbResult};
use crate::storage::put_aside::Waiting;

const NAME: &str = "evenhand";
/// The store of entries: each one's line under `job/clock-device-seq`, so that a job's entries lie together.
const ENTRIES: &str = "entries";
/// What follows the job in the keys of records that came in a file as unreadable: they are set aside whatever they hold.
const UNREAD: &str = "/unread-";
/// The store of jobs: their ids as keys, each with 1 or, if it was deleted, with [`DELETED`]; and [`LAST_PLACE`] and
/// [`STORE_ID`].
const JOBS: &str = "jobs";
/// The value of a deleted job begins so; the time follows, in milliseconds since 1970.
const DELETED: &str = "deleted ";
/// The key of a random number that tells this store from one that is made after it was emptied.
const STORE_ID: &str = "store";
/// The key of the last entry's time and address.
const LAST_PLACE: &str = "place";

/// How many bytes of entries are read or written before the screen may be painted: a tenth of a second of a slow phone.
pub const SLICE_BYTES: usize = 128 << 10;

/// Opens the database, and makes its stores if it is new.
pub async fn open_database() -> OpenDbResult<Database> {
    indexed_db::open_database(NAME, [ENTRIES, JOBS]).await
}

/// Returns a transaction that is complete only when it is on the disk.
fn strict_transaction<'a>(database: &'a Database) -> DbResult<Transaction<'a>> {
    indexed_db::strict_transaction(database, [ENTRIES, JOBS])
}

/// Returns the id of the store. `None` if it has none yet: it is new, or of a version that gave none.
pub async fn read_store_id(database: &Database) -> DbResult<Option<String>> {
    read_text(database, STORE_ID).await
}

/// Gives the store an id, unless another tab has been first, and returns it.
pub async fn name_store(database: &Database) -> DbResult<String> {
    let transaction = strict_transaction(database)?;
    let jobs = transaction.object_store(JOBS)?;
    let id = read_value(&jobs, STORE_ID).await?;
    let id = id.unwrap_or_else(|| format!("{:016x}", device::random()));
    jobs.put(id.clone()).with_key(STORE_ID).primitive()?;
    transaction.commit().await?;
    Ok(id)
}

/// Writes entries in one transaction. Sets `last_answer_ms` whenever the database answers.
///
/// A short batch is committed before the first answer is awaited: a page that is left has no time for one.
///
/// Returns the id of the store into which they went; `None` if it has none yet.
pub async fn write_lines(
    database: &Database,
    batch: &[Waiting],
    last_answer_ms: StoredValue<f64>,
) -> DbResult<Option<String>> {
    let transaction = strict_transaction(database)?;
    let entries = transaction.object_store(ENTRIES)?;
    let jobs = transaction.object_store(JOBS)?;
    let found = jobs.get::<StoredLine, _, _>(STORE_ID).primitive()?;
    let mut last = None;
    let mut at_once = 0;
    for Waiting { job, entry, .. } in batch {
        let line = entry.to_line();
        at_once += line.len();
        // `put`, not `add`: a write whose answer was lost is repeated.
        let put = entries.put(line).with_key(key(*job, entry)).primitive()?;
        // Awaiting a request lets the browser paint, and keeps the transaction open.
        if at_once > SLICE_BYTES {
            at_once = 0;
            put.await?;
            last_answer_ms.set_value(local_time::monotonic_ms());
        }
        if last != Some(*job) {
            jobs.put(1u8).with_key(job.to_string()).primitive()?;
            last = Some(*job);
        }
    }
    let place = format!("{} {}", local_time::now_ms(), device::address());
    jobs.put(place).with_key(LAST_PLACE).primitive()?;
    transaction.commit().await?;
    Ok(found.await?.map(|l| l.0))
}

/// Returns the key of an entry; the keys of a job sort in the order of its log.
fn key(job: JobId, entry: &Entry) -> String {
    format!(
        "{job}/{:016x}-{}-{:016x}",
        entry.clock, entry.id.replica, entry.id.seq
    )
}

/// Returns the range of the keys of a job's entries.
fn keys_of(id: JobId) -> KeyRange<String> {
    // All keys that begin with the id and a slash: `0` follows `/`.
    KeyRange::Bound(format!("{id}/"), false, format!("{id}0"), true)
}

/// Returns the keys and lines of a job's entries, in the order of its log, and then the records under [`UNREAD`].
pub async fn read_lines(database: &Database, id: JobId) -> DbResult<Vec<(String, String)>> {
    let transaction = database.transaction(ENTRIES).build()?;
    let store = transaction.object_store(ENTRIES)?;
    let keys = store.get_all_keys::<String>();
    let keys = keys.with_query::<String, _>(keys_of(id)).primitive()?;
    let lines = store
        .get_all::<StoredLine>()
        .with_query::<String, _>(keys_of(id))
        .primitive()?
        .await?;
    let both = keys.await?.zip(lines);
    both.map(|(key, line)| Ok((key?, line?.0))).collect()
}

/// Returns whether a key is of a record that came in a file as one that could not be read.
pub fn is_unread(key: &str) -> bool {
    key.contains(UNREAD)
}

/// Returns the id of the entry that was stored under a key. `None` if it has no such name.
pub fn id_of(key: &str) -> Option<EntryId> {
    let mut parts = key.split('-').skip(1);
    let replica = parts.next()?.parse().ok()?;
    let seq = u64::from_str_radix(parts.next()?, 16).ok()?;
    Some(EntryId { replica, seq })
}

/// Writes records of a file that could not be read where it was written, in one transaction.
pub async fn write_unread(database: &Database, id: JobId, records: &[String]) -> DbResult<()> {
    let transaction = strict_transaction(database)?;
    let entries = transaction.object_store(ENTRIES)?;
    for record in records {
        let key = format!("{id}{UNREAD}{:016x}", device::random());
        entries.put(record.clone()).with_key(key).primitive()?;
    }
    transaction.commit().await
}

/// A stored record as text; if it is no text, as JSON, and so no entry.
struct StoredLine(String);

impl indexed_db_futures::primitive::TryFromJs for StoredLine {
    fn from_js(
        value: wasm_bindgen::JsValue,
    ) -> Result<StoredLine, indexed_db_futures::error::SimpleValueError> {
        let text = value.as_string().or_else(|| {
            let json = js_sys::JSON::stringify(&value).ok()?;
            json.as_string()
        });
        Ok(StoredLine(text.unwrap_or_default()))
    }
}

/// Returns the ids of the jobs, each with its mark if it was deleted.
pub async fn read_jobs(database: &Database) -> DbResult<Vec<(JobId, Option<Deletion>)>> {
    let transaction = database.transaction(JOBS).build()?;
    let store = transaction.object_store(JOBS)?;
    let keys = store.get_all_keys::<String>().primitive()?.await?;
    let values = store.get_all::<StoredLine>().primitive()?.await?;
    let mut jobs = Vec::new();
    for (key, value) in keys.zip(values) {
        let deletion = deleted_ms(&value?.0).map(|at_ms| Deletion { at_ms });
        // The other keys of this store name no job.
        jobs.extend(key?.parse().ok().map(|id| (id, deletion)));
    }
    Ok(jobs)
}

/// Returns the last entry's time and address; `None` before the first entry.
pub async fn read_place(database: &Database) -> DbResult<Option<String>> {
    read_text(database, LAST_PLACE).await
}

/// Returns a text of the store of jobs.
async fn read_text(database: &Database, key: &str) -> DbResult<Option<String>> {
    let transaction = database.transaction(JOBS).build()?;
    let store = transaction.object_store(JOBS)?;
    read_value(&store, key).await
}

/// Returns what a key of a store holds, as text.
async fn read_value(store: &ObjectStore<'_>, key: &str) -> DbResult<Option<String>> {
    let value = store.get::<StoredLine, _, _>(key).primitive()?.await?;
    Ok(value.map(|l| l.0))
}

/// Returns the time in the value of a deleted job; `None` if the job is not deleted.
fn deleted_ms(value: &str) -> Option<i64> {
    value.strip_prefix(DELETED)?.parse().ok()
}

/// Marks a job as deleted at a time in milliseconds since 1970. An entry that is written to it takes the mark away.
pub async fn write_deleted(database: &Database, id: JobId, at_ms: i64) -> DbResult<()> {
    let transaction = strict_transaction(database)?;
    let jobs = transaction.object_store(JOBS)?;
    let mark = format!("{DELETED}{at_ms}");
    jobs.put(mark).with_key(id.to_string()).primitive()?;
    transaction.commit().await
}

/// Takes the mark of a deleted job away. Returns `false` if the job is not there.
pub async fn remove_deleted(database: &Database, id: JobId) -> DbResult<bool> {
    let transaction = strict_transaction(database)?;
    let jobs = transaction.object_store(JOBS)?;
    let key = id.to_string();
    if read_value(&jobs, &key).await?.is_none() {
        return Ok(false);
    }
    jobs.put(1u8).with_key(key).primitive()?;
    transaction.commit().await?;
    Ok(true)
}

/// Erases the records of a job, if it is still marked as deleted at this time. Returns whether they are erased.
pub async fn erase(database: &Database, id: JobId, at_ms: i64) -> DbResult<bool> {
    let transaction = strict_transaction(database)?;
    let jobs = transaction.object_store(JOBS)?;
    let key = id.to_string();
    let value = read_value(&jobs, &key).await?;
    if value.as_deref().and_then(deleted_ms) != Some(at_ms) {
        return Ok(false);
    }
    let entries = transaction.object_store(ENTRIES)?;
    entries.delete::<String, _>(keys_of(id)).primitive()?;
    jobs.delete::<String, _>(key).primitive()?;
    transaction.commit().await?;
    Ok(true)
}
