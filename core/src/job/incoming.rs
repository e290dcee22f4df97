//! What merging a file changes in a job, for the user to see before it is done.

use std::collections::BTreeSet;

use super::{Details, EntryId, EntryKind, Job, Subject};

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
    /// The number of remarks and faults noted earlier whose text is another afterwards.
    pub remarks: usize,
    /// `true` if the job is archived afterwards and was not, `false` if it was and is not, `None` if that stays.
    pub archived: Option<bool>,
    /// The number of faults that the new entries note.
    pub faults: usize,
    /// The number of times for which the new entries state hours.
    pub hours: usize,
    /// Those who wrote the new entries, by the alphabet, as far as they gave a name.
    pub technicians: BTreeSet<String>,
    /// The details of the job that are others afterwards, in words.
    pub details: Vec<&'static str>,
}

impl Incoming {
    /// Returns what changes from a job to the same job with more entries.
    pub fn between(before: &Job, after: &Job) -> Incoming {
        let mut incoming = Incoming::default();
        let mut remarks = BTreeSet::new();
        for entry in after.log().entries() {
            let is_alive = after.state().is_alive(entry.id);
            if before.log().get(entry.id).is_some() {
                let was_alive = before.state().is_alive(entry.id);
                incoming.taken_back += usize::from(was_alive && !is_alive);
                continue;
            }
            incoming.entries += 1;
            let technician = after.technician_of(entry).map(str::to_owned);
            incoming.technicians.extend(technician);
            match &entry.kind {
                EntryKind::Reading { .. } => incoming.readings += usize::from(is_alive),
                EntryKind::Swept { measure, notes, .. } if is_alive => {
                    let takes = |note| after.state().takes(measure.as_str(), Subject::Note(note));
                    incoming.readings += notes.iter().filter(|note| takes(*note)).count();
                }
                EntryKind::Target { .. } => incoming.targets += usize::from(is_alive),
                EntryKind::FaultFixed { fault, .. } => {
                    let noted = before.log().get(*fault);
                    let is_before = noted.is_some_and(|f| f.written() < entry.written());
                    incoming.fixed += usize::from(is_before);
                }
                EntryKind::Remark { fault: true, .. } => incoming.faults += usize::from(is_alive),
                EntryKind::MinutesStated { .. } => incoming.hours += usize::from(is_alive),
                EntryKind::RemarkChanged { remark, .. } => {
                    remarks.insert(*remark);
                }
                _ => {}
            }
        }
        let text = |of: &Job, id| of.state().remark(id).map(|r| r.text.clone());
        let is_other = |id: &EntryId| {
            let both = text(before, *id).zip(text(after, *id));
            both.is_some_and(|(then, now)| then != now)
        };
        incoming.remarks = remarks.iter().filter(|id| is_other(id)).count();
        let (was, is) = (before.state().is_archived(), after.state().is_archived());
        incoming.archived = (was != is).then_some(is);
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
        ("price agreed", before.price_cents != after.price_cents),
        ("travel", before.travel_cents != after.travel_cents),
        (
            "tax",
            before.tax_percent_hundredths != after.tax_percent_hundredths,
        ),
        (
            "remark for the client",
            before.for_client != after.for_client,
        ),
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
    fn hours_faults_prices_and_who_wrote_them_are_told() {
        let before = Job::new();
        let mut after = Job::new();
        let details = Details {
            technician: Some("R. Sample".to_owned()),
            price_cents: Some(20_000),
            for_client: Some("Keep the lid closed.".to_owned()),
            ..Details::default()
        };
        let fault = EntryKind::Remark {
            on: crate::job::Subject::Whole,
            step: None,
            fault: true,
            text: "Loose flange".to_owned(),
        };
        let hours = EntryKind::MinutesStated {
            step: crate::trade::StepId::of("let_off"),
            minutes: 60,
            worked: None,
            instead_of: None,
        };
        let set = Box::new(details);
        for kind in [EntryKind::Details { set }, fault, hours] {
            after.apply(after.draft(ReplicaId::new(1), 1_000, kind));
        }
        let incoming = Incoming::between(&before, &after);
        assert_eq!((incoming.faults, incoming.hours), (1, 1));
        assert_eq!(incoming.details, ["price agreed", "remark for the client"]);
        assert_eq!(incoming.technicians, ["R. Sample".to_owned()].into());
    }

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

    #[test]
    fn changed_remarks_and_the_archive_are_told() {
        let (mine, theirs) = (ReplicaId::new(1), ReplicaId::new(2));
        let mut before = Job::new();
        for text in ["Tune first", "Moths", "Gate code 17"] {
            let kind = EntryKind::Remark {
                on: crate::job::Subject::Whole,
                step: None,
                fault: false,
                text: text.to_owned(),
            };
            before.apply(before.draft(mine, 1_000, kind));
        }
        let ids: Vec<_> = before.log().entries().iter().map(|e| e.id).collect();
        let mut after = before.clone();
        // The first is changed twice, the second is withdrawn, the third is changed and changed back.
        let changes = [
            (0, "Tune last"),
            (0, "Do not tune"),
            (1, ""),
            (2, "Gate code 71"),
            (2, "Gate code 17"),
        ];
        for (at, text) in changes {
            let kind = EntryKind::RemarkChanged {
                remark: ids[at],
                text: text.to_owned(),
            };
            after.apply(after.draft(theirs, 2_000, kind));
        }
        let archived = EntryKind::Archived { archived: true };
        after.apply(after.draft(theirs, 2_000, archived));
        let expected = Incoming {
            entries: 6,
            remarks: 2,
            archived: Some(true),
            ..Incoming::default()
        };
        assert_eq!(Incoming::between(&before, &after), expected);
        let mut out = after.clone();
        let archived = EntryKind::Archived { archived: false };
        out.apply(out.draft(mine, 3_000, archived));
        assert_eq!(Incoming::between(&after, &out).archived, Some(false));
    }
}
