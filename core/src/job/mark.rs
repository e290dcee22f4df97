//! Marks: notes found out without a number, to come back to.

use super::{EntryId, LogPosition};
use crate::trade::Occasion;

/// A note that was found out by eye, by hand or by ear and not measured, as recorded in the log.
///
/// It has no default and no order. It holds until the note is measured or swept.
///
/// ```
/// use evenhand_core::job::{EntryKind, ItemState, Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
///
/// let (measure, on, place) = (MeasureId::of("blow"), Subject::Note(Note::FIRST), Place::Bench);
/// let kind = EntryKind::MarkedOut { measure, on, place, occasion: Occasion::Working, out: true };
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 1_000, kind));
/// let step = job.state().step("blow").unwrap();
/// let item = &job.state().items(step)[0];
/// let ItemState::MarkedOut(mark) = job.state().item_state(step, item) else { panic!() };
/// assert_eq!(mark.at_ms, 1_000);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// The position in the log.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// `AsFound` in the survey, `AsLeft` in the final check, otherwise `Working`.
    pub occasion: Occasion,
    /// `false` if it takes an earlier mark off.
    out: bool,
    alive: bool,
}

/// The marks of one measure of one subject at one place, in log order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Marks(Vec<Mark>);

impl Marks {
    /// Adds the newest mark.
    pub fn add(
        &mut self,
        (position, at_ms): (LogPosition, i64),
        occasion: Occasion,
        out: bool,
        alive: bool,
    ) {
        self.0.push(Mark {
            position,
            at_ms,
            occasion,
            out,
            alive,
        });
    }

    /// Takes a mark back, or restores it.
    pub fn set_alive(&mut self, id: EntryId, alive: bool) {
        if let Some(mark) = self.0.iter_mut().rfind(|m| m.position.id == id) {
            mark.alive = alive;
        }
    }

    /// Returns the latest mark of an occasion, or `None` if there is none or it was taken off.
    pub fn latest(&self, occasion: Occasion) -> Option<&Mark> {
        let mut marks = self.0.iter().rev();
        let latest = marks.find(|m| m.alive && m.occasion == occasion)?;
        latest.out.then_some(latest)
    }
}
