//! Working time, counted between entries or stated.

use std::collections::HashMap;

use super::{Entry, EntryId, EntryKind, LogPosition, ReplicaId};
use crate::trade::StepId;

/// A longer pause between two entries of an open pass is not counted as work.
pub(super) const MAX_PAUSE_MS: i64 = 3 * 60_000;

/// Working time by step: from the entries made while a pass was open, and as it was stated.
///
/// A step that is one long work, such as a tuning, has no entries to count between, so that its
/// time is stated. What is stated holds for all that came before it, on whatever phone;
/// what is counted after it is added.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Times {
    open: Open,
    steps: HashMap<StepId, OfStep>,
}

/// The working time of one step.
#[derive(Clone, Debug, Default, PartialEq)]
struct OfStep {
    counted_ms: i64,
    stated: Vec<Stated>,
}

/// A statement of working time.
#[derive(Clone, Debug, PartialEq)]
struct Stated {
    position: LogPosition,
    minutes: u32,
    /// What had been counted by then.
    counted_ms: i64,
    alive: bool,
}

/// The pass that each device has open, with the time of its last entry.
#[derive(Clone, Debug, Default, PartialEq)]
struct Open(HashMap<ReplicaId, (StepId, i64)>);

impl Open {
    /// The time since the device's last entry, with the step whose pass it has open.
    fn since_last(&mut self, entry: &Entry) -> Option<(&StepId, i64)> {
        let (step, last) = self.0.get_mut(&entry.id.replica)?;
        let gap = entry.at_ms.saturating_sub(*last);
        *last = entry.at_ms;
        // A clock set back gives a negative gap, which is no work either.
        (1..=MAX_PAUSE_MS).contains(&gap).then_some((&*step, gap))
    }

    fn open(&mut self, replica: ReplicaId, step: &StepId, at_ms: i64) {
        self.0.insert(replica, (step.clone(), at_ms));
    }

    /// Closes the pass of a step; a late close of another one leaves the open one open.
    fn close(&mut self, replica: ReplicaId, step: &StepId) {
        if self.0.get(&replica).is_some_and(|(open, _)| open == step) {
            self.0.remove(&replica);
        }
    }
}

impl Times {
    /// Counts the time since the device's last entry towards its open pass.
    pub fn count(&mut self, entry: &Entry) {
        if let Some((step, gap)) = self.open.since_last(entry) {
            self.steps.entry(step.clone()).or_default().counted_ms += gap;
        }
    }

    pub fn open(&mut self, replica: ReplicaId, step: &StepId, at_ms: i64) {
        self.open.open(replica, step, at_ms);
    }

    pub fn close(&mut self, replica: ReplicaId, step: &StepId) {
        self.open.close(replica, step);
    }

    /// Takes in a statement.
    pub fn state(&mut self, position: LogPosition, step: &StepId, minutes: u32, alive: bool) {
        let of = self.steps.entry(step.clone()).or_default();
        of.stated.push(Stated {
            position,
            minutes,
            counted_ms: of.counted_ms,
            alive,
        });
    }

    /// Takes a statement back, or takes that back.
    pub fn set_alive(&mut self, position: LogPosition, step: &StepId, alive: bool) {
        let mut history = self
            .steps
            .entry(step.clone())
            .or_default()
            .stated
            .iter_mut();
        if let Some(stated) = history.find(|s| s.position == position) {
            stated.alive = alive;
        }
    }

    /// Whether the time of a step was stated.
    pub fn is_stated(&self, step: &str) -> bool {
        self.steps
            .get(step)
            .is_some_and(|s| s.in_effect().is_some())
    }

    pub fn spent_ms(&self, step: &str) -> i64 {
        let Some(of) = self.steps.get(step) else {
            return 0;
        };
        match of.in_effect() {
            Some(s) => i64::from(s.minutes) * 60_000 + (of.counted_ms - s.counted_ms),
            None => of.counted_ms,
        }
    }
}

impl OfStep {
    /// The latest statement that was not taken back.
    fn in_effect(&self) -> Option<&Stated> {
        self.stated.iter().rfind(|s| s.alive)
    }
}

/// Working time by device and step, sorted by both; what [`Times`] tells of all devices together.
/// Time that was stated is that of the device that stated it.
pub(super) fn by_replica(
    entries: &[Entry],
    is_alive: impl Fn(EntryId) -> bool,
) -> Vec<(ReplicaId, StepId, i64)> {
    let mut open = Open::default();
    let mut spent: HashMap<StepId, HashMap<ReplicaId, i64>> = HashMap::new();
    for entry in entries {
        let replica = entry.id.replica;
        if let Some((step, gap)) = open.since_last(entry) {
            let of_step = spent.entry(step.clone()).or_default();
            *of_step.entry(replica).or_default() += gap;
        }
        match &entry.kind {
            EntryKind::PassOpened { step } => open.open(replica, step, entry.at_ms),
            EntryKind::PassClosed { step } => open.close(replica, step),
            EntryKind::MinutesStated { step, minutes } if is_alive(entry.id) => {
                let stated = HashMap::from([(replica, i64::from(*minutes) * 60_000)]);
                spent.insert(step.clone(), stated);
            }
            _ => {}
        }
    }
    let mut all: Vec<(ReplicaId, StepId, i64)> = Vec::new();
    for (step, of_step) in spent {
        let of_step = of_step.into_iter();
        all.extend(of_step.map(|(replica, ms)| (replica, step.clone(), ms)));
    }
    all.sort();
    all
}
