//! Who did what.

use std::collections::{BTreeMap, BTreeSet};

use super::super::hours::{Hours, stage_of};
use super::steps::in_sentence;
use crate::job::{EntryKind, Job, ReplicaId, State};

/// The work of one technician, in whole numbers from 0 up. The default is none.
///
/// ```
/// use evenhand_core::analysis::handover::{Who, handover};
/// use evenhand_core::job::{Job, ReplicaId, WorkDay};
/// use evenhand_core::trade::StepId;
///
/// let mut job = Job::new();
/// let name = Some("R. Sample".to_owned());
/// let worked = WorkDay { day: "2026-11-25".parse()?, technician: name.clone() };
/// let stated = job.state().minutes_stated(StepId::of("tuning"), 95, worked, None);
/// job.apply(job.draft(ReplicaId::new(7), 0, stated));
/// let who = Who { name, minutes: 95, steps: vec!["tuning".to_owned()], ..Who::default() };
/// assert_eq!(handover(&job, 0).who, [who]);
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Who {
    /// The name, or `None` for the devices that state none.
    pub name: Option<String>,
    /// The number of devices, or of visits of the page.
    pub replicas: usize,
    /// The working minutes of this technician; those of all add up to the hours of the job.
    pub minutes: i64,
    /// Readings and marks in effect.
    pub readings: usize,
    /// Corrections in effect.
    pub corrections: usize,
    /// The names of the steps that this technician worked at, worded for use within a sentence: those with
    /// minutes, and those measured, marked or adjusted in a pass.
    pub steps: Vec<String>,
}

/// Returns who did what, by name: those without a name together and first.
pub(super) fn technicians(job: &Job, hours: &Hours) -> Vec<Who> {
    let state = job.state();
    let mut all: BTreeMap<Option<String>, Who> = BTreeMap::new();
    let mut replicas: BTreeSet<(Option<&str>, ReplicaId)> = BTreeSet::new();
    for entry in job.log().entries() {
        let name = job.technician_of(entry);
        let is_new = replicas.insert((name, entry.id.replica));
        let who = all.entry(name.map(str::to_owned)).or_default();
        who.replicas += usize::from(is_new);
        if state.is_alive(entry.id) {
            who.readings += usize::from(matches!(entry.kind, EntryKind::Reading { .. }));
            who.corrections += usize::from(matches!(entry.kind, EntryKind::Correction { .. }));
        }
    }
    for (name, minutes) in hours.by_technician() {
        all.entry(name).or_default().minutes = minutes;
    }
    let steps = steps_by_name(state, hours);
    let named = all.into_iter().map(|(name, mut who)| {
        let own = steps
            .iter()
            .filter(|(_, names)| names.contains(&name.as_deref()));
        who.steps = own.map(|(step, _)| step.clone()).collect();
        who.name = name;
        who
    });
    named
        .filter(|w| w.readings + w.corrections > 0 || w.minutes > 0)
        .collect()
}

/// Returns each step that was worked at, in the order of the job, with the names of those who did.
fn steps_by_name<'a>(
    state: &'a State,
    hours: &'a Hours,
) -> Vec<(String, BTreeSet<Option<&'a str>>)> {
    let timed = hours.lines.iter().filter(|line| line.time.minutes() > 0);
    let timed = timed.map(|line| (&line.time.step, line.time.worked.technician.as_deref()));
    let mut all: BTreeMap<_, BTreeSet<_>> = BTreeMap::new();
    for (step, name) in timed {
        all.entry(step.as_str()).or_default().insert(name);
    }
    for step in state.steps_worked_at() {
        let names = all.entry(step.as_str()).or_default();
        names.extend(state.workers(step.as_str()));
    }
    let order = state.order().steps();
    let mut all: Vec<_> = all.into_iter().collect();
    all.sort_by_key(|(id, _)| {
        order
            .iter()
            .position(|s| s.id.as_str() == *id)
            .unwrap_or(order.len())
    });
    let name = |id: &str| stage_of(state, id).map_or_else(|| id.to_owned(), |(_, name)| name);
    let named = all
        .into_iter()
        .map(|(id, names)| (in_sentence(&name(id)), names));
    named.collect()
}
