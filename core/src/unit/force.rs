use std::fmt;
use std::ops::{Add, Sub};

use serde::{Deserialize, Serialize};

use super::decimal::{DecimalFormat, Exact, NumberError};

/// A force at the key's front edge or a stated radius, in whole milligram-force.
///
/// Technicians set gram weights on the key, so gram-force is the unit of the trade.
///
/// ```
/// use evenhand_core::unit::Force;
///
/// assert_eq!(Force::read("52.5")?, Force::from_mgf(52_500));
/// assert_eq!(Force::read("52 g")?.shown(1), "52.0");
/// # Ok::<(), evenhand_core::unit::ForceError>(())
/// ```
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Force(i64);

impl Force {
    /// From whole milligram-force.
    pub const fn from_mgf(mgf: i64) -> Force {
        Force(mgf)
    }

    /// From a computed number of gram-force, rounded to the milligram-force.
    pub fn from_gf(gf: f64) -> Force {
        Force((gf * 1e3).round() as i64)
    }

    /// Whole milligram-force.
    pub const fn mgf(self) -> i64 {
        self.0
    }

    /// Gram-force for sums and pictures.
    pub fn gf(self) -> f64 {
        self.0 as f64 / 1e3
    }

    /// Reads what people type, in gram-force; `g` or `gf` may follow.
    ///
    /// # Errors
    /// [`ForceError`], a sentence that says what would have been accepted.
    pub fn read(text: &str) -> Result<Force, ForceError> {
        let number = text.trim().trim_end_matches("gf").trim_end_matches('g');
        let exact = Exact::read(number).map_err(ForceError)?;
        exact
            .scaled(1000)
            .map(Force)
            .ok_or(ForceError(NumberError::TooLong))
    }

    /// The number of gram-force with `decimals` (0 to 3), rounded for the eye.
    pub fn shown(self, decimals: u32) -> String {
        DecimalFormat::fixed(decimals.min(3)).print(self.0, 1_000)
    }
}

impl Add for Force {
    type Output = Force;
    fn add(self, other: Force) -> Force {
        Force(self.0.saturating_add(other.0))
    }
}

impl Sub for Force {
    type Output = Force;
    fn sub(self, other: Force) -> Force {
        Force(self.0.saturating_sub(other.0))
    }
}

/// A text that is not a force.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ForceError(pub NumberError);

impl fmt::Display for ForceError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} A force is typed in grams, such as 52 or 52.5.",
            self.0
        )
    }
}

impl std::error::Error for ForceError {}
