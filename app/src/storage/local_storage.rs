//! Local storage: what may be lost. The list of jobs for a first picture, the place in each pass, drafts, entries that
//! the journal has refused, and who wrote what. A browser that denies it keeps these for this visit only.

use std::cell::RefCell;
use std::collections::HashMap;

use evenhand_core::job::{DeviceId, Entry, Item, JobId};
use gloo_storage::{LocalStorage, Storage};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::job_summary::JobSummary;
use crate::device::{self, local_time};

thread_local! {
    /// What local storage would keep, where it is denied.
    static IN_MEMORY: RefCell<HashMap<String, String>> = RefCell::default();
}

/// Returns whether this browser lets the app keep preferences. gloo-storage stops the program where it does not.
pub fn is_available() -> bool {
    matches!(leptos::prelude::window().local_storage(), Ok(Some(_)))
}

pub(super) fn get<T: DeserializeOwned>(key: &str) -> Option<T> {
    let text = if is_available() {
        LocalStorage::raw().get_item(key).ok()??
    } else {
        IN_MEMORY.with_borrow(|kept| kept.get(key).cloned())?
    };
    serde_json::from_str(&text).ok()
}

pub(super) fn set<T: Serialize + ?Sized>(key: &str, value: &T) {
    // What is kept here are words, numbers and lists, which cannot fail to be written.
    let text = serde_json::to_string(value).unwrap_or_default();
    if is_available() {
        // Whatever is kept here may be lost, so a refusal is no news.
        let _ = LocalStorage::raw().set_item(key, &text);
    } else {
        IN_MEMORY.with_borrow_mut(|kept| kept.insert(key.to_owned(), text));
    }
}

pub(super) fn delete(key: &str) {
    if is_available() {
        LocalStorage::delete(key);
    } else {
        IN_MEMORY.with_borrow_mut(|kept| kept.remove(key));
    }
}

/// Where entries stand that the journal has refused, beside those of other visits; `app/rescue.js` reads them too.
const UNSAVED: &str = "unsaved/";

/// Keeps entries that the journal has refused, until it takes them.
pub fn set_unsaved_entries(visit: DeviceId, waiting: &[(JobId, Entry)]) {
    let key = format!("{UNSAVED}{visit}");
    if waiting.is_empty() {
        return delete(&key);
    }
    let lines: Vec<(JobId, String)> = waiting
        .iter()
        .map(|(job, entry)| (*job, entry.to_line()))
        .collect();
    set(&key, &lines);
}

/// Returns what earlier visits could not save. It stays until it is forgotten, for a battery that comes out meanwhile.
pub fn unsaved_entries() -> UnsavedEntries {
    let mut found = UnsavedEntries::default();
    if !is_available() {
        return found;
    }
    let storage = LocalStorage::raw();
    let keys = (0..LocalStorage::length()).filter_map(|at| storage.key(at).ok().flatten());
    found.keys = keys.filter(|key| key.starts_with(UNSAVED)).collect();
    for key in &found.keys {
        let lines: Vec<(JobId, String)> = get(key).unwrap_or_default();
        for (job, line) in lines {
            found
                .entries
                .extend(Entry::from_line(&line).ok().map(|entry| (job, entry)));
        }
    }
    found
}

/// Entries that earlier visits could not save.
#[derive(Default)]
pub struct UnsavedEntries {
    /// The entries, each with its job.
    pub entries: Vec<(JobId, Entry)>,
    keys: Vec<String>,
}

impl UnsavedEntries {
    /// The journal has them by now.
    pub fn forget(&self) {
        for key in &self.keys {
            delete(key);
        }
    }
}

/// Returns the jobs as they were last seen.
pub fn job_summaries() -> Vec<JobSummary> {
    get("jobs").unwrap_or_default()
}

/// Keeps the list for the next visit's first picture.
pub fn set_job_summaries(list: &[JobSummary]) {
    set("jobs", list);
}

/// The most visits whose entries undo still knows as this phone's own.
const MAX_VISITS: usize = 40;

/// Returns the names under which this phone made entries, latest last.
pub fn own_replicas() -> Vec<DeviceId> {
    get("devices").unwrap_or_default()
}

/// Returns a new name in the log for this visit. Each visit, and each tab, has its own, so that
/// two tabs can never give two entries the same name.
pub fn new_replica() -> DeviceId {
    let device = DeviceId::new(device::random());
    let mut own = own_replicas();
    own.push(device);
    let from = own.len().saturating_sub(MAX_VISITS);
    set("devices", &own[from..]);
    device
}

/// Returns where a pass of a step was left: the item in hand, which is the same in whatever order the notes come.
pub fn pass_item(job: JobId, step: &str) -> Option<Item> {
    let (measure, on) = get(&format!("place/{job}/{step}"))?;
    Some(Item { measure, on })
}

/// Keeps where a pass of a step is; without an item it is through.
pub fn set_pass_item(job: JobId, step: &str, place: Option<Item>) {
    let key = format!("place/{job}/{step}");
    match place {
        Some(item) => set(&key, &(item.measure, item.on)),
        None => delete(&key),
    }
}

/// Returns the address of the screen that was last shown, and when that was.
pub fn last_route() -> Option<(i64, String)> {
    get("place")
}

/// Keeps the address of the screen that is shown.
pub fn set_last_route(address: &str) {
    set("place", &(local_time::now_ms(), address));
}

/// Returns what was typed into fields and not kept yet.
pub fn draft(key: &str) -> Option<Vec<String>> {
    get(key)
}

/// Puts aside what is being typed, for a battery that comes out.
pub fn set_draft(key: &str, texts: &[String]) {
    set(key, texts);
}

/// What was typed is kept as an entry by now.
pub fn remove_draft(key: &str) {
    delete(key);
}
