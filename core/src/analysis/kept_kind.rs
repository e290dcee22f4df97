//! A job as a kind of its own: what the next job of that kind begins with.

use crate::job::{Entry, EntryKind, Job, ReplicaId, Scope, Setup, State};
use crate::trade::{JobKind, Place, StepId};

/// Returns the acts with which a job of the kind of this one begins: the kind first, then its own steps, the order of
/// the steps, and the targets of the job. Those of a section or a note belong to the instrument and stay with it.
///
/// **Rule**: a kind is a choice of steps, the place where they are done, and targets.
///
/// ```
/// use evenhand_core::analysis::kept_kind::kept_kind;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId};
/// use evenhand_core::trade::StepId;
///
/// let (phone, step) = (ReplicaId::new(7), StepId::of("tuning"));
/// let mut job = Job::new();
/// job.apply(job.draft(phone, 0, EntryKind::LeftOut { step: step.clone(), out: true }));
/// let mut next = Job::new();
/// for act in kept_kind(&job, "Without tuning") {
///     next.apply(next.draft(phone, 0, act));
/// }
/// assert_eq!(next.state().kind().unwrap().name, "Without tuning");
/// assert_eq!(next.state().order(), job.state().order());
/// assert!(next.state().step(step.as_str()).is_none());
/// ```
pub fn kept_kind(job: &Job, name: &str) -> Vec<EntryKind> {
    let state: &State = job.state();
    let order = state.order().steps();
    let trades = state.instrument().steps();
    let is_trades = |id: &StepId| trades.iter().any(|s| s.id == *id);
    let ids = order.iter().map(|s| s.id.clone());
    let kind = JobKind {
        name: name.to_owned(),
        instrument: state.instrument(),
        place: state.kind().map_or(Place::Bench, |kind| kind.place),
        steps: ids.clone().filter(is_trades).collect(),
        sample: state.sample_measures().to_vec(),
    };
    let mut acts = vec![EntryKind::KindChosen {
        kind: Box::new(kind),
    }];
    let setup = Setup {
        following: state.setup().following,
        sample_by_note: state.setup().sample_by_note,
        ..Setup::default()
    };
    if setup != Setup::default() {
        acts.push(EntryKind::Setup {
            set: Box::new(setup),
        });
    }
    let (mut own, mut targets, mut arranged) = (Vec::new(), Vec::new(), false);
    for entry in job.log().entries().iter().filter(|e| state.is_alive(e.id)) {
        match &entry.kind {
            EntryKind::OwnStep { step } if order.iter().any(|s| s.id == step.id) => {
                own.push(entry.kind.clone());
            }
            EntryKind::Target {
                scope: Scope::Job,
                measure,
                ..
            } => {
                let is_same = |act: &EntryKind| matches!(act, EntryKind::Target { measure: m, .. } if m == measure);
                targets.retain(|act| !is_same(act));
                targets.push(entry.kind.clone());
            }
            EntryKind::Arranged { .. } => arranged = true,
            _ => {}
        }
    }
    acts.extend(own);
    acts.extend(arranged.then(|| EntryKind::Arranged {
        steps: ids.collect(),
    }));
    acts.extend(targets);
    acts
}

/// Returns acts as lines to store, one an act, as those of the log.
pub fn lines(acts: Vec<EntryKind>) -> Vec<String> {
    let entry = |act| Job::new().draft(ReplicaId::new(1), 0, act).to_line();
    acts.into_iter().map(entry).collect()
}

/// Returns the acts of stored lines. Lines that cannot be read are left out.
///
/// ```
/// use evenhand_core::analysis::kept_kind::{acts, kept_kind, lines};
/// use evenhand_core::job::Job;
///
/// let kept = kept_kind(&Job::new(), "All of it");
/// assert_eq!(acts(&lines(kept.clone())), kept);
/// assert!(acts(&["{torn".to_owned()]).is_empty());
/// ```
pub fn acts(lines: &[String]) -> Vec<EntryKind> {
    let entries = lines.iter().filter_map(|line| Entry::from_line(line).ok());
    entries.map(|entry| entry.kind).collect()
}

/// Returns the kind that acts begin with, or `None` if they begin with none.
pub fn kind_of(acts: &[EntryKind]) -> Option<&JobKind> {
    match acts.first()? {
        EntryKind::KindChosen { kind } => Some(kind),
        _ => None,
    }
}
