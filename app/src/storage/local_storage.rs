//! Local storage, for what may be lost: the list of jobs for the first paint, the place in each pass, drafts, and this
//! phone's replica ids. If the browser denies it, they last for this visit.

use std::cell::RefCell;
use std::collections::HashMap;

use evenhand_core::job::{InFiles, Item, JobId, ReplicaId};
use gloo_storage::{LocalStorage, Storage};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::job_summary::{DeletedJob, JobSummary};
use crate::device::{self, local_time};

thread_local! {
    /// Replaces local storage if it is denied.
    static IN_MEMORY: RefCell<HashMap<String, String>> = RefCell::default();
}

/// Returns whether this browser allows local storage. gloo-storage panics if it does not.
pub fn is_available() -> bool {
    matches!(leptos::prelude::window().local_storage(), Ok(Some(_)))
}

pub(super) fn get<T: DeserializeOwned>(key: &str) -> Option<T> {
    let text = if is_available() {
        LocalStorage::raw().get_item(key).ok()??
    } else {
        IN_MEMORY.with_borrow(|memory| memory.get(key).cloned())?
    };
    serde_json::from_str(&text).ok()
}

pub(super) fn set<T: Serialize + ?Sized>(key: &str, value: &T) {
    // Only texts, numbers and lists are stored, which cannot fail to serialize.
    let text = serde_json::to_string(value).unwrap_or_default();
    if is_available() {
        // What is stored here may be lost, so a refusal is not reported.
        let _ = LocalStorage::raw().set_item(key, &text);
    } else {
        IN_MEMORY.with_borrow_mut(|memory| memory.insert(key.to_owned(), text));
    }
}

pub(super) fn delete(key: &str) {
    if is_available() {
        LocalStorage::delete(key);
    } else {
        IN_MEMORY.with_borrow_mut(|memory| memory.remove(key));
    }
}

/// Returns the list of jobs as it was last shown.
pub fn job_summaries() -> Vec<JobSummary> {
    get("jobs").unwrap_or_default()
}

/// Stores the list of jobs for the first paint of the next visit.
pub fn set_job_summaries(list: &[JobSummary]) {
    set("jobs", list);
}

/// Returns which entries of a job are in a file that was exported or opened. `None` if nothing is known of it.
pub fn in_files(job: JobId) -> Option<InFiles> {
    get(&format!("in_files/{job}"))
}

/// Stores which entries of a job are in a file.
pub fn set_in_files(job: JobId, files: &InFiles) {
    set(&format!("in_files/{job}"), files);
}

/// Returns the deleted jobs as they were last shown. The journal has their marks.
pub fn deleted_jobs() -> Vec<DeletedJob> {
    get("deleted").unwrap_or_default()
}

/// Stores the deleted jobs.
pub fn set_deleted_jobs(list: &[DeletedJob]) {
    set("deleted", list);
}

/// Removes all that is stored of a job under keys of its own, once it is erased.
pub fn forget_job(id: JobId) {
    let names = format!("/{id}");
    let keys: Vec<String> = if is_available() {
        let storage = LocalStorage::raw();
        let keys = (0..LocalStorage::length()).filter_map(|at| storage.key(at).ok().flatten());
        keys.filter(|key| key.contains(&names)).collect()
    } else {
        IN_MEMORY.with_borrow(|memory| {
            memory
                .keys()
                .filter(|key| key.contains(&names))
                .cloned()
                .collect()
        })
    };
    for key in keys {
        delete(&key);
    }
}

/// How many visits' entries undo still recognizes as this phone's own.
const MAX_VISITS: usize = 40;

/// Returns the replica ids under which this phone made entries, latest last.
pub fn own_replicas() -> Vec<ReplicaId> {
    get("devices").unwrap_or_default()
}

/// Returns a new replica id. Each visit and each tab has its own, so that two tabs can never make two entries with one
/// id.
pub fn new_replica() -> ReplicaId {
    let device = ReplicaId::new(device::random());
    let mut own = own_replicas();
    own.push(device);
    let from = own.len().saturating_sub(MAX_VISITS);
    set("devices", &own[from..]);
    device
}

/// Returns the item at which a pass of a step was left, which is independent of the order of the notes.
pub fn pass_item(job: JobId, step: &str) -> Option<Item> {
    let (measure, on) = get(&format!("place/{job}/{step}"))?;
    Some(Item { measure, on })
}

/// Stores the current item of a pass of a step; `None` at its end.
pub fn set_pass_item(job: JobId, step: &str, place: Option<Item>) {
    let key = format!("place/{job}/{step}");
    match place {
        Some(item) => set(&key, &(item.measure, item.on)),
        None => delete(&key),
    }
}

/// Returns when a screen was last shown, in milliseconds since 1970, and its address.
pub fn last_route() -> Option<(i64, String)> {
    get("place")
}

/// Stores the address of the screen that is shown.
pub fn set_last_route(address: &str) {
    let now_ms = local_time::now_ms();
    set("place", &(now_ms, address));
    if now_ms > latest_seen_ms() {
        set("latest", &now_ms);
    }
}

/// Returns the latest wall time that was seen on this device, in milliseconds since 1970: a clock that never runs back.
pub fn latest_seen_ms() -> i64 {
    get("latest").unwrap_or_default()
}

/// Returns what was typed into fields and is not recorded yet.
pub fn draft(key: &str) -> Option<Vec<String>> {
    get(key)
}

/// Stores what is being typed, in case the phone stops.
pub fn set_draft(key: &str, texts: &[String]) {
    set(key, texts);
}

/// Removes a draft, once its texts are recorded.
pub fn remove_draft(key: &str) {
    delete(key);
}
