//! The moisture content of wood in balance with the air, and whether it changed during the job.
//!
//! Key bushings grip, key frames bend and string heights move as wood takes up or gives off water.
//! So the job records the climate at the survey, on the bench and at the return.
//!
//! **Rule** (P: Wood Handbook, FPL-GTR-282, 2021, equation 4-5, which is the Hailwood–Horrobin
//! sorption model with two hydrates, fitted by Simpson 1973 to all species together): with
//! temperature `T` in °C and relative humidity `h` as a fraction,
//!
//! ```text
//! W  = 349 + 1.29 T + 0.0135 T²
//! K  = 0.805 + 0.000736 T − 0.00000273 T²
//! K₁ = 6.27 − 0.00938 T − 0.000303 T²
//! K₂ = 1.91 + 0.0407 T − 0.000293 T²
//! M  = 1800/W · ( Kh/(1−Kh) + (K₁Kh + 2K₁K₂K²h²)/(1 + K₁Kh + K₁K₂K²h²) )
//! ```
//!
//! **Range**: the handbook tabulates it from −1.1 to 132 °C and 5 to 95 %.
//! **Error**: the fit deviates from the older measured values by 0.13 % moisture content on average
//! and by 0.9 % at most (P: Simpson 1973, abstract). Wood in a room lags by days to weeks, longer
//! under lacquer: this is the value it approaches, not the one it has.

use super::SumError;
use crate::unit::{DecimalFormat, Value};

/// The change of moisture content, in percent of dry mass, above which heights and bushing friction
/// are expected to change (M).
pub const NOTABLE_CHANGE: f64 = 1.0;

/// The air of a room: temperature and relative humidity.
///
/// Any values can be stored; [`Air::moisture_content`] returns an error outside its range. It has
/// no default.
///
/// ```
/// use evenhand_core::analysis::climate::Air;
///
/// // Wood Handbook, table 4-2: 9.2 % at 21.1 °C and 50 %.
/// let workshop = Air { celsius: 21.1, humidity: 50.0 };
/// assert!((workshop.moisture_content()? - 9.2).abs() < 0.05);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Air {
    /// Temperature in degrees Celsius.
    pub celsius: f64,
    /// Relative humidity in percent, 0 to 100.
    pub humidity: f64,
}

impl Air {
    /// Creates it from two recorded values. Returns `None` if the first is not a temperature or the
    /// second not a humidity.
    pub fn from_values(temperature: Value, humidity: Value) -> Option<Air> {
        match (temperature, humidity) {
            (Value::Millicelsius(_), Value::Permille(_)) => Some(Air {
                celsius: temperature.number(),
                humidity: humidity.number(),
            }),
            _ => None,
        }
    }

    /// Returns the equilibrium moisture content of wood in this air, in percent of its dry mass.
    ///
    /// # Errors
    /// [`SumError::Outside`] if the humidity is outside 0 to 100 % or the temperature outside −1 to
    /// 132 °C, the range of the handbook's table. Humidities above 95 % are computed, beyond the
    /// table.
    pub fn moisture_content(self) -> Result<f64, SumError> {
        let (t, h) = (self.celsius, self.humidity / 100.0);
        if !(-1.5..=132.5).contains(&t) {
            return Err(SumError::Outside("The temperature in °C", -1, 132));
        }
        if !(0.0..=1.0).contains(&h) {
            return Err(SumError::Outside("The relative humidity in %", 0, 100));
        }
        let w = 349.0 + 1.29 * t + 0.0135 * t * t;
        let k = 0.805 + 0.000_736 * t - 0.000_002_73 * t * t;
        let k1 = 6.27 - 0.009_38 * t - 0.000_303 * t * t;
        let k2 = 1.91 + 0.0407 * t - 0.000_293 * t * t;
        let kh = k * h;
        let dissolved = kh / (1.0 - kh);
        let both = k1 * k2 * kh * kh;
        let hydrated = (k1 * kh + 2.0 * both) / (1.0 + k1 * kh + both);
        Ok(1800.0 / w * (dissolved + hydrated))
    }
}

/// The change of the equilibrium moisture content of wood between two airs. It has no default.
///
/// ```
/// use evenhand_core::analysis::climate::Moved;
///
/// // From 9 to 7 % of dry mass: the wood dries.
/// assert_eq!(Moved { from: 9.0, to: 7.0 }.change(), -2.0);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Moisture content in the first air, in percent of dry mass.
    pub from: f64,
    /// Moisture content in the second air, in percent of dry mass.
    pub to: f64,
}

impl Moved {
    /// Computes the change between the air at one stage of the job and the air at another.
    ///
    /// # Errors
    /// As [`Air::moisture_content`].
    pub fn between(from: Air, to: Air) -> Result<Moved, SumError> {
        Ok(Moved {
            from: from.moisture_content()?,
            to: to.moisture_content()?,
        })
    }

    /// Returns the change in percent of dry mass; positive if the wood takes up water.
    pub fn change(self) -> f64 {
        self.to - self.from
    }

    /// Returns a warning for the technician, or `None` if the change is not more than `limit`
    /// (usually [`NOTABLE_CHANGE`]) in either direction.
    ///
    /// ```
    /// use evenhand_core::analysis::climate::{Air, Moved, NOTABLE_CHANGE};
    ///
    /// let bench = Air { celsius: 21.0, humidity: 45.0 };
    /// let home = Air { celsius: 21.0, humidity: 30.0 };
    /// let warning = Moved::between(bench, home)?.warning(NOTABLE_CHANGE);
    /// assert!(warning.unwrap().contains("dries"));
    /// # Ok::<(), evenhand_core::analysis::SumError>(())
    /// ```
    pub fn warning(self, limit: f64) -> Option<String> {
        let change = self.change();
        if change.is_nan() || change.abs() <= limit {
            return None;
        }
        let (how, bushings) = if change > 0.0 {
            ("swells", "tighter")
        } else {
            ("dries", "looser")
        };
        Some(format!(
            "The wood {how}: its moisture content goes from {} to {} %. \
             String heights and key heights will have moved and key bushings will be {bushings}; check them before any fine work.",
            tenths(self.from),
            tenths(self.to)
        ))
    }
}

/// Returns a percentage with one decimal. It does not use the float printer of the standard
/// library, which is large.
fn tenths(percent: f64) -> String {
    DecimalFormat::fixed(1).print((percent * 10.0).round() as i64, 10)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(celsius: f64, humidity: f64) -> f64 {
        Air { celsius, humidity }.moisture_content().unwrap()
    }

    #[test]
    fn damper_air_makes_damper_wood_and_warmer_air_makes_drier_wood() {
        for t in [0.0, 10.0, 20.0, 30.0] {
            for h in 0..100 {
                assert!(at(t, f64::from(h)) < at(t, f64::from(h + 1)));
            }
        }
        assert!(at(15.0, 50.0) > at(25.0, 50.0));
        assert_eq!(at(20.0, 0.0), 0.0);
    }

    #[test]
    fn air_outside_the_table_is_refused_in_a_sentence() {
        for (celsius, humidity) in [
            (20.0, 101.0),
            (20.0, -1.0),
            (20.0, f64::NAN),
            (f64::NAN, 50.0),
            (500.0, 50.0),
            (f64::NEG_INFINITY, 50.0),
        ] {
            let refused = Air { celsius, humidity }.moisture_content().unwrap_err();
            assert!(refused.to_string().contains("must lie between"));
        }
    }

    #[test]
    fn one_per_cent_is_the_line_between_silence_and_a_warning() {
        let moved = |to| Moved { from: 8.0, to };
        assert_eq!(moved(9.0).warning(NOTABLE_CHANGE), None);
        assert!(
            moved(9.01)
                .warning(NOTABLE_CHANGE)
                .unwrap()
                .contains("swells")
        );
        assert!(
            moved(6.9)
                .warning(NOTABLE_CHANGE)
                .unwrap()
                .contains("looser")
        );
        assert_eq!(moved(f64::NAN).warning(NOTABLE_CHANGE), None);
    }

    #[test]
    fn only_a_temperature_and_a_humidity_make_an_air() {
        let air = Air::from_values(Value::Millicelsius(21_000), Value::Permille(455));
        assert_eq!(
            air,
            Some(Air {
                celsius: 21.0,
                humidity: 45.5
            })
        );
        assert_eq!(
            Air::from_values(Value::Permille(455), Value::Permille(455)),
            None
        );
    }
}
