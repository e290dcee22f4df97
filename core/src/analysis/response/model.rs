//! Trials, the prior, and the response that is learned.

use super::super::{SumError, positive};
use crate::unit::{InchForm, Length, LengthUnit, Turns};

/// A turn of a note with the readings before and after it. Any values are allowed; a trial without
/// a turn has no weight. It has no default.
///
/// ```
/// use evenhand_core::analysis::response::TurnResult;
/// use evenhand_core::unit::{Length, Turns};
///
/// // An eighth of a turn made the blow larger by 1 mm: 8 mm per turn.
/// let trial = TurnResult {
///     turned: Turns::from_64ths(8),
///     before: Length::from_mm_hundredths(4500),
///     after: Length::from_mm_hundredths(4600),
/// };
/// let change = trial.after - trial.before;
/// assert_eq!(change.mm() / trial.turned.turns(), 8.0);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TurnResult {
    /// The turn; positive for a larger reading.
    pub turned: Turns,
    /// The reading before.
    pub before: Length,
    /// The reading after.
    pub after: Length,
}

impl TurnResult {
    pub(super) fn point(&self) -> (f64, f64) {
        (self.turned.turns(), (self.after - self.before).mm())
    }

    /// Returns the point, with the variance of its change in units of a reading's.
    pub(super) fn alone(&self) -> Point {
        let (turns, change) = self.point();
        Point {
            turns,
            change,
            readings: 2.0,
        }
    }
}

/// A turn, the change of the reading in mm, and the variance of the change in units of a reading's: 2 for two
/// readings, less where the one before is a mean.
#[derive(Clone, Copy, Debug)]
pub(super) struct Point {
    pub turns: f64,
    pub change: f64,
    pub readings: f64,
}

/// Returns the points of the trials of one note, the latest first.
///
/// Trials in a chain, where the reading after one is the reading before the next, share noise. They are
/// replaced by the contrasts of each reading with the mean of those before it, against the same of the
/// cumulative turns (P: Helmert's contrasts). These are independent, and the fit through them is that of
/// the readings on the cumulative turns with one intercept for the note.
pub(super) fn chained(trials: &[TurnResult]) -> Vec<Point> {
    let mut points = Vec::with_capacity(trials.len());
    let (mut turned, mut turns, mut read, mut count) = (0.0, 0.0, 0.0, 0.0);
    let mut last = None;
    for trial in trials.iter().rev() {
        if last != Some(trial.before) {
            (turned, turns, read, count) = (0.0, 0.0, trial.before.mm(), 1.0);
        }
        turned += trial.turned.turns();
        let after = trial.after.mm();
        points.push(Point {
            turns: turned - turns / count,
            change: after - read / count,
            readings: 1.0 + 1.0 / count,
        });
        (turns, read, count) = (turns + turned, read + after, count + 1.0);
        last = Some(trial.after);
    }
    points.reverse();
    points
}

/// The variation of readings and of notes. The default is 0.1 mm and 0.08. A negative deviation
/// counts as its magnitude, and the fraction is limited to 0 to 1.
///
/// ```
/// use evenhand_core::analysis::response::NoiseModel;
///
/// assert_eq!(NoiseModel::default().reading.mm(), 0.1);
/// assert_eq!(NoiseModel::default().notes, 0.08);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoiseModel {
    /// The standard deviation of one reading; 0.1 mm is usual (M).
    pub reading: Length,
    /// The standard deviation of the response between notes, as a fraction; 0.08 is usual (M).
    pub notes: f64,
}

impl Default for NoiseModel {
    fn default() -> NoiseModel {
        NoiseModel {
            reading: Length::from_nm(100_000),
            notes: 0.08,
        }
    }
}

impl NoiseModel {
    /// Returns the standard deviation of a difference of two readings, in mm; always above 0.
    pub(super) fn of_change(&self) -> f64 {
        self.of_readings(2.0)
    }

    /// Returns the standard deviation of a change, its variance given in units of a reading's.
    pub(super) fn of_readings(&self, readings: f64) -> f64 {
        self.reading.mm().abs().max(1e-3) * readings.sqrt()
    }

    /// Returns the fraction by which notes differ, limited to 0 to 1.
    pub(super) fn between_notes(&self) -> f64 {
        if self.notes.is_finite() {
            self.notes.clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// A response and its uncertainty before any reading of the job is used. Both must be above 0; the
/// functions that learn return an error otherwise. It has no default.
///
/// ```
/// use evenhand_core::analysis::response::{Prior, NoiseModel, learn};
///
/// // Without trials the response is the prior.
/// let prior = Prior::rough(8.0);
/// let response = learn(&[], prior, NoiseModel::default())?;
/// assert_eq!((response.mm_per_turn, response.used), (8.0, 0));
/// assert!((response.standard_error - prior.spread).abs() < 1e-9);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// The response in millimeters of reading per turn.
    pub mm_per_turn: f64,
    /// Its standard deviation, in mm per turn.
    pub spread: f64,
}

/// The standard deviation of a rough default, as a fraction (M).
const ROUGH: f64 = 0.35;

/// The least standard deviation of a prior from trials, as a fraction: trials on one note are not
/// independent, and neither are the notes of one action (M: √(0.08² + 0.08²)).
pub const LEAST_SPREAD: f64 = 0.11;

impl Prior {
    /// Creates a prior from a default by lever lengths and thread pitch, with a standard deviation
    /// of 35 % (M).
    pub const fn rough(mm_per_turn: f64) -> Prior {
        Prior {
            mm_per_turn,
            spread: mm_per_turn * ROUGH,
        }
    }

    /// Creates a prior from a deliberate trial on one note of this instrument. Its uncertainty
    /// includes the differences between notes, and is at least [`LEAST_SPREAD`].
    ///
    /// # Errors
    /// Returns an error if nothing was turned, or if the reading moved the other way.
    pub fn from_trial(trial: &TurnResult, scatter: NoiseModel) -> Result<Prior, SumError> {
        let (turns, mm) = trial.point();
        let slope = mm / turns;
        let slope = positive(slope, "What the trial's turn did to the reading")?;
        let reading = scatter.of_change() / turns.abs();
        Ok(Prior {
            mm_per_turn: slope,
            spread: reading
                .hypot(scatter.between_notes() * slope)
                .max(LEAST_SPREAD * slope),
        })
    }
}

/// The response: what a turn does, with its standard error.
///
/// It is above 0 unless the trials contradict the prior; a turn is computed only if it is more than
/// twice its standard error ([`correction`](crate::analysis::screw::correction)). It has no
/// default.
///
/// ```
/// use evenhand_core::analysis::response::{Prior, NoiseModel, TurnResult, learn};
/// use evenhand_core::unit::{Length, Turns};
///
/// let trial = TurnResult {
///     turned: Turns::from_64ths(8),
///     before: Length::from_mm_hundredths(4500),
///     after: Length::from_mm_hundredths(4600),
/// };
/// let response = learn(&[trial], Prior::rough(7.0), NoiseModel::default())?;
/// // One trial of 8 mm per turn pulls the response up from the prior and makes it more certain.
/// assert!(response.mm_per_turn > 7.0 && response.mm_per_turn < 8.0);
/// assert!(response.standard_error < Prior::rough(7.0).spread);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// The response in millimeters of reading per turn.
    pub mm_per_turn: f64,
    /// Its standard error, in mm per turn.
    pub standard_error: f64,
    /// The number of trials with weight.
    pub used: usize,
    /// The trials without weight, as indices into the slice given: outliers, or nothing was turned.
    pub set_aside: Vec<usize>,
    /// How much farther turns fell from what was expected than readings and notes alone explain: 1 or
    /// more, for a hand that errs and screws that have play.
    ///
    /// **Rule**: `φ² = max(1, (1 + Σz²)/(1 + n))` over the trials with weight, z their residuals in units of
    /// the standard deviation (P: Birge 1932, the ratio; shrunk to 1 by one trial, M: by four, three trials at doubled
    /// noise make it 2.3 in the place of 4, and what is usual then holds 64 readings of 100 and not 68).
    pub spread_factor: f64,
    /// How much a turn does differently from note to note and time to time, in this hand, as a fraction: a standard
    /// deviation.
    ///
    /// **Rule**: the least squares of `r² − 2σ²` on `(b·t)²` over the trials with weight, r their residuals; shrunk by four
    /// trials of 1 mm to 0.17, which is 0.08 between notes and 0.15 of a hand (M).
    pub hand: f64,
    /// Its sums, to add those of other sections.
    pub(super) hand_sums: (f64, f64),
    /// The standard deviation of one reading that it was learned with.
    pub(in crate::analysis) reading: Length,
}

/// The fraction by which turns differ before any is measured, and the number of trials of 1 mm that it counts as (M).
const HAND: (f64, f64) = (0.17, 4.0);

/// Returns the weight of a squared residual: its variance grows with its size.
pub(super) fn hand_weight(moved: f64, noise: f64) -> f64 {
    (noise + (HAND.0 * moved).powi(2)).powi(-2)
}

/// Returns the fraction from the sums, with the noise of a change, a variance.
pub(super) fn hand_of((squares, fourths): (f64, f64), noise: f64) -> f64 {
    let assumed = HAND.1 * hand_weight(1.0, noise);
    let square = (assumed * HAND.0 * HAND.0 + squares) / (assumed + fourths);
    if square.is_finite() {
        square.clamp(0.0, 1.0).sqrt()
    } else {
        HAND.0
    }
}

/// Returns how much farther turns fell than expected, from the squares of their residuals in units of the standard
/// deviation and their number.
pub(super) fn spread_factor(squares: f64, used: f64) -> f64 {
    ((1.0 + squares) / (1.0 + used)).sqrt().max(1.0)
}

impl Response {
    /// Returns it in words with two figures, which is as much as it tells: `8.3 mm`, `0.32 in`.
    ///
    /// ```
    /// use evenhand_core::analysis::response::{NoiseModel, Prior, learn};
    /// use evenhand_core::unit::LengthUnit;
    ///
    /// let figure = |mm, unit| learn(&[], Prior::rough(mm), NoiseModel::default()).unwrap().figure(unit);
    /// assert_eq!(figure(8.27, LengthUnit::Millimeter), "8.3 mm");
    /// assert_eq!(figure(12.4, LengthUnit::Millimeter), "12 mm");
    /// assert_eq!(figure(8.27, LengthUnit::Inch), "0.33 in");
    /// ```
    pub fn figure(&self, unit: LengthUnit) -> String {
        let inch = unit == LengthUnit::Inch;
        let size = self.mm_per_turn.abs() / if inch { 25.4 } else { 1.0 };
        let (mut decimals, mut digits) = (0, size);
        while digits < 9.95 && decimals < 4 {
            (decimals, digits) = (decimals + 1, digits * 10.0);
        }
        let shown = Length::from_mm(self.mm_per_turn).shown_in(InchForm::Decimal, unit, decimals);
        format!("{shown} {}", unit.symbol())
    }

    /// Returns it as the prior for something that differs from it with a standard deviation of
    /// `differs`, a fraction.
    pub fn as_prior(&self, differs: f64) -> Prior {
        Prior {
            mm_per_turn: self.mm_per_turn,
            spread: self.standard_error.hypot(differs * self.mm_per_turn),
        }
    }
}
