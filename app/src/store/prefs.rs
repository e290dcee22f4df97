//! Things that may be lost: preferences, the list of jobs for a first picture, the place
//! in each pass. A browser that denies them keeps them for this visit only.

use std::cell::RefCell;
use std::collections::HashMap;

use evenhand_core::job::{DeviceId, Entry, Item, Job, JobId, State};
use gloo_storage::{LocalStorage, Storage};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::device;

/// A job's line in the list, as it was when it was last open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Listed {
    /// The job.
    pub id: JobId,
    /// What it is called.
    pub name: String,
    /// What the instrument is.
    pub described: String,
    /// Whether it was invented for demonstration.
    pub invented: bool,
    /// Steps wholly read, and all.
    pub done: (usize, usize),
    /// What comes next, in words.
    pub next: String,
    /// When its latest entry was made, in milliseconds since 1970.
    pub last_ms: i64,
    /// How many entries it has.
    pub entries: usize,
    /// How many it had when it was last exported.
    pub exported: usize,
}

impl Listed {
    /// The line of a job as it stands.
    pub fn of(id: JobId, job: &Job, now_ms: i64) -> Listed {
        let state = job.state();
        let details = state.details();
        let all = state.progress(now_ms);
        let whole = State::stage_progress(&all, None);
        let next = state.now(&all, now_ms).into_iter().next();
        let step = next.and_then(|n| {
            all.iter()
                .find(|(s, _)| s.id == n.step)
                .map(|(s, _)| s.name.to_string())
        });
        Listed {
            id,
            name: details
                .name
                .clone()
                .unwrap_or_else(|| "Job without a name".to_owned()),
            described: details.described.clone().unwrap_or_default(),
            invented: details.invented == Some(true),
            done: (whole.done, whole.steps),
            next: step.unwrap_or_else(|| "Everything is read".to_owned()),
            last_ms: job
                .log()
                .entries()
                .iter()
                .map(|e| e.at_ms)
                .max()
                .unwrap_or(0),
            entries: job.log().len(),
            exported: 0,
        }
    }
}

thread_local! {
    /// What local storage would keep, where it is denied.
    static IN_MEMORY: RefCell<HashMap<String, String>> = RefCell::default();
}

/// Whether this browser lets the app keep preferences. gloo-storage stops the program where it does not.
pub fn are_kept() -> bool {
    matches!(leptos::prelude::window().local_storage(), Ok(Some(_)))
}

fn get<T: DeserializeOwned>(key: &str) -> Option<T> {
    let text = if are_kept() {
        LocalStorage::raw().get_item(key).ok()??
    } else {
        IN_MEMORY.with_borrow(|kept| kept.get(key).cloned())?
    };
    serde_json::from_str(&text).ok()
}

fn set<T: Serialize + ?Sized>(key: &str, value: &T) {
    // What is kept here are words, numbers and lists, which cannot fail to be written.
    let text = serde_json::to_string(value).unwrap_or_default();
    if are_kept() {
        // Whatever is kept here may be lost, so a refusal is no news.
        let _ = LocalStorage::raw().set_item(key, &text);
    } else {
        IN_MEMORY.with_borrow_mut(|kept| kept.insert(key.to_owned(), text));
    }
}

fn delete(key: &str) {
    if are_kept() {
        LocalStorage::delete(key);
    } else {
        IN_MEMORY.with_borrow_mut(|kept| kept.remove(key));
    }
}

/// Where entries stand that the journal has refused, beside those of other visits; `app/rescue.js` reads them too.
const UNSAVED: &str = "unsaved/";

/// Keeps entries that the journal has refused, until it takes them.
pub fn keep_unsaved(visit: DeviceId, waiting: &[(JobId, Entry)]) {
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

/// What earlier visits could not save. It stays until it is forgotten, for a battery that comes out meanwhile.
pub fn unsaved() -> Unsaved {
    let mut found = Unsaved::default();
    if !are_kept() {
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
pub struct Unsaved {
    /// The entries, each with its job.
    pub entries: Vec<(JobId, Entry)>,
    keys: Vec<String>,
}

impl Unsaved {
    /// The journal has them by now.
    pub fn forget(&self) {
        for key in &self.keys {
            delete(key);
        }
    }
}

/// The jobs as they were last seen.
pub fn listed() -> Vec<Listed> {
    get("jobs").unwrap_or_default()
}

/// Keeps the list for the next visit's first picture.
pub fn keep_listed(list: &[Listed]) {
    set("jobs", list);
}

/// The most visits whose entries undo still knows as this phone's own.
const MOST_VISITS: usize = 40;

/// The names under which this phone made entries, latest last.
pub fn own_devices() -> Vec<DeviceId> {
    get("devices").unwrap_or_default()
}

/// A new name in the log for this visit. Each visit, and each tab, has its own, so that
/// two tabs can never give two entries the same name.
pub fn new_device() -> DeviceId {
    let device = DeviceId::new(device::random());
    let mut own = own_devices();
    own.push(device);
    let from = own.len().saturating_sub(MOST_VISITS);
    set("devices", &own[from..]);
    device
}

/// Where a pass of a step was left: the item in hand, which is the same in whatever order the notes come.
pub fn pass_place(job: JobId, step: &str) -> Option<Item> {
    let (measure, on) = get(&format!("place/{job}/{step}"))?;
    Some(Item { measure, on })
}

/// Keeps where a pass of a step is; without an item it is through.
pub fn keep_pass_place(job: JobId, step: &str, place: Option<Item>) {
    let key = format!("place/{job}/{step}");
    match place {
        Some(item) => set(&key, &(item.measure, item.on)),
        None => delete(&key),
    }
}

/// The address of the screen that was last shown, and when that was.
pub fn last_place() -> Option<(i64, String)> {
    get("place")
}

/// Keeps the address of the screen that is shown.
pub fn keep_place(address: &str) {
    set("place", &(device::now_ms(), address));
}

/// From when until when is worked, in minutes after midnight.
pub fn working_day() -> Option<(i64, i64)> {
    get("working-day")
}

/// Keeps from when until when is worked.
pub fn keep_working_day(hours: (i64, i64)) {
    set("working-day", &hours);
}

/// Which colours the screens have.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Theme {
    /// As the phone has them.
    #[default]
    Device,
    /// Paper.
    Light,
    /// Ebony.
    Dark,
}

/// The order in which a pass goes through the notes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum NoteOrder {
    /// From the bass up.
    #[default]
    Up,
    /// From the treble down.
    Down,
    /// The naturals, then the sharps.
    NaturalsFirst,
    /// The sample notes.
    Samples,
    /// Those that were out when it was chosen.
    OnlyOut,
    /// Those that were disturbed when it was chosen.
    OnlyAgain,
}

/// What the user likes, on this phone and for every job.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Preferences {
    /// New jobs begin with inches.
    pub inches: bool,
    /// The pad is mirrored for the left hand.
    pub left_hand: bool,
    /// The colours.
    pub theme: Theme,
    /// Readings are said aloud.
    pub speech: bool,
    /// The phone does not vibrate.
    pub still: bool,
    /// How a pass begins.
    pub order: NoteOrder,
    /// How many times the note strip is drawn wider than the screen, less one.
    pub zoom: u8,
}

impl Preferences {
    /// What this phone keeps of them.
    pub fn kept() -> Preferences {
        let words: String = get("preferences").unwrap_or_default();
        let mut kept = Preferences::default();
        for word in words.split(' ') {
            match word {
                "inches" => kept.inches = true,
                "left" => kept.left_hand = true,
                "light" => kept.theme = Theme::Light,
                "dark" => kept.theme = Theme::Dark,
                "speech" => kept.speech = true,
                "still" => kept.still = true,
                "down" => kept.order = NoteOrder::Down,
                "naturals" => kept.order = NoteOrder::NaturalsFirst,
                "wide" => kept.zoom = 1,
                "widest" => kept.zoom = 2,
                _ => {}
            }
        }
        kept
    }

    /// Keeps them: a word for each that is not as it comes.
    pub fn keep(&self) {
        let theme = match self.theme {
            Theme::Device => "",
            Theme::Light => "light",
            Theme::Dark => "dark",
        };
        let order = match self.order {
            NoteOrder::Down => "down",
            NoteOrder::NaturalsFirst => "naturals",
            _ => "",
        };
        let on = |on: bool, word| if on { word } else { "" };
        let words = [
            on(self.inches, "inches"),
            on(self.left_hand, "left"),
            theme,
            on(self.speech, "speech"),
            on(self.still, "still"),
            order,
            ["", "wide", "widest"][usize::from(self.zoom.min(2))],
        ];
        set("preferences", &words.join(" "));
    }

    /// Tells the page's styles of the theme and the hand.
    pub fn dress(&self) {
        let Some(page) = leptos::prelude::document().document_element() else {
            return;
        };
        let theme = match self.theme {
            Theme::Device => "device",
            Theme::Light => "light",
            Theme::Dark => "dark",
        };
        let hand = if self.left_hand { "left" } else { "right" };
        // Both names are valid, so that neither can be refused.
        let _ = page.set_attribute("data-theme", theme);
        let _ = page.set_attribute("data-hand", hand);
    }
}

/// What was typed into fields and not kept yet.
pub fn typed(key: &str) -> Option<Vec<String>> {
    get(key)
}

/// Puts aside what is being typed, for a battery that comes out.
pub fn keep_typed(key: &str, texts: &[String]) {
    set(key, texts);
}

/// What was typed is kept as an entry by now.
pub fn put_typed_away(key: &str) {
    delete(key);
}

/// Who works on this device, where it was said.
pub fn technician() -> Option<String> {
    get("technician").filter(|name: &String| !name.is_empty())
}

/// Keeps who works on this device.
pub fn keep_technician(name: &str) {
    set("technician", name);
}

/// What stands at the head of a letter: the workshop's name and address, a line each.
pub fn letterhead() -> String {
    get("letterhead").unwrap_or_default()
}

/// Keeps the head of the letters.
pub fn keep_letterhead(lines: &str) {
    set("letterhead", lines);
}
