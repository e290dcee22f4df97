//! What one stroke along the row can take in: the notes of a section, or of the whole row, that are still to do.

use crate::job::{Item, ItemState, State, SweptNotes};
use crate::note::Note;
use crate::trade::{Per, Step, Verdict};

/// How far a sweep reaches from the current note. It has no default and no order.
///
/// ```
/// use evenhand_core::analysis::sweep::{SweepReach, sweep_notes};
/// use evenhand_core::job::{Job, EntryKind, ReplicaId, Setup};
/// use evenhand_core::note::{Note, Sections};
///
/// let sections = Some(Sections::new([Note::new(20)?])?);
/// let set = Box::new(Setup { sections, ..Setup::default() });
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 0, EntryKind::Setup { set }));
/// let step = job.state().step("blow").unwrap();
/// let first = &job.state().items(step)[0];
/// let count = |reach| sweep_notes(job.state(), step, first, reach).map(|s| s.count);
/// assert_eq!([count(SweepReach::Section), count(SweepReach::Row)], [Some(20), Some(88)]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SweepReach {
    /// To the ends of its section.
    Section,
    /// To both ends of the keyboard.
    Row,
}

/// The notes that a sweep would take in. [`sweep_notes`] returns it; it has no default.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepNotes {
    /// From the first to the last note that is to do, less those measured as out between them.
    pub notes: SweptNotes,
    /// How many notes of the step it would settle, at least 2.
    pub count: usize,
}

/// Returns the notes that a sweep of the measure of an item would take in.
///
/// **Rule** (C): exceptions are measured first; the rest of a row is settled by one look. What is measured as out
/// stays an exception, also if its reading is taken back later. Returns `None` for a measure that is not taken of
/// each note, and if fewer than two notes are left, which is no row.
///
/// ```
/// use evenhand_core::analysis::sweep::{SweepReach, sweep_notes};
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let step = job.state().step("natural_dip").unwrap();
/// let item = &job.state().items(step)[0];
/// let sweep = sweep_notes(job.state(), step, item, SweepReach::Row).unwrap();
/// assert_eq!(sweep.count, 52);
/// assert_eq!(sweep.notes.from.name(), "A0");
/// ```
pub fn sweep_notes(
    state: &State,
    step: &Step,
    item: &Item,
    reach: SweepReach,
) -> Option<SweepNotes> {
    let by_note = |per| matches!(per, Per::Note | Per::Natural | Per::Sharp | Per::Damped);
    // A step on the sample measures; the notes between were not looked at.
    if !by_note(state.measure(item.measure.as_str())?.per) || !by_note(step.per) {
        return None;
    }
    let sections = state.sections();
    let section = sections.of(item.on.note()?);
    let is_near = |note: &Note| reach == SweepReach::Row || sections.of(*note) == section;
    let (mut to_do, mut out) = (Vec::new(), Vec::new());
    for near in state.items(step) {
        let note = near.on.note().filter(is_near);
        let Some(note) = note.filter(|_| near.measure == item.measure) else {
            continue;
        };
        match state.item_state(step, &near) {
            ItemState::Read(_, Some(j)) if j.verdict == Verdict::Out => out.push(note),
            ItemState::Read(..) | ItemState::Swept(_) => {}
            _ => to_do.push(note),
        }
    }
    let (from, to) = (*to_do.first()?, *to_do.last()?);
    out.retain(|note| from < *note && *note < to);
    (to_do.len() > 1).then_some(SweepNotes {
        notes: SweptNotes {
            from,
            to,
            except: out,
        },
        count: to_do.len(),
    })
}
