//! A movement of the hand, the reason for making none, and its wording.

use super::super::belief::NOT_AGAIN;
use super::super::punchings::Exchange;
use crate::job::{Correction, Item, Subject};
use crate::trade::{MeasureId, Place, Verdict};
use crate::unit::{LengthUnit, Turns};

/// What to do about one reading. It has no default; [`advice`](super::advice()) computes it.
///
/// ```
/// use evenhand_core::analysis::advice::advice;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place, Verdict};
/// use evenhand_core::unit::{Length, Value};
///
/// let mut job = Job::new();
/// let (note, let_off) = (Subject::Note(Note::FIRST), MeasureId::of("let_off"));
/// let read = Value::Nm(Length::from_mm_hundredths(200));
/// let entry = job.reading(ReplicaId::new(7), 0, let_off, note, Place::Bench, Occasion::Working, read, "2");
/// job.apply(entry);
/// // 2 mm is the aim, so there is no correction to enter.
/// let found = advice(job.state(), "let_off", note, Place::Bench).unwrap();
/// assert_eq!((found.off, found.verdict), (0, Verdict::OnTarget));
/// assert_eq!(found.made(), None);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// The measure that was read.
    pub measure: MeasureId,
    /// The measure that is moved: the same, or the length that is left to follow. A correction is
    /// entered on it.
    pub moves: MeasureId,
    /// The note, section or whole action.
    pub on: Subject,
    /// The place of the reading: at the piano or on the bench.
    pub place: Place,
    /// Reading minus aim, in the stored unit of the measure.
    pub off: i64,
    /// Whether the reading is on target, acceptable or out.
    pub verdict: Verdict,
    /// The movement.
    pub movement: Movement,
    /// The readings that hold now at this place and must be re-measured after the movement.
    pub disturbs: Vec<Item>,
}

/// A movement of the hand, or the reason why there is none. It has no default.
///
/// Values and expected values are in the stored unit of the measure that is moved.
///
/// ```
/// use evenhand_core::analysis::advice::{Missing, Movement};
///
/// let movement = Movement::Missing(Missing::NaturalKey);
/// assert!(matches!(&movement, Movement::Missing(what) if what.name().contains("natural key")));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub enum Movement {
    /// No movement.
    Leave(LeaveReason),
    /// A turn of a screw, capstan or button.
    Turn {
        /// The part to turn.
        part: &'static str,
        /// The direction in words, such as `up`.
        direction: &'static str,
        /// The amount; positive for a larger reading, as [`Correction::Turned`].
        turns: Turns,
        /// The expected reading of the measure that is moved.
        expected: i64,
        /// The standard deviation of the expected reading.
        give_or_take: i64,
        /// Whether the response is too uncertain to aim: this turn is made to learn it.
        trial: bool,
    },
    /// A change of punchings.
    Punchings {
        /// The punchings to take out and to put in.
        exchange: Exchange,
        /// The expected reading of the measure that is moved.
        expected: i64,
    },
    /// Bending, easing or setting by eye.
    ByEye {
        /// The part to bend or set.
        part: &'static str,
        /// The direction in words.
        direction: &'static str,
    },
    /// The reading no longer holds: re-measure first.
    Remeasure {
        /// The later work that disturbed it.
        work: MeasureId,
    },
    /// A fact about the instrument is needed first.
    Missing(Missing),
}

/// Why a reading is left as it is. There is no default.
///
/// ```
/// use evenhand_core::analysis::advice::{LeaveReason, Movement, advice};
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (on, place) = (Subject::Note(Note::FIRST), Place::Bench);
/// let mut job = Job::new();
/// let (let_off, read) = (MeasureId::of("let_off"), Value::Nm(Length::from_mm_hundredths(200)));
/// job.apply(job.reading(ReplicaId::new(7), 0, let_off, on, place, Occasion::Working, read, "2"));
/// let found = advice(job.state(), "let_off", on, place).unwrap();
/// assert_eq!(found.movement, Movement::Leave(LeaveReason::OnTarget));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LeaveReason {
    /// It is on target.
    OnTarget,
    /// The change is finer than the hand can make, or than the punchings at hand allow.
    TooFine,
    /// It was turned, and is not measured again because what the turn does is known well there.
    Known,
    /// It is the length that is left to follow: aftertouch follows from dip and blow; a dip or blow
    /// follows from the aftertouch once that is read.
    Follows,
}

/// A fact that is needed before a movement can be computed. There is no default.
///
/// ```
/// use evenhand_core::analysis::advice::{Missing, Movement, advice};
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (on, place) = (Subject::Note(Note::FIRST), Place::Bench);
/// let mut job = Job::new();
/// let (dip, read) = (MeasureId::of("natural_dip"), Value::Nm(Length::from_mm_hundredths(900)));
/// job.apply(job.reading(ReplicaId::new(7), 0, dip, on, place, Occasion::Working, read, "9"));
/// // The lever says how far a punching changes the dip.
/// let found = advice(job.state(), "natural_dip", on, place).unwrap();
/// assert_eq!(found.movement, Movement::Missing(Missing::NaturalKey));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Missing {
    /// The lever lengths of a natural key ([`Setup::natural_key`](crate::job::Setup::natural_key)).
    NaturalKey,
    /// The lever lengths of a sharp key ([`Setup::sharp_key`](crate::job::Setup::sharp_key)).
    SharpKey,
    /// The thicknesses of the punchings at hand
    /// ([`Setup::punchings_nm`](crate::job::Setup::punchings_nm)).
    Punchings,
    /// The length that is left to follow ([`Setup::following`](crate::job::Setup::following)).
    FollowingLength,
    /// The aftertouch of this note.
    Aftertouch,
}

impl Missing {
    /// Returns what to ask for, as words within a sentence.
    pub const fn name(self) -> &'static str {
        match self {
            Missing::NaturalKey => "the lever lengths of a natural key",
            Missing::SharpKey => "the lever lengths of a sharp key",
            Missing::Punchings => "the punchings at hand",
            Missing::FollowingLength => "which length is left to follow",
            Missing::Aftertouch => "the aftertouch of this note",
        }
    }
}

impl Advice {
    /// Returns `true` if it is a turn of at most 1/32 for a reading that is in tolerance, which no list needs to name (C).
    pub fn is_fine_tuning(&self) -> bool {
        const FINE_64THS: u64 = 2;
        let Movement::Turn { turns, trial, .. } = &self.movement else {
            return false;
        };
        self.verdict != Verdict::Out && !trial && turns.in_64ths().unsigned_abs() <= FINE_64THS
    }

    /// Returns the movement in the words of the trade: `button down 1/8`, `take out 0.005, put in
    /// 0.010 in`, `leave it`. Punchings are shown in `unit`.
    pub fn words(&self, unit: LengthUnit) -> String {
        match &self.movement {
            Movement::Leave(LeaveReason::OnTarget) => "leave it".to_owned(),
            Movement::Leave(LeaveReason::TooFine) => "leave it: no hand can do it finer".to_owned(),
            Movement::Leave(LeaveReason::Known) => NOT_AGAIN.to_owned(),
            Movement::Leave(LeaveReason::Follows) => match self.measure.as_str() {
                "aftertouch" => "leave it, it follows from dip and blow".to_owned(),
                _ => "leave it, it follows from the aftertouch".to_owned(),
            },
            Movement::Turn {
                part,
                direction,
                turns,
                trial,
                ..
            } => {
                let turns = if turns.in_64ths() < 0 {
                    -*turns
                } else {
                    *turns
                };
                let then = if *trial { ", then read" } else { "" };
                format!("{part} {direction} {turns}{then}")
            }
            Movement::Punchings { exchange, .. } => exchange.words(unit),
            Movement::ByEye { part, direction } => format!("{part} {direction}"),
            Movement::Remeasure { .. } => "re-measure it first".to_owned(),
            Movement::Missing(what) => format!("needs {}", what.name()),
        }
    }

    /// Returns the correction to enter on [`Advice::moves`] once the movement is made as advised,
    /// or `None` if there is no movement.
    pub fn made(&self) -> Option<Correction> {
        match &self.movement {
            Movement::Turn { turns, .. } => Some(Correction::Turned(*turns)),
            Movement::Punchings { exchange, .. } => {
                let out = exchange.take_out.iter().map(|punching| -*punching);
                let put_in = exchange.put_in.punchings.iter().copied();
                Some(Correction::Punchings(out.chain(put_in).collect()))
            }
            Movement::ByEye { .. } => Some(Correction::ByEye),
            Movement::Leave(_) | Movement::Remeasure { .. } | Movement::Missing(_) => None,
        }
    }
}
