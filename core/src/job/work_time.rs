//! The working times of a job: whose, on which day, at which step.

use std::collections::BTreeSet;

use super::{EntryKind, ReplicaId, State, WorkDay};
use crate::trade::StepId;

const MINUTE_MS: i64 = 60_000;

/// How a working time is known: counted, or stated by somebody.
///
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Job, ReplicaId, TimeSource, WorkDay};
/// use evenhand_core::trade::StepId;
///
/// let mut job = Job::new();
/// let worked = WorkDay { day: "2026-11-25".parse()?, technician: None };
/// let stated = job.state().minutes_stated(StepId::of("tuning"), 95, worked, None);
/// job.apply(job.draft(ReplicaId::new(7), 1_000, stated));
/// let times = job.state().work_times_of("tuning");
/// assert_eq!(times[0].source, TimeSource::Stated { by: None, at_ms: 1_000 });
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TimeSource {
    /// Counted between the entries of a pass.
    Counted,
    /// Stated, and perhaps counted on since.
    Stated {
        /// The name of the one who stated it, if the device states one.
        by: Option<String>,
        /// When, in milliseconds since 1970 (UTC).
        at_ms: i64,
    },
}

/// The working time of one person on one day at one step.
///
/// It has no default and no order; [`State::work_times`](super::State::work_times) lists them.
///
/// ```
/// use evenhand_core::job::{TimeSource, WorkDay, WorkTime};
/// use evenhand_core::trade::StepId;
///
/// let worked = WorkDay { day: "2026-11-25".parse()?, technician: None };
/// let of = |ms| WorkTime { step: StepId::of("tuning"), worked: worked.clone(), ms, source: TimeSource::Counted };
/// // Half a minute counts as one.
/// assert_eq!([29_999, 30_000, 90_000].map(|ms| of(ms).minutes()), [0, 1, 2]);
/// assert!(!of(30_000).is_stated());
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkTime {
    /// The step.
    pub step: StepId,
    /// The day and the person.
    pub worked: WorkDay,
    /// The time in milliseconds, 0 or more.
    pub ms: i64,
    /// How it is known.
    pub source: TimeSource,
}

impl WorkTime {
    /// Returns the time in whole minutes, rounded to the nearest. Every sum of hours is a sum of these, so
    /// that it is the same wherever it is shown.
    pub fn minutes(&self) -> i64 {
        self.ms.saturating_add(MINUTE_MS / 2) / MINUTE_MS
    }

    /// Returns `true` if the time was stated.
    pub fn is_stated(&self) -> bool {
        matches!(self.source, TimeSource::Stated { .. })
    }
}

impl State {
    /// Returns the working times of a step, by day and then by person.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, ReplicaId, WorkDay};
    /// use evenhand_core::trade::StepId;
    ///
    /// let mut job = Job::new();
    /// let worked = WorkDay { day: "2026-11-25".parse()?, technician: Some("R. Sample".to_owned()) };
    /// let stated = EntryKind::MinutesStated {
    ///     step: StepId::of("tuning"),
    ///     minutes: 95,
    ///     worked: Some(worked.clone()),
    ///     instead_of: None,
    /// };
    /// job.apply(job.draft(ReplicaId::new(7), 1_000, stated));
    /// let times = job.state().work_times_of("tuning");
    /// assert_eq!((times[0].minutes(), &times[0].worked), (95, &worked));
    /// # Ok::<(), evenhand_core::job::DayError>(())
    /// ```
    pub fn work_times_of(&self, step: &str) -> Vec<WorkTime> {
        self.times.of(step, &self.technicians)
    }

    /// Returns the working times of every step, also of one that is not in the order, in no order of the
    /// work.
    pub fn work_times(&self) -> Vec<WorkTime> {
        let steps = self.steps_worked_at().into_iter();
        steps
            .flat_map(|step| self.work_times_of(step.as_str()))
            .collect()
    }

    /// Returns the steps that were worked at or have working time, in no order of the work.
    pub fn steps_worked_at(&self) -> Vec<&StepId> {
        self.times.steps()
    }

    /// Returns the names of those who measured, marked or adjusted something in a pass of a step; they may
    /// repeat. `None` stands for a replica that states no name.
    pub fn workers(&self, step: &str) -> Vec<Option<&str>> {
        self.times.workers(step, &self.technicians)
    }

    /// Returns the names of all technicians of the job, each once, by the alphabet: those that a device
    /// states, and those whose time was stated.
    pub fn technician_names(&self) -> Vec<String> {
        let times = self.work_times().into_iter();
        let worked = times.filter_map(|t| t.worked.technician);
        let named = self.technicians.names().map(str::to_owned);
        let names: BTreeSet<String> = worked.chain(named).collect();
        names.into_iter().collect()
    }

    /// Returns who measured, marked or adjusted something last in a pass of a step, and on which day; `None`
    /// if nobody did.
    pub fn last_worked(&self, step: &str) -> Option<WorkDay> {
        self.times.last_worked(step, &self.technicians)
    }

    /// Returns the statement of the minutes of a person on a day at a step, to record.
    ///
    /// With `instead_of` the time stood under another day or person before. What the right one has there
    /// already is added.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, ReplicaId, WorkDay};
    /// use evenhand_core::trade::StepId;
    ///
    /// let mut job = Job::new();
    /// let day = "2026-11-25".parse()?;
    /// let of = |name: Option<&str>| WorkDay { day, technician: name.map(str::to_owned) };
    /// let (nobody, sample) = (of(None), of(Some("R. Sample")));
    /// for (worked, minutes) in [(&nobody, 20), (&sample, 30)] {
    ///     let stated = job.state().minutes_stated(StepId::of("drop"), minutes, worked.clone(), None);
    ///     job.apply(job.draft(ReplicaId::new(7), 1_000, stated));
    /// }
    /// let whose = job.state().minutes_stated(StepId::of("drop"), 20, sample, Some(nobody));
    /// assert!(matches!(whose, EntryKind::MinutesStated { minutes: 50, .. }));
    /// # Ok::<(), evenhand_core::job::DayError>(())
    /// ```
    pub fn minutes_stated(
        &self,
        step: StepId,
        minutes: u32,
        worked: WorkDay,
        instead_of: Option<WorkDay>,
    ) -> EntryKind {
        let instead_of = instead_of.filter(|instead| *instead != worked);
        let times = self.work_times_of(step.as_str());
        let has = times.iter().find(|t| t.worked == worked);
        let has = has
            .filter(|_| instead_of.is_some())
            .map_or(0, WorkTime::minutes);
        EntryKind::MinutesStated {
            step,
            minutes: minutes.saturating_add(u32::try_from(has).unwrap_or(u32::MAX)),
            worked: Some(worked),
            instead_of,
        }
    }

    /// Returns for how many whole minutes a replica has had its pass open at a wall time in milliseconds
    /// since 1970 (UTC); `None` if it has none open.
    ///
    /// Nothing says that all of it was work. It is what a technician is offered who worked without an entry.
    pub fn pass_open_minutes(&self, replica: ReplicaId, now_ms: i64) -> Option<i64> {
        let open_ms = now_ms.saturating_sub(self.times.opened_ms(replica)?);
        Some(open_ms.max(0) / MINUTE_MS)
    }

    /// Returns the working time spent on a step, in milliseconds: the sum of [`State::work_times_of`].
    pub fn spent_ms(&self, step: &str) -> i64 {
        let times = self.work_times_of(step).into_iter();
        times.fold(0, |sum, t| sum.saturating_add(t.ms))
    }
}
