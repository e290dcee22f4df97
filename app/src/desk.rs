//! The desk: the job that is open and all that the screens share.
//!
//! Data flows one way: a tap makes an entry, the entry goes to the journal and into the
//! job, the job's state makes the picture.

use std::time::Duration;

use evenhand_core::job::{self, Act, Details, DeviceId, Entry, Job, JobId, State};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::{self, shell};
use crate::parts::progress::Busy;
use crate::place::Screen;
use crate::store::files;
use crate::store::journal::{Journal, RECOVERED};
use crate::store::prefs::{self, Listed, Preferences};
use crate::words;

/// Long enough to read news twice with both hands busy; trouble stays.
const NEWS_STAYS: Duration = Duration::from_secs(30);

/// A file from this size on, in bytes, may take more than a blink to read.
const LARGE_FILE: usize = AT_ONCE;
const READING: &str = "Reading the file…";
/// So many bytes of it are read between two looks at the screen: a tenth of a second of a slow phone.
const AT_ONCE: usize = 256 << 10;
/// A job of more entries than these takes more than a blink to write.
const LARGE_JOB: usize = 2_000;

/// The job that is open.
#[derive(Clone, Debug)]
pub struct Open {
    /// Its random number.
    pub id: JobId,
    /// Its entries and what follows from them.
    pub job: Job,
}

/// A job as it is handed out.
pub struct JobFile {
    /// The job.
    pub id: JobId,
    /// How many entries it holds.
    pub entries: usize,
    /// The file's name and its text.
    pub file: (String, String),
}

impl JobFile {
    /// Of a job as it stands.
    pub fn of(id: JobId, job: &Job) -> JobFile {
        let now_ms = device::now_ms();
        let name = job.state().details().name.as_deref().unwrap_or_default();
        JobFile {
            id,
            entries: job.log().len(),
            file: (
                files::name(name, now_ms, ".job.json"),
                job::export(job, now_ms),
            ),
        }
    }
}

/// What all screens share. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Desk {
    /// The screen that is shown.
    pub screen: RwSignal<Screen>,
    /// The job that is open, once it was read.
    pub open: RwSignal<Option<Open>>,
    /// The jobs on this device.
    pub list: RwSignal<Vec<Listed>>,
    /// Whether the journal has answered which jobs there are.
    pub list_known: RwSignal<bool>,
    /// Wall time in milliseconds since 1970, renewed every few seconds.
    pub now_ms: RwSignal<i64>,
    /// Sentences that stay until they no longer hold or are put away.
    pub notices: RwSignal<Vec<Notice>>,
    /// What the program is busy with for more than half a second.
    pub busy: RwSignal<Option<Busy>>,
    /// What the user likes.
    pub preferences: RwSignal<Preferences>,
    /// Where entries are kept.
    pub journal: Journal,
    /// This visit's name in the log.
    device: StoredValue<DeviceId>,
    list_due: StoredValue<bool>,
    /// Whether the app was opened at its address without a place.
    opened_bare: StoredValue<bool>,
}

/// A sentence that stays on the screen.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    /// What it says.
    pub text: String,
    /// Whether it is trouble; the rest is news.
    pub trouble: bool,
}

impl Desk {
    /// An empty desk, with what the last visit left for the first picture.
    pub fn new() -> Desk {
        Desk {
            // Asked before the first screen puts its place into the address.
            opened_bare: StoredValue::new(Screen::is_bare()),
            screen: RwSignal::new(Screen::first()),
            open: RwSignal::new(None),
            list: RwSignal::new(prefs::listed()),
            list_known: RwSignal::new(false),
            now_ms: RwSignal::new(device::now_ms()),
            busy: RwSignal::new(None),
            notices: RwSignal::new(Vec::new()),
            preferences: RwSignal::new(Preferences::kept()),
            journal: Journal::new(),
            device: StoredValue::new(prefs::new_device()),
            list_due: StoredValue::new(false),
        }
    }

    /// Follows the address, keeps the clock, and reads what the journal holds.
    pub fn start(self) {
        self.preferences.with_untracked(Preferences::dress);
        let handle = window_event_listener(leptos::ev::hashchange, move |_| self.follow());
        on_cleanup(move || handle.remove());
        // A screen that goes out of sight may not come back: what is typed is kept before.
        let hidden = window_event_listener(leptos::ev::visibilitychange, |_| {
            if document().hidden() {
                device::settle_typing();
            }
        });
        on_cleanup(move || hidden.remove());
        if let Ok(clock) = set_interval_with_handle(
            move || {
                self.now_ms.set(device::now_ms());
                self.journal.mind(self);
            },
            Duration::from_secs(5),
        ) {
            on_cleanup(move || clock.clear());
        }
        self.watch_journal();
        let kept_ms = prefs::last_place().map_or(0, |(at_ms, _)| at_ms);
        let first = Screen::here();
        spawn_local(async move {
            self.read_list().await;
            // A killed browser may have lost the latest place from local storage; the journal has
            // it. Whoever went elsewhere in the meantime stays there.
            if let (true, Some((at_ms, last))) = (
                self.opened_bare.get_value(),
                self.journal.last_place().await,
            ) && at_ms > kept_ms
                && Screen::here() == first
            {
                last.replace();
            }
            self.follow();
            // What an earlier visit could not save is saved now.
            if self.journal.unsaved.get_untracked() > 0 {
                self.journal.again(self);
            }
        });
    }

    /// Tries the journal again while it does not work, says when it does, and takes in what other tabs have saved.
    fn watch_journal(self) {
        Effect::new(move |before: Option<bool>| {
            let faulty = self.journal.fault.with(Option::is_some);
            if faulty {
                self.journal.again_soon(self);
            } else if before == Some(true) {
                self.say(RECOVERED);
            }
            faulty
        });
        if !prefs::are_kept() {
            self.say_trouble("This browser keeps no preferences for Evenhand: the phone forgets its theme, its hand and what was exported. Entries are not touched by that.");
        }
        let saved = shell::on_saved_elsewhere(move |lines| self.take_from_tab(&lines));
        on_cleanup(move || saved.remove());
    }

    /// Takes in what another tab has saved: the job, then a line for each entry.
    fn take_from_tab(self, lines: &[String]) {
        let Some(id) = lines.first().and_then(|job| job.parse::<JobId>().ok()) else {
            return;
        };
        let entries: Vec<Entry> = lines[1..]
            .iter()
            .filter_map(|line| Entry::from_line(line).ok())
            .collect();
        let is_open = self.is_open(id);
        if is_open && !entries.is_empty() {
            self.open.update(|open| {
                if let Some(open) = open {
                    open.job.merge(entries);
                }
            });
            self.list_soon();
        } else {
            spawn_local(async move {
                let read = self.journal.read(id).await;
                if !read.is_whole() || read.failed {
                    return;
                }
                let job = self.job_of(id, read.entries);
                self.list_line(Listed::of(id, &job, device::now_ms()));
                if is_open {
                    self.open.set(Some(Open { id, job }));
                }
            });
        }
    }

    /// The job of the entries that were read, with what was entered in it meanwhile.
    fn job_of(self, id: JobId, read: Vec<Entry>) -> Job {
        let mut job = Job::from_entries(read);
        self.open.with_untracked(|open| {
            if let Some(open) = open.as_ref().filter(|o| o.id == id) {
                job.merge(open.job.log().entries().iter().cloned());
            }
        });
        job
    }

    /// Reads what could not be read before: the list, and the job that the address names. Says whether it could.
    pub async fn read_stored(self) -> bool {
        let read = self.read_list().await;
        self.follow();
        read
    }

    /// Shows the screen that the address names, reading its job where another is open.
    fn follow(self) {
        let screen = Screen::here();
        let wanted = screen.job();
        prefs::keep_place(&screen.href());
        if self.screen.with_untracked(|s| *s != screen) {
            // On the same screen somebody may be typing.
            device::settle_typing();
            // Whoever looks at the list finds it as things stand.
            if self.list_due.get_value() {
                self.list_again();
            }
            self.screen.set(screen);
        }
        let Some(id) = wanted else { return };
        if self.is_open(id) {
            return;
        }
        spawn_local(async move {
            let read = self.journal.read(id).await;
            // A job that could not be read may well be here: the journal's fault says so, and it is tried again.
            if read.failed && !read.is_whole() {
                return;
            }
            if read.entries.is_empty() && read.notices.is_empty() {
                self.say_trouble(
                    "This job is not on this device. Open its file, or choose another job.",
                );
            }
            for trouble in read.notices {
                self.trouble(trouble);
            }
            if read.entries.is_empty() {
                Screen::Jobs.replace();
                return;
            }
            // One that was opened meanwhile may have entries that were not stored yet when these were read.
            if !self.is_open(id) {
                let job = Job::from_entries(read.entries);
                self.open.set(Some(Open { id, job }));
            }
        });
    }

    fn is_open(self, id: JobId) -> bool {
        self.open
            .with_untracked(|o| o.as_ref().is_some_and(|o| o.id == id))
    }

    /// The jobs that the journal holds; what the last visit left of each is shown until it is opened.
    /// Says whether it could.
    async fn read_list(self) -> bool {
        let Ok(ids) = self.journal.jobs().await else {
            self.list_known.set(true);
            return false;
        };
        let mut list = prefs::listed();
        list.retain(|l| ids.contains(&l.id));
        let mut lost = ids;
        lost.retain(|id| !list.iter().any(|l| l.id == *id));
        for (at, id) in lost.iter().enumerate() {
            let job = Job::from_entries(self.journal.read(*id).await.entries);
            list.push(Listed::of(*id, &job, device::now_ms()));
            // The first jobs can be opened while the rest are read.
            if (at + 1).is_power_of_two() {
                self.list.set(list.clone());
            }
        }
        list.sort_by_key(|l| std::cmp::Reverse(l.last_ms));
        if !lost.is_empty() {
            prefs::keep_listed(&list);
        }
        self.list.set(list);
        // One that was made while the journal was asked is not in its answer.
        self.list_again();
        self.list_known.set(true);
        true
    }

    /// Records what was done in the open job.
    pub fn record(self, act: Act) {
        let made = |job: &Job| job.draft(self.device.get_value(), device::now_ms(), act.clone());
        self.take(made);
    }

    /// Records an entry that the open job makes for this device and time.
    pub fn take(self, make: impl Fn(&Job) -> Entry) {
        self.enter(true, Box::new(make));
    }

    /// As [`Desk::take`] within a pass: when that was opened, it was said who works here, so that a reading
    /// need not ask the storage for it.
    pub fn take_in_pass(self, make: impl Fn(&Job) -> Entry) {
        self.enter(false, Box::new(make));
    }

    fn enter(self, signed: bool, make: Box<dyn Fn(&Job) -> Entry + '_>) {
        self.open.update(|open| {
            let Some(open) = open else { return };
            if signed {
                self.sign(open);
            }
            let entry = make(&open.job);
            self.journal.write(self, open.id, vec![entry.clone()]);
            open.job.apply(entry);
        });
        self.now_ms.set(device::now_ms());
        self.list_soon();
    }

    /// Renews the open job's line in the list when the hand rests: its progress takes a look
    /// at every step, which a tap need not wait for.
    fn list_soon(self) {
        if !self.list_due.get_value() {
            self.list_due.set_value(true);
            let renew = move || {
                self.list_due.set_value(false);
                let last_ms = |o: &Option<Open>| o.as_ref()?.job.log().last().map(|e| e.at_ms);
                let rested_ms = self
                    .open
                    .with_untracked(last_ms)
                    .map(|at| device::now_ms() - at);
                // Of the future is what another phone made, whose clock goes before.
                if rested_ms.is_some_and(|rested| (0..900).contains(&rested)) {
                    self.list_soon();
                } else {
                    self.list_again();
                }
            };
            set_timeout(renew, Duration::from_secs(1));
        }
    }

    /// Changes what the user likes, and keeps it.
    pub fn prefer(self, change: impl FnOnce(&mut Preferences)) {
        self.preferences.update(change);
        self.preferences.with_untracked(|p| {
            p.keep();
            p.dress();
        });
    }

    /// Looks at what follows from the entries of the open job, and follows its changes.
    pub fn look<T>(self, at: impl FnOnce(&State) -> T) -> Option<T> {
        self.open.with(|o| o.as_ref().map(|o| at(o.job.state())))
    }

    /// As [`Desk::look`], once, without following changes.
    pub fn look_once<T>(self, at: impl FnOnce(&State) -> T) -> Option<T> {
        self.open
            .with_untracked(|o| o.as_ref().map(|o| at(o.job.state())))
    }

    /// This visit's name in the log.
    pub fn device(self) -> DeviceId {
        self.device.get_value()
    }

    /// Takes back the latest thing done on this phone, on this or an earlier visit, and says what it was.
    pub fn undo(self) -> Option<Act> {
        let latest = self.open.with_untracked(|open| {
            let latest = open.as_ref()?.job.undoable(&prefs::own_devices())?;
            Some((latest.id, latest.act.clone()))
        });
        let (entry, act) = latest?;
        self.record(Act::Undo { entry });
        Some(act)
    }

    /// Makes a job of these acts, stores it and opens it.
    pub fn make(self, acts: Vec<Act>) {
        let id = JobId::new(device::random());
        let mut job = Job::new();
        for act in std::iter::once(Act::Made { job: id }).chain(acts) {
            let entry = job.draft(self.device.get_value(), device::now_ms(), act);
            job.apply(entry);
        }
        self.lay_in(id, job.log().entries().to_vec());
    }

    /// Stores the entries of a new job and opens it.
    pub fn lay_in(self, id: JobId, entries: Vec<Entry>) {
        let job = Job::from_entries(entries.iter().cloned());
        self.journal.write(self, id, entries);
        self.lay_open(id, job);
        Screen::Order(id).go();
    }

    /// Opens job files one after the other: a new job is stored, a known one is merged.
    pub fn open_files(self, chosen: Option<web_sys::FileList>) {
        let chosen = chosen.into_iter();
        let chosen: Vec<web_sys::File> = chosen
            .flat_map(|list| (0..list.length()).filter_map(move |i| list.get(i)))
            .collect();
        spawn_local(async move {
            for file in chosen {
                match files::read(file).await {
                    Ok(bytes) => self.open_file(bytes).await,
                    Err(sentence) => self.say_trouble(&sentence),
                }
            }
        });
    }

    async fn open_file(self, bytes: Vec<u8>) {
        // A large file takes its time; the word must be on the screen before.
        if bytes.len() > LARGE_FILE {
            self.is_busy(READING, Some(0)).await;
        }
        let opened = match job::Opening::begin(&bytes) {
            Ok(mut opening) => {
                while opening.read_on(AT_ONCE) {
                    // To the tenth: a screen reader says each.
                    let busy = Some(Busy {
                        with: READING,
                        percent: Some(opening.percent() / 10 * 10),
                    });
                    if self.busy.get_untracked() != busy {
                        self.busy.set(busy);
                    }
                    device::pause(0).await;
                }
                opening.finish()
            }
            Err(error) => Err(error),
        };
        match opened {
            Ok(opened) => self.take_file(opened).await,
            Err(error) => self.say_trouble(&error.to_string()),
        }
        self.busy.set(None);
    }

    /// Says with what the program is busy, and returns when that is on the screen.
    pub async fn is_busy(self, with: &'static str, percent: Option<usize>) {
        self.busy.set(Some(Busy { with, percent }));
        device::painted().await;
    }

    async fn take_file(self, opened: job::Opened) {
        let Some(id) = opened.id else {
            self.say_trouble(
                "The file holds no job that can be opened. Nothing stored here was changed.",
            );
            return;
        };
        // What was changed or left out must be seen, so it stays until it is put away.
        for notice in &opened.notices {
            self.say_trouble(notice);
        }
        let read = self.journal.read(id).await;
        if read.failed {
            // Without the stored entries, those of the file could take the place of others.
            self.say_trouble(
                "The file was not opened, since what is stored here could not be read. Open it again when the storage works.",
            );
            return;
        }
        let mut job = self.job_of(id, read.entries);
        let apart = job.state().read_apart().len();
        let new: Vec<Entry> = opened
            .entries
            .iter()
            .filter(|e| job.log().get(e.id).is_none())
            .cloned()
            .collect();
        let was_here = !job.log().is_empty();
        let merged = job.merge(opened.entries);
        if was_here {
            self.say(&format!(
                "The job was here already. {} new entries were taken in, {} were known.",
                merged.new, merged.known
            ));
            if let Some(sentence) = read_apart(job.state(), apart) {
                self.say_trouble(&sentence);
            }
        }
        if !merged.differing.is_empty() {
            self.say_trouble(&format!(
                "{} entries of the file differ from the stored ones of the same name. The stored ones were kept.",
                merged.differing.len()
            ));
        }
        self.journal.write(self, id, new);
        self.lay_open(id, job);
        Screen::Order(id).go();
    }

    fn lay_open(self, id: JobId, job: Job) {
        self.open.set(Some(Open { id, job }));
        self.list_again();
    }

    /// Renews the open job's line in the list.
    fn list_again(self) {
        let line = self.open.with_untracked(|o| {
            o.as_ref()
                .map(|o| Listed::of(o.id, &o.job, device::now_ms()))
        });
        if let Some(line) = line {
            self.list_line(line);
        }
    }

    /// Puts a job's line first in the list, for one that was there before.
    fn list_line(self, mut line: Listed) {
        self.list.update(|list| {
            if let Some(old) = list.iter().find(|l| l.id == line.id) {
                line.exported = old.exported;
            }
            list.retain(|l| l.id != line.id);
            list.insert(0, line);
            prefs::keep_listed(list);
        });
    }

    /// Whether the files of these jobs may take more than a blink to write.
    pub fn is_large(self, ids: &[JobId]) -> bool {
        let entries = |list: &Vec<Listed>| -> usize {
            let chosen = list.iter().filter(|l| ids.contains(&l.id));
            chosen.map(|l| l.entries).sum()
        };
        self.list.with_untracked(entries) > LARGE_JOB
    }

    /// The files of these jobs as they stand, each with its name, and how many entries it holds.
    /// A job that cannot be read is told of and left out.
    pub async fn files(self, ids: &[JobId]) -> Vec<JobFile> {
        let mut files = Vec::new();
        for &id in ids {
            let open = self.open.with_untracked(|o| {
                let open = o.as_ref().filter(|o| o.id == id)?;
                Some(JobFile::of(id, &open.job))
            });
            if let Some(file) = open {
                files.push(file);
                continue;
            }
            let read = self.journal.read(id).await;
            if !read.entries.is_empty() {
                files.push(JobFile::of(id, &Job::from_entries(read.entries)));
            }
            for trouble in read.notices {
                self.trouble(trouble);
            }
        }
        files
    }

    /// Notes that jobs were handed out as they stood, each with its count of entries.
    pub fn exported(self, counts: &[(JobId, usize)]) {
        self.list.update(|list| {
            for line in list.iter_mut() {
                if let Some((_, count)) = counts.iter().find(|(id, _)| *id == line.id) {
                    line.exported = *count;
                }
            }
            prefs::keep_listed(list);
        });
    }

    /// Says who works on this device, once in each job and visit, so that its entries have a name.
    fn sign(self, open: &mut Open) {
        let device = self.device.get_value();
        let Some(name) = prefs::technician() else {
            return;
        };
        if open.job.state().technician(device) == Some(name.as_str()) {
            return;
        }
        let set = Box::new(Details {
            technician: Some(name),
            ..Details::default()
        });
        let entry = open
            .job
            .draft(device, device::now_ms(), Act::Details { set });
        self.journal.write(self, open.id, vec![entry.clone()]);
        open.job.apply(entry);
    }

    /// Puts up news, which goes by itself after a while.
    pub fn say(self, text: &str) {
        self.put_up(text, false);
        let text = text.to_owned();
        set_timeout(move || self.put_away(&text), NEWS_STAYS);
    }

    /// Puts up trouble.
    pub fn say_trouble(self, text: &str) {
        self.put_up(text, true);
    }

    /// Puts up trouble that the store tells of.
    pub fn trouble(self, text: String) {
        self.put_up(&text, true);
    }

    fn put_up(self, text: &str, trouble: bool) {
        self.notices.update(|notices| {
            if !notices.iter().any(|n| n.text == text) {
                notices.push(Notice {
                    text: text.to_owned(),
                    trouble,
                });
            }
        });
    }

    /// Puts a sentence away.
    pub fn put_away(self, text: &str) {
        self.notices
            .update(|notices| notices.retain(|n| n.text != text));
    }
}

/// What two phones have read differently, where it is more than was known before.
fn read_apart(state: &State, before: usize) -> Option<String> {
    let apart = state.read_apart();
    let (measure, on) = *apart.first().filter(|_| apart.len() > before)?;
    let (name, on) = (state.measure(measure.as_str())?.name, words::subject(on));
    let more = match apart.len() - 1 {
        0 => "was".to_owned(),
        n => format!("and {n} more were"),
    };
    Some(format!(
        "{name} of {on} {more} read differently on two phones. Both readings are kept, and the later counts. The pass shows both; read the note again to settle it."
    ))
}

/// The desk of this app.
pub fn desk() -> Desk {
    expect_context()
}
