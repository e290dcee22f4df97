//! The photos: a database of their own, each photo once under its hash, with durability `strict`.
//!
//! A photo is stored before the entry that names it, so a page that is killed in between leaves a photo that no job
//! names, and never a torn one. Each job that uses a photo has a record beside it; a photo goes with its last use.

use std::collections::HashMap;

use evenhand_core::job::{JobId, PhotoFormat, PhotoHash, PhotoHeader};
use indexed_db_futures::KeyRange;
use indexed_db_futures::database::Database;
use indexed_db_futures::prelude::*;
use js_sys::Uint8Array;
use leptos::prelude::*;
use wasm_bindgen::{JsCast, JsValue};

use super::indexed_db::{DbResult, open_database, strict_transaction};

const NAME: &str = "evenhand-photos";
/// The store of photos: the bytes of each under its hash.
const PHOTOS: &str = "photos";
/// The store of their uses: `hash/job`, each with the number of bytes.
const USES: &str = "uses";

/// The stored photos. Stored values only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Photos {
    database: StoredValue<Option<Database>, LocalStorage>,
    /// Photos that could not be stored, with their jobs. They are kept while this page stays open.
    only_here: StoredValue<HashMap<PhotoHash, (JobId, Vec<u8>)>>,
    /// Notifies when another photo is there.
    pub changed: Trigger,
}

/// A photo as it is stored.
pub struct StoredPhoto {
    /// Its format, by its bytes.
    pub format: PhotoFormat,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

async fn write(database: &Database, job: JobId, hash: PhotoHash, bytes: &[u8]) -> DbResult<()> {
    let transaction = strict_transaction(database, [PHOTOS, USES])?;
    let (photos, uses) = (
        transaction.object_store(PHOTOS)?,
        transaction.object_store(USES)?,
    );
    let value: JsValue = Uint8Array::from(bytes).into();
    photos.put(value).with_key(hash.to_string()).primitive()?;
    let size: JsValue = (bytes.len() as f64).into();
    uses.put(size)
        .with_key(format!("{hash}/{job}"))
        .primitive()?;
    transaction.commit().await
}

async fn read(database: &Database, hash: PhotoHash) -> DbResult<Option<Vec<u8>>> {
    let transaction = database.transaction(PHOTOS).build()?;
    let store = transaction.object_store(PHOTOS)?;
    let value = store.get::<JsValue, _, _>(hash.to_string()).primitive()?;
    let bytes = value.await?.and_then(|v| v.dyn_into::<Uint8Array>().ok());
    Ok(bytes.map(|bytes| bytes.to_vec()))
}

/// Returns the hash and the bytes of each photo that is stored, and the jobs that use it.
async fn read_uses(database: &Database) -> DbResult<Vec<(PhotoHash, JobId, f64)>> {
    let transaction = database.transaction(USES).build()?;
    let store = transaction.object_store(USES)?;
    let keys = store.get_all_keys::<String>().primitive()?.await?;
    let sizes = store.get_all::<JsValue>().primitive()?.await?;
    let mut uses = Vec::new();
    for (key, size) in keys.zip(sizes) {
        let (key, size) = (key?, size?.as_f64().unwrap_or(0.0));
        let named = key.split_once('/');
        let named = named.and_then(|(hash, job)| Some((hash.parse().ok()?, job.parse().ok()?)));
        uses.extend(named.map(|(hash, job)| (hash, job, size)));
    }
    Ok(uses)
}

/// Erases the uses of a job, and the photos that no other job uses.
async fn erase(database: &Database, job: JobId, uses: &[(PhotoHash, JobId, f64)]) -> DbResult<()> {
    let transaction = strict_transaction(database, [PHOTOS, USES])?;
    let (photos, of_jobs) = (
        transaction.object_store(PHOTOS)?,
        transaction.object_store(USES)?,
    );
    for (hash, ..) in uses.iter().filter(|(_, of, _)| *of == job) {
        of_jobs
            .delete::<String, _>(format!("{hash}/{job}"))
            .primitive()?;
        // Another tab may have added a use since: asked again in this transaction.
        let of_photo = KeyRange::Bound(format!("{hash}/"), false, format!("{hash}0"), true);
        let left = of_jobs.get_all_keys::<String>();
        let left = left.with_query::<String, _>(of_photo).primitive()?.await?;
        if left.count() == 0 {
            photos.delete::<String, _>(hash.to_string()).primitive()?;
        }
    }
    transaction.commit().await
}

impl Photos {
    /// Returns the photos of a database that is not open yet.
    pub fn new() -> Photos {
        Photos {
            database: StoredValue::new_local(None),
            only_here: StoredValue::new(HashMap::new()),
            changed: Trigger::new(),
        }
    }

    async fn open(self) -> Option<Database> {
        if let Some(database) = self.database.get_value() {
            return Some(database);
        }
        let database = open_database(NAME, [PHOTOS, USES]).await.ok()?;
        self.database.set_value(Some(database.clone()));
        Some(database)
    }

    /// Stores a photo of a job. Returns whether it is on the disk; if it is not, it is kept while this page stays open,
    /// and the next one that finds room brings it along.
    pub async fn put(self, job: JobId, hash: PhotoHash, bytes: Vec<u8>) -> bool {
        let is_stored = self.try_put(job, hash, &bytes).await;
        if is_stored {
            self.put_waiting().await;
        } else {
            self.only_here
                .update_value(|here| drop(here.insert(hash, (job, bytes))));
        }
        self.changed.notify();
        is_stored
    }

    async fn try_put(self, job: JobId, hash: PhotoHash, bytes: &[u8]) -> bool {
        let Some(database) = self.open().await else {
            return false;
        };
        let written = write(&database, job, hash, bytes).await;
        if written.is_err() {
            // The browser may have closed the connection; the next attempt opens it again.
            self.database.set_value(None);
        }
        written.is_ok()
    }

    /// Tries again to store what found no room.
    async fn put_waiting(self) {
        for (hash, (job, bytes)) in self.only_here.get_value() {
            if !self.try_put(job, hash, &bytes).await {
                return;
            }
            self.only_here.update_value(|here| drop(here.remove(&hash)));
        }
    }

    /// Returns a photo. `None` if it is not on this device, or its bytes are no photo any more.
    pub async fn get(self, hash: PhotoHash) -> Option<StoredPhoto> {
        let here = self
            .only_here
            .with_value(|here| here.get(&hash).map(|(_, bytes)| bytes.clone()));
        let bytes = match here {
            Some(bytes) => bytes,
            None => {
                let database = self.open().await?;
                let Ok(bytes) = read(&database, hash).await else {
                    self.database.set_value(None);
                    return None;
                };
                bytes?
            }
        };
        let header = PhotoHeader::of_stored(&bytes, hash).ok()?;
        Some(StoredPhoto {
            format: header.format,
            bytes,
        })
    }

    /// Returns the photos that are on this device, each with its number of bytes.
    pub async fn sizes(self) -> HashMap<PhotoHash, usize> {
        let mut sizes: HashMap<PhotoHash, usize> = self.only_here.with_value(|here| {
            here.iter()
                .map(|(hash, (_, bytes))| (*hash, bytes.len()))
                .collect()
        });
        if let Some(database) = self.open().await {
            let uses = read_uses(&database).await.unwrap_or_default();
            sizes.extend(
                uses.into_iter()
                    .map(|(hash, _, size)| (hash, size as usize)),
            );
        }
        sizes
    }

    /// Erases the photos of a job that no other job uses.
    pub async fn erase(self, job: JobId) {
        self.only_here
            .update_value(|here| here.retain(|_, (of, _)| *of != job));
        if let Some(database) = self.open().await
            && let Ok(uses) = read_uses(&database).await
            && erase(&database, job, &uses).await.is_err()
        {
            self.database.set_value(None);
        }
    }
}
