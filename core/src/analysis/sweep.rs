//! What one stroke along the row can take in: the notes of a section, or of the whole row, that are still to do.

use crate::job::{Item, ItemState, State, Subject, SweptNotes};
use crate::note::Note;
use crate::trade::{Measure, Occasion, Per, Step, Verdict};

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
    /// From one note to another, both included, whichever is the lower.
    Range(Note, Note),
}

/// The notes that a sweep would take in. [`sweep_notes`] returns it; it has no default.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepNotes {
    /// From the first to the last note that is to do, less those between them that are out, measured or not.
    pub notes: SweptNotes,
    /// How many notes of the step it would settle: at least 2, and at least 1 of a range.
    pub count: usize,
}

/// Returns the notes that a sweep of the measure of an item would take in.
///
/// **Rule** (C): exceptions are measured or marked first; the rest of a row is settled by one look. What is measured or
/// marked as out stays an exception, also if its reading is taken back later. In a step on the sample the sample notes
/// alone are meant, and only of what has a target or no number: the notes between were not looked at. Returns `None` for
/// a measure that is not taken of each note, for down and up weight, which give the friction by their numbers alone, and
/// if fewer than two notes are left, which is no row.
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
    let measure = state.measure(item.measure.as_str())?;
    let is_sample = step.per == Per::Sample;
    let is_meant = match is_sample {
        true => is_judged(state, measure, item.on) && reach != SweepReach::Section,
        false => is_by_note(step.per),
    };
    if !is_by_note(measure.per) || !is_meant {
        return None;
    }
    let sections = state.sections();
    let section = sections.of(item.on.note()?);
    let is_near = |note: &Note| match reach {
        SweepReach::Section => sections.of(*note) == section,
        SweepReach::Row => true,
        SweepReach::Range(one, other) => (one.min(other)..=one.max(other)).contains(note),
    };
    let (mut to_do, mut out) = (Vec::new(), Vec::new());
    for near in state.items(step) {
        let note = near.on.note().filter(is_near);
        let Some(note) = note.filter(|_| near.measure == item.measure) else {
            continue;
        };
        match state.item_state(step, &near) {
            ItemState::Read(_, Some(j)) if j.verdict == Verdict::Out => out.push(note),
            ItemState::MarkedOut(_) => out.push(note),
            ItemState::Read(..) | ItemState::Swept(_) => {}
            _ => to_do.push(note),
        }
    }
    let fewest = if let SweepReach::Range(..) = reach {
        1
    } else {
        2
    };
    if is_sample {
        out = Note::all().filter(|note| !to_do.contains(note)).collect();
    }
    row_of(&to_do, out).filter(|sweep| sweep.count >= fewest)
}

/// Returns `true` if a look or a gauge can say of a note that it is right: it is no number, or has a target. Weights are
/// numbers in pairs.
fn is_judged(state: &State, measure: &Measure, on: Subject) -> bool {
    let id = measure.id.as_str();
    let is_weight = matches!(id, "down_weight" | "up_weight");
    !is_weight && (!measure.kind.is_number() || state.band(id, on).is_some())
}

/// Returns `true` for let-off and aftertouch, which want a gauge also where a whole row is looked along: what is close to
/// the string or under the finger is not seen by eye (C).
///
/// ```
/// use evenhand_core::analysis::sweep::wants_gauge;
///
/// assert!(wants_gauge("let_off") && !wants_gauge("blow"));
/// ```
pub fn wants_gauge(measure: &str) -> bool {
    matches!(measure, "let_off" | "aftertouch")
}

fn is_by_note(per: Per) -> bool {
    matches!(per, Per::Note | Per::Natural | Per::Sharp | Per::Damped)
}

/// Returns the sweep from the first to the last of these notes, less what is not meant between them.
pub(super) fn row_of(to_do: &[Note], mut except: Vec<Note>) -> Option<SweepNotes> {
    let (from, to) = (*to_do.first()?, *to_do.last()?);
    except.retain(|note| from < *note && *note < to);
    except.sort_unstable();
    Some(SweepNotes {
        notes: SweptNotes { from, to, except },
        count: to_do.len(),
    })
}

/// What the samples of a step say of the notes between them. [`beyond_samples`] returns it; it has no default.
#[derive(Clone, Debug, PartialEq)]
pub struct BeyondSamples {
    /// The notes that the samples point to, from the bass up: those on both sides of a sample that is out, up to the
    /// next sample that is not.
    pub pointed_to: Vec<Item>,
    /// For each measure of the step the notes between good samples, which a trial by hand can settle.
    pub rest: Vec<(Item, SweepNotes)>,
}

/// Returns what the samples of a step of the work say of the notes between them. `None` if the step is not on the
/// sample, if a sample is not measured yet, and if no other note is left.
///
/// **Rule** (C): samples first, then the exceptions: where a sample is out its neighbors are measured, and where the
/// samples on both sides are in tolerance the notes between are tried by hand.
///
/// ```
/// use evenhand_core::analysis::sweep::beyond_samples;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let step = job.state().step("weights").unwrap();
/// assert_eq!(beyond_samples(job.state(), step), None, "no sample is measured yet");
/// ```
pub fn beyond_samples(state: &State, step: &Step) -> Option<BeyondSamples> {
    if step.per != Per::Sample || step.occasion != Occasion::Working {
        return None;
    }
    let items = state.items(step);
    let mut beyond = BeyondSamples {
        pointed_to: Vec::new(),
        rest: Vec::new(),
    };
    for id in &step.takes {
        let measure = state.measure(id.as_str()).filter(|m| is_by_note(m.per));
        let Some(measure) = measure else { continue };
        let mut known: Vec<(Note, bool)> = Vec::new();
        for item in items.iter().filter(|i| i.measure == *id) {
            let item_state = state.item_state(step, item);
            let is_marked = matches!(item_state, ItemState::MarkedOut(_));
            if !is_marked && !item_state.is_valid() {
                return None;
            }
            let note = item.on.note()?;
            known.push((note, is_marked || item_state.is_out()));
        }
        let is_known = |note: Note| known.iter().any(|k| k.0 == note);
        let left = Note::all().filter(|note| measure.per.includes(*note) && !is_known(*note));
        // Of each note between two samples: whether one of them is out.
        let near_out = |note: &Note| {
            let below = known.iter().rev().find(|k| k.0 < *note);
            let above = known.iter().find(|k| k.0 > *note);
            below.into_iter().chain(above).any(|k| k.1)
        };
        let (pointed, rest): (Vec<Note>, Vec<Note>) = left.partition(near_out);
        let item = |note| Item {
            measure: id.clone(),
            on: Subject::Note(note),
        };
        let known = known.iter().map(|k| k.0);
        let except = known.chain(pointed.iter().copied()).collect();
        if let Some(sweep) = row_of(&rest, except) {
            beyond.rest.push((item(sweep.notes.from), sweep));
        }
        beyond.pointed_to.extend(pointed.into_iter().map(item));
    }
    (!beyond.pointed_to.is_empty() || !beyond.rest.is_empty()).then_some(beyond)
}
