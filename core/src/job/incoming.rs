//! What merging a file changes in a job, for the user to see before it is done.

use super::{Details, EntryKind, Job};

/// What changes from a job to the same job with more entries.
///
/// The default is no change.
///
/// ```
/// use evenhand_core::job::{Details, EntryKind, Incoming, Job, ReplicaId};
///
/// let name = |name: &str| EntryKind::Details {
///     set: Box::new(Details { name: Some(name.to_owned()), ..Details::default() }),
/// };
/// let mut before = Job::new();
/// before.apply(before.draft(ReplicaId::new(7), 1_000, name("Hall")));
/// let mut after = before.clone();
/// after.apply(after.draft(ReplicaId::new(8), 2_000, name("Studio")));
/// let incoming = Incoming::between(&before, &after);
/// assert_eq!((incoming.entries, incoming.details), (1, vec!["name"]));
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Incoming {
    /// The number of new entries.
    pub entries: usize,
    /// The number of readings among them that are not taken back.
    pub readings: usize,
    /// The number of earlier entries that the new ones take back.
    pub taken_back: usize,
    /// The number of targets that the new entries set.
    pub targets: usize,
    /// The number of faults noted earlier that the new entries settle.
    pub fixed: usize,
    /// The details of the job that are others afterwards, in words.
    pub details: Vec<&'static str>,
}

impl Incoming {
    /// Returns what changes from a job to the same job with more entries.
    pub fn between(before: &Job, after: &Job) -> Incoming {
        let mut incoming = Incoming::default();
        for entry in after.log().entries() {
            let is_alive = after.state().is_alive(entry.id);
            if before.log().get(entry.id).is_some() {
                let was_alive = before.state().is_alive(entry.id);
                incoming.taken_back += usize::from(was_alive && !is_alive);
                continue;
            }
            incoming.entries += 1;
            match &entry.kind {
                EntryKind::Reading { .. } => incoming.readings += usize::from(is_alive),
                EntryKind::Target { .. } => incoming.targets += usize::from(is_alive),
                EntryKind::FaultFixed { fault, .. } => {
                    let noted = before.log().get(*fault);
                    let is_before = noted.is_some_and(|f| f.written() < entry.written());
                    incoming.fixed += usize::from(is_before);
                }
                _ => {}
            }
        }
        incoming.details = changed(before.state().details(), after.state().details());
        incoming
    }
}

/// Returns which details differ.
fn changed(before: &Details, after: &Details) -> Vec<&'static str> {
    let rate = |of: &Details| (of.rate_per_hour_cents, of.currency.clone());
    [
        ("name", before.name != after.name),
        ("client", before.client != after.client),
        ("kind of instrument", before.instrument != after.instrument),
        ("instrument", before.described != after.described),
        ("serial number", before.serial != after.serial),
        ("agreed work", before.scope != after.scope),
        ("rate", rate(before) != rate(after)),
    ]
    .into_iter()
    .filter_map(|(name, differs)| differs.then_some(name))
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::ReplicaId;

    #[test]
    fn what_a_file_takes_back_is_counted() {
        let (mine, theirs) = (ReplicaId::new(1), ReplicaId::new(2));
        let mut before = Job::new();
        for _ in 0..3 {
            let text = "Loose flange".to_owned();
            let kind = EntryKind::Remark {
                on: crate::job::Subject::Whole,
                step: None,
                fault: true,
                text,
            };
            before.apply(before.draft(mine, 1_000, kind));
        }
        let ids: Vec<_> = before.log().entries().iter().map(|e| e.id).collect();
        let mut after = before.clone();
        for entry in [ids[0], ids[1]] {
            after.apply(after.draft(theirs, 2_000, EntryKind::Undo { entry }));
        }
        let fixed = EntryKind::FaultFixed {
            fault: ids[2],
            how: String::new(),
        };
        after.apply(after.draft(theirs, 2_000, fixed));
        let incoming = Incoming::between(&before, &after);
        let expected = Incoming {
            entries: 3,
            taken_back: 2,
            fixed: 1,
            ..Incoming::default()
        };
        assert_eq!(incoming, expected);
        assert_eq!(Incoming::between(&after, &after), Incoming::default());
    }
}
