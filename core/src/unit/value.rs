use std::fmt;

use serde::{Deserialize, Serialize};

use super::decimal::{DecimalFormat, Exact, NumberError};
use super::{Force, ForceError, Length, LengthError, LengthUnit};

/// What kind of record a measure is taken as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// A length, in mm or inches.
    Length,
    /// A force, in gram-force.
    Force,
    /// A mass, in grams.
    Mass,
    /// A whole number of something, such as swings.
    Count,
    /// A frequency, in hertz.
    Frequency,
    /// Relative humidity, in per cent.
    Humidity,
    /// A temperature, in degrees Celsius.
    Temperature,
    /// One of an ordered row of observations.
    Grade,
    /// Good, or needs work.
    Good,
    /// Done.
    Tick,
}

impl Kind {
    /// Whether the record is a number with a unit.
    pub const fn is_number(self) -> bool {
        !matches!(self, Kind::Grade | Kind::Good | Kind::Tick)
    }

    /// How many of the stored whole units make one of the unit that is shown (mm, gf, g, Hz, %, °C).
    pub const fn per_shown(self) -> i64 {
        match self {
            Kind::Length => 1_000_000,
            Kind::Force | Kind::Mass | Kind::Frequency | Kind::Temperature => 1_000,
            Kind::Humidity => 10,
            Kind::Count | Kind::Grade | Kind::Good | Kind::Tick => 1,
        }
    }

    /// The unit written after the number, empty where there is none.
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

    /// Reads what people type for a number of this kind.
    ///
    /// # Errors
    /// [`ValueError`], a sentence that says what would have been accepted;
    /// always for grade, good and tick, which are not typed.
    pub fn read(self, text: &str, length: LengthUnit) -> Result<Value, ValueError> {
        match self {
            Kind::Length => Ok(Value::Nm(Length::read(text, length)?)),
            Kind::Force => Ok(Value::Mgf(Force::read(text)?)),
            Kind::Grade | Kind::Good | Kind::Tick => Err(ValueError::NotTyped),
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

    const fn typed_suffixes(self) -> &'static [char] {
        match self {
            Kind::Mass => &['g'],
            Kind::Frequency => &['H', 'h', 'z', 'Z'],
            Kind::Humidity => &['%'],
            Kind::Temperature => &['°', 'C', 'c'],
            _ => &[],
        }
    }

    /// A stored number of this kind as people read it, without its unit.
    ///
    /// Rounded to `decimals` (a length 0 to 6, the rest 0 to 3). Counts and marks are whole.
    pub fn shown(self, base: i64, length: LengthUnit, decimals: u32) -> String {
        match self {
            Kind::Length => Length::from_nm(base).shown(length, decimals),
            Kind::Force => Force::from_mgf(base).shown(decimals),
            Kind::Mass | Kind::Frequency | Kind::Temperature | Kind::Humidity => {
                DecimalFormat::fixed(decimals.min(3)).print(base, self.per_shown())
            }
            Kind::Count | Kind::Grade | Kind::Good | Kind::Tick => base.to_string(),
        }
    }
}

/// One reading's value, in whole small units; its name in the job file is its unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Value {
    /// A length in nanometres.
    Nm(Length),
    /// A force in milligram-force.
    Mgf(Force),
    /// A mass in milligrams.
    Mg(i64),
    /// A whole number.
    Count(i64),
    /// A frequency in millihertz.
    Millihertz(i64),
    /// Relative humidity in tenths of a per cent.
    Permille(i64),
    /// A temperature in thousandths of a degree Celsius.
    Millicelsius(i64),
    /// The place of a grade in its measure's row, from 0.
    Grade(u8),
    /// `true` for good, `false` for needs work.
    Good(bool),
    /// Done; `false` takes a tick back without hiding that it was there.
    Done(bool),
}

impl Value {
    /// The kind of record that this is.
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

    /// The stored whole number: small units, the place of a grade, or 1 for good and done.
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

    /// The value of a kind with this stored whole number.
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

    /// The value in the unit that is shown (mm, gf, g, Hz, %, °C), for sums and pictures.
    pub fn number(self) -> f64 {
        self.base() as f64 / self.kind().per_shown() as f64
    }

    /// The length, where this is one.
    pub const fn length(self) -> Option<Length> {
        match self {
            Value::Nm(l) => Some(l),
            _ => None,
        }
    }

    /// The force, where this is one.
    pub const fn force(self) -> Option<Force> {
        match self {
            Value::Mgf(f) => Some(f),
            _ => None,
        }
    }
}

/// A text that is not a value of the kind that was asked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ValueError {
    /// Not a length.
    Length(LengthError),
    /// Not a force.
    Force(ForceError),
    /// Not a number.
    Number(NumberError),
    /// A count with a fraction.
    NotWhole,
    /// A grade, good or tick is tapped, not typed.
    NotTyped,
}

impl fmt::Display for ValueError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ValueError::Length(e) => e.fmt(f),
            ValueError::Force(e) => e.fmt(f),
            ValueError::Number(e) => e.fmt(f),
            ValueError::NotWhole => write!(f, "A count is a whole number, such as 5."),
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
