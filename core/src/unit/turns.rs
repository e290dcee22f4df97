use std::fmt;
use std::ops::Neg;

use serde::{Deserialize, Serialize};

use super::decimal::{Exact, NumberError};

/// A turn of a capstan, button or screw, in whole 64ths; its sign is the direction.
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
    /// Not turned.
    pub const NONE: Turns = Turns(0);

    /// From whole 64ths of a turn.
    pub const fn from_64ths(count: i64) -> Turns {
        Turns(count)
    }

    /// Whole 64ths of a turn.
    pub const fn in_64ths(self) -> i64 {
        self.0
    }

    /// Turns as a number for sums.
    pub fn turns(self) -> f64 {
        self.0 as f64 / 64.0
    }

    /// Reads what people type, in turns: `1/8`, `0.25`, `1 1/2`.
    ///
    /// # Errors
    /// Refuses what is not a number, and what is not a whole number of 64ths.
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

/// A text that is not a turn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TurnsError {
    /// The number is at fault.
    Number(NumberError),
    /// Finer than a 64th of a turn, which no hand can do.
    TooFine,
}

impl fmt::Display for TurnsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            TurnsError::Number(error) => error.fmt(f),
            TurnsError::TooFine => {
                write!(f, "A turn is kept in 64ths. Type it as 1/8, 3/16 or 0.25.")
            }
        }
    }
}

impl std::error::Error for TurnsError {}
