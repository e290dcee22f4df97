//! The plan of a job: what is left of each step, what can be done now, what is drying until when,
//! and when the job can be finished.
//!
//! **Rule**: of each step the readings still to take, and of a disturbed one those to re-measure,
//! in minutes; in the order of the job as far as that does not delay the finish
//! ([`super::schedule`]). Minutes are those of the estimate ([`expected_minutes`]),
//! times the fraction that is left. The step's own rate corrects them from the first reading, if
//! its time is real ([`is_real`]): the minutes of a reading are `(10·p + spent)/(10 + read)`, p those
//! beforehand, which count as ten readings (M). A reading to re-measure delays no other step. Drying time that is due and was
//! not started counts as started now. Work at the place where the action is not comes after the
//! action is moved there.
//! **Error**: what one step will disturb in another is not included.
//!
//! The file is long because its types carry their examples.

use super::estimate::expected_minutes;
use super::hours::is_real;
use super::schedule::{self, Because, OpeningHours, ScheduleError, Stands};
use crate::job::{Progress, State, needed_by};
use crate::trade::{MeasureId, Place, Stage, Step, StepId};

const MINUTE_MS: i64 = 60_000;

/// What is left of one step, with start ≤ end ≤ free. Part of [`JobPlan`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::job_plan::job_plan;
/// use evenhand_core::analysis::schedule::OpeningHours;
/// use evenhand_core::job::Job;
///
/// let plan = job_plan(Job::new().state(), 0, 0, OpeningHours::new(8 * 60, 16 * 60)?)?;
/// let line = |step| plan.lines.iter().find(|l| l.step.as_str() == step).unwrap();
/// let cauls = line("cauls_in");
/// assert_eq!(cauls.free_ms - cauls.end_ms, 12 * 3_600_000);
/// assert!(cauls.start_ms < cauls.end_ms && cauls.free_ms <= line("cauls_out").start_ms);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct PlanLine {
    /// The step.
    pub step: StepId,
    /// Its name for people.
    pub name: String,
    /// Whether it was completely measured, and only disturbed readings are left.
    pub remeasure: bool,
    /// Working minutes left.
    pub minutes: u32,
    /// When its work begins, in milliseconds since 1970 (UTC).
    pub start_ms: i64,
    /// When its work ends.
    pub end_ms: i64,
    /// When it is dry; the end of the work if it needs no drying time.
    pub free_ms: i64,
    /// Whether it can be started now.
    pub ready: bool,
    /// What it follows on the critical path, or `None` if it is not on it.
    pub critical: Option<CriticalReason>,
}

/// Why a step on the critical path does not start earlier. There is no default.
///
/// ```
/// use evenhand_core::analysis::job_plan::{CriticalReason, job_plan};
/// use evenhand_core::analysis::schedule::OpeningHours;
/// use evenhand_core::job::Job;
///
/// let plan = job_plan(Job::new().state(), 0, 0, OpeningHours::new(8 * 60, 16 * 60)?)?;
/// let mut path = plan.critical().map(|line| line.critical.clone().unwrap());
/// assert_eq!(path.next(), Some(CriticalReason::Start));
/// // Nothing else on the path starts with the work.
/// assert!(path.all(|reason| reason != CriticalReason::Start));
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub enum CriticalReason {
    /// It starts as soon as the work does.
    Start,
    /// The technician is busy with another step until then.
    Busy(String),
    /// Another step must be done and dry first.
    Follows(String),
}

/// A drying time that is running. Part of [`JobPlan`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::job_plan::job_plan;
/// use evenhand_core::analysis::schedule::OpeningHours;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId};
/// use evenhand_core::trade::StepId;
///
/// let mut job = Job::new();
/// let started = EntryKind::DryingStarted { step: StepId::of("cauls_in"), minutes: 60 };
/// job.apply(job.draft(ReplicaId::new(7), 0, started));
/// let hours = OpeningHours::new(8 * 60, 16 * 60)?;
/// let at = |now_ms| job_plan(job.state(), now_ms, 0, hours).map(|plan| plan.drying);
/// assert_eq!(at(1_000)?[0].until_ms, 3_600_000);
/// assert!(at(3_600_000)?.is_empty());
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct DryingStep {
    /// The name of the step that is drying.
    pub name: String,
    /// When it started, in milliseconds since 1970 (UTC).
    pub from_ms: i64,
    /// When it ends.
    pub until_ms: i64,
    /// The steps that can start then, if nothing else delays them.
    pub frees: Vec<String>,
}

/// A drying time that could be running: the work is done, and it was not started. Part of [`JobPlan`]; it has no
/// default.
///
/// ```
/// use evenhand_core::analysis::job_plan::job_plan;
/// use evenhand_core::analysis::schedule::OpeningHours;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::Value;
///
/// let mut job = Job::new();
/// for note in Note::all() {
///     let (cauls, on, done) = (MeasureId::of("cauls_in"), Subject::Note(note), Value::Done(true));
///     job.apply(job.reading(ReplicaId::new(7), 0, cauls, on, Place::Bench, Occasion::Working, done, ""));
/// }
/// let plan = job_plan(job.state(), 0, 0, OpeningHours::new(8 * 60, 16 * 60)?)?;
/// assert_eq!((plan.due[0].step.as_str(), plan.due[0].minutes), ("cauls_in", 12 * 60));
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Due {
    /// The step.
    pub step: StepId,
    /// Its name for people.
    pub name: String,
    /// The drying time in minutes.
    pub minutes: u32,
}

/// The work of one day. Part of [`JobPlan`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::job_plan::PlanDay;
///
/// const HOUR_MS: i64 = 3_600_000;
/// let day = |pieces| PlanDay { opens_ms: 8 * HOUR_MS, closes_ms: 16 * HOUR_MS, pieces };
/// let worked = day(vec![(0, 8 * HOUR_MS, 9 * HOUR_MS), (1, 9 * HOUR_MS, 12 * HOUR_MS)]);
/// assert_eq!(worked.end_ms(), 12 * HOUR_MS);
/// // A day without work ends when it opens.
/// assert_eq!(day(vec![]).end_ms(), 8 * HOUR_MS);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct PlanDay {
    /// When work can begin, in milliseconds since 1970 (UTC).
    pub opens_ms: i64,
    /// When work ends.
    pub closes_ms: i64,
    /// The index of the line in [`JobPlan::lines`], from and to, in order.
    pub pieces: Vec<(usize, i64, i64)>,
}

/// The plan of a job. [`job_plan`] computes it; the default has no work left.
///
/// ```
/// use evenhand_core::analysis::job_plan::{JobPlan, job_plan};
/// use evenhand_core::analysis::schedule::OpeningHours;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let midnight_ms = 1_790_035_200_000;
/// let plan = job_plan(job.state(), midnight_ms, midnight_ms, OpeningHours::new(8 * 60, 16 * 60)?)?;
/// // Work starts when the day does.
/// assert_eq!(plan.lines[0].start_ms, midnight_ms + 8 * 3_600_000);
/// assert!(plan.minutes() > 0);
/// assert_eq!(JobPlan::default().minutes(), 0);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct JobPlan {
    /// What is left, in the order that finishes the job soonest.
    pub lines: Vec<PlanLine>,
    /// The drying times that are running, the first to end first.
    pub drying: Vec<DryingStep>,
    /// The drying times to start now.
    pub due: Vec<Due>,
    /// The days with work.
    pub days: Vec<PlanDay>,
    /// When everything is done and dry, in milliseconds since 1970 (UTC).
    pub finish_ms: i64,
    /// Whether it is proven that no other order finishes earlier.
    pub is_best: bool,
}

impl JobPlan {
    /// Returns the working minutes left in all.
    pub fn minutes(&self) -> i64 {
        self.lines.iter().map(|l| i64::from(l.minutes)).sum()
    }

    /// Returns the critical path, first to last: the steps that determine the finish.
    pub fn critical(&self) -> impl Iterator<Item = &PlanLine> {
        self.lines.iter().filter(|l| l.critical.is_some())
    }
}

impl PlanDay {
    /// Returns when the last work of the day ends.
    pub fn end_ms(&self) -> i64 {
        self.pieces.last().map_or(self.opens_ms, |(.., to)| *to)
    }
}

/// Returns the plan of a job at a wall time in milliseconds since 1970 (UTC). `midnight_ms` is the
/// preceding midnight, local time.
///
/// # Errors
/// [`ScheduleError`] if steps wait for each other, which they do in no order of the trade.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, JobId};
/// use evenhand_core::analysis::job_plan::job_plan;
/// use evenhand_core::analysis::schedule::OpeningHours;
///
/// let midnight_ms = 1_790_035_200_000;
/// let now_ms = midnight_ms + 10 * 3_600_000;
/// let demo = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms);
/// let job = Job::from_entries(demo);
/// let plan = job_plan(job.state(), now_ms, midnight_ms, OpeningHours::new(8 * 60, 16 * 60)?)?;
/// assert!(plan.lines[0].ready);
/// assert!(!plan.drying.is_empty());
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn job_plan(
    state: &State,
    now_ms: i64,
    midnight_ms: i64,
    hours: OpeningHours,
) -> Result<JobPlan, ScheduleError> {
    job_plan_after(state, now_ms, midnight_ms, hours, 0)
}

/// Returns the plan of a job that begins after other work of this many minutes within the working hours.
///
/// # Errors
/// As [`job_plan`].
///
/// ```
/// use evenhand_core::analysis::job_plan::{job_plan, job_plan_after};
/// use evenhand_core::analysis::schedule::OpeningHours;
/// use evenhand_core::job::Job;
///
/// let (job, hours) = (Job::new(), OpeningHours::new(8 * 60, 16 * 60)?);
/// let starts = |busy| job_plan_after(job.state(), 0, 0, hours, busy).map(|plan| plan.lines[0].start_ms);
/// // Nine hours of other work: one day of eight hours, and the first hour of the next.
/// assert_eq!(starts(9 * 60)?, (24 + 9) * 3_600_000);
/// assert_eq!(starts(0)?, job_plan(job.state(), 0, 0, hours)?.lines[0].start_ms);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn job_plan_after(
    state: &State,
    now_ms: i64,
    midnight_ms: i64,
    hours: OpeningHours,
    busy_minutes: u64,
) -> Result<JobPlan, ScheduleError> {
    let all = state.progress(now_ms);
    let clock = Clock { midnight_ms };
    let now = clock.minutes(now_ms);
    let graph = Graph::of(state, &all, clock, now_ms);
    // The moves of the action are ignored if they contradict what steps need.
    let steps = match schedule::stands(&graph.placed, now) {
        Err(ScheduleError::Circle(_)) => &graph.plain,
        _ => &graph.placed,
    };
    let stands = schedule::stands(steps, now)?;
    let begins = match busy_minutes {
        0 => now,
        busy => hours.end(now, busy),
    };
    let plan = schedule::schedule_in_order(steps, begins, hours)?;
    let name = |i: usize| graph.works[i].name(&all);
    let held = |because: Because| match because {
        Because::Start => CriticalReason::Start,
        Because::Busy(by) => CriticalReason::Busy(name(by)),
        Because::Follows(by) => CriticalReason::Follows(name(by)),
    };
    let lines: Vec<PlanLine> = plan
        .order
        .iter()
        .map(|placed| {
            let i = placed.step;
            let critical = plan.critical.iter().find(|(step, _)| *step == i);
            PlanLine {
                step: graph.works[i].step(&all).id.clone(),
                name: name(i),
                remeasure: graph.works[i].remeasure,
                minutes: steps[i].minutes,
                start_ms: clock.ms(placed.start),
                end_ms: clock.ms(placed.end),
                free_ms: clock.ms(placed.free),
                ready: stands[i] == Stands::Ready,
                critical: critical.map(|(_, because)| held(*because)),
            }
        })
        .collect();
    let place = |step: usize| plan.order.iter().position(|p| p.step == step);
    let days = plan.days(hours);
    let days = days.into_iter().map(|day| {
        let pieces = day.pieces.into_iter();
        let at = |from: i64| clock.ms(from);
        PlanDay {
            opens_ms: at(day.day * schedule::DAY + hours.opens()),
            closes_ms: at(day.day * schedule::DAY + hours.closes()),
            pieces: pieces
                .filter_map(|(step, from, to)| Some((place(step)?, at(from), at(to))))
                .collect(),
        }
    });
    let due = all.iter().filter(|(step, progress)| {
        step.drying_minutes > 0 && progress.is_recorded() && progress.drying.is_none()
    });
    let due = due.map(|(step, _)| Due {
        step: step.id.clone(),
        name: step.name.to_string(),
        minutes: step.drying_minutes,
    });
    Ok(JobPlan {
        due: due.collect(),
        days: days.collect(),
        drying: drying(&all, &stands, &graph, now_ms),
        finish_ms: clock.ms(plan.finish),
        is_best: plan.is_best(),
        lines,
    })
}

/// Converts wall times to minutes after a midnight.
#[derive(Clone, Copy)]
struct Clock {
    midnight_ms: i64,
}

impl Clock {
    fn minutes(self, ms: i64) -> i64 {
        ms.saturating_sub(self.midnight_ms).div_euclid(MINUTE_MS)
    }

    fn ms(self, minutes: i64) -> i64 {
        let ms = minutes.saturating_mul(MINUTE_MS);
        self.midnight_ms.saturating_add(ms)
    }
}

/// One task to plan: a step of the order, or its readings to re-measure.
#[derive(Clone, Copy)]
struct Work {
    /// Its index in the order.
    at: usize,
    remeasure: bool,
}

impl Work {
    fn step<'a>(&self, all: &'a [(Step, Progress)]) -> &'a Step {
        &all[self.at].0
    }

    fn name(&self, all: &[(Step, Progress)]) -> String {
        self.step(all).name.to_string()
    }
}

/// The tasks with what each comes after, with the moves of the action (`placed`) and without
/// (`plain`).
struct Graph {
    works: Vec<Work>,
    placed: Vec<schedule::Task>,
    plain: Vec<schedule::Task>,
}

impl Graph {
    fn of(state: &State, all: &[(Step, Progress)], clock: Clock, now_ms: i64) -> Graph {
        let expected = expected_minutes(state);
        // Readings to re-measure are planned right after their step.
        let mut works: Vec<Work> = Vec::new();
        for (at, (_, progress)) in all.iter().enumerate() {
            if progress.is_empty() {
                continue;
            }
            works.push(Work {
                at,
                remeasure: false,
            });
            if progress.is_recorded() && progress.to_remeasure > 0 {
                works.push(Work {
                    at,
                    remeasure: true,
                });
            }
        }
        let planned = |work: &Work| {
            let (step, progress) = &all[work.at];
            let whole = whole_minutes(&expected, step);
            let minutes = minutes_of_left(state, step, progress, whole);
            match done(step, progress, clock, now_ms) {
                _ if work.remeasure => schedule::Task {
                    minutes,
                    ..schedule::Task::default()
                },
                // A step that is done no longer depends on others.
                Some((at, wait)) => schedule::Task {
                    wait,
                    done: Some(at),
                    ..schedule::Task::default()
                },
                None => {
                    let is = |w: &Work, id: &StepId| !w.remeasure && all[w.at].0.id == *id;
                    let needed = |id: &StepId| works.iter().position(|w| is(w, id));
                    schedule::Task {
                        minutes,
                        // What is not treated needs no drying time.
                        wait: if minutes > 0 { step.drying_minutes } else { 0 },
                        after: needed_by(all, step).iter().filter_map(needed).collect(),
                        done: None,
                    }
                }
            }
        };
        let plain: Vec<schedule::Task> = works.iter().map(planned).collect();
        let placed = placed(state, all, &works, &plain);
        Graph {
            works,
            placed,
            plain,
        }
    }
}

/// Adds the moves of the action: work at the piano comes before it is taken out or after it is put
/// back, work on the bench between the two.
fn placed(
    state: &State,
    all: &[(Step, Progress)],
    works: &[Work],
    plain: &[schedule::Task],
) -> Vec<schedule::Task> {
    let mut placed = plain.to_vec();
    let open = |i: &usize| plain[*i].done.is_none();
    let moves = |measure: &'static str| {
        let id = MeasureId::of(measure);
        let takes = |w: &Work| !w.remeasure && w.step(all).takes.contains(&id);
        works.iter().position(takes).filter(open)
    };
    let (out, put_in) = (moves("action_out"), moves("action_in"));
    let is_out = state.place() == Place::Bench;
    for (i, work) in works.iter().enumerate().filter(|(i, _)| open(i)) {
        let step = work.step(all);
        let after = |placed: &mut Vec<schedule::Task>, later: usize, earlier: Option<usize>| {
            if let Some(earlier) = earlier.filter(|e| *e != later) {
                placed[later].after.push(earlier);
            }
        };
        match step.stage {
            Stage::Survey if is_out => after(&mut placed, i, put_in),
            Stage::Survey => {
                if let Some(out) = out {
                    after(&mut placed, out, Some(i));
                }
            }
            Stage::Return | Stage::FinalCheck => after(&mut placed, i, put_in),
            Stage::TakeApart | Stage::Recondition | Stage::Align | Stage::Regulate => {
                if step.place == Some(Place::Bench) {
                    after(&mut placed, i, out);
                }
                if let Some(put_in) = put_in {
                    after(&mut placed, put_in, Some(i));
                }
            }
        }
    }
    placed
}

/// Returns when the work of a step ended and its drying time in minutes from then, or `None` if the
/// work has not ended. A step that can no longer be done takes no time.
fn done(step: &Step, progress: &Progress, clock: Clock, now_ms: i64) -> Option<(i64, u32)> {
    if progress.too_late {
        return Some((clock.minutes(now_ms), 0));
    }
    if !progress.is_recorded() {
        return None;
    }
    Some(match &progress.drying {
        Some(wait) if wait.is_over(now_ms) => (clock.minutes(now_ms), 0),
        Some(wait) => {
            let left = u32::try_from(wait.minutes_left(now_ms)).unwrap_or(u32::MAX);
            (clock.minutes(now_ms), left)
        }
        None => (clock.minutes(now_ms), step.drying_minutes),
    })
}

/// Returns the working minutes left of all steps, without what is to re-measure.
///
/// ```
/// use evenhand_core::analysis::job_plan::{job_plan, work_left};
/// use evenhand_core::analysis::schedule::OpeningHours;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let plan = job_plan(job.state(), 0, 0, OpeningHours::new(8 * 60, 16 * 60)?)?;
/// assert_eq!(work_left(job.state(), &job.state().progress(0)), plan.minutes());
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn work_left(state: &State, all: &[(Step, Progress)]) -> i64 {
    let expected = expected_minutes(state);
    let left =
        |(step, progress): &(Step, Progress)| match progress.is_recorded() || progress.too_late {
            true => 0,
            false => {
                let whole = whole_minutes(&expected, step);
                i64::from(minutes_of_left(state, step, progress, whole))
            }
        };
    all.iter().map(left).sum()
}

fn whole_minutes(expected: &[(StepId, u32)], step: &Step) -> u32 {
    let of = expected.iter().find(|(id, _)| *id == step.id);
    of.map_or(step.minutes, |(_, minutes)| *minutes)
}

/// Returns the working minutes left of a step, at least 1 if the estimate has any for it and anything is left: those of
/// the estimate, corrected by the step's own pace in counted time.
///
/// ```
/// use evenhand_core::analysis::job_plan::minutes_left;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let step = job.state().step("let_off").unwrap();
/// let progress = job.state().progress_of(step);
/// assert_eq!(minutes_left(job.state(), step, &progress), step.minutes);
/// ```
pub fn minutes_left(state: &State, step: &Step, progress: &Progress) -> u32 {
    let whole = whole_minutes(&expected_minutes(state), step);
    minutes_of_left(state, step, progress, whole)
}

fn minutes_of_left(state: &State, step: &Step, progress: &Progress, whole: u32) -> u32 {
    let left = progress.left() as u64;
    if left == 0 {
        return 0;
    }
    let read = (progress.read + progress.to_remeasure) as u64;
    let expected = progress.expected.max(1) as u64;
    let (spent_ms, read) = match is_real(state, step, progress) {
        true => (u64::try_from(progress.spent_ms).unwrap_or(0), read),
        false => (0, 0),
    };
    // In units of `expected` readings, so that it stays in whole numbers.
    let ms = 10 * u64::from(whole) * MINUTE_MS as u64 + spent_ms.saturating_mul(expected);
    let minutes = ms
        .saturating_mul(left)
        .div_ceil((10 + read) * expected * MINUTE_MS as u64);
    u32::try_from(minutes).unwrap_or(u32::MAX)
}

fn drying(
    all: &[(Step, Progress)],
    stands: &[Stands],
    graph: &Graph,
    now_ms: i64,
) -> Vec<DryingStep> {
    let mut drying: Vec<DryingStep> = all
        .iter()
        .enumerate()
        .filter_map(|(at, (step, progress))| {
            let own = |w: &Work| !w.remeasure && w.at == at;
            let own = graph.works.iter().position(own)?;
            let wait = progress.drying.as_ref().filter(|w| !w.is_over(now_ms))?;
            let waits = |s: &Stands| matches!(s, Stands::Waits(of, _) if *of == own);
            let frees = graph.works.iter().zip(stands).filter(|(_, s)| waits(s));
            Some(DryingStep {
                name: step.name.to_string(),
                from_ms: wait.from_ms,
                until_ms: wait.until_ms,
                frees: frees.map(|(work, _)| work.name(all)).collect(),
            })
        })
        .collect();
    drying.sort_by_key(|c| c.until_ms);
    drying
}

#[cfg(test)]
mod tests;
