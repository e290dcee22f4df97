//! What follows from the readings: every calculation of a regulation, as plain functions.
//!
//! Calculations know neither the order of the work nor the log: they take notes, lengths, forces
//! and turns, and return a number with its uncertainty or a movement of the hand. [`advice`],
//! [`learned`], [`working_order`], [`profile`] and [`job_plan`] apply them to the
//! [`State`](crate::job::State) of a job. Readings are stored as integers of a small unit and stay
//! integers; only statistics and fits use `f64`. A calculation that is impossible returns a
//! [`SumError`] that says why.
//!
//! The source of a rule is marked as everywhere in this project: P is published, and named; C is
//! common practice; M is from memory, for the user to change.

pub mod advice;
pub mod balance;
pub mod belief;
pub mod bench;
pub mod calendar;
pub mod climate;
pub mod compare;
pub mod conflicts;
pub mod corrections;
pub mod decisions;
pub mod drift;
pub mod estimate;
pub mod evenness;
pub mod handover;
pub mod heights;
pub mod hours;
pub mod instrument;
pub mod job_file;
pub mod job_plan;
pub mod kept_kind;
pub mod learned;
pub mod letter;
mod listed;
pub mod notices;
pub mod open_points;
pub mod overview;
pub mod profile;
pub mod punchings;
pub mod quote;
pub mod remeasure;
pub mod response;
pub mod schedule;
pub mod screw;
pub mod suggestion;
pub mod survey;
pub mod sweep;
pub mod targets;
pub mod travel;
pub mod turn_observation;
pub mod weights;
pub mod working_order;

use std::fmt;

/// Why a calculation is impossible. Its text is a sentence for a technician.
///
/// No entry is changed by an error.
///
/// ```
/// use evenhand_core::analysis::SumError;
///
/// let said = SumError::NotPositive("The action ratio").to_string();
/// assert!(said.starts_with("The action ratio must be above zero"));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SumError {
    /// The named quantity must be a number above 0.
    NotPositive(&'static str),
    /// The named quantity is outside the range of the rule: the lowest and the highest value, in
    /// the unit shown.
    Outside(&'static str, i32, i32),
    /// Fewer readings than needed: what is missing, how many there are, how many are needed.
    TooFew(&'static str, usize, usize),
    /// More than can be searched: what, and the maximum.
    TooMany(&'static str, usize),
    /// The readings contradict each other: a sentence that says what is wrong and what to check.
    Contradiction(&'static str),
}

impl fmt::Display for SumError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SumError::NotPositive(what) => write!(
                f,
                "{what} must be above zero. Re-measure; what was entered is kept."
            ),
            SumError::Outside(what, low, high) => write!(
                f,
                "{what} must lie between {low} and {high} for this sum. Re-measure; what was entered is kept."
            ),
            SumError::TooFew(what, given, needed) => write!(
                f,
                "There are too few {what}: {given}, and {needed} are needed. Measure more of them."
            ),
            SumError::TooMany(what, most) => write!(
                f,
                "There are too many {what}; the most is {most}. Leave out those that are seldom used."
            ),
            SumError::Contradiction(what) => write!(f, "{what} What was entered is kept."),
        }
    }
}

impl std::error::Error for SumError {}

/// Returns a value that is safe to divide by.
///
/// # Errors
/// [`SumError::NotPositive`] if the value is not finite or not above 0.
fn positive(value: f64, what: &'static str) -> Result<f64, SumError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(SumError::NotPositive(what))
    }
}

/// Returns the median, the mean of the two middle values if their number is even, or `None` if the
/// slice is empty. Reorders the values.
fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_unstable_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    if values.len() % 2 == 1 {
        return Some(upper);
    }
    Some((values[middle - 1] + upper) / 2.0)
}

/// Returns a robust estimate of the standard deviation of residuals around 0: the median of their
/// magnitudes times 1.4826, consistent with a normal distribution and insensitive to outliers (P:
/// the usual normal-consistent MAD). Returns 0 if there are none.
fn robust_scale(residuals: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    1.4826 * median(&mut sizes).unwrap_or(0.0)
}

/// Returns `value` divided by `by`, rounded to the nearest integer, halves away from 0. Saturates
/// at the ends of `i64`. `by` must be above 0.
fn divided(value: i128, by: i128) -> i64 {
    let (whole, rest) = (value / by, value % by);
    let carried = whole
        + if 2 * rest.abs() >= by {
            rest.signum()
        } else {
            0
        };
    i64::try_from(carried).unwrap_or(if carried < 0 { i64::MIN } else { i64::MAX })
}
