//! Turns of capstans, buttons and screws, in whole 64ths.

use std::fmt;
use std::ops::Neg;

use serde::{Deserialize, Serialize};

use super::decimal::{Exact, NumberError};

/// A turn of a capstan, button or screw, in whole 64ths of a full turn; its sign is the direction.
///
/// Positive is the direction that makes the reading larger; the measure names it (up, down). Range: any `i64` number of 64ths. The default is no turn. Turns
/// compare by their signed value. In the job file a turn is the integer number of 64ths.
///
/// ```
/// use evenhand_core::unit::Turns;
///
/// assert_eq!(Turns::from_64ths(8).to_string(), "1/8");
/// assert_eq!(Turns::read("1 1/4")?.in_64ths(), 80);
/// # Ok::<(), evenhand_core::unit::TurnsError>(())
/// ```
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Turns(i64);

impl Turns {
    /// No turn.
    pub const NONE: Turns = Turns(0);

    /// Creates a turn from whole 64ths.
    pub const fn from_64ths(count: i64) -> Turns {
        Turns(count)
    }

    /// Returns the whole 64ths of a turn.
    pub const fn in_64ths(self) -> i64 {
        self.0
    }

    /// Returns the number of full turns as a float, for calculations.
    pub fn turns(self) -> f64 {
        self.0 as f64 / 64.0
    }

    /// Parses a typed number of turns: `1/8`, `0.25`, `1 1/2`.
    ///
    /// # Errors
    /// Returns [`TurnsError`] if the text is not a number or not a whole number of 64ths.
    pub fn read(text: &str) -> Result<Turns, TurnsError> {
        let exact = Exact::read(text).map_err(TurnsError::Number)?;
        exact
            .whole(64)
            .map_err(TurnsError::Number)?
            .map(Turns)
            .ok_or(TurnsError::TooFine)
    }
}

impl Neg for Turns {
    type Output = Turns;
    fn neg(self) -> Turns {
        Turns(self.0.saturating_neg())
    }
}

impl fmt::Display for Turns {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&super::length::as_64ths(self.0))
    }
}

/// The error for a text that is not a turn.
///
/// It displays as a sentence that says what is accepted.
///
/// ```
/// use evenhand_core::unit::{Turns, TurnsError};
///
/// assert_eq!(Turns::read("1/3"), Err(TurnsError::TooFine));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TurnsError {
    /// The text is not a number.
    Number(NumberError),
    /// The turn is not a whole number of 64ths; nobody can turn finer by hand.
    TooFine,
}

impl fmt::Display for TurnsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TurnsError::Number(error) => error.fmt(f),
            TurnsError::TooFine => {
                write!(f, "Turns go by 64ths. Type them as 1/8, 3/16 or 0.25.")
            }
        }
    }
}

impl std::error::Error for TurnsError {}
