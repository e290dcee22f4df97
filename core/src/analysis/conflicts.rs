//! Open conflicts: where two technicians, neither knowing of the other, said different things of one reading,
//! target, detail, decision, working time or remark. The later is in effect; the other stays in sight until an entry
//! settles it: keep one of them, or re-measure.

mod words;

use crate::job::{
    ConcludedConflict, ConcludedStatement, Concurrent, Entry, EntryId, EntryKind, Job, State,
    Subject, Topic,
};
use crate::trade::{MeasureId, Occasion, Place, Step};

/// An open conflict, with two or more statements. [`conflicts`] lists them; it has no default.
///
/// ```
/// use evenhand_core::analysis::conflicts::conflicts;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Topic};
///
/// let archive = |job: &Job, replica, archived| {
///     job.draft(ReplicaId::new(replica), 1_000, EntryKind::Archived { archived })
/// };
/// let mut job = Job::new();
/// job.merge([archive(&job, 1, true), archive(&job, 2, false)]);
/// let open = conflicts(&job);
/// assert_eq!((&open[0].topic, open[0].statements.len()), (&Topic::Archived, 2));
/// // The same said twice is none.
/// let same = [1, 2].map(|replica| archive(&Job::new(), replica, true));
/// assert!(conflicts(&Job::from_entries(same)).is_empty());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Conflict {
    /// What it is about.
    pub topic: Topic,
    /// What it is about in words: `Let-off, note 40 (C4), on the bench`.
    pub about: String,
    /// The statement in effect, then the others, the latest first.
    pub statements: Vec<Statement>,
}

/// What one technician stated. Part of [`Conflict`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::conflicts::conflicts;
/// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId};
///
/// let mut job = Job::new();
/// let stated = [(1, 1_000, "Client 17"), (2, 2_000, "Client 71")].map(|(replica, at_ms, client)| {
///     let set = Box::new(Details { client: Some(client.to_owned()), ..Details::default() });
///     job.draft(ReplicaId::new(replica), at_ms, EntryKind::Details { set })
/// });
/// job.merge(stated.clone());
/// let statements = &conflicts(&job)[0].statements;
/// // The later one is in effect and comes first.
/// assert_eq!((statements[0].value.as_str(), statements[0].at_ms), ("Client 71", 2_000));
/// assert_eq!(statements[1].keep.as_ref(), Some(&stated[0].kind));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Statement {
    /// Its entry.
    pub entry: EntryId,
    /// The value in words, with its unit.
    pub value: String,
    /// The technician's name, or `None` if the device states none.
    pub technician: Option<String>,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// The entry that keeps this value and so settles the conflict. `None` for a reading that later work spoiled:
    /// only measuring again settles it.
    pub keep: Option<EntryKind>,
}

/// Returns every open conflict: details and setup first, then targets, decisions, readings, working times,
/// remarks and the archive.
///
/// The same value stated twice is no conflict.
///
/// ```
/// use evenhand_core::analysis::conflicts::conflicts;
/// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId};
///
/// let client = |client: &str| EntryKind::Details {
///     set: Box::new(Details { client: Some(client.to_owned()), ..Details::default() }),
/// };
/// let mut job = Job::new();
/// let said = job.draft(ReplicaId::new(1), 1_000, client("Client 17"));
/// job.merge([job.draft(ReplicaId::new(2), 2_000, client("Client 71")), said]);
/// let open = conflicts(&job);
/// assert_eq!(open[0].about, "Client");
/// assert_eq!(open[0].statements.len(), 2);
///
/// let keep = open[0].statements[1].keep.clone().unwrap();
/// job.apply(job.draft(ReplicaId::new(1), 3_000, keep));
/// assert!(conflicts(&job).is_empty());
/// ```
pub fn conflicts(job: &Job) -> Vec<Conflict> {
    let all = job.concurrent().into_iter();
    all.map(|concurrent| conflict(job, concurrent)).collect()
}

/// Returns the conflicts that are open after a merge and were not before it: about another topic, or with a statement
/// that was not there.
pub fn new_conflicts(before: &Job, after: &Job) -> Vec<Conflict> {
    let known = conflicts(before);
    let entries = |c: &Conflict| -> Vec<EntryId> { c.statements.iter().map(|s| s.entry).collect() };
    let mut open = conflicts(after);
    open.retain(|new| {
        let mut same = known.iter().filter(|old| old.topic == new.topic);
        !same.any(|old| entries(new).iter().all(|e| entries(old).contains(e)))
    });
    open
}

/// Returns the open conflict about one topic, or `None` if there is none. For a reading the cost does not grow with
/// the job.
pub fn conflict_about(job: &Job, topic: &Topic) -> Option<Conflict> {
    Some(conflict(job, job.concurrent_about(topic)?))
}

/// Returns the open conflicts of a measure on a subject at a place: of what was found, and of the readings since.
pub fn conflicts_of_reading(
    job: &Job,
    measure: &MeasureId,
    on: Subject,
    place: Place,
) -> Vec<Conflict> {
    let topic = |as_found| Topic::Reading {
        measure: measure.clone(),
        on,
        place,
        as_found,
    };
    let both = [false, true].map(topic);
    both.iter().filter_map(|t| conflict_about(job, t)).collect()
}

/// Returns the step of the order that measures a reading again: of its occasion, and at its place if there is one.
/// `None` for another topic, or a measure that no step takes.
pub fn step_to_measure<'a>(state: &'a State, topic: &Topic) -> Option<&'a Step> {
    let Topic::Reading {
        measure,
        place,
        as_found,
        ..
    } = topic
    else {
        return None;
    };
    let steps = state.order().steps().iter();
    let of_occasion = |s: &&Step| (s.occasion == Occasion::AsFound) == *as_found;
    let mut steps = steps
        .filter(|s| s.takes.contains(measure))
        .filter(of_occasion);
    let first = steps.clone().next();
    steps
        .find(|s| s.place.is_none_or(|p| p == *place))
        .or(first)
}

fn conflict(job: &Job, concurrent: Concurrent<'_>) -> Conflict {
    let Concurrent {
        topic,
        in_effect,
        others,
    } = concurrent;
    let entries = std::iter::once(in_effect).chain(others.into_iter().rev());
    let statements = entries.filter_map(|entry| statement(job, &topic, entry));
    Conflict {
        about: words::about(job.state(), &topic),
        statements: statements.collect(),
        topic,
    }
}

fn statement(job: &Job, topic: &Topic, entry: &Entry) -> Option<Statement> {
    let state = job.state();
    let stated = entry.kind.about(topic)?;
    Some(Statement {
        entry: entry.id,
        value: words::value(state, &stated),
        technician: state.technician(entry.id.replica).map(str::to_owned),
        at_ms: entry.at_ms,
        keep: keep(job, topic, entry, stated),
    })
}

/// Returns the entry that keeps a statement.
fn keep(job: &Job, topic: &Topic, entry: &Entry, stated: EntryKind) -> Option<EntryKind> {
    let state = job.state();
    match topic {
        // A reading that is stated again counts as taken now, so it must still be true.
        Topic::Reading {
            measure,
            on,
            place,
            as_found: false,
        } => {
            let looked = state.looked(measure.as_str());
            let spoiled = looked.disturbed_since(job.log().position(entry.id)?, *on, *place);
            spoiled.is_none().then_some(stated)
        }
        _ => Some(stated),
    }
}

/// Returns the open conflicts as they are written into the job file.
pub(super) fn concluded(job: &Job) -> Vec<ConcludedConflict> {
    let written = |conflict: Conflict| ConcludedConflict {
        about: conflict.about,
        statements: conflict
            .statements
            .into_iter()
            .enumerate()
            .map(|(at, s)| ConcludedStatement {
                value: s.value,
                technician: s.technician,
                at_ms: s.at_ms,
                entry: s.entry,
                in_force: at == 0,
            })
            .collect(),
    };
    conflicts(job).into_iter().map(written).collect()
}

#[cfg(test)]
mod tests;
