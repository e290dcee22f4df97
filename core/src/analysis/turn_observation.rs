//! The effect of turns on readings: pairs of readings before and after a turn, from the log.

use crate::job::{LogPosition, MeasureState, State, Subject};
use crate::note::{Note, Sections};
use crate::trade::{Occasion, Place};
use crate::unit::{Turns, Value};

/// Largest number of latest turns of one note that are searched at each place. A few are enough to
/// know a note, and the limit keeps a tap fast in any file.
const MAX_TURNS: usize = 8;

/// Largest number of latest readings of a note that are searched for turns.
const MAX_READINGS: usize = 64;

/// A turn with the reading in effect before it and the one taken after it. It has no default.
///
/// ```
/// use evenhand_core::analysis::turn_observation::turns_of_note;
/// use evenhand_core::job::{Correction, EntryKind, Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Turns, Value};
///
/// let (phone, blow, on) = (ReplicaId::new(7), MeasureId::of("blow"), Subject::Note(Note::FIRST));
/// let mut job = Job::new();
/// for (turned, hundredths) in [(None, 4600), (Some(-8), 4500)] {
///     if let Some(turned) = turned {
///         let made = Correction::Turned(Turns::from_64ths(turned));
///         let kind = EntryKind::Correction { measure: blow.clone(), on, place: Place::Bench, made };
///         job.apply(job.draft(phone, 0, kind));
///     }
///     let value = Value::Nm(Length::from_mm_hundredths(hundredths));
///     job.apply(job.reading(phone, 0, blow.clone(), on, Place::Bench, Occasion::Working, value, ""));
/// }
/// let seen = turns_of_note(job.state(), "blow", Note::FIRST);
/// assert_eq!(seen[0].turned, Turns::from_64ths(-8));
/// assert_eq!(seen[0].after, Value::Nm(Length::from_mm_hundredths(4500)));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnObservation {
    /// The note.
    pub note: Note,
    /// The reading before.
    pub before: Value,
    /// Its position in the order of the log.
    pub before_at: LogPosition,
    /// The sum of all turns between the two readings; never 0.
    pub turned: Turns,
    /// The reading after, of the same kind.
    pub after: Value,
    /// The position of the reading after in the order of the log.
    pub position: LogPosition,
}

/// Returns the latest turns of the adjuster of one note at either place, each with the readings
/// before and after, the latest first.
///
/// Turns between two readings add up; undone ones do not count. The reading before is one of the
/// work, not one as found, since the work between the two is unknown; the reading after may be of
/// any occasion and from any phone. A pair is skipped if work between its readings moves the
/// reading as well, or if something was bent or a punching changed: it does not show the effect of
/// the turn alone.
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
    all.sort_unstable_by_key(|turn| std::cmp::Reverse(turn.position));
    all
}

/// Returns the latest turns of all notes, at most `max` per section, the latest first.
///
/// Other work between the readings is checked for only as many pairs as are returned, so that the
/// cost does not grow with the job.
pub fn latest_turns(state: &State, measure: &str, max: usize) -> Vec<TurnObservation> {
    /// Turns of each note that are searched at each place; few, since a section has many notes.
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
    all.sort_unstable_by_key(|(.., turn)| std::cmp::Reverse(turn.position));
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

/// Returns the pairs of readings of one measure, note and place between which there were turns and
/// no other correction, the latest first, each with the position of the reading before.
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
            // No correction before this reading: there are no more pairs.
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
                        before_at: before.position,
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
