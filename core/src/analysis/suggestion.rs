//! What to do next on a job, and why.

use crate::job::{Progress, State};
use crate::trade::{MeasureId, Step, StepId};

/// A step that can be worked on now, with the reason why it is proposed.
#[derive(Clone, Debug, PartialEq)]
pub struct Suggestion {
    /// The step.
    pub step: StepId,
    /// Why it stands where it stands.
    pub reason: Reason,
}

/// Why a step is proposed; the first comes first.
#[derive(Clone, Debug, PartialEq)]
pub enum Reason {
    /// It is done and must cure: begin the wait, so that the time runs.
    BeginCure {
        /// For how many minutes.
        minutes: u32,
    },
    /// A cure that it waited for is over.
    CureOver {
        /// The step that cured.
        of: StepId,
    },
    /// Readings were disturbed by later work.
    ReadAgain {
        /// How many.
        count: usize,
    },
    /// It was begun.
    GoOn {
        /// How many are left.
        left: usize,
    },
    /// All that it needs is done.
    Ready,
    /// It waits for a cure, and nothing else.
    Curing {
        /// The step that cures.
        of: StepId,
        /// Until when, in milliseconds since 1970 (UTC).
        until_ms: i64,
    },
}

impl Reason {
    const fn rank(&self) -> u8 {
        match self {
            Reason::BeginCure { .. } => 0,
            Reason::CureOver { .. } => 1,
            Reason::ReadAgain { .. } => 2,
            Reason::GoOn { .. } => 3,
            Reason::Ready => 4,
            Reason::Curing { .. } => 5,
        }
    }
}

/// Returns what can be done at a wall time (milliseconds since 1970, UTC), best first: a cure to begin, a
/// cure that is over, what was disturbed, what was begun, what is ready; then the same of what the
/// action must be moved for; last what only waits. Within one reason the order of the job holds.
///
/// `all` is [`State::progress`] at the same time. A finished job has no suggestions.
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
    let mut list: Vec<(bool, Suggestion)> = all
        .iter()
        .filter_map(|(step, progress)| {
            let away = !moves_the_action(step) && step.place_or(place) != place;
            let suggestion = Suggestion {
                step: step.id.clone(),
                reason: reason(state, all, step, progress, now_ms)?,
            };
            Some((away, suggestion))
        })
        .collect();
    let waits = |s: &Suggestion| matches!(s.reason, Reason::Curing { .. });
    list.sort_by_key(|(away, s)| (waits(s), *away, s.reason.rank()));
    list.into_iter().map(|(_, s)| s).collect()
}

/// Returns why a step is proposed, or `None` if nothing can be done on it.
fn reason(
    state: &State,
    all: &[(Step, Progress)],
    step: &Step,
    progress: &Progress,
    now_ms: i64,
) -> Option<Reason> {
    if progress.is_read() {
        let begin = step.wait_minutes > 0 && progress.wait.is_none();
        return begin.then_some(Reason::BeginCure {
            minutes: step.wait_minutes,
        });
    }
    if progress.again > 0 {
        return Some(Reason::ReadAgain {
            count: progress.again,
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
    let cured = step
        .needs
        .iter()
        .find(|id| state.wait(id.as_str()).is_some());
    Some(match cured {
        Some(of) => Reason::CureOver { of: of.clone() },
        None => Reason::Ready,
    })
}

/// Returns the cure that ends last, if a step is held up by running cures alone.
fn only_curing(all: &[(Step, Progress)], progress: &Progress, now_ms: i64) -> Option<Reason> {
    let mut last: Option<(StepId, i64)> = None;
    for id in &progress.blocked_by {
        let (_, needed) = all.iter().find(|(s, _)| s.id == *id)?;
        let wait = needed
            .wait
            .as_ref()
            .filter(|w| needed.is_read() && !w.is_over(now_ms))?;
        if last
            .as_ref()
            .is_none_or(|(_, until)| *until < wait.until_ms)
        {
            last = Some((id.clone(), wait.until_ms));
        }
    }
    last.map(|(of, until_ms)| Reason::Curing { of, until_ms })
}

/// Whether a step takes the action out or puts it back: its place is where the action is not.
fn moves_the_action(step: &Step) -> bool {
    let moves = |id: &MeasureId| matches!(id.as_str(), "action_out" | "action_in");
    step.takes.iter().any(moves)
}

#[cfg(test)]
mod tests;
