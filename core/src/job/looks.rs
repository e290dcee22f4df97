//! What to look at: readings that still hold, although later work may have moved them.

use super::verdict::latest_work;
use super::{MeasureState, State, Subject, reached_from};
use crate::trade::{MeasureId, Occasion, Place, Step, Strength};
use crate::unit::Kind;

/// Readings to look at after work on another measure ([`Strength::Look`]). Nothing is voided.
///
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Correction, EntryKind, Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (phone, on) = (ReplicaId::new(7), Subject::Note(Note::new(40)?));
/// let mut job = Job::new();
/// let drop = Value::Nm(Length::from_nm(2_000_000));
/// job.apply(job.reading(phone, 0, MeasureId::of("drop"), on, Place::Piano, Occasion::Working, drop, "2"));
/// assert!(job.state().looks().is_empty());
///
/// let (measure, made) = (MeasureId::of("spring"), Correction::ByEye);
/// job.apply(job.draft(phone, 1_000, EntryKind::Correction { measure, on, place: Place::Piano, made }));
/// let looks = job.state().looks();
/// assert_eq!(looks[0].sentence(job.state()), "Check drop on note 40: repetition spring changed since.");
/// assert_eq!(job.state().disturbed("drop", on, Place::Piano), None);
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Look {
    /// The measure to look at.
    pub measure: MeasureId,
    /// The notes, sections or whole to look at. After work on a section or the whole, these are the sample
    /// notes whose readings are older than the work.
    pub on: Vec<Subject>,
    /// `true` if the sample notes stand for all others.
    pub sample: bool,
    /// The measure whose work is the reason.
    pub work: MeasureId,
}

impl Look {
    /// Returns what to look at and why, as a sentence.
    pub fn sentence(&self, state: &State) -> String {
        let name = |id: &MeasureId| {
            let measure = state.measure(id.as_str());
            measure.map_or_else(|| id.to_string(), |m| m.name.to_lowercase())
        };
        let on = match (self.sample, self.on.as_slice()) {
            (true, _) => " on the sample notes".to_owned(),
            (false, [Subject::Note(note)]) => format!(" on note {}", note.number()),
            (false, [Subject::Section(section)]) => format!(" in section {}", section + 1),
            (false, [Subject::Whole]) => String::new(),
            (false, [Subject::Note(_), ..]) => format!(" on {} notes", self.on.len()),
            (false, _) => format!(" in {} sections", self.on.len()),
        };
        let measure = state.measure(self.work.as_str());
        let why = match measure.is_some_and(|m| m.kind == Kind::Tick) {
            true if self.is_again(state) => "again since",
            true => "since",
            false => "changed since",
        };
        format!(
            "Check {}{on}: {} {why}.",
            name(&self.measure),
            name(&self.work)
        )
    }

    /// Returns `true` if the work was ticked off before, too.
    fn is_again(&self, state: &State) -> bool {
        [Place::Bench, Place::Piano].iter().any(|place| {
            let done = state.measure_state(self.work.as_str(), Subject::Whole, *place);
            done.is_some_and(|s| s.readings().nth(1).is_some())
        })
    }
}

impl State {
    /// Returns what to look at where the action is now. A reading that is voided is not listed: it is
    /// re-measured anyway.
    pub fn looks(&self) -> Vec<Look> {
        let place = self.place();
        let mut looks = Vec::new();
        for id in self.recorded() {
            let looked = self.looked(id.as_str());
            let causes = looked.known.map_or(&[][..], |known| &known.causes);
            for cause in causes {
                let row = cause.row;
                let work = &self.measures[cause.work];
                if row.strength != Strength::Look || !cause.is_felt(place) || work.is_blank() {
                    continue;
                }
                let (mut on, mut sample) = (Vec::new(), false);
                for subject in Subject::all() {
                    let read = looked.measure_state(subject, place);
                    let read = read.and_then(MeasureState::in_effect).map(|r| r.position);
                    let swept = looked
                        .known
                        .and_then(|known| known.sweeps.latest(subject, place, Occasion::Working));
                    let Some(since) = read.max(swept.map(|s| s.position)) else {
                        continue;
                    };
                    let mut reaching = reached_from(subject, row.reach, self.sections());
                    let from = reaching.find(|from| match row.more_than {
                        None => {
                            latest_work(work, *from, place).is_some_and(|worked| worked > since)
                        }
                        Some(turns) => work
                            .measure_state(*from, place)
                            .is_some_and(|s| s.turned_between(since, None) > turns),
                    });
                    let Some(from) = from else { continue };
                    if let (Subject::Note(note), false) = (subject, from.note().is_some()) {
                        if !self.samples().contains(&note) {
                            continue;
                        }
                        sample = true;
                    }
                    if looked.disturbed_since(since, subject, place).is_none() {
                        on.push(subject);
                    }
                }
                if !on.is_empty() {
                    looks.push(Look {
                        measure: id.clone(),
                        on,
                        sample,
                        work: work.id.clone(),
                    });
                }
            }
        }
        looks
    }

    /// Returns what to look at in a step: it takes the measure where the action is now.
    pub fn looks_of(&self, step: &Step) -> Vec<Look> {
        let mut looks = self.looks();
        looks.retain(|look| self.is_looked_at_in(step, look));
        looks
    }

    /// Returns `true` if a step takes the measure of a look, where the action is now.
    pub(crate) fn is_looked_at_in(&self, step: &Step, look: &Look) -> bool {
        let here = step.place_or(self.place()) == self.place();
        step.occasion == Occasion::Working && here && step.takes.contains(&look.measure)
    }
}
