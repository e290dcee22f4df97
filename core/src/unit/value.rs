//! The kinds of values that a measure records, and the value of one reading.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::decimal::{DecimalFormat, Exact, NumberError};
use super::{Force, ForceError, InchForm, Length, LengthError, LengthUnit};

/// The kind of value that a measure is recorded as.
///
/// It decides the unit that is shown, the unit that is stored and how text is parsed. It has no
/// default. In the job file it is the name in snake case, such as `length`.
///
/// ```
/// use evenhand_core::unit::{Kind, LengthUnit, Value};
///
/// let mm = LengthUnit::Millimeter;
/// let humidity = Kind::Humidity.read("42.5 %", mm)?;
/// assert_eq!(humidity, Value::Permille(425));
/// assert_eq!(Kind::Humidity.shown(humidity.base(), mm, 1), "42.5");
/// assert!(Kind::Grade.read("1", mm).is_err());
/// # Ok::<(), evenhand_core::unit::ValueError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A length, shown in mm or inches, stored in nanometers.
    Length,
    /// A force, shown in gram-force, stored in milligram-force.
    Force,
    /// A mass, shown in grams, stored in milligrams.
    Mass,
    /// A whole number of something, such as swings.
    Count,
    /// A frequency, shown in hertz, stored in millihertz.
    Frequency,
    /// Relative humidity, shown in percent, stored in tenths of a percent.
    Humidity,
    /// A temperature, shown in degrees Celsius, stored in thousandths of a degree.
    Temperature,
    /// One of the ordered answers of the measure, stored as its index from 0.
    Grade,
    /// Good or needs work.
    Good,
    /// Done or not done.
    Tick,
}

impl Kind {
    /// Returns `true` if the value is a number: all kinds except grade, good and tick.
    pub const fn is_number(self) -> bool {
        !matches!(self, Kind::Grade | Kind::Good | Kind::Tick)
    }

    /// Returns how many stored units make one of the unit that is shown (mm, gf, g, Hz, %, °C).
    pub const fn per_shown(self) -> i64 {
        match self {
            Kind::Length => 1_000_000,
            Kind::Force | Kind::Mass | Kind::Frequency | Kind::Temperature => 1_000,
            Kind::Humidity => 10,
            Kind::Count | Kind::Grade | Kind::Good | Kind::Tick => 1,
        }
    }

    /// Returns the symbol of the unit written after the number, empty if there is none.
    pub const fn symbol(self, length: LengthUnit) -> &'static str {
        match self {
            Kind::Length => length.symbol(),
            Kind::Force => "gf",
            Kind::Mass => "g",
            Kind::Frequency => "Hz",
            Kind::Humidity => "%",
            Kind::Temperature => "°C",
            Kind::Count | Kind::Grade | Kind::Good | Kind::Tick => "",
        }
    }

    /// Returns the range, in the stored unit, outside which no piano has a value of this kind.
    ///
    /// **Source**: M, each far beyond any instrument: a length of 5 m, a force of 200 kgf (a string pulls
    /// at most about 100), a mass of a ton, a count of 100 000, a frequency of 20 kHz, all humidity, and
    /// −40 to 60 °C. Of the kinds that are not numbers it is the range of what is stored.
    pub const fn possible(self) -> (i64, i64) {
        match self {
            Kind::Length => (-5_000_000_000, 5_000_000_000),
            Kind::Force => (0, 200_000_000),
            Kind::Mass => (0, 1_000_000_000),
            Kind::Count => (0, 100_000),
            Kind::Frequency => (0, 20_000_000),
            Kind::Humidity => (0, 1_000),
            Kind::Temperature => (-40_000, 60_000),
            Kind::Grade => (0, 255),
            Kind::Good | Kind::Tick => (0, 1),
        }
    }

    /// Parses a typed number of this kind. A length without a unit is in `length`; the other kinds
    /// have one unit, which may follow the number.
    ///
    /// # Errors
    /// Returns [`ValueError`] if the text is not such a number, and always for grade, good and tick,
    /// which are tapped and not typed.
    pub fn read(self, text: &str, length: LengthUnit) -> Result<Value, ValueError> {
        match self {
            Kind::Length => Ok(Value::Nm(Length::read(text, length)?)),
            Kind::Force => Ok(Value::Mgf(Force::read(text)?)),
            Kind::Grade | Kind::Good | Kind::Tick => Err(ValueError::NotTyped),
            Kind::Temperature if text.trim_end().ends_with(['F', 'f']) => {
                let number = text.trim().trim_end_matches(['°', 'F', 'f', ' ']);
                let thousandths = Exact::read(number)?.scaled(self.per_shown());
                let base = thousandths.ok_or(ValueError::Number(NumberError::TooLong))?;
                let celsius = (i128::from(base) - 32_000) * 5 / 9;
                let celsius = i64::try_from(celsius).unwrap_or(i64::MAX);
                Ok(Value::from_base(self, celsius))
            }
            _ => {
                let number = text
                    .trim()
                    .trim_end_matches(self.typed_suffixes())
                    .trim_end();
                let exact = Exact::read(number)?;
                match self {
                    Kind::Count => exact
                        .whole(1)?
                        .map(Value::Count)
                        .ok_or(ValueError::NotWhole),
                    _ => {
                        let scaled = exact.scaled(self.per_shown());
                        let base = scaled.ok_or(ValueError::Number(NumberError::TooLong))?;
                        Ok(Value::from_base(self, base))
                    }
                }
            }
        }
    }

    /// Returns the characters of the unit that may follow a typed number.
    const fn typed_suffixes(self) -> &'static [char] {
        match self {
            Kind::Mass => &['g'],
            Kind::Frequency => &['H', 'h', 'z', 'Z'],
            Kind::Humidity => &['%'],
            Kind::Temperature => &['°', 'C', 'c'],
            _ => &[],
        }
    }

    /// Returns a stored number of this kind as text, without its unit.
    ///
    /// Rounds to `decimals` (a length up to 6, the other kinds up to 3); kinds without a fraction
    /// ignore it. A length is shown in the unit `length`, see [`Length::shown`].
    pub fn shown(self, base: i64, length: LengthUnit, decimals: u32) -> String {
        self.shown_in(InchForm::Fraction, base, length, decimals)
    }

    /// As [`Kind::shown`], with inches in one form, for the columns of a table.
    pub fn shown_in(self, form: InchForm, base: i64, length: LengthUnit, decimals: u32) -> String {
        match self {
            Kind::Length => Length::from_nm(base).shown_in(form, length, decimals),
            Kind::Force => Force::from_mgf(base).shown(decimals),
            Kind::Mass | Kind::Frequency | Kind::Temperature | Kind::Humidity => {
                DecimalFormat::fixed(decimals.min(3)).print(base, self.per_shown())
            }
            Kind::Count | Kind::Grade | Kind::Good | Kind::Tick => base.to_string(),
        }
    }
}

/// The value of one reading, as an integer of a small unit.
///
/// Range: any `i64` of its unit, except that a grade is 0 to 255. It has no default and no order:
/// values of different kinds do not compare. In the job file the key of a value names its unit.
///
/// ```
/// use evenhand_core::unit::{Kind, Length, Value};
///
/// let blow = Value::Nm(Length::from_mm_hundredths(4550));
/// assert_eq!((blow.kind(), blow.base()), (Kind::Length, 45_500_000));
/// assert_eq!(blow.number(), 45.5);
/// assert_eq!(Value::from_base(Kind::Length, 45_500_000), blow);
/// assert_eq!(serde_json::to_string(&blow)?, r#"{"nm":45500000}"#);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Value {
    /// A length in nanometers.
    Nm(Length),
    /// A force in milligram-force.
    Mgf(Force),
    /// A mass in milligrams.
    Mg(i64),
    /// A whole number.
    Count(i64),
    /// A frequency in millihertz.
    Millihertz(i64),
    /// Relative humidity in tenths of a percent.
    Permille(i64),
    /// A temperature in thousandths of a degree Celsius.
    Millicelsius(i64),
    /// The index of the answer among the measure's grades, from 0.
    Grade(u8),
    /// `true` for good, `false` for needs work.
    Good(bool),
    /// `true` for done; `false` takes a tick back, while the earlier record remains in the log.
    Done(bool),
}

impl Value {
    /// Returns the kind of this value.
    pub const fn kind(self) -> Kind {
        match self {
            Value::Nm(_) => Kind::Length,
            Value::Mgf(_) => Kind::Force,
            Value::Mg(_) => Kind::Mass,
            Value::Count(_) => Kind::Count,
            Value::Millihertz(_) => Kind::Frequency,
            Value::Permille(_) => Kind::Humidity,
            Value::Millicelsius(_) => Kind::Temperature,
            Value::Grade(_) => Kind::Grade,
            Value::Good(_) => Kind::Good,
            Value::Done(_) => Kind::Tick,
        }
    }

    /// Returns the stored integer: the number of small units, the index of a grade, or 1 for good or
    /// done and 0 for the opposite.
    pub const fn base(self) -> i64 {
        match self {
            Value::Nm(l) => l.nm(),
            Value::Mgf(f) => f.mgf(),
            Value::Mg(n)
            | Value::Count(n)
            | Value::Millihertz(n)
            | Value::Permille(n)
            | Value::Millicelsius(n) => n,
            Value::Grade(g) => g as i64,
            Value::Good(b) | Value::Done(b) => b as i64,
        }
    }

    /// Creates a value of a kind from its stored integer, the inverse of [`Value::base`].
    ///
    /// A grade is clamped to 0 to 255; any integer except 0 is good or done.
    pub const fn from_base(kind: Kind, base: i64) -> Value {
        match kind {
            Kind::Length => Value::Nm(Length::from_nm(base)),
            Kind::Force => Value::Mgf(Force::from_mgf(base)),
            Kind::Mass => Value::Mg(base),
            Kind::Count => Value::Count(base),
            Kind::Frequency => Value::Millihertz(base),
            Kind::Humidity => Value::Permille(base),
            Kind::Temperature => Value::Millicelsius(base),
            Kind::Grade => Value::Grade(if base < 0 {
                0
            } else if base > 255 {
                255
            } else {
                base as u8
            }),
            Kind::Good => Value::Good(base != 0),
            Kind::Tick => Value::Done(base != 0),
        }
    }

    /// Returns the value in the unit that is shown (mm, gf, g, Hz, %, °C), for calculations and charts.
    pub fn number(self) -> f64 {
        self.base() as f64 / self.kind().per_shown() as f64
    }

    /// Returns the length, or `None` if the value is of another kind.
    pub const fn length(self) -> Option<Length> {
        match self {
            Value::Nm(l) => Some(l),
            _ => None,
        }
    }

    /// Returns the force, or `None` if the value is of another kind.
    pub const fn force(self) -> Option<Force> {
        match self {
            Value::Mgf(f) => Some(f),
            _ => None,
        }
    }
}

/// The error for a text that is not a value of the requested kind.
///
/// It displays as a sentence that says what is accepted.
///
/// ```
/// use evenhand_core::unit::{Kind, LengthUnit, ValueError};
///
/// assert_eq!(Kind::Count.read("6.5", LengthUnit::default()), Err(ValueError::NotWhole));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ValueError {
    /// The text is not a length.
    Length(LengthError),
    /// The text is not a force.
    Force(ForceError),
    /// The text is not a number.
    Number(NumberError),
    /// A count has a fraction.
    NotWhole,
    /// No piano has such a value of the measure; the texts have their unit.
    Impossible {
        /// The name of the measure.
        measure: String,
        /// The value.
        value: String,
        /// The smallest and the largest possible value.
        range: String,
    },
    /// The kind is grade, good or tick, which is tapped and not typed.
    NotTyped,
}

impl fmt::Display for ValueError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ValueError::Length(e) => e.fmt(f),
            ValueError::Force(e) => e.fmt(f),
            ValueError::Number(e) => e.fmt(f),
            ValueError::NotWhole => write!(f, "A count is a whole number, such as 5."),
            ValueError::Impossible {
                measure,
                value,
                range,
            } => write!(
                f,
                "{value} cannot be: no piano has it. {measure} is {range}. Nothing was recorded; type it again."
            ),
            ValueError::NotTyped => {
                write!(f, "This step takes one of the answers shown, not a number.")
            }
        }
    }
}

impl std::error::Error for ValueError {}

impl From<LengthError> for ValueError {
    fn from(error: LengthError) -> ValueError {
        ValueError::Length(error)
    }
}

impl From<ForceError> for ValueError {
    fn from(error: ForceError) -> ValueError {
        ValueError::Force(error)
    }
}

impl From<NumberError> for ValueError {
    fn from(error: NumberError) -> ValueError {
        ValueError::Number(error)
    }
}
