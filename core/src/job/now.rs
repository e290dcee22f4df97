use super::{Progress, State};
use crate::trade::{MeasureId, Step, StepId};

/// Something to do now, with its reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Now {
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

impl State {
    /// What can be done now, best first: a cure to begin, a cure that is over, what was
    /// disturbed, what was begun, what is ready; then the same of what the action must be
    /// moved for; last what only waits. Within one reason the order of the job holds.
    pub fn now(&self, all: &[(Step, Progress)], now_ms: i64) -> Vec<Now> {
        let place = self.place();
        let mut list: Vec<(bool, Now)> = all
            .iter()
            .filter_map(|(step, progress)| {
                let away = !moves_the_action(step) && step.place_or(place) != place;
                let now = Now {
                    step: step.id.clone(),
                    reason: self.reason(all, step, progress, now_ms)?,
                };
                Some((away, now))
            })
            .collect();
        let waits = |now: &Now| matches!(now.reason, Reason::Curing { .. });
        list.sort_by_key(|(away, now)| (waits(now), *away, now.reason.rank()));
        list.into_iter().map(|(_, now)| now).collect()
    }

    fn reason(
        &self,
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
            return self.only_curing(all, progress, now_ms);
        }
        if progress.is_begun() {
            return Some(Reason::GoOn {
                left: progress.left(),
            });
        }
        let cured = step
            .needs
            .iter()
            .find(|id| self.wait(id.as_str()).is_some());
        Some(match cured {
            Some(of) => Reason::CureOver { of: of.clone() },
            None => Reason::Ready,
        })
    }

    /// That a step is held up by running cures alone, with the one that ends last.
    fn only_curing(
        &self,
        all: &[(Step, Progress)],
        progress: &Progress,
        now_ms: i64,
    ) -> Option<Reason> {
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
}

/// Whether a step takes the action out or puts it back: its place is where the action is not.
fn moves_the_action(step: &Step) -> bool {
    let moves = |id: &MeasureId| matches!(id.as_str(), "action_out" | "action_in");
    step.takes.iter().any(moves)
}
