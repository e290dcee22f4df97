//! Working time by step: counted between entries, or stated by the technician.

use std::collections::HashMap;

use super::{Entry, EntryId, EntryKind, LogPosition, ReplicaId};
use crate::trade::StepId;

/// The longest gap between two entries of an open pass that counts as work; a longer one is a pause.
pub(super) const MAX_PAUSE_MS: i64 = 3 * 60_000;

/// Working time by step, counted between entries made while a pass was open, or stated.
///
/// A step without entries in between, such as a tuning, cannot be counted, so its time is
/// stated. A statement replaces all that came before it, on every phone; what is counted after it
/// is added.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Times {
    open: OpenPasses,
    steps: HashMap<StepId, StepTime>,
}

/// The working time of one step.
#[derive(Clone, Debug, Default, PartialEq)]
struct StepTime {
    counted_ms: i64,
    stated: Vec<Stated>,
}

/// A statement of working time.
#[derive(Clone, Debug, PartialEq)]
struct Stated {
    position: LogPosition,
    minutes: u32,
    /// The time counted before this statement, which it replaces.
    counted_ms: i64,
    alive: bool,
}

/// The open pass of each replica, with the wall time of its last entry.
#[derive(Clone, Debug, Default, PartialEq)]
struct OpenPasses(HashMap<ReplicaId, (StepId, i64)>);

impl OpenPasses {
    /// Returns the step of the replica's open pass and the time since its last entry, in milliseconds, or
    /// `None` if no pass is open or the gap does not count as work.
    fn since_last(&mut self, entry: &Entry) -> Option<(&StepId, i64)> {
        let (step, last) = self.0.get_mut(&entry.id.replica)?;
        let gap = entry.at_ms.saturating_sub(*last);
        *last = entry.at_ms;
        // A clock set back gives a negative gap, which does not count either.
        (1..=MAX_PAUSE_MS).contains(&gap).then_some((&*step, gap))
    }

    fn open(&mut self, replica: ReplicaId, step: &StepId, at_ms: i64) {
        self.0.insert(replica, (step.clone(), at_ms));
    }

    /// Closes the pass of a step. No effect if the open pass is that of another step.
    fn close(&mut self, replica: ReplicaId, step: &StepId) {
        if self.0.get(&replica).is_some_and(|(open, _)| open == step) {
            self.0.remove(&replica);
        }
    }
}

impl Times {
    /// Adds the time since the replica's last entry to the step of its open pass.
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

    /// Adds a statement of the minutes worked so far.
    pub fn state(&mut self, position: LogPosition, step: &StepId, minutes: u32, alive: bool) {
        let of = self.steps.entry(step.clone()).or_default();
        of.stated.push(Stated {
            position,
            minutes,
            counted_ms: of.counted_ms,
            alive,
        });
    }

    /// Takes a statement back, or restores it.
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

    /// Returns `true` if a statement for the step is in effect.
    pub fn is_stated(&self, step: &str) -> bool {
        self.steps
            .get(step)
            .is_some_and(|s| s.in_effect().is_some())
    }

    /// Returns the working time of a step in milliseconds; 0 if there is none.
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

impl StepTime {
    /// Returns the latest statement that is not taken back.
    fn in_effect(&self) -> Option<&Stated> {
        self.stated.iter().rfind(|s| s.alive)
    }
}

/// Returns the working time in milliseconds by replica and step, sorted by both.
///
/// It is the same time as that of [`Times`], split by replica. Stated time belongs to the replica that
/// stated it.
pub(super) fn by_replica(
    entries: &[Entry],
    is_alive: impl Fn(EntryId) -> bool,
) -> Vec<(ReplicaId, StepId, i64)> {
    let mut open = OpenPasses::default();
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
