//! What turning a screw did to a reading: pairs of readings before and after, as the log has them.

use crate::job::{LogPosition, MeasureState, State, Subject};
use crate::note::{Note, Sections};
use crate::trade::{Occasion, Place};
use crate::unit::{Turns, Value};

/// Latest turns of one note that are searched, at each place: fewer are enough to know a note, and
/// the limit keeps a tap fast on any file.
const MAX_TURNS: usize = 8;

/// Latest readings of a note that are searched for turns.
const MAX_READINGS: usize = 64;

/// A turn with the reading that was in force before it and the one taken after it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnObservation {
    /// The note.
    pub note: Note,
    /// The reading before.
    pub before: Value,
    /// How far it was turned between them, all turns added up; never nothing.
    pub turned: Turns,
    /// The reading after.
    pub after: Value,
    /// When the reading after was taken, in the order of entries.
    pub position: LogPosition,
}

/// Returns the latest turns of one note's adjuster at either place, each with the readings before and
/// after, the latest first.
///
/// Turns made between two readings add up; those taken back do not count. The reading
/// before is one of the work and not one as found, since nobody told what happened between
/// that and the work; the reading after may be of any occasion and from any phone. Where
/// something else was worked on between the two that moves the reading as well, or
/// something was bent or papered, the pair says nothing of the turn and is passed over.
pub fn turns_of_note(state: &State, measure: &str, note: Note) -> Vec<TurnObservation> {
    let measure = state.looked(measure);
    let mut all = Vec::new();
    for place in [Place::Bench, Place::Piano] {
        if let Some(measure_state) = measure.measure_state(Subject::Note(note), place) {
            let pairs = in_slot(measure_state, note).take(MAX_TURNS);
            let clean = pairs
                .filter(|(from, turn)| !measure.moved_between(*from, turn.position, note, place));
            all.extend(clean.map(|(_, turn)| turn));
        }
    }
    all.sort_by_key(|turn| std::cmp::Reverse(turn.position));
    all
}

/// Returns the latest turns of all notes, at most `max` of each section, the latest first.
///
/// Whether a pair tells of the turn alone is only looked at for as many as are asked for, so that
/// the cost does not grow with the job.
pub fn latest_turns(state: &State, measure: &str, max: usize) -> Vec<TurnObservation> {
    /// Turns of each note that are searched, at each place: a section has many notes.
    const OF_A_NOTE: usize = 3;
    let measure = state.looked(measure);
    let mut all: Vec<(LogPosition, Place, TurnObservation)> = Vec::new();
    for note in Note::all() {
        for place in [Place::Bench, Place::Piano] {
            if let Some(measure_state) = measure.measure_state(Subject::Note(note), place) {
                let pairs = in_slot(measure_state, note).take(OF_A_NOTE);
                all.extend(pairs.map(|(from, turn)| (from, place, turn)));
            }
        }
    }
    all.sort_by_key(|(.., turn)| std::cmp::Reverse(turn.position));
    let mut counts = [0; Sections::MAX];
    let mut latest = Vec::new();
    for (from, place, turn) in all {
        let Some(count) = counts.get_mut(state.sections().of(turn.note)) else {
            continue;
        };
        if *count < max && !measure.moved_between(from, turn.position, turn.note, place) {
            *count += 1;
            latest.push(turn);
        }
    }
    latest
}

/// The pairs of readings of a slot between which it was turned and nothing else was done to it, the
/// latest first, each with the stamp of the reading before.
fn in_slot(
    measure_state: &MeasureState,
    note: Note,
) -> impl Iterator<Item = (LogPosition, TurnObservation)> {
    let mut changes = measure_state.changes().rev().peekable();
    let mut readings = measure_state.readings().rev().take(MAX_READINGS);
    let mut after = readings.next();
    std::iter::from_fn(move || {
        loop {
            let later = after?;
            // Not turned since this reading: nothing more is to be found.
            while changes.next_if(|c| later.position < c.position).is_some() {}
            changes.peek()?;
            let before = readings.next()?;
            after = Some(before);
            let mut turned = Some(0i64);
            while let Some(change) = changes.next_if(|c| before.position < c.position) {
                let one = change.turned().map(Turns::in_64ths);
                turned = turned.zip(one).map(|(sum, t)| sum.saturating_add(t));
            }
            let same_kind = before.value.kind() == later.value.kind();
            match turned {
                Some(turned)
                    if turned != 0 && same_kind && before.occasion != Occasion::AsFound =>
                {
                    let turn = TurnObservation {
                        note,
                        before: before.value,
                        turned: Turns::from_64ths(turned),
                        after: later.value,
                        position: later.position,
                    };
                    return Some((before.position, turn));
                }
                _ => {}
            }
        }
    })
}
