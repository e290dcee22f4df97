//! What is done with the open job: record, undo, open. A tap makes an entry, the entry goes to the journal and into the
//! job, and the job's state is shown.

use std::time::Duration;

use evenhand_core::job::{Details, Entry, EntryId, EntryKind, Job, JobId, ReplicaId, Setup};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::app_state::{AppState, OpenJob};
use super::job_list::JobList;
use crate::device::{self, local_time, persistence};
use crate::route::Route;
use crate::storage::job_summary::JobSummary;
use crate::storage::journal::{Journal, RECOVERED};
use crate::storage::local_storage;
use crate::storage::preferences::{self, Preferences};

/// How often [`AppState::now_ms`] is renewed.
const CLOCK_INTERVAL: Duration = Duration::from_secs(5);
/// From this many entries the browser is asked to persist the storage.
const MIN_ENTRIES_TO_PERSIST: usize = 20;

/// Told of a job with entries dated more than a day ahead.
pub const CLOCK_AHEAD: &str = "Some entries of this job are dated more than a day ahead: the clock of this phone or of another one is wrong. They are kept, and what is entered now counts as later. Set the clock.";

/// Changes the state of the app. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Session {
    /// What all screens share.
    pub app: AppState,
    /// Where entries are stored.
    pub journal: Journal,
    /// The jobs on this device.
    pub jobs: JobList,
    /// Who writes the entries of this visit.
    replica: StoredValue<ReplicaId>,
    /// Whether the app was opened at its address without a route.
    opened_bare: StoredValue<bool>,
    asked_to_persist: StoredValue<bool>,
}

/// Returns the session of this app.
pub fn use_session() -> Session {
    expect_context()
}

impl Session {
    /// Returns a session in which nothing is open yet.
    pub fn new() -> Session {
        // Asked before the first screen writes its route into the address.
        let opened_bare = Route::is_bare();
        let replica = local_storage::new_replica();
        let (app, journal) = (AppState::new(), Journal::new(replica));
        Session {
            app,
            journal,
            jobs: JobList::new(app, journal),
            replica: StoredValue::new(replica),
            opened_bare: StoredValue::new(opened_bare),
            asked_to_persist: StoredValue::new(false),
        }
    }

    /// Follows the address and the clock, and reads what the journal holds.
    pub fn start(self) {
        self.app.preferences.with_untracked(Preferences::apply);
        let handle = window_event_listener(leptos::ev::hashchange, move |_| self.follow_address());
        on_cleanup(move || handle.remove());
        // A hidden page may never come back, so what is typed is recorded first.
        let hidden = window_event_listener(leptos::ev::visibilitychange, |_| {
            if document().hidden() {
                device::settle_typing();
            }
        });
        on_cleanup(move || hidden.remove());
        let tick = move || {
            self.app.now_ms.set(local_time::now_ms());
            self.journal.check_answer();
        };
        if let Ok(clock) = set_interval_with_handle(tick, CLOCK_INTERVAL) {
            on_cleanup(move || clock.clear());
        }
        self.watch_journal();
        let kept_ms = local_storage::last_route().map_or(0, |(at_ms, _)| at_ms);
        let first = Route::here();
        spawn_local(async move {
            self.jobs.read().await;
            // A killed browser may have lost the latest route from local storage; the journal has it. If the user has
            // gone elsewhere meanwhile, the route stays.
            if let (true, Some((at_ms, address))) = (
                self.opened_bare.get_value(),
                self.journal.last_route().await,
            ) && let Some(last) = Route::of(&address)
                && at_ms > kept_ms
                && Route::here() == first
            {
                last.replace();
            }
            self.follow_address();
            self.erase_due().await;
            // Save what an earlier visit could not save.
            if self.journal.unsaved.get_untracked() > 0 {
                self.journal.retry();
            }
        });
    }

    /// Retries the journal while it does not work. Notifies when it works again, and then repeats failed reads.
    fn watch_journal(self) {
        Effect::new(move |before: Option<bool>| {
            let faulty = self.journal.fault.with(Option::is_some);
            if faulty {
                self.journal.retry_soon();
            } else if before == Some(true) {
                self.app.notify(RECOVERED);
            }
            faulty
        });
        Effect::new(move |before: Option<()>| {
            self.journal.reopened.track();
            if before.is_some() {
                spawn_local(async move {
                    self.jobs.read().await;
                    self.follow_address();
                });
            }
        });
        if !local_storage::is_available() {
            self.app.warn("This browser keeps no preferences for Evenhand: the phone forgets its theme, its hand and what was exported. Entries are not touched by that.");
        }
    }

    /// Shows the screen that the address names, and opens its job if another is open.
    fn follow_address(self) {
        let route = Route::here();
        let wanted = route.job();
        local_storage::set_last_route(&route.href());
        if self.app.route.with_untracked(|s| *s != route) {
            // A field of the previous screen may hold typed text.
            device::settle_typing();
            // The list of jobs must be up to date when it is shown.
            self.jobs.renew_if_due();
            self.app.dismiss_undo();
            self.app.route.set(route);
        }
        let Some(id) = wanted else { return };
        if !self.app.is_open(id) {
            spawn_local(self.open_stored(id));
        }
    }

    /// Opens a job that the journal holds.
    async fn open_stored(self, id: JobId) {
        if self.app.is_deleted(id) {
            self.app.warn(
                "This job was deleted on this device. It can be brought back: see “Deleted” at the end of the list.",
            );
            return Route::Jobs.replace();
        }
        let read = self.journal.read(id).await;
        // A job that could not be read may well be stored: the journal's fault says so, and the read is repeated.
        if read.failed && !read.is_whole() {
            return;
        }
        if read.entries.is_empty() && read.notices.is_empty() {
            self.app
                .warn("This job is not on this device. Open its file, or choose another job.");
        }
        for notice in &read.notices {
            self.app.warn(notice);
        }
        if read.entries.is_empty() {
            Route::Jobs.replace();
            return;
        }
        // If it was opened meanwhile, it may have entries that were not stored when these were read.
        if !self.app.is_open(id) {
            let job = Job::from_entries(read.entries).with_id(id);
            self.warn_of_clock(&job);
            let entries = job.log().len();
            self.app.open_job.set(Some(OpenJob { id, job }));
            // An earlier visit may have ended before it renewed the line.
            let is_stale =
                |list: &Vec<JobSummary>| list.iter().any(|l| l.id == id && l.entries != entries);
            if self.app.jobs.with_untracked(is_stale) {
                self.jobs.renew();
            }
        }
    }

    /// Warns if entries of a job are dated more than a day ahead of the clock of this phone.
    fn warn_of_clock(self, job: &Job) {
        if !job.ahead(local_time::now_ms()).is_empty() {
            self.app.warn(CLOCK_AHEAD);
        }
    }

    /// Returns the job of stored entries, merged with what was entered meanwhile if it is open.
    pub fn merged_with_open(self, id: JobId, stored: Vec<Entry>) -> Job {
        let mut job = Job::from_entries(stored).with_id(id);
        self.app.open_job.with_untracked(|open| {
            if let Some(open) = open.as_ref().filter(|o| o.id == id) {
                job.merge(open.job.log().entries().iter().cloned());
            }
        });
        job
    }

    /// Opens a job, and puts it first in the list.
    pub fn open_job(self, id: JobId, job: Job) {
        self.app.open_job.set(Some(OpenJob { id, job }));
        self.jobs.renew();
    }

    /// Records an act in the open job. Returns the id of its entry, or `None` if no job is open.
    pub fn record(self, act: EntryKind) -> Option<EntryId> {
        self.record_with(|job| job.draft(self.replica(), local_time::now_ms(), act))
    }

    /// Records an entry that the open job makes for this replica and time. Returns its id.
    pub fn record_with(self, make: impl FnOnce(&Job) -> Entry) -> Option<EntryId> {
        self.write(|open| {
            self.sign(open);
            make(&open.job)
        })
    }

    /// As [`Session::record_with`], for readings: the technician was recorded when the pass was opened, so the storage
    /// need not be asked. Returns the id of the entry.
    pub fn record_reading(self, make: impl FnOnce(&Job) -> Entry) -> Option<EntryId> {
        self.write(|open| make(&open.job))
    }

    fn write(self, make: impl FnOnce(&mut OpenJob) -> Entry) -> Option<EntryId> {
        let written = self.app.open_job.try_update(|open| {
            let open = open.as_mut()?;
            let entry = make(open);
            let id = entry.id;
            self.append(open, entry);
            Some(id)
        });
        self.app.now_ms.set(local_time::now_ms());
        self.app.dismiss_undo();
        self.jobs.renew_soon();
        written.flatten()
    }

    /// Appends an entry to the journal, and then to the job.
    fn append(self, open: &mut OpenJob, entry: Entry) {
        self.journal.write(open.id, vec![entry.clone()]);
        open.job.apply(entry);
    }

    /// Records what changed of the setup.
    pub fn record_setup(self, set: Setup) {
        self.record(EntryKind::Setup { set: Box::new(set) });
    }

    /// Records who works on this device, once in each job and visit.
    fn sign(self, open: &mut OpenJob) {
        let Some(name) = preferences::technician() else {
            return;
        };
        if open.job.state().technician(self.replica()) == Some(name.as_str()) {
            return;
        }
        let set = Box::new(Details {
            technician: Some(name),
            ..Details::default()
        });
        let act = EntryKind::Details { set };
        let entry = open.job.draft(self.replica(), local_time::now_ms(), act);
        self.append(open, entry);
    }

    /// Returns who writes the entries of this visit.
    pub fn replica(self) -> ReplicaId {
        self.replica.get_value()
    }

    /// Undoes the latest act of this phone, on this or an earlier visit. Returns the act.
    pub fn undo(self) -> Option<EntryKind> {
        let latest = self.app.open_job.with_untracked(|open| {
            let job = &open.as_ref()?.job;
            let latest = job.undoable(&local_storage::own_replicas())?;
            Some((latest.id, latest.kind.clone()))
        });
        let (entry, act) = latest?;
        self.record(EntryKind::Undo { entry });
        Some(act)
    }

    /// Creates a job with these acts, stores and opens it.
    pub fn create_job(self, acts: Vec<EntryKind>) {
        let id = JobId::new(device::random());
        let mut job = Job::new();
        for act in std::iter::once(EntryKind::Made { job: id }).chain(acts) {
            let entry = job.draft(self.replica(), local_time::now_ms(), act);
            job.apply(entry);
        }
        self.add_job(id, job.log().entries().to_vec());
    }

    /// Stores the entries of a new job and opens it.
    pub fn add_job(self, id: JobId, entries: Vec<Entry>) {
        let job = Job::from_entries(entries.iter().cloned());
        self.journal.write(id, entries);
        self.open_job(id, job);
        Route::Order(id).go();
    }

    /// Asks the browser once a visit, when there is something to lose, to persist the storage.
    pub fn ask_to_persist(self) {
        let entries = |open: &Option<OpenJob>| open.as_ref().map_or(0, |o| o.job.log().len());
        let entries = self.app.open_job.with_untracked(entries);
        if entries >= MIN_ENTRIES_TO_PERSIST && !self.asked_to_persist.get_value() {
            self.asked_to_persist.set_value(true);
            // A refusal is shown in the preferences, so it is not asked again.
            spawn_local(async {
                let _ = persistence::request().await;
            });
        }
    }
}
