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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{Details, OwnStep, Subject};
    use crate::note::Note;
    use crate::trade::{Band, Instrument, MeasureId, Occasion, Per, Stage, Target};
    use crate::unit::{Kind, Value};

    fn job_of(acts: impl IntoIterator<Item = EntryKind>) -> Job {
        let mut job = Job::new();
        for act in acts {
            job.apply(job.draft(ReplicaId::new(1), 0, act));
        }
        job
    }

    fn target(scope: Scope, aim: i64) -> EntryKind {
        EntryKind::Target {
            measure: MeasureId::of("blow"),
            scope,
            target: Some(Target::Flat(Band::mm(aim, 50, 100))),
        }
    }

    #[test]
    fn the_next_job_of_a_kept_kind_has_its_steps_order_and_targets_and_none_of_its_readings() {
        let [touch_up, ..] = JobKind::built_in(Instrument::Grand);
        let own = OwnStep {
            id: StepId::of("own_wires"),
            name: "Wires looked at".to_owned(),
            stage: Stage::Regulate,
            after: None,
            per: Per::Note,
            kind: Kind::Good,
            minutes: 5,
            how: String::new(),
        };
        let name = Some("Hall".to_owned());
        let set = Box::new(Details {
            name,
            ..Details::default()
        });
        let note = Note::new(40).unwrap();
        let mut job = job_of([
            EntryKind::KindChosen {
                kind: Box::new(touch_up),
            },
            EntryKind::Details { set },
            EntryKind::OwnStep {
                step: Box::new(own),
            },
            EntryKind::LeftOut {
                step: StepId::of("drop"),
                out: true,
            },
            EntryKind::LeftOut {
                step: StepId::of("blow"),
                out: false,
            },
            target(Scope::Job, 4500),
            target(Scope::Job, 4600),
            target(Scope::Note(note), 4700),
            EntryKind::Setup {
                set: Box::new(Setup {
                    sample_measures: Some(vec![MeasureId::of("blow")]),
                    sample_by_note: Some(true),
                    ..Setup::default()
                }),
            },
        ]);
        let mut steps: Vec<StepId> = job
            .state()
            .order()
            .steps()
            .iter()
            .map(|s| s.id.clone())
            .collect();
        let last = steps.len() - 1;
        steps.swap(0, 1);
        assert_eq!(steps[last].as_str(), "own_wires");
        job.apply(job.draft(ReplicaId::new(1), 0, EntryKind::Arranged { steps }));
        let (at, on) = (Occasion::Working, Subject::Note(note));
        let value = Value::from_base(Kind::Length, 45_000_000);
        let blow = MeasureId::of("blow");
        job.apply(job.reading(
            ReplicaId::new(1),
            0,
            blow,
            on,
            Place::Piano,
            at,
            value,
            "45",
        ));

        let kept = acts(&lines(kept_kind(&job, "Hall check")));
        assert_eq!(kind_of(&kept).map(|k| k.name.as_str()), Some("Hall check"));
        let next = job_of(kept);
        let (before, after) = (job.state(), next.state());
        assert_eq!(after.order(), before.order());
        assert_eq!(after.sample_measures(), before.sample_measures());
        assert_eq!(after.setup().sample_by_note, Some(true));
        let a0 = Subject::Note(Note::FIRST);
        assert_eq!(after.band("blow", a0), before.band("blow", a0));
        // A target of one note belongs to the instrument.
        assert_ne!(after.band("blow", on), before.band("blow", on));
        assert_eq!(after.details().name, None);
        assert!(after.measure_state("blow", on, Place::Piano).is_none());
    }

    #[test]
    fn acts_that_begin_with_no_kind_are_of_none() {
        assert_eq!(kind_of(&[target(Scope::Job, 4500)]), None);
        assert_eq!(kind_of(&[]), None);
    }
}
