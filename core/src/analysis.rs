//! What follows from the readings: every sum of a regulation, as plain functions.
//!
//! The sums themselves know neither the order of the work nor the log: what goes in are notes,
//! lengths, forces and turns, what comes out is a figure with its uncertainty or
//! a hand movement. [`advice`], [`learned`], [`working_order`], [`profile`] and [`job_plan`] put them to a job's
//! [`State`](crate::job::State). Readings are whole small units and stay so; only statistics
//! and fits are `f64`. A sum that cannot be made says why ([`SumError`]) instead
//! of giving a number.
//!
//! The source of a rule is marked as everywhere in this project: P published,
//! with its name; C common practice; M from memory, to be changed by the user.

pub mod advice;
pub mod balance;
pub mod bench;
pub mod climate;
pub mod compare;
pub mod corrections;
pub mod drift;
pub mod estimate;
pub mod evenness;
pub mod handover;
pub mod heights;
pub mod job_file;
pub mod job_plan;
pub mod learned;
pub mod open_points;
pub mod papers;
pub mod profile;
pub mod response;
pub mod schedule;
pub mod screw;
pub mod suggestion;
pub mod survey;
pub mod targets;
pub mod travel;
pub mod turn_observation;
pub mod weights;
pub mod working_order;

use std::fmt;

/// Why a sum could not be made. Nothing that was entered is changed by it.
///
/// ```
/// use evenhand_core::analysis::SumError;
///
/// let said = SumError::NotPositive("The action ratio").to_string();
/// assert!(said.starts_with("The action ratio must be above zero"));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SumError {
    /// What is named must be a number above zero.
    NotPositive(&'static str),
    /// What is named lies outside what the rule was made for; lowest and highest, in its shown unit.
    Outside(&'static str, i32, i32),
    /// Fewer readings than the sum needs: what is short, how many there are, how many are needed.
    TooFew(&'static str, usize, usize),
    /// More of something than can be searched through: what, and the most.
    TooMany(&'static str, usize),
    /// The readings contradict each other; what the matter is and what to look at.
    Contradiction(&'static str),
}

impl fmt::Display for SumError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SumError::NotPositive(what) => write!(
                f,
                "{what} must be above zero. Read it again; what was entered is kept."
            ),
            SumError::Outside(what, low, high) => write!(
                f,
                "{what} must lie between {low} and {high} for this sum. Read it again; what was entered is kept."
            ),
            SumError::TooFew(what, given, needed) => write!(
                f,
                "There are too few {what}: {given}, and {needed} are needed. Read more of them."
            ),
            SumError::TooMany(what, most) => write!(
                f,
                "There are too many {what} to search through; the most is {most}. Leave out those that are seldom used."
            ),
            SumError::Contradiction(what) => write!(f, "{what} What was entered is kept."),
        }
    }
}

impl std::error::Error for SumError {}

/// A number that can be divided by: finite and above zero.
fn positive(value: f64, what: &'static str) -> Result<f64, SumError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(SumError::NotPositive(what))
    }
}

/// The middle of the values, or the mean of the two middle ones; nothing for an empty slice.
/// Reorders the values.
fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let middle = values.len() / 2;
    let upper = *values.get(middle)?;
    if values.len() % 2 == 1 {
        return Some(upper);
    }
    Some((values[middle - 1] + upper) / 2.0)
}

/// How far a typical value lies from zero, on the scale of a standard deviation:
/// the median of the magnitudes times 1.4826, which is right for a normal
/// scatter and does not heed wild values (P: the usual normal-consistent MAD).
fn robust_scale(residuals: &[f64]) -> f64 {
    let mut sizes: Vec<f64> = residuals.iter().map(|r| r.abs()).collect();
    1.4826 * median(&mut sizes).unwrap_or(0.0)
}

/// `value` divided by `by` and rounded to the nearest whole number, halves away from zero;
/// `by` must be above zero. Saturates at the ends of `i64`.
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
