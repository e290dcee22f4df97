//! Sweeps: a row of notes looked along, or done in one stroke, less the exceptions by name.

use super::swept_notes::SweptNotes;
use super::{EntryId, LogPosition, Subject};
use crate::note::Note;
use crate::trade::{Occasion, Place};
use crate::unit::Length;

/// A sweep, as recorded in the log: its notes are on target, good or done by that look or stroke, and have no number. A note
/// that was turned and not measured again is one, too.
///
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{EntryKind, ItemState, Job, ReplicaId, SweptNotes};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
///
/// let notes = SweptNotes { from: Note::FIRST, to: Note::LAST, except: vec![] };
/// let (measure, place) = (MeasureId::of("blow"), Place::Bench);
/// let kind = EntryKind::Swept { measure, notes, place, occasion: Occasion::Working };
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 1_000, kind));
/// let step = job.state().step("blow").unwrap();
/// let item = &job.state().items(step)[0];
/// let ItemState::Swept(sweep) = job.state().item_state(step, item) else { panic!() };
/// assert_eq!((sweep.at_ms, sweep.place), (1_000, place));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// The position in the log.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// `AsFound` in the survey, `AsLeft` in the final check, otherwise `Working`.
    pub occasion: Occasion,
    /// On the bench or in the piano.
    pub place: Place,
    /// What its one note should read if it was turned and not measured again, because what the turn does is known
    /// there; `None` if the notes were looked along.
    pub expected: Option<Length>,
    /// A bit for each note: a sweep costs the same whatever a file claims.
    notes: u128,
    alive: bool,
}

impl Sweep {
    fn has(&self, on: Subject) -> bool {
        on.note().is_some_and(|note| self.notes & bit(note) != 0)
    }

    /// Returns `true` if its notes were looked along during the work or at its end.
    fn is_look(&self) -> bool {
        self.expected.is_none() && self.occasion != Occasion::AsFound
    }
}

fn bit(note: Note) -> u128 {
    1 << note.number()
}

/// The sweeps of one measure, in log order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Sweeps(Vec<Sweep>);

impl Sweeps {
    /// Adds the newest sweep.
    pub fn add(
        &mut self,
        (position, at_ms): (LogPosition, i64),
        notes: &SweptNotes,
        (place, occasion): (Place, Occasion),
        alive: bool,
    ) {
        self.0.push(Sweep {
            position,
            at_ms,
            occasion,
            place,
            expected: None,
            notes: notes.iter().fold(0, |bits, note| bits | bit(note)),
            alive,
        });
    }

    /// Adds the newest note that was turned and not measured again.
    pub fn add_turned(
        &mut self,
        (position, at_ms): (LogPosition, i64),
        (note, place): (Note, Place),
        expected: Length,
        alive: bool,
    ) {
        self.0.push(Sweep {
            position,
            at_ms,
            occasion: Occasion::Working,
            place,
            expected: Some(expected),
            notes: bit(note),
            alive,
        });
    }

    /// Takes a sweep back, or restores it.
    pub fn set_alive(&mut self, id: EntryId, alive: bool) {
        if let Some(sweep) = self.0.iter_mut().rfind(|s| s.position.id == id) {
            sweep.alive = alive;
        }
    }

    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    fn of(&self, on: Subject, place: Place) -> impl DoubleEndedIterator<Item = &Sweep> {
        let is_meant = move |s: &&Sweep| s.alive && s.place == place && s.has(on);
        self.0.iter().filter(is_meant)
    }

    /// Returns the latest sweep of an occasion over a subject at a place, or `None` if there is none.
    pub fn latest(&self, on: Subject, place: Place, occasion: Occasion) -> Option<&Sweep> {
        let mut sweeps = self.of(on, place).rev();
        sweeps.find(|s| s.occasion == occasion)
    }

    /// Returns the position of the last sweep, also of one that was taken back, or `None` if there is none.
    pub fn newest(&self) -> Option<LogPosition> {
        self.0.last().map(|s| s.position)
    }

    /// Returns the latest look along a row over a subject at a place, during the work or at its end, or `None` if there
    /// is none.
    pub fn latest_look(&self, on: Subject, place: Place) -> Option<LogPosition> {
        let mut sweeps = self.of(on, place).rev();
        sweeps.find(|s| s.is_look()).map(|s| s.position)
    }

    /// Returns [`Sweeps::latest_look`] of each note, in one pass over the sweeps.
    pub fn latest_looks(&self, place: Place) -> Vec<Option<LogPosition>> {
        let mut latest = vec![None; Note::COUNT];
        let looks = self.0.iter();
        for look in looks.filter(|s| s.alive && s.place == place && s.is_look()) {
            for note in Note::all().filter(|note| look.notes & bit(*note) != 0) {
                latest[note.index()] = Some(look.position);
            }
        }
        latest
    }

    /// Returns the first sweep at any place that is not as found, or `None` if there is none.
    pub fn first(&self) -> Option<LogPosition> {
        let mut sweeps = self.0.iter();
        let first = sweeps.find(|s| s.alive && s.occasion != Occasion::AsFound);
        first.map(|s| s.position)
    }

    /// Returns the latest stroke over a subject at a place before a position, or until now for `None`; nothing if there
    /// is none. Of parts that are ticked off a stroke is work; a look is none.
    pub fn latest_stroke(
        &self,
        on: Subject,
        place: Place,
        before: Option<LogPosition>,
    ) -> Option<LogPosition> {
        let mut sweeps = self.of(on, place).rev();
        let is_meant = |s: &&Sweep| {
            s.occasion != Occasion::AsFound && before.is_none_or(|before| s.position < before)
        };
        sweeps.find(is_meant).map(|s| s.position)
    }
}
