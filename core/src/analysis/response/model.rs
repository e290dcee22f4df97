//! Trials, what is known before them, and the response that is learned.

use super::super::{SumError, positive};
use crate::unit::{Length, Turns};

/// A reading before and after a turn of the same note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trial {
    /// How far it was turned, positive for a larger reading.
    pub turned: Turns,
    /// The reading before.
    pub before: Length,
    /// The reading after.
    pub after: Length,
}

impl Trial {
    pub(super) fn point(&self) -> (f64, f64) {
        (self.turned.turns(), (self.after - self.before).mm())
    }
}

/// How much readings and notes scatter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// The standard deviation of one reading; 0.1 mm is usual (M).
    pub reading: Length,
    /// By how much the response differs from note to note, as a fraction; 0.08 is usual (M).
    pub notes: f64,
}

impl Default for Scatter {
    fn default() -> Scatter {
        Scatter {
            reading: Length::from_nm(100_000),
            notes: 0.08,
        }
    }
}

impl Scatter {
    /// The standard deviation of a difference of two readings, in mm; never quite zero.
    pub(super) fn of_change(&self) -> f64 {
        self.reading.mm().abs().max(1e-3) * std::f64::consts::SQRT_2
    }

    /// The fraction by which notes differ, made harmless.
    pub(super) fn between_notes(&self) -> f64 {
        if self.notes.is_finite() {
            self.notes.clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// What is known of a response before any reading is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Millimeters of reading for one turn.
    pub mm_per_turn: f64,
    /// How far that may be off: a standard deviation, in mm per turn.
    pub spread: f64,
}

/// How far a rough default may be off, as a fraction (M).
const ROUGH: f64 = 0.35;

impl Prior {
    /// A default from lever lengths and thread pitch: off by a third, as likely as not (M).
    pub const fn rough(mm_per_turn: f64) -> Prior {
        Prior {
            mm_per_turn,
            spread: mm_per_turn * ROUGH,
        }
    }

    /// From a deliberate trial on one note of this instrument, which says of the other notes
    /// what one note can.
    ///
    /// # Errors
    /// Refuses a trial that was not turned, or in which the reading went the other way.
    pub fn from_trial(trial: &Trial, scatter: Scatter) -> Result<Prior, SumError> {
        let (turns, mm) = trial.point();
        let slope = mm / turns;
        let slope = positive(slope, "What the trial's turn did to the reading")?;
        let reading = scatter.of_change() / turns.abs();
        Ok(Prior {
            mm_per_turn: slope,
            spread: reading.hypot(scatter.between_notes() * slope),
        })
    }
}

/// What a turn does, and how well that is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// Millimeters of reading for one turn.
    pub mm_per_turn: f64,
    /// Its standard error, in mm per turn.
    pub standard_error: f64,
    /// How many trials it rests on.
    pub used: usize,
    /// Which trials have no say, as places in the slice given: slips, or nothing was turned.
    pub set_aside: Vec<usize>,
    /// The scatter of one reading that it was learned with.
    pub(in crate::analysis) reading: Length,
}

impl Response {
    /// As what is known beforehand of something that differs from this by a fraction.
    pub fn as_prior(&self, differs: f64) -> Prior {
        Prior {
            mm_per_turn: self.mm_per_turn,
            spread: self.standard_error.hypot(differs * self.mm_per_turn),
        }
    }
}
