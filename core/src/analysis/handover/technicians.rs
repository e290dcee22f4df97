//! Who did what.

use std::collections::{BTreeMap, HashMap};

use super::steps::{in_sentence, stage_of};
use crate::job::{EntryKind, Job, ReplicaId, State};
use crate::trade::Stage;

/// The work of one technician. The default is none.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Who {
    /// The name, or `None` for the devices that state none.
    pub name: Option<String>,
    /// The number of devices, or of visits of the page.
    pub replicas: usize,
    /// Working minutes timed between the entries of this technician. Time stated for a step belongs
    /// to nobody.
    pub minutes: i64,
    /// Readings and marks in effect.
    pub readings: usize,
    /// Corrections in effect.
    pub corrections: usize,
    /// The names of the steps that time was spent on, worded for use within a sentence.
    pub steps: Vec<String>,
}

/// Returns who did what: the devices grouped by the name that each states, those without a name
/// together.
pub(super) fn technicians(job: &Job) -> Vec<Who> {
    let state = job.state();
    // By name: the work of its devices, and its milliseconds.
    let mut all: BTreeMap<Option<&str>, (Who, i64)> = BTreeMap::new();
    let mut names: HashMap<ReplicaId, Option<&str>> = HashMap::new();
    for entry in job.log().entries() {
        let replica = entry.id.replica;
        let is_new = !names.contains_key(&replica);
        let name = *names
            .entry(replica)
            .or_insert_with(|| state.technician(replica));
        let (who, _) = all.entry(name).or_default();
        who.replicas += usize::from(is_new);
        if state.is_alive(entry.id) {
            who.readings += usize::from(matches!(entry.kind, EntryKind::Reading { .. }));
            who.corrections += usize::from(matches!(entry.kind, EntryKind::Correction { .. }));
        }
    }
    for (replica, step, ms) in job.spent_by_device() {
        let name = names.get(&replica).copied().flatten();
        let (Who { steps, .. }, spent_ms) = all.entry(name).or_default();
        *spent_ms += ms;
        let (_, step) = stage_of(state, step.as_str()).unwrap_or((Stage::Bench, step.to_string()));
        let step = in_sentence(&step);
        if !steps.contains(&step) {
            steps.push(step);
        }
    }
    let place = order_of_names(state);
    let named = all.into_iter().map(|(name, (mut who, spent_ms))| {
        who.name = name.map(str::to_owned);
        who.minutes = (spent_ms + 30_000) / 60_000;
        who.steps.sort_by_key(|s| place.iter().position(|p| p == s));
        who
    });
    named
        .filter(|w| w.readings + w.corrections > 0 || w.minutes > 0)
        .collect()
}

fn order_of_names(state: &State) -> Vec<String> {
    let order = state.order();
    order.steps().iter().map(|s| in_sentence(&s.name)).collect()
}
