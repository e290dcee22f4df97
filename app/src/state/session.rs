//! What is done with the open job: record, undo, open. A tap makes an entry, the entry goes to the journal and into the
//! job, and the job's state is shown.

use std::time::Duration;

use evenhand_core::analysis::remeasure::not_remeasured;
use evenhand_core::job::{
    Correction, Details, Entry, EntryId, EntryKind, Job, JobId, MAX_ENTRIES, ReplicaId, Setup,
    State, Subject, unknown,
};
use evenhand_core::trade::{MeasureId, Place};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::app_state::{AppState, OpenJob};
use super::job_list::JobList;
use crate::device::{self, local_time, persistence};
use crate::route::Route;
use crate::storage::job_summary::JobSummary;
use crate::storage::journal::{Journal, RECOVERED, StoredJob};
use crate::storage::local_storage;
use crate::storage::photos::Photos;
use crate::storage::preferences::{self, Preferences};

/// How often [`AppState::now_ms`] is renewed.
const CLOCK_INTERVAL: Duration = Duration::from_secs(5);

/// Told of a job with entries dated more than a day ahead.
pub const CLOCK_AHEAD: &str = "Some work in this job is dated more than a day ahead: the clock of this phone or of another one is wrong. It is kept, and what you enter now counts as later. Set the clock.";

/// Changes the state of the app. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Session {
    /// What all screens share.
    pub app: AppState,
    /// Where entries are stored.
    pub journal: Journal,
    /// Where photos are stored.
    pub photos: Photos,
    /// The jobs on this device.
    pub jobs: JobList,
    /// Who writes the entries of this visit.
    replica: StoredValue<ReplicaId>,
    /// Whether the app was opened at its address without a route.
    opened_bare: StoredValue<bool>,
    asked_to_persist: StoredValue<bool>,
    /// The job that was open before the one that is.
    left: StoredValue<Option<OpenJob>>,
    /// The job in which this session records; `None` outside of a job's screens, where nothing can be recorded.
    job: Option<JobId>,
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
        let (app, journal) = (AppState::new(), Journal::new());
        Session {
            app,
            journal,
            photos: Photos::new(),
            jobs: JobList::new(app, journal),
            replica: StoredValue::new(replica),
            opened_bare: StoredValue::new(opened_bare),
            asked_to_persist: StoredValue::new(false),
            left: StoredValue::new(None),
            job: None,
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
            let waits = self.journal.unsaved.get() > 0;
            if faulty {
                self.journal.retry_soon();
            }
            // Opening may work again before writing does.
            let troubled = faulty || (before == Some(true) && waits);
            if before == Some(true) && !troubled {
                self.app.notify(RECOVERED);
            }
            troubled
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
        self.journal.on_emptied(move || self.after_emptied());
        match self.journal.unreadable {
            0 => {}
            1 => self.app.warn("1 record put aside on this phone could not be read. It was kept as it is; a newer version of Evenhand may read it."),
            n => self.app.warn(&format!("{n} records put aside on this phone could not be read. They were kept as they are; a newer version of Evenhand may read them.")),
        }
        if !local_storage::is_available() {
            self.app.warn("This browser does not keep the preferences: theme, hand and what was exported are forgotten. Your jobs are safe.");
        }
    }

    /// Says that the stored entries were deleted by somebody else, and returns those that this page still has.
    fn after_emptied(self) -> Vec<(JobId, Vec<Entry>)> {
        let of = |open: &Option<OpenJob>| {
            let open = open.as_ref()?;
            Some((open.id, open.job.log().entries().to_vec()))
        };
        let left = self.left.with_value(of);
        let open = self.app.open_job.with_untracked(of);
        self.app.warn(if open.is_some() {
            "What this browser had stored for Evenhand was deleted while this page was open. The open job is being stored again, whole; other jobs are gone from this phone: open their files."
        } else {
            "What this browser had stored for Evenhand was deleted while this page was open. The jobs are gone from this phone: open their files."
        });
        self.journal.reopened.notify();
        left.into_iter().chain(open).collect()
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
        if read.is_empty() && read.notices.is_empty() {
            self.app
                .warn("This job is not on this device. Open its file, or choose another job.");
        }
        let unknown = unknown(read.job.log().entries());
        for notice in read.notices.iter().chain(&unknown) {
            self.app.warn(notice);
        }
        if read.is_empty() {
            Route::Jobs.replace();
            return;
        }
        // If it was opened meanwhile, it may have entries that were not stored when these were read.
        if !self.app.is_open(id) {
            let job = read.job;
            self.warn_of_clock(&job);
            let entries = job.log().len();
            self.show_job(OpenJob { id, job });
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

    /// Returns a stored job, merged with what was entered meanwhile if it is open.
    pub fn merged_with_open(self, id: JobId, stored: StoredJob) -> Job {
        let mut job = stored.job;
        self.app.open_job.with_untracked(|open| {
            if let Some(open) = open.as_ref().filter(|o| o.id == id) {
                job.merge(open.job.log().entries().iter().cloned());
            }
        });
        job
    }

    /// Opens a job, and puts it first in the list.
    pub fn open_job(self, id: JobId, job: Job) {
        self.show_job(OpenJob { id, job });
        self.jobs.renew();
    }

    /// Shows a job, and keeps the one that was open: its screen is taken away later, and may then record that it ends.
    fn show_job(self, job: OpenJob) {
        // What is being typed belongs to the job whose field it is.
        device::settle_typing();
        let id = job.id;
        // Its line may wait to be renewed, and is renewed only while it is open.
        self.jobs.renew_if_due();
        let before = self.app.open_job.try_update(|open| open.replace(job));
        if let Some(before) = before.flatten().filter(|before| before.id != id) {
            self.left.set_value(Some(before));
        }
    }

    /// Returns this session for the screens of a job: what they record is recorded in that job, whichever is open by
    /// then.
    pub fn of_job(self, job: Option<JobId>) -> Session {
        Session { job, ..self }
    }

    /// Returns the job in which this session records.
    pub fn job_id(self) -> Option<JobId> {
        self.job
    }

    /// Records an act in the job of this session. Returns the id of its entry, or `None` if the job is not here.
    pub fn record(self, act: EntryKind) -> Option<EntryId> {
        self.record_with(|job| job.draft(self.replica(), local_time::now_ms(), act))
    }

    /// Records a correction, and which of the readings that it moved need not be measured again. Returns the id of the
    /// correction.
    pub fn record_correction(
        self,
        measure: MeasureId,
        on: Subject,
        place: Place,
        made: Correction,
    ) -> Option<EntryId> {
        let moved = measure.clone();
        let id = self.record(EntryKind::Correction {
            measure,
            on,
            place,
            made,
        })?;
        let known = |s: &State| not_remeasured(s, moved.as_str(), on, place);
        for act in self.app.with_state_untracked(known).unwrap_or_default() {
            self.record(act);
        }
        Some(id)
    }

    /// Records an entry that the job makes for this replica and time. Returns its id.
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
        let job = self.job?;
        let append = |open: &mut OpenJob| {
            // Who works here may be recorded with it.
            if open.job.log().len() + 2 > MAX_ENTRIES {
                self.app.warn(&format!("This job is full: {MAX_ENTRIES} records. What you just did was not recorded. Export the job, and go on in a new job on the same instrument."));
                return None;
            }
            let entry = make(open);
            let id = entry.id;
            self.append(open, entry);
            Some(id)
        };
        if !self.app.is_open(job) {
            let left = |left: &mut Option<OpenJob>| {
                let left = left.as_mut().filter(|left| left.id == job)?;
                let id = append(left);
                self.jobs.put_in_place(left.id, &left.job);
                id
            };
            return self.left.try_update_value(left).flatten();
        }
        let written = self
            .app
            .open_job
            .try_update(|open| open.as_mut().and_then(append));
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

    /// Returns the latest act of this phone, on this or an earlier visit, which Undo takes back, with its entry.
    pub fn undoable(self) -> Option<(EntryId, EntryKind)> {
        self.app.open_job.with_untracked(|open| {
            let job = &open.as_ref().filter(|open| Some(open.id) == self.job)?.job;
            let latest = job.undoable(&local_storage::own_replicas())?;
            Some((latest.id, latest.kind.clone()))
        })
    }

    /// Undoes the latest act of this phone. Returns the act, and the entry that took it back.
    pub fn undo(self) -> Option<(EntryKind, Option<EntryId>)> {
        let (entry, act) = self.undoable()?;
        let undo = self.record(EntryKind::Undo { entry });
        Some((act, undo))
    }

    /// Takes the latest import of the open job back, or brings it back if it is taken back.
    pub fn turn_import(self) {
        let last = self.app.open_job.with_untracked(|open| {
            let open = open.as_ref().filter(|open| Some(open.id) == self.job)?;
            open.job.last_opened(&local_storage::own_replicas())
        });
        let Some((opened, undos)) = last else { return };
        let undone = if undos.is_empty() {
            vec![opened]
        } else {
            undos
        };
        for entry in undone {
            self.record(EntryKind::Undo { entry });
        }
        self.jobs.renew();
    }

    /// Creates a job with these acts, stores and opens it.
    pub fn create_job(self, acts: Vec<EntryKind>) {
        let id = JobId::new(device::random());
        let mut job = Job::new();
        let sample = EntryKind::sample_of(id, &acts);
        let made = std::iter::once(EntryKind::Made { job: id });
        for act in made.chain(acts).chain(sample) {
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

    /// Asks the browser once a visit to persist the storage, as soon as there is anything to lose: a first entry that is
    /// not of the demo job.
    pub fn ask_to_persist(self) {
        let invented = |s: &State| s.details().invented == Some(true);
        let invented = self.app.with_state_untracked(invented) == Some(true);
        if !invented && !self.asked_to_persist.get_value() {
            self.asked_to_persist.set_value(true);
            // A refusal is shown in the preferences, so it is not asked again.
            spawn_local(async {
                let _ = persistence::request().await;
            });
        }
    }
}
