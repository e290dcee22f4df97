//! Forces, in whole milligram-force.

use std::fmt;
use std::ops::{Add, Sub};

use serde::{Deserialize, Serialize};

use super::decimal::{DecimalFormat, Exact, NumberError};

/// A force at the front edge of the key, or at a stated radius, in whole milligram-force.
///
/// Technicians lay gram weights on the key, so the unit that is shown is the gram-force (gf).
/// Range: about ±9.2 × 10¹⁵ gf; sums saturate at its ends. The default is 0. Forces compare by
/// their signed value. In the job file a force is the integer number of milligram-force.
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
    /// Creates a force from whole milligram-force.
    pub const fn from_mgf(mgf: i64) -> Force {
        Force(mgf)
    }

    /// Creates a force from a computed number of gram-force, rounded to the nearest milligram-force.
    ///
    /// For results of calculations only; a reading is parsed with [`Force::read`]. NaN becomes 0, and
    /// a number out of range becomes the nearest end of the range.
    pub fn from_gf(gf: f64) -> Force {
        Force((gf * 1e3).round() as i64)
    }

    /// Returns the whole milligram-force.
    pub const fn mgf(self) -> i64 {
        self.0
    }

    /// Returns the gram-force as a float, for calculations and charts.
    pub fn gf(self) -> f64 {
        self.0 as f64 / 1e3
    }

    /// Parses a typed number of gram-force, which `g` or `gf` may follow. Rounds to the milligram-force.
    ///
    /// # Errors
    /// Returns [`ForceError`] if the text is not a number or the force is out of range.
    pub fn read(text: &str) -> Result<Force, ForceError> {
        let number = text.trim().trim_end_matches("gf").trim_end_matches('g');
        let exact = Exact::read(number).map_err(ForceError)?;
        exact
            .scaled(1000)
            .map(Force)
            .ok_or(ForceError(NumberError::TooLong))
    }

    /// Returns the number of gram-force without the unit, rounded half away from zero to `decimals`
    /// (0 to 3; more count as 3).
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

/// The error for a text that is not a force; holds what is wrong with its number.
///
/// It displays as a sentence that says what is accepted.
///
/// ```
/// use evenhand_core::unit::{Force, ForceError, NumberError};
///
/// assert_eq!(Force::read(""), Err(ForceError(NumberError::Empty)));
/// ```
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
