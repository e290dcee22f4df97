//! What to do next on a job, and why.

use super::belief::final_look;
use crate::job::{Item, Look, Progress, State};
use crate::trade::{MeasureId, Stage, Step, StepId, Strength, disturbed_by};

/// A step that can be worked on now, with the reason. [`suggest_next`] lists them; it has no
/// default.
///
/// ```
/// use evenhand_core::analysis::suggestion::{Reason, suggest_next};
/// use evenhand_core::job::{Job, JobId, ReplicaId};
///
/// let now_ms = 1_790_000_000_000;
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms);
/// let job = Job::from_entries(entries);
/// let all = job.state().progress(now_ms);
/// let next = suggest_next(job.state(), &all, now_ms);
/// // The steps that only wait are last.
/// let waits = |reason: &Reason| matches!(reason, Reason::Drying { .. });
/// assert!(next.is_sorted_by_key(|s| waits(&s.reason)));
/// assert!(!waits(&next[0].reason));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Suggestion {
    /// The step.
    pub step: StepId,
    /// Why it is suggested.
    pub reason: Reason,
}

/// Why a step is suggested. Earlier variants come first in the list; there is no default.
///
/// ```
/// use evenhand_core::analysis::suggestion::{Reason, suggest_next};
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Kind, Value};
///
/// let value = Value::from_base(Kind::Temperature, 21_000);
/// let mut job = Job::new();
/// let (on, measure) = (Subject::Whole, MeasureId::of("temperature"));
/// job.apply(job.reading(ReplicaId::new(7), 0, measure, on, Place::Piano, Occasion::AsFound, value, "21"));
/// let next = suggest_next(job.state(), &job.state().progress(0), 0);
/// // The humidity is left, and what was begun comes before what is ready.
/// assert_eq!((next[0].step.as_str(), &next[0].reason), ("climate", &Reason::GoOn { left: 1 }));
/// assert_eq!(next[1].reason, Reason::Ready);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub enum Reason {
    /// Its work is done: start the drying time.
    StartDrying {
        /// The drying time in minutes.
        minutes: u32,
    },
    /// A drying time before it is over.
    DryingOver {
        /// The step that was drying.
        of: StepId,
    },
    /// Readings were disturbed by later work.
    Remeasure {
        /// The number to re-measure.
        count: usize,
        /// How many of them were adjusted themselves, not disturbed by other work.
        adjusted: usize,
    },
    /// It was begun.
    GoOn {
        /// The number of readings left.
        left: usize,
    },
    /// Everything before it is done.
    Ready,
    /// It is done but for a look: later work may have moved what it took, or notes were not measured again after a turn.
    Look {
        /// What to look at and why, as a sentence.
        sentence: String,
    },
    /// It waits for a drying time, and for nothing else.
    Drying {
        /// The step that is drying.
        of: StepId,
        /// The end of the drying time, in milliseconds since 1970 (UTC).
        until_ms: i64,
    },
}

impl Reason {
    const fn rank(&self) -> u8 {
        match self {
            Reason::StartDrying { .. } => 0,
            Reason::DryingOver { .. } => 1,
            Reason::Remeasure { .. } => 2,
            Reason::GoOn { .. } => 3,
            Reason::Ready => 4,
            Reason::Look { .. } => 5,
            Reason::Drying { .. } => 6,
        }
    }
}

/// Returns what can be done at a wall time in milliseconds since 1970 (UTC), best first.
///
/// First a drying time to start, then steps whose drying time is over, disturbed readings, steps
/// begun, steps that are ready, and what to look at in steps that are done. After them the same for steps that need the action moved, and
/// last the steps that are only waiting. Within one reason the order of the job holds.
///
/// `all` is [`State::progress`] at the same time. A finished job has no suggestions, and a step that can no
/// longer be done is not suggested.
///
/// ```
/// use evenhand_core::analysis::suggestion::{Reason, suggest_next};
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let next = suggest_next(job.state(), &job.state().progress(0), 0);
/// assert_eq!(next[0].step, job.state().order().steps()[0].id);
/// assert_eq!(next[0].reason, Reason::Ready);
/// ```
pub fn suggest_next(state: &State, all: &[(Step, Progress)], now_ms: i64) -> Vec<Suggestion> {
    let place = state.place();
    let looks = state.looks();
    // A survey that was left out is not taken up once the action was out.
    let is_worked_on = |(step, p): &(Step, Progress)| {
        step.stage != Stage::Survey && moves_the_action(step) && p.is_begun()
    };
    let is_surveyed = all.iter().any(is_worked_on);
    let mut list: Vec<(bool, Suggestion)> = all
        .iter()
        .filter_map(|(step, progress)| {
            let is_passed = is_surveyed && step.stage == Stage::Survey && !progress.is_begun();
            let away = is_passed || !moves_the_action(step) && step.place_or(place) != place;
            let suggestion = Suggestion {
                step: step.id.clone(),
                reason: reason(state, all, step, progress, now_ms)
                    .or_else(|| look(state, &looks, step, progress))?,
            };
            Some((away, suggestion))
        })
        .collect();
    let waits = |s: &Suggestion| matches!(s.reason, Reason::Drying { .. });
    // What an earlier step will spoil again waits for its turn in the order.
    let spoiled: Vec<StepId> = list.iter().map(|(_, s)| s.step.clone()).collect();
    let rank = |s: &Suggestion| match s.reason {
        Reason::Remeasure { .. } | Reason::GoOn { .. } if is_spoiled(all, &spoiled, &s.step) => {
            Reason::Ready.rank()
        }
        _ => s.reason.rank(),
    };
    list.sort_by_key(|(away, s)| (waits(s), *away, rank(s)));
    list.into_iter().map(|(_, s)| s).collect()
}

/// Returns `true` if a step that is to be done and not begun spoils what a step takes, and stands between it and the work
/// before: what was left out earlier holds up nothing.
fn is_spoiled(all: &[(Step, Progress)], to_do: &[StepId], step: &StepId) -> bool {
    let Some(at) = all.iter().position(|(s, _)| s.id == *step) else {
        return false;
    };
    let takes = &all[at].0.takes;
    let spoils = |work: &MeasureId| {
        let mut rows = disturbed_by(work.as_str()).filter(|row| row.strength == Strength::Voids);
        rows.any(|row| takes.iter().any(|m| row.disturbs.contains(&m.as_str())))
    };
    let before = all[..at].iter().rev();
    let mut between = before.take_while(|(_, p)| !p.is_begun());
    between.any(|(earlier, _)| to_do.contains(&earlier.id) && earlier.takes.iter().any(spoils))
}

/// Returns why a step is suggested, or `None` if nothing can be done on it.
fn reason(
    state: &State,
    all: &[(Step, Progress)],
    step: &Step,
    progress: &Progress,
    now_ms: i64,
) -> Option<Reason> {
    if progress.is_empty() {
        return None;
    }
    if progress.is_read() {
        let begin = step.drying_minutes > 0 && progress.drying.is_none();
        return begin.then_some(Reason::StartDrying {
            minutes: step.drying_minutes,
        });
    }
    if progress.too_late {
        return None;
    }
    if progress.to_remeasure > 0 {
        return Some(Reason::Remeasure {
            count: progress.to_remeasure,
            adjusted: adjusted(state, step),
        });
    }
    if !progress.blocked_by.is_empty() {
        return only_curing(all, progress, now_ms);
    }
    if progress.is_begun() {
        return Some(Reason::GoOn {
            left: progress.left(),
        });
    }
    let dried = step
        .needs
        .iter()
        .find(|id| state.drying(id.as_str()).is_some());
    Some(match dried {
        Some(of) => Reason::DryingOver { of: of.clone() },
        None => Reason::Ready,
    })
}

/// Returns the first thing to look at in a step that is done, or `None` if there is none.
fn look(state: &State, looks: &[Look], step: &Step, progress: &Progress) -> Option<Reason> {
    if !progress.is_read() {
        return None;
    }
    if progress.turned > 0
        && let Some(last) = final_look(state, step)
    {
        let sentence = last.sentence();
        return Some(Reason::Look { sentence });
    }
    let look = looks.iter().find(|l| state.is_looked_at_in(step, l))?;
    let sentence = look.sentence(state);
    Some(Reason::Look { sentence })
}

/// Returns how many readings of a step are to be taken again because of their own adjustment.
fn adjusted(state: &State, step: &Step) -> usize {
    let own = |item: &Item| {
        let cause = state.item_state(step, item).cause();
        cause.is_some_and(|cause| cause.work == item.measure)
    };
    state.items(step).iter().filter(|item| own(item)).count()
}

/// Returns the drying time that ends last, if a step is delayed only by running drying times.
fn only_curing(all: &[(Step, Progress)], progress: &Progress, now_ms: i64) -> Option<Reason> {
    let mut last: Option<(StepId, i64)> = None;
    for id in &progress.blocked_by {
        let (_, needed) = all.iter().find(|(s, _)| s.id == *id)?;
        let wait = needed
            .drying
            .as_ref()
            .filter(|w| needed.is_read() && !w.is_over(now_ms))?;
        if last
            .as_ref()
            .is_none_or(|(_, until)| *until < wait.until_ms)
        {
            last = Some((id.clone(), wait.until_ms));
        }
    }
    last.map(|(of, until_ms)| Reason::Drying { of, until_ms })
}

/// Returns whether a step takes the action out or puts it back, which is done where the action is not yet, or
/// is done at the piano while the action is out.
fn moves_the_action(step: &Step) -> bool {
    let moves = |id: &MeasureId| matches!(id.as_str(), "action_out" | "action_in");
    matches!(step.stage, Stage::TakeApart | Stage::Recondition) || step.takes.iter().any(moves)
}

#[cfg(test)]
mod tests;
