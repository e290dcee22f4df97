//! What a list of jobs shows of each: whose it is, how far it is, when it was last worked on and when it is next due.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use super::calendar::{Event, When};
use super::handover::next_check;
use super::job_plan::work_left;
use super::suggestion::suggest_next;
use crate::job::{Day, Entry, EntryKind, Job, JobId, Progress, State};
use crate::trade::{Stage, Step};

/// How far a job is. The variants are in the order of the work; there is no default.
///
/// ```
/// use evenhand_core::analysis::overview::Standing;
///
/// assert!(Standing::Survey < Standing::Done);
/// assert_eq!(Standing::InWork.name(), "In work");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// The survey was begun, and no work is agreed.
    Survey,
    /// Nothing was begun, or only the survey, and the work is agreed.
    Agreed,
    /// Work beyond the survey was begun.
    InWork,
    /// Every step is done.
    Done,
}

impl Standing {
    /// All, in the order of the work.
    pub const ALL: [Standing; 4] = [
        Standing::Survey,
        Standing::Agreed,
        Standing::InWork,
        Standing::Done,
    ];

    /// Returns its name for people.
    pub const fn name(self) -> &'static str {
        match self {
            Standing::Survey => "Survey",
            Standing::Agreed => "Not begun",
            Standing::InWork => "In work",
            Standing::Done => "Done",
        }
    }
}

/// What a list shows of a job beside its name. [`overview`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::overview::{Standing, overview};
/// use evenhand_core::job::{Job, JobId, ReplicaId};
///
/// let now_ms = 1_790_000_000_000;
/// let job = Job::from_entries(evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms));
/// let shown = overview(&job, now_ms, 0);
/// assert_eq!((shown.standing, shown.steps > shown.done), (Standing::InWork, true));
/// assert!(shown.percent() > 0 && shown.percent() < 100);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Overview {
    /// The client; empty if none is named.
    pub client: String,
    /// The serial number of the instrument; empty if it is not known.
    pub serial: String,
    /// How far the job is.
    pub standing: Standing,
    /// The number of steps that are done.
    pub done: usize,
    /// The number of steps.
    pub steps: usize,
    /// The working minutes that are left.
    pub minutes_left: i64,
    /// The name of the stage of the next step; empty if everything is done.
    pub stage: String,
    /// The name of the next step; empty if everything is done.
    pub step: String,
    /// The number of open faults.
    pub faults: usize,
    /// The number of open conflicts.
    #[serde(default)]
    pub conflicts: usize,
    /// The technicians of the job, by the alphabet.
    #[serde(default)]
    pub technicians: Vec<String>,
    /// When the latest work was recorded or, if hours are stated for a later day, its noon, in milliseconds since 1970
    /// (UTC); of a job without work, its latest entry.
    pub worked_ms: i64,
    /// When the instrument is to be checked again, counted from the latest work.
    pub check: Day,
    /// The steps that are drying, each with the time when it is dry, in milliseconds since 1970 (UTC).
    pub drying: Vec<(String, i64)>,
    /// The job on the same instrument that it was made from.
    pub earlier: Option<JobId>,
}

/// Returns what a list shows of a job at a wall time in milliseconds since 1970 (UTC), where the clocks are this many
/// minutes ahead of UTC.
pub fn overview(job: &Job, now_ms: i64, utc_offset_minutes: i16) -> Overview {
    let state = job.state();
    let details = state.details();
    let all = state.progress(now_ms);
    let whole = State::stage_progress(&all, None);
    let next = suggest_next(state, &all, now_ms).into_iter().next();
    let next = next.and_then(|n| all.iter().find(|(s, _)| s.id == n.step));
    let worked_ms = worked_ms(job, utc_offset_minutes);
    let dry = |(step, _): &(Step, Progress)| {
        let drying = state
            .drying(step.id.as_str())
            .filter(|d| !d.is_over(now_ms));
        Some((step.name.to_string(), drying?.until_ms))
    };
    Overview {
        client: details.client.clone().unwrap_or_default(),
        serial: details.serial.clone().unwrap_or_default(),
        standing: standing(state, &all),
        done: whole.done,
        steps: whole.steps,
        minutes_left: work_left(state, &all),
        stage: next.map_or(String::new(), |(s, _)| s.stage.name().to_owned()),
        step: next.map_or(String::new(), |(s, _)| s.name.to_string()),
        faults: state.open_faults().count(),
        conflicts: job.concurrent().len(),
        technicians: state.technician_names(),
        worked_ms,
        check: check(job, &all, utc_offset_minutes),
        drying: all.iter().filter_map(dry).collect(),
        earlier: state.setup().earlier.as_ref().map(|e| e.job),
    }
}

/// Returns the day on which the instrument of a job is to be checked again, by the progress of its steps: counted from
/// the latest work, where the clocks are this many minutes ahead of UTC. The letter, the report, the list, the calendar
/// and the file all take it from here.
pub(super) fn check(job: &Job, all: &[(Step, Progress)], utc_offset_minutes: i16) -> Day {
    let worked_ms = worked_ms(job, utc_offset_minutes);
    Day::at(worked_ms, utc_offset_minutes).after_months(next_check(job, all).months)
}

/// Returns the day on which the instrument of a job is to be checked again, counted from the latest work, where the clocks
/// are this many minutes ahead of UTC.
///
/// ```
/// use evenhand_core::analysis::overview::{check_on, overview};
/// use evenhand_core::job::Job;
///
/// assert_eq!(check_on(&Job::new(), 0, 60), overview(&Job::new(), 0, 60).check);
/// ```
pub fn check_on(job: &Job, now_ms: i64, utc_offset_minutes: i16) -> Day {
    check(job, &job.state().progress(now_ms), utc_offset_minutes)
}

/// Returns the days on which a job was worked on, the earliest first: those with working time and, where the clocks are
/// this many minutes ahead of UTC, that of the latest work.
pub(super) fn work_days(job: &Job, utc_offset_minutes: i16) -> Vec<Day> {
    let times = job.state().work_times().into_iter();
    let times = times.filter(|t| t.minutes() > 0);
    let recorded = recorded_ms(job).map(|ms| Day::at(ms, utc_offset_minutes));
    let days: BTreeSet<Day> = times.map(|t| t.worked.day).chain(recorded).collect();
    days.into_iter().collect()
}

pub(super) fn standing(state: &State, all: &[(Step, Progress)]) -> Standing {
    let whole = State::stage_progress(all, None);
    let is_begun = |(step, p): &(Step, Progress)| step.stage != Stage::Survey && p.is_begun();
    let is_surveyed = all.iter().any(|(_, p)| p.is_begun());
    let is_agreed = state
        .details()
        .scope
        .as_ref()
        .is_some_and(|s| !s.trim().is_empty());
    if whole.steps > 0 && whole.done == whole.steps {
        Standing::Done
    } else if all.iter().any(is_begun) {
        Standing::InWork
    } else if is_agreed || !is_surveyed {
        Standing::Agreed
    } else {
        Standing::Survey
    }
}

/// Returns when the latest work was recorded: what the office changes, archives or opens is no work.
fn recorded_ms(job: &Job) -> Option<i64> {
    let is_work = |e: &&Entry| {
        matches!(
            e.kind,
            EntryKind::Reading { .. }
                | EntryKind::Swept { .. }
                | EntryKind::MarkedOut { .. }
                | EntryKind::NotRemeasured { .. }
                | EntryKind::Correction { .. }
                | EntryKind::DryingStarted { .. }
                | EntryKind::DryingEnded { .. }
                | EntryKind::FaultFixed { .. }
        ) && job.state().is_alive(e.id)
    };
    let entries = job.log().entries().iter();
    entries.filter(is_work).map(|e| e.at_ms).max()
}

/// Returns when the latest work was: recorded, or at noon of a later day for which hours are stated; of a job without
/// work, its latest entry.
fn worked_ms(job: &Job, utc_offset_minutes: i16) -> i64 {
    let stated = job.state().work_times().into_iter();
    let stated = stated.filter(|t| t.is_stated() && t.minutes() > 0);
    let stated = stated.map(|t| t.worked.day).max();
    let recorded = recorded_ms(job);
    let is_later = |day: &Day| recorded.is_none_or(|ms| *day > Day::at(ms, utc_offset_minutes));
    let stated = stated.filter(is_later);
    let stated = stated.map(|day| day.noon_ms(utc_offset_minutes));
    let last = || job.log().entries().iter().map(|e| e.at_ms).max();
    stated.or(recorded).or_else(last).unwrap_or(0)
}

impl Overview {
    /// Returns how much of the steps is done, from 0 to 100.
    pub fn percent(&self) -> usize {
        100 * self.done / self.steps.max(1)
    }

    /// Returns when the instrument is next to be visited, by the day of today. `None` while the job goes on: of a job
    /// that is not done and not archived, work within a month goes on (M).
    ///
    /// ```
    /// use evenhand_core::analysis::overview::overview;
    /// use evenhand_core::job::{Day, Job, JobId, ReplicaId};
    ///
    /// let now_ms = 1_790_000_000_000;
    /// let job = Job::from_entries(evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms));
    /// let shown = overview(&job, now_ms, 0);
    /// let today = Day::at(now_ms, 0);
    /// assert_eq!(shown.next_visit(false, today), None);
    /// assert_eq!(shown.next_visit(true, today), Some(shown.check));
    /// assert_eq!(shown.next_visit(false, today.after_months(2)), Some(shown.check));
    /// ```
    pub fn next_visit(&self, archived: bool, today: Day) -> Option<Day> {
        let goes_on = match self.standing {
            Standing::Done => false,
            Standing::InWork => today <= Day::at(self.worked_ms, 0).after_months(1),
            Standing::Survey | Standing::Agreed => true,
        };
        (archived || !goes_on).then_some(self.check)
    }

    /// Returns what a calendar shows of the job: the next visit on a day of its own, and the end of each drying time.
    /// Each event keeps its id, so that a calendar that opens a newer file changes it and does not double it: that of the
    /// visit is by the instrument, so that its next job moves it.
    pub fn events(
        &self,
        (job, instrument): (JobId, JobId),
        name: &str,
        next_visit: Option<Day>,
    ) -> Vec<Event> {
        let about = [&self.client, &self.serial];
        let about: Vec<&str> = about
            .into_iter()
            .map(String::as_str)
            .filter(|a| !a.is_empty())
            .collect();
        let about = about.join(", ");
        let visit = next_visit.map(|day| Event {
            uid: format!("{instrument}-visit@evenhand"),
            when: When::Day(day),
            title: format!("Next visit: {name}"),
            text: about.clone(),
        });
        let dry = self
            .drying
            .iter()
            .enumerate()
            .map(|(at, (step, until_ms))| Event {
                uid: format!("{job}-dry-{at}-{until_ms}@evenhand"),
                when: When::At(*until_ms),
                title: format!("Dry: {step}, {name}"),
                text: about.clone(),
            });
        visit.into_iter().chain(dry).collect()
    }
}

/// Returns a text by which a list is sorted as people sort it: without capitals, and numbers by their size.
///
/// ```
/// use evenhand_core::analysis::overview::natural_key;
///
/// assert!(natural_key("piano 2") < natural_key("Piano 10"));
/// assert!(natural_key("Room 2, piano 10") < natural_key("Room 10, piano 2"));
/// assert_eq!(natural_key("Hall"), natural_key("hall"));
/// ```
pub fn natural_key(text: &str) -> String {
    let lower = text.to_lowercase();
    let mut key = String::new();
    let mut digits = String::new();
    // The sign at the end closes a number.
    for sign in lower.chars().chain(['\0']) {
        if sign.is_ascii_digit() {
            digits.push(sign);
            continue;
        }
        if !digits.is_empty() {
            key += &format!("{:0>12}", digits.trim_start_matches('0'));
            digits.clear();
        }
        key.push(sign);
    }
    key
}

#[cfg(test)]
mod tests;
