//! Lengths, in whole nanometers, and the units that they are typed and shown in.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, Neg, Sub};

use serde::{Deserialize, Serialize};

use super::decimal::{DecimalFormat, Exact, NumberError, folded};

/// The unit that a length is typed and shown in.
///
/// The default is the millimeter. In the job file it is `mm` or `in`. Lengths themselves are stored
/// in nanometers, so changing the unit changes no reading.
///
/// ```
/// use evenhand_core::unit::{Length, LengthUnit};
///
/// let gap = Length::read("2", LengthUnit::default())?;
/// assert_eq!(gap.shown(LengthUnit::Inch, 3), "0.079");
/// # Ok::<(), evenhand_core::unit::LengthError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
pub enum LengthUnit {
    /// Millimeters, shown as decimals.
    #[default]
    #[serde(rename = "mm")]
    Millimeter,
    /// Inches, shown as a fraction if the length is a whole number of 64ths, otherwise as decimals.
    #[serde(rename = "in")]
    Inch,
}

impl LengthUnit {
    /// Returns the number of nanometers in one of this unit.
    ///
    /// **Source**: the inch is exactly 25.4 mm (P: international yard and pound agreement of 1959).
    pub const fn nanometers(self) -> i64 {
        match self {
            LengthUnit::Millimeter => 1_000_000,
            LengthUnit::Inch => 25_400_000,
        }
    }

    /// Returns the symbol written after a number, `mm` or `in`.
    pub const fn symbol(self) -> &'static str {
        match self {
            LengthUnit::Millimeter => "mm",
            LengthUnit::Inch => "in",
        }
    }
}

/// A length, or a difference of two lengths, in whole nanometers.
///
/// Both 0.01 mm and 1/64 in are whole numbers of nanometers, so a reading of a caliper or a rule
/// is stored exactly. Range: about ±9.2 million kilometers; sums saturate at its ends. The default
/// is 0. Lengths compare by their signed value. In the job file a length is the integer number of
/// nanometers.
///
/// ```
/// use evenhand_core::unit::{Length, LengthUnit};
///
/// let mm = LengthUnit::Millimeter;
/// assert_eq!(Length::read("1/16in", mm)?, Length::from_nm(1_587_500));
/// assert_eq!(Length::read("1/16", mm)?, Length::from_nm(1_587_500));
/// assert_eq!(Length::read("1 1/2", mm)?, Length::from_nm(1_500_000));
/// assert_eq!(Length::read("1,8", mm)?.shown(mm, 1), "1.8");
/// assert_eq!(Length::read("8 5/32 in", mm)?.shown(LengthUnit::Inch, 3), "8 5/32");
/// # Ok::<(), evenhand_core::unit::LengthError>(())
/// ```
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Length(i64);

impl Length {
    /// The length 0.
    pub const ZERO: Length = Length(0);

    /// Creates a length from whole nanometers.
    pub const fn from_nm(nm: i64) -> Length {
        Length(nm)
    }

    /// Creates a length from hundredths of a millimeter, the finest division of a common caliper.
    ///
    /// For literals: the product must fit an `i64`.
    pub const fn from_mm_hundredths(hundredths: i64) -> Length {
        Length(hundredths * 10_000)
    }

    /// Creates a length from a computed number of millimeters, rounded to the nearest nanometer.
    ///
    /// For results of calculations only; a reading is parsed with [`Length::read`]. NaN becomes 0, and
    /// a number out of range becomes the nearest end of the range.
    pub fn from_mm(mm: f64) -> Length {
        // A cast from f64 saturates and turns NaN into 0, so it cannot panic.
        Length((mm * 1e6).round() as i64)
    }

    /// Returns the whole nanometers.
    pub const fn nm(self) -> i64 {
        self.0
    }

    /// Returns the millimeters as a float, for calculations and charts.
    pub fn mm(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// Returns the absolute value; saturates at the end of the range.
    pub const fn abs(self) -> Length {
        Length(self.0.saturating_abs())
    }

    /// Returns the mean, rounded to the nearest nanometer, halves away from 0, or `None` of none.
    ///
    /// ```
    /// use evenhand_core::unit::Length;
    ///
    /// let nm = |nm: &[i64]| Length::mean(&nm.iter().map(|n| Length::from_nm(*n)).collect::<Vec<_>>());
    /// assert_eq!(nm(&[1, 2]), Some(Length::from_nm(2)));
    /// assert_eq!(nm(&[-1, -2, i64::MAX, i64::MIN]), Some(Length::from_nm(-1)));
    /// assert_eq!(nm(&[]), None);
    /// ```
    pub fn mean(lengths: &[Length]) -> Option<Length> {
        let count = lengths.len() as i128;
        let sum: i128 = lengths.iter().map(|l| i128::from(l.0)).sum();
        let mean = (2 * sum + sum.signum() * count).checked_div(2 * count)?;
        i64::try_from(mean).ok().map(Length)
    }

    /// Returns the number without its unit: to a tenth of a millimeter, or to a hundredth if it is no
    /// whole tenth; inches as [`Length::shown`] with three decimals.
    pub fn brief(self, unit: LengthUnit) -> String {
        let decimals = match unit {
            LengthUnit::Inch => 3,
            LengthUnit::Millimeter if self.0 % 100_000 == 0 => 1,
            LengthUnit::Millimeter => 2,
        };
        self.shown(unit, decimals)
    }

    /// Parses a typed length. A text without a unit is in `default`.
    ///
    /// A unit in the text (`mm`, `cm`, `in`, `inch`, `"`) overrides `default`, and so does a fraction
    /// of 8ths, 16ths, 32nds or 64ths: inch rules are divided so and millimeters are not (common
    /// practice, no source). Rounds to the nearest nanometer.
    ///
    /// # Errors
    /// Returns [`LengthError`] if the text is not a length or has too many digits.
    pub fn read(text: &str, default: LengthUnit) -> Result<Length, LengthError> {
        let folded = folded(text);
        let (number, typed_unit) = split_unit(&folded);
        match Exact::from_folded(number) {
            Ok(Some(exact)) => {
                let unit = match exact.is_of_an_inch_rule() {
                    true => LengthUnit::Inch,
                    false => default,
                };
                let nm = typed_unit.unwrap_or(unit.nanometers());
                let scaled = exact.scaled(nm).map(Length);
                scaled.ok_or(LengthError::Number(NumberError::TooLong))
            }
            Ok(None) => Err(LengthError::Unreadable(
                text.trim().chars().take(20).collect(),
            )),
            Err(error) => Err(LengthError::Number(error)),
        }
    }

    /// Returns the number in a unit, without the symbol, rounded half away from zero to `decimals`
    /// (0 to 6; more count as 6).
    ///
    /// Inches that are a whole number of 64ths are printed as a reduced fraction.
    pub fn shown(self, unit: LengthUnit, decimals: u32) -> String {
        self.shown_in(InchForm::Fraction, unit, decimals)
    }

    /// As [`Length::shown`], with inches in one form, for the columns of a table.
    pub fn shown_in(self, form: InchForm, unit: LengthUnit, decimals: u32) -> String {
        if unit == LengthUnit::Inch && form == InchForm::Fraction && self.is_of_an_inch_rule() {
            return as_64ths(self.0 / NM_PER_64TH);
        }
        DecimalFormat::fixed(decimals.min(6)).print(self.0, unit.nanometers())
    }

    /// Returns `true` if it is a whole number of 64ths of an inch.
    const fn is_of_an_inch_rule(self) -> bool {
        self.0 % NM_PER_64TH == 0
    }
}

/// Nanometers in 1/64 in.
const NM_PER_64TH: i64 = 396_875;

/// How lengths in inches are printed. Millimeters always have decimals. The default is the fraction.
///
/// ```
/// use evenhand_core::unit::{InchForm, Length, LengthUnit};
///
/// let rule = Length::read("1 3/4 in", LengthUnit::Inch)?;
/// let caliper = Length::read("1.772 in", LengthUnit::Inch)?;
/// assert_eq!(InchForm::common([rule]), InchForm::Fraction);
/// let form = InchForm::common([rule, caliper]);
/// assert_eq!(form, InchForm::Decimal);
/// assert_eq!(rule.shown_in(form, LengthUnit::Inch, 3), "1.750");
/// # Ok::<(), evenhand_core::unit::LengthError>(())
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum InchForm {
    /// A whole number of 64ths as a fraction, any other length as a decimal.
    #[default]
    Fraction,
    /// Every length as a decimal.
    Decimal,
}

impl InchForm {
    /// Returns the form in which all these lengths can be printed: fractions only if each is a whole number of
    /// 64ths.
    pub fn common(lengths: impl IntoIterator<Item = Length>) -> InchForm {
        match lengths.into_iter().all(Length::is_of_an_inch_rule) {
            true => InchForm::Fraction,
            false => InchForm::Decimal,
        }
    }
}

/// Splits the unit off a normalized text. Returns the text before it and the nanometers in the unit,
/// or the whole text and `None` if there is no unit.
fn split_unit(text: &str) -> (&str, Option<i64>) {
    const UNITS: [(&str, i64); 11] = [
        ("millimeters", 1_000_000),
        ("millimeters", 1_000_000),
        ("mm", 1_000_000),
        ("cm", 10_000_000),
        ("inches", 25_400_000),
        ("inch", 25_400_000),
        ("in.", 25_400_000),
        ("in", 25_400_000),
        ("''", 25_400_000),
        ("\"", 25_400_000),
        ("mm.", 1_000_000),
    ];
    UNITS
        .iter()
        .find_map(|(symbol, nm)| Some((text.strip_suffix(symbol)?.trim_end(), Some(*nm))))
        .unwrap_or((text, None))
}

/// Returns a number of 64ths as a whole number with a reduced fraction, such as `1 3/4`.
pub(super) fn as_64ths(count: i64) -> String {
    let sign = if count < 0 { "−" } else { "" };
    let count = count.unsigned_abs();
    let (whole, mut over, mut under) = (count / 64, count % 64, 64);
    if over == 0 {
        return format!("{sign}{whole}");
    }
    while over % 2 == 0 {
        over /= 2;
        under /= 2;
    }
    match whole {
        0 => format!("{sign}{over}/{under}"),
        _ => format!("{sign}{whole} {over}/{under}"),
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0.saturating_add(other.0))
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0.saturating_sub(other.0))
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(self.0.saturating_neg())
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Length>>(lengths: I) -> Length {
        lengths.fold(Length::ZERO, Add::add)
    }
}

/// The error for a text that is not a length.
///
/// It displays as a sentence that says what is accepted.
///
/// ```
/// use evenhand_core::unit::{Length, LengthError, LengthUnit};
///
/// let refused = Length::read("abc", LengthUnit::default());
/// assert_eq!(refused, Err(LengthError::Unreadable("abc".to_owned())));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LengthError {
    /// The number is empty, too long or divided by zero.
    Number(NumberError),
    /// The text is not a length; holds the text, cut to 20 characters.
    Unreadable(String),
}

impl fmt::Display for LengthError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            LengthError::Number(error) => error.fmt(f),
            LengthError::Unreadable(text) => write!(
                f,
                "“{text}” is not a length. Type it as 1.8, 1,8, 45mm, 1/16, 1 3/4 in or 0.375in."
            ),
        }
    }
}

impl std::error::Error for LengthError {}
