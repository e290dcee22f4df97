use super::verdict::Looked;
use super::{Slot, Stamp, State, Subject};
use crate::note::Note;
use crate::trade::{Occasion, Place};
use crate::unit::{Turns, Value};

/// So many of the latest turns of one note are looked at, at each place: what a note does
/// is known after fewer, and no file can make a tap slow.
const LOOKED_BACK: usize = 8;

/// So many of the latest readings of a note are looked at for them.
const MOST_READINGS: usize = 64;

/// A turn with the reading that was in force before it and the one taken after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tried {
    /// The note.
    pub note: Note,
    /// The reading before.
    pub before: Value,
    /// How far it was turned between them, all turns added up; never nothing.
    pub turned: Turns,
    /// The reading after.
    pub after: Value,
    /// When the reading after was taken, in the order of entries.
    pub stamp: Stamp,
}

impl State {
    /// What turning did to a measure of a note: its latest turns at either place, each
    /// with the readings before and after, the latest first.
    ///
    /// Turns made between two readings add up; those taken back do not count. The reading
    /// before is one of the work and not one as found, since nobody told what happened between
    /// that and the work; the reading after may be of any occasion and from any phone. Where
    /// something else was worked on between the two that moves the reading as well, or
    /// something was bent or papered, the pair says nothing of the turn and is passed over.
    pub fn tried(&self, measure: &str, note: Note) -> Vec<Tried> {
        let mut all = Vec::new();
        self.looked(measure).tried(note, &mut all);
        all.sort_by_key(|t| std::cmp::Reverse(t.stamp));
        all
    }

    /// The same of all notes: the latest turns, so many of each section, the latest first.
    ///
    /// Whether a pair tells of the turn alone is only looked at for as many as are asked for, so that
    /// the cost does not grow with the job.
    pub fn tried_lately(&self, measure: &str, most: usize) -> Vec<Tried> {
        /// So many of each note, at each place: a section has many notes.
        const OF_A_NOTE: usize = 3;
        let looked = self.looked(measure);
        let mut all: Vec<(Stamp, Place, Tried)> = Vec::new();
        for note in Note::all() {
            for place in [Place::Bench, Place::Piano] {
                if let Some(slot) = looked.slot(Subject::Note(note), place) {
                    let pairs = in_slot(slot, note).take(OF_A_NOTE);
                    all.extend(pairs.map(|(from, tried)| (from, place, tried)));
                }
            }
        }
        all.sort_by_key(|(.., t)| std::cmp::Reverse(t.stamp));
        let mut counts = [0; crate::note::Sections::MOST];
        let mut lately = Vec::new();
        for (from, place, tried) in all {
            let Some(count) = counts.get_mut(self.sections().of(tried.note)) else {
                continue;
            };
            if *count < most && !looked.moved_between(from, tried.stamp, tried.note, place) {
                *count += 1;
                lately.push(tried);
            }
        }
        lately
    }
}

impl<'a> Looked<'a> {
    fn tried(&self, note: Note, all: &mut Vec<Tried>) {
        for place in [Place::Bench, Place::Piano] {
            if let Some(slot) = self.slot(Subject::Note(note), place) {
                let pairs = in_slot(slot, note).take(LOOKED_BACK);
                all.extend(pairs.filter_map(|(from, tried)| {
                    let clean = !self.moved_between(from, tried.stamp, note, place);
                    clean.then_some(tried)
                }));
            }
        }
    }

    /// Whether something other than this note's own adjuster at this place was worked on between two readings of it.
    fn moved_between(&self, from: Stamp, to: Stamp, note: Note, place: Place) -> bool {
        let Some(known) = self.known else {
            return false;
        };
        let on = Subject::Note(note);
        let felt: &[Place] = match place {
            Place::Bench => &[Place::Bench],
            Place::Piano => &[Place::Bench, Place::Piano],
        };
        let worked = |work: &'a super::known::Known, from_on: Subject, at: Place| {
            work.slot(from_on, at)
                .is_some_and(|slot| slot.worked_between(from, to))
        };
        let others = known.causes.iter();
        let others = others.filter(|row| !row.piano_only || place == Place::Piano);
        let mut others = others.flat_map(|row| {
            let work = &self.state.measures[row.work];
            let reaching = self.reaching(on, row.reach).into_iter().flatten();
            reaching.flat_map(move |from_on| felt.iter().map(move |at| (work, from_on, *at)))
        });
        let reaching = self.reaching(on, crate::trade::Reach::Note);
        let mut own = reaching
            .into_iter()
            .flatten()
            .flat_map(|from_on| felt.iter().map(move |at| (from_on, *at)))
            .filter(|own| *own != (on, place));
        own.any(|(from_on, at)| worked(known, from_on, at))
            || others.any(|(work, from_on, at)| worked(work, from_on, at))
    }
}

/// The pairs of readings of a slot between which it was turned and nothing else was done to it, the
/// latest first, each with the stamp of the reading before.
fn in_slot(slot: &Slot, note: Note) -> impl Iterator<Item = (Stamp, Tried)> {
    let mut changes = slot.changes().rev().peekable();
    let mut readings = slot.readings().rev().take(MOST_READINGS);
    let mut after = readings.next();
    std::iter::from_fn(move || {
        loop {
            let later = after?;
            // Not turned since this reading: nothing more is to be found.
            while changes.next_if(|c| later.stamp < c.stamp).is_some() {}
            changes.peek()?;
            let before = readings.next()?;
            after = Some(before);
            let mut turned = Some(0i64);
            while let Some(change) = changes.next_if(|c| before.stamp < c.stamp) {
                let one = change.turned().map(Turns::in_64ths);
                turned = turned.zip(one).map(|(sum, t)| sum.saturating_add(t));
            }
            let same_kind = before.value.kind() == later.value.kind();
            match turned {
                Some(turned)
                    if turned != 0 && same_kind && before.occasion != Occasion::AsFound =>
                {
                    let tried = Tried {
                        note,
                        before: before.value,
                        turned: Turns::from_64ths(turned),
                        after: later.value,
                        stamp: later.stamp,
                    };
                    return Some((before.stamp, tried));
                }
                _ => {}
            }
        }
    })
}
