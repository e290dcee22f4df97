//! The share of the notes of a step that need its work, and what tells it.

use super::super::decisions::Graded;
use super::super::survey::{Share, Wear, share_out};
use crate::job::{State, Subject};
use crate::note::Note;
use crate::trade::{Decision, Part, Stage, Step, Strength, Verdict, causes_of};
use crate::unit::Kind;

/// The evidence for the hours of one step: at most 88 notes. There is no default.
///
/// ```
/// use evenhand_core::analysis::estimate::{Basis, estimate};
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let mut job = Job::new();
/// let basis = |job: &Job| {
///     let lines = estimate(job).lines;
///     lines.iter().find(|line| line.step.id.as_str() == "let_off").unwrap().basis
/// };
/// assert_eq!(basis(&job), Basis::Whole);
/// let (let_off, on) = (MeasureId::of("let_off"), Subject::Note(Note::FIRST));
/// let read = Value::Nm(Length::from_mm_hundredths(400));
/// job.apply(job.reading(ReplicaId::new(7), 0, let_off, on, Place::Piano, Occasion::AsFound, read, "4"));
/// // The sample would count, but the hammers are shaped in this job.
/// assert_eq!(basis(&job), Basis::Disturbed { by: "hammers_shaped", notes: 88 });
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// The sample notes.
    Sampled {
        /// Notes out of tolerance in one of the readings of the step.
        out: u32,
        /// Notes measured.
        read: u32,
    },
    /// The wear grades.
    Graded {
        /// Notes in sections graded worn or worn out.
        notes: u32,
    },
    /// What is decided for the part.
    Decided {
        /// Notes in sections for which the work is decided, or graded so where nothing is decided.
        notes: u32,
    },
    /// Other work of this job, which moves it whatever the sample found.
    Disturbed {
        /// The measure that is worked on.
        by: &'static str,
        /// Notes worked on.
        notes: u32,
    },
    /// All notes: the survey does not limit it.
    Whole,
}

impl Basis {
    /// Returns the evidence in a few words: `4 of 10 out`.
    pub fn words(self, state: &State) -> String {
        match self {
            Basis::Sampled { out, read } => format!("{out} of {read} out"),
            Basis::Graded { notes } => format!("wear on {notes} notes"),
            Basis::Decided { notes } => format!("decided for {notes} notes"),
            Basis::Disturbed { by, notes } => {
                let work = state.measure(by).map_or(by, |m| m.name.as_ref());
                let on = match notes as usize {
                    Note::COUNT => "all".to_owned(),
                    _ => format!("{notes} notes"),
                };
                format!("{on}, after {}", work.to_lowercase())
            }
            Basis::Whole => "all of it".to_owned(),
        }
    }
}

/// Returns the notes of a step, rising.
pub(super) fn notes_of(state: &State, step: &Step) -> Vec<Note> {
    let items = state.items(step);
    let mut notes: Vec<Note> = items.iter().filter_map(|i| i.on.note()).collect();
    notes.sort_unstable();
    notes.dedup();
    notes
}

/// Returns whether the survey measured something of a step on a note, and whether any of it was out.
pub(super) fn found(state: &State, step: &Step, note: Note) -> (bool, bool) {
    let on = Subject::Note(note);
    let verdicts = step.takes.iter().filter_map(|m| {
        let id = m.as_str();
        match state.surveyed(id, on) {
            Some(reading) => Some(state.judge(id, on, reading.value)?.verdict),
            None => state.is_swept_found(id, on).then_some(Verdict::OnTarget),
        }
    });
    verdicts.fold((false, false), |(_, out), v| {
        (true, out || v == Verdict::Out)
    })
}

/// Returns the share of notes that a step renews or treats a part on, or `None` if it does neither, or the survey has not
/// graded every section.
fn of_part(state: &State, step: &Step, graded: &[Graded]) -> Option<(Share, Basis)> {
    let takes = |id: &str| step.takes.iter().any(|m| m.as_str() == id);
    let renews = |part: &Part| takes(part.renewal());
    let treats = |part: &Part| part.treatments().iter().any(|id| takes(id));
    let part = Part::ALL.into_iter().find(|p| renews(p) || treats(p))?;
    let of: Vec<&Graded> = graded.iter().filter(|g| g.part == part).collect();
    let renews = renews(&part);
    // Pins are measured and cauls drawn for new bushings too.
    let also_renewed = || {
        let mut measures = step
            .takes
            .iter()
            .filter_map(|id| state.measure(id.as_str()));
        measures.all(|m| m.taken.is_none())
    };
    let is_called = |g: &Graded| match (renews, g.decision) {
        (true, decision) => decision == Some(Decision::Renew),
        (false, Some(Decision::Recondition)) => true,
        (false, Some(Decision::Renew)) => also_renewed(),
        (false, Some(Decision::Leave)) => false,
        (false, None) => g.wear.is_some_and(|wear| wear != Wear::Sound),
    };
    // A section without a grade is not known to be sound.
    if !renews && of.len() < state.sections().count() {
        return None;
    }
    let sections = state.sections();
    let called = |n: &Note| {
        of.iter()
            .any(|g| g.section == sections.of(*n) && is_called(g))
    };
    let notes = Note::all().filter(called).count() as u32;
    let part = f64::from(notes) / Note::COUNT as f64;
    let share = Share {
        low: part,
        likely: part,
        high: part,
    };
    let basis = match of.iter().any(|g| g.decision.is_some()) {
        true => Basis::Decided { notes },
        false => Basis::Graded { notes },
    };
    Some((share, basis))
}

pub(super) fn share_of(state: &State, step: &Step, graded: &[Graded]) -> (Share, Basis) {
    if let Some(of_part) = of_part(state, step, graded) {
        return of_part;
    }
    if step.stage == Stage::Regulate {
        let notes = notes_of(state, step);
        let (mut out, mut read) = (0, 0);
        for note in &notes {
            let (is_read, is_out) = found(state, step, *note);
            read += u32::from(is_read);
            out += u32::from(is_out);
        }
        if let Ok(share) = share_out(out, read, notes.len() as u32) {
            return (share, Basis::Sampled { out, read });
        }
    }
    (Share::WHOLE, Basis::Whole)
}

/// Returns the share of a sampled step, raised to that of the work before regulation that voids what
/// the step takes: after it, what the sample found no longer tells which notes are out.
pub(super) fn raised(
    state: &State,
    (share, basis): (Share, Basis),
    step: &Step,
    all: &[(&Step, (Share, Basis))],
) -> (Share, Basis) {
    if !matches!(basis, Basis::Sampled { .. }) {
        return (share, basis);
    }
    let rows = step.takes.iter().flat_map(|m| causes_of(m.as_str()));
    let works = rows
        .filter(|row| row.strength == Strength::Voids)
        .filter_map(|row| {
            let is_it = |s: &Step| {
                s.stage < Stage::Regulate && s.takes.iter().any(|m| m.as_str() == row.work)
            };
            let (_, (share, basis)) = all.iter().find(|(s, _)| is_it(s))?;
            let kind = state.measure(row.work)?.kind;
            let is_work = matches!(kind, Kind::Tick | Kind::Good);
            let graded = matches!(basis, Basis::Graded { .. } | Basis::Decided { .. });
            (is_work || graded).then_some((share.likely, row.work))
        });
    // Of equal shares the first in the table.
    match works.min_by(|a, b| b.0.total_cmp(&a.0)) {
        Some((worked, by)) if worked > share.low => (
            Share {
                low: worked,
                likely: worked.max(share.likely),
                high: worked.max(share.high),
            },
            Basis::Disturbed {
                by,
                notes: (worked * Note::COUNT as f64).round() as u32,
            },
        ),
        _ => (share, basis),
    }
}
