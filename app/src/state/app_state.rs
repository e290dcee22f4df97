//! The signals that all screens share.

use std::time::Duration;

use evenhand_core::job::{EntryId, Job, JobId, Setup, State};
use evenhand_core::note::Sections;
use evenhand_core::trade::StepId;
use evenhand_core::unit::LengthUnit;
use leptos::prelude::*;

use super::left_pass::LeftPass;
use super::list_view::ListView;
use super::open_list::OpenList;
use crate::device::{self, local_time};
use crate::route::Route;
use crate::storage::job_summary::{DeletedJob, JobSummary};
use crate::storage::local_storage;
use crate::storage::preferences::Preferences;

/// How long news stays: long enough to read it twice with both hands busy. A warning stays until it is dismissed.
const NEWS_TIMEOUT: Duration = Duration::from_secs(30);

/// The job that is open.
#[derive(Clone, Debug)]
pub struct OpenJob {
    /// Its id.
    pub id: JobId,
    /// Its entries and what follows from them.
    pub job: Job,
}

/// A sentence that stays on the screen.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Notice {
    /// What it says.
    pub text: String,
    /// More sentences of the same matter, folded.
    pub more: Vec<String>,
    /// Whether it is a warning; the rest is news.
    pub is_warning: bool,
    /// Whether it says what was just done or undone: it is removed at the next entry.
    pub is_undo: bool,
    /// The entry that took something back, which it offers to bring back.
    pub undo: Option<EntryId>,
    /// The job into which a file was merged, which it offers to take back.
    pub merged_into: Option<JobId>,
}

/// What the program is busy with for more than half a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Busy {
    /// What it does, such as “Reading the file…”.
    pub with: &'static str,
    /// How far it is, from 0 to 100, where that is known.
    pub percent: Option<usize>,
}

/// What all screens share. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct AppState {
    /// The screen that is shown.
    pub route: RwSignal<Route>,
    /// The job that is open, once it was read.
    pub open_job: RwSignal<Option<OpenJob>>,
    /// The jobs on this device.
    pub jobs: RwSignal<Vec<JobSummary>>,
    /// The jobs that were deleted on this device and can be brought back.
    pub deleted: RwSignal<Vec<DeletedJob>>,
    /// Where the list of jobs was left: the jobs in view, each with its distance from the top of the list in pixels.
    pub list_place: StoredValue<Vec<(JobId, f64)>>,
    /// Which jobs the list shows, and in which order.
    pub list_view: RwSignal<ListView>,
    /// Whether the journal has answered which jobs there are.
    pub jobs_known: RwSignal<bool>,
    /// Wall time in milliseconds since 1970, renewed every few seconds.
    pub now_ms: RwSignal<i64>,
    /// The news and warnings that are shown.
    pub notices: RwSignal<Vec<Notice>>,
    /// What the program is busy with.
    pub busy: RwSignal<Option<Busy>>,
    /// Whether the user wants what the program is busy with to stop.
    pub stop: RwSignal<bool>,
    /// The jobs in opened files, while they are chosen or their results are shown.
    pub open_list: RwSignal<Option<OpenList>>,
    /// The pass that was left for a page about it.
    pub(super) left_pass: RwSignal<Option<LeftPass>>,
    /// The user's preferences.
    pub preferences: RwSignal<Preferences>,
    /// The open job's unit of lengths, or the default if none is open.
    length_unit: Memo<LengthUnit>,
    /// The open job's name; empty where none is open or it has none.
    job_name: Memo<String>,
}

impl AppState {
    /// Returns the state of an app in which nothing is open yet, with the stored list of jobs for the first paint.
    pub fn new() -> AppState {
        let open_job = RwSignal::new(None::<OpenJob>);
        let length_unit = move |open: &Option<OpenJob>| {
            let open = open.as_ref();
            open.map_or_else(LengthUnit::default, |open| open.job.state().length_unit())
        };
        let job_name = |open: &Option<OpenJob>| {
            let name = open.as_ref().map(|open| &open.job.state().details().name);
            name.and_then(Option::clone).unwrap_or_default()
        };
        AppState {
            route: RwSignal::new(Route::first()),
            open_job,
            jobs: RwSignal::new(local_storage::job_summaries()),
            deleted: RwSignal::new(local_storage::deleted_jobs()),
            list_place: StoredValue::new(Vec::new()),
            list_view: RwSignal::new(ListView::default()),
            jobs_known: RwSignal::new(false),
            now_ms: RwSignal::new(local_time::now_ms()),
            notices: RwSignal::new(Vec::new()),
            busy: RwSignal::new(None),
            stop: RwSignal::new(false),
            open_list: RwSignal::new(None),
            left_pass: RwSignal::new(None),
            preferences: RwSignal::new(Preferences::load()),
            length_unit: Memo::new(move |_| open_job.with(length_unit)),
            job_name: Memo::new(move |_| open_job.with(job_name)),
        }
    }

    /// Calls `read` with the open job's state, and tracks it. Returns `None` if no job is open.
    pub fn with_state<T>(self, read: impl FnOnce(&State) -> T) -> Option<T> {
        let of = |open: &Option<OpenJob>| Some(read(open.as_ref()?.job.state()));
        self.open_job.with(of)
    }

    /// As [`AppState::with_state`], without tracking.
    pub fn with_state_untracked<T>(self, read: impl FnOnce(&State) -> T) -> Option<T> {
        let of = |open: &Option<OpenJob>| Some(read(open.as_ref()?.job.state()));
        self.open_job.with_untracked(of)
    }

    /// Returns whether this job is open.
    pub fn is_open(self, id: JobId) -> bool {
        let is = |open: &Option<OpenJob>| open.as_ref().is_some_and(|open| open.id == id);
        self.open_job.with_untracked(is)
    }

    /// Returns whether a job was deleted on this device.
    pub fn is_deleted(self, id: JobId) -> bool {
        self.deleted
            .with_untracked(|list| list.iter().any(|d| d.job.id == id))
    }

    /// Returns the open job's unit of lengths, and tracks it.
    pub fn length_unit(self) -> LengthUnit {
        self.length_unit.get()
    }

    /// As [`AppState::length_unit`], without tracking.
    pub fn length_unit_untracked(self) -> LengthUnit {
        self.length_unit.get_untracked()
    }

    /// Returns the job that the route names, without tracking it. `None` if it names none.
    pub fn job_untracked(self) -> Option<JobId> {
        self.route.with_untracked(Route::job)
    }

    /// Replaces the route in the address, for what is chosen within a screen. The screen stays as it is.
    pub fn note_route(self, route: Route) {
        route.note();
        // Without telling of it: the address is followed later, and must not be taken for another screen.
        self.route.maybe_update(|shown| {
            *shown = route;
            false
        });
    }

    /// Returns the open job's name, and tracks it; empty if it has none.
    pub fn job_name(self) -> String {
        self.job_name.get()
    }

    /// Returns the open job's sections, and tracks them; the default where none is open.
    pub fn sections(self) -> Sections {
        self.with_state(|s| s.sections().clone())
            .unwrap_or_default()
    }

    /// Returns the open job's setup, and tracks it.
    pub fn setup(self) -> Setup {
        self.with_state(|s| s.setup().clone()).unwrap_or_default()
    }

    /// Shows news, which disappears after [`NEWS_TIMEOUT`].
    pub fn notify(self, text: &str) {
        // Of one kind, such as the downloads, the latest is enough.
        if let Some((kind, _)) = text.split_once(": ") {
            let is_same = |n: &Notice| !n.is_warning && n.text.split(": ").next() == Some(kind);
            self.notices
                .update(|notices| notices.retain(|n| !is_same(n) || n.merged_into.is_some()));
        }
        self.add_notice(Notice {
            text: text.to_owned(),
            ..Notice::default()
        });
        let text = text.to_owned();
        set_timeout(move || self.dismiss(&text), NEWS_TIMEOUT);
    }

    /// Shows what a file has changed in a job, with a button to take it back.
    pub fn notify_import(self, id: JobId, text: &str) {
        self.dismiss_imports();
        self.add_notice(Notice {
            text: text.to_owned(),
            merged_into: Some(id),
            ..Notice::default()
        });
    }

    /// Removes what was said of imports.
    pub fn dismiss_imports(self) {
        self.notices
            .update(|notices| notices.retain(|n| n.merged_into.is_none()));
    }

    /// Shows what was undone, or that a photo was kept, until the next entry or undo. `undo` is the entry that took it
    /// back, if it can be brought back.
    pub fn notify_undo(self, text: &str, undo: Option<EntryId>) {
        self.dismiss_undo();
        self.add_notice(Notice {
            text: text.to_owned(),
            is_undo: true,
            undo,
            ..Notice::default()
        });
    }

    /// Removes what was said of an undo.
    pub fn dismiss_undo(self) {
        if self.notices.with_untracked(|n| n.iter().any(|n| n.is_undo)) {
            self.notices
                .update(|notices| notices.retain(|n| !n.is_undo));
        }
    }

    /// Shows a warning, which stays until it is dismissed.
    pub fn warn(self, text: &str) {
        self.add_notice(Notice {
            text: text.to_owned(),
            is_warning: true,
            ..Notice::default()
        });
    }

    /// Shows the sentences about a file as one warning: the first, and the others folded.
    pub fn warn_folded(self, file: &str, sentences: &[String]) {
        if let [first, more @ ..] = sentences {
            self.add_notice(Notice {
                text: format!("{file}: {first}"),
                more: more.to_vec(),
                is_warning: true,
                ..Notice::default()
            });
        }
    }

    fn add_notice(self, notice: Notice) {
        self.notices.update(|notices| {
            if !notices.iter().any(|n| n.text == notice.text) {
                notices.push(notice);
            }
        });
    }

    /// Removes a notice.
    pub fn dismiss(self, text: &str) {
        self.notices
            .update(|notices| notices.retain(|n| n.text != text));
    }

    /// Shows what the program is busy with, and returns when that is painted.
    pub async fn show_busy(self, with: &'static str, percent: Option<usize>) {
        self.busy.set(Some(Busy { with, percent }));
        device::painted().await;
    }

    /// Shows how far the program is, and lets the browser handle what waits.
    pub async fn set_busy(self, with: &'static str, percent: usize) {
        // To the tenth, as a screen reader says each change.
        let busy = Some(Busy {
            with,
            percent: Some(percent / 10 * 10),
        });
        if self.busy.get_untracked() != busy {
            self.busy.set(busy);
        }
        device::pause(0).await;
    }

    /// Replaces the open job.
    pub fn set_open_job(self, id: JobId, job: Job) {
        self.open_job.set(Some(OpenJob { id, job }));
    }

    /// Stores the pass that is left.
    pub fn leave_pass(self, pass: LeftPass) {
        self.left_pass.set(Some(pass));
    }

    /// Returns the pass of a step as it was left for a page about it, and forgets it. `None` if another screen was
    /// shown meanwhile.
    pub fn take_left_pass(self, step: &StepId) -> Option<LeftPass> {
        let left = self.left_pass.get_untracked();
        self.left_pass.set(None);
        left.filter(|left| Some(left.job) == self.job_untracked() && left.step == *step)
    }

    /// Forgets the pass that was left: the way back leads through another screen.
    pub fn forget_left_pass(self) {
        self.left_pass.set(None);
    }

    /// Returns where the arrow of a page of the open job leads, and what that is called: to the pass that it was opened
    /// from, otherwise to the order.
    pub fn way_back(self) -> (String, &'static str) {
        let route = self.route.get_untracked();
        let left = self.left_pass.get_untracked();
        match left.filter(|left| Some(left.job) == route.job()) {
            Some(left) => (Route::Pass(left.job, left.step).href(), "Back to the pass"),
            None => (route.order_href(), "Back to the order"),
        }
    }

    /// Changes the preferences, stores and applies them.
    pub fn change_preferences(self, change: impl FnOnce(&mut Preferences)) {
        self.preferences.update(change);
        self.preferences.with_untracked(|p| {
            p.save();
            p.apply();
        });
    }
}
