//! A mean with its variance, and what readings and turns make of it.

use super::super::response::Response;
use crate::unit::{Length, LengthUnit};

/// The number of turns of a section that must be measured before any is trusted.
pub(super) const VERIFIED: usize = 3;
/// The number of standard deviations beyond which a reading stands alone.
pub(super) const ALONE: f64 = 3.5;

/// The mean of a value and its variance, in mm and mm²; the variance is above 0. It has no default.
///
/// ```
/// use evenhand_core::analysis::belief::Belief;
///
/// // Two readings of 0.1 mm: their mean, with half of the variance.
/// let twice = Belief { mean: 2.0, variance: 0.01 }.read(2.2, 0.01).belief;
/// assert!((twice.mean - 2.1).abs() < 1e-12 && (twice.variance - 0.005).abs() < 1e-12);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief {
    /// The mean, in mm.
    pub mean: f64,
    /// The variance, in mm².
    pub variance: f64,
}

/// What a reading made of a belief. [`Belief::read`] returns it; it has no default.
///
/// ```
/// use evenhand_core::analysis::belief::Belief;
///
/// let known = Belief { mean: 2.0, variance: 0.01 };
/// let near = known.read(2.1, 0.01);
/// assert!((near.z - 0.1 / 0.02f64.sqrt()).abs() < 1e-9 && near.gain == 0.5);
/// // A reading far off is no error of reading: something was done.
/// let far = known.read(3.0, 0.01);
/// assert_eq!((far.belief, far.gain), (Belief { mean: 3.0, variance: 0.01 }, 1.0));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Update {
    /// The belief after it.
    pub belief: Belief,
    /// How many standard deviations the reading lies from what was expected of it.
    pub z: f64,
    /// The part of the difference by which the mean moved, 0 to 1.
    pub gain: f64,
}

impl Belief {
    /// Updates it by a reading in mm with this variance.
    pub fn read(self, reading: f64, noise: f64) -> Update {
        let off = reading - self.mean;
        let all = self.variance + noise;
        let (z, gain) = (off / all.sqrt(), self.variance / all);
        if z.abs() > ALONE {
            let belief = Belief {
                mean: reading,
                variance: noise,
            };
            return Update {
                belief,
                z,
                gain: 1.0,
            };
        }
        let belief = Belief {
            mean: self.mean + gain * off,
            variance: (1.0 - gain) * self.variance,
        };
        Update { belief, z, gain }
    }

    /// Moves it by a change in mm with this variance.
    pub fn moved(self, change: f64, variance: f64) -> Belief {
        Belief {
            mean: self.mean + change,
            variance: self.variance + variance,
        }
    }

    /// Returns the probability that the value lies outside two limits, in mm; infinite where there is none.
    ///
    /// **Rule**: `1 − Φ((high − m)/√V) + Φ((low − m)/√V)`. **Error**: below 1e-7 ([`normal_below`]).
    ///
    /// ```
    /// use evenhand_core::analysis::belief::Belief;
    ///
    /// let known = Belief { mean: 0.0, variance: 1.0 };
    /// assert!((known.out(-1.96, 1.96) - 0.05).abs() < 1e-4);
    /// assert!((known.out(f64::NEG_INFINITY, 0.0) - 0.5).abs() < 1e-6);
    /// ```
    pub fn out(self, low: f64, high: f64) -> f64 {
        let sd = self.variance.max(1e-12).sqrt();
        normal_below((self.mean - high) / sd) + normal_below((low - self.mean) / sd)
    }
}

/// Returns what a turn adds to a belief: the change of the mean in mm, and the variance.
///
/// ```
/// use evenhand_core::analysis::belief::turned;
/// use evenhand_core::analysis::response::{NoiseModel, Prior, learn};
///
/// let rough = learn(&[], Prior::rough(8.0), NoiseModel::default()).unwrap();
/// let (change, variance) = turned(0.125, &rough);
/// assert!((change - 0.96).abs() < 1e-12);
/// let expected = 0.125f64.powi(2) * (2.8f64.powi(2) + (0.17f64 * 8.0).powi(2)) + 0.025f64.powi(2) + 0.032f64.powi(2);
/// assert!((variance - expected).abs() < 1e-9);
/// ```
pub fn turned(turns: f64, response: &Response) -> (f64, f64) {
    let (b, s) = (response.mm_per_turn, response.standard_error);
    let of_response = turns * turns * (s * s + (response.hand * b).powi(2));
    let of_felt = (0.025 * b * turns).powi(2) + (0.004 * b).powi(2);
    (0.96 * b * turns, of_response + of_felt)
}

/// Returns the probability that a standard normal variable is below z.
///
/// **Rule** (P: Abramowitz and Stegun 1964, 26.2.17). **Error**: below 7.5e-8.
///
/// ```
/// use evenhand_core::analysis::belief::normal_below;
///
/// assert!((normal_below(-1.959_964) - 0.025).abs() < 1e-7);
/// ```
pub fn normal_below(z: f64) -> f64 {
    let size = z.abs();
    if size > 8.0 {
        return if z > 0.0 { 1.0 } else { 0.0 };
    }
    let t = 1.0 / (1.0 + 0.231_641_9 * size);
    let polynomial = t
        * (0.319_381_530
            + t * (-0.356_563_782
                + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let above = density(size) * polynomial;
    if z > 0.0 { 1.0 - above } else { above }
}

/// Returns the density of the standard normal distribution.
pub(super) fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Whether readings fall as far from what is expected of them as they should. The default is silent.
///
/// **Rule** (P: Page 1954, a cumulative sum): `S = max(0, S + z² − 1.75)` over the readings after turns; it
/// sounds from 5 on. One reading counts for at most z = 3.5, so that a single slip sounds for some seven
/// readings and not for the rest of the job.
///
/// ```
/// use evenhand_core::analysis::belief::Alarm;
///
/// let mut alarm = Alarm::default();
/// [0.3, -1.2, 0.8].map(|z| alarm.add(z));
/// assert!(!alarm.sounds());
/// [2.1, -1.9, 2.0].map(|z| alarm.add(z));
/// assert!(alarm.sounds());
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Alarm(f64);

impl Alarm {
    /// Adds a reading that lies z standard deviations from what was expected.
    pub fn add(&mut self, z: f64) {
        let z = z.clamp(-ALONE, ALONE);
        self.0 = (self.0 + z * z - 1.75).max(0.0);
    }

    /// Returns `true` if nothing should be taken as known.
    pub fn sounds(&self) -> bool {
        self.0 >= 5.0
    }
}

/// How well readings of a measure repeat. [`repeatability`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::belief::Repeatability;
///
/// let fine = Repeatability { sd: 0.1, pairs: 12 };
/// assert_eq!(fine.sentence(), "Your readings repeat to 0.1 mm.");
/// let coarse = Repeatability { sd: 0.152, pairs: 12 };
/// assert_eq!(coarse.sentence(), "Your readings repeat to 0.15 mm: more notes are measured twice than with 0.1 mm.");
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeatability {
    /// The standard deviation of one reading, in mm.
    pub sd: f64,
    /// The number of notes read twice that it rests on.
    pub pairs: usize,
}

impl Repeatability {
    /// The number of notes to read twice that is offered.
    pub const NOTES: usize = 12;

    /// Computes it from the differences between two readings of the same note, in mm.
    ///
    /// **Rule**: `σ̂² = (10·σ0² + Σd²/2)/(10 + n)`, σ0 what is usual of the measure (M).
    pub fn of(usual: f64, differences: &[f64]) -> Repeatability {
        let squares: f64 = differences.iter().map(|d| d * d / 2.0).sum();
        let variance = (10.0 * usual * usual + squares) / (10.0 + differences.len() as f64);
        Repeatability {
            sd: variance.sqrt(),
            pairs: differences.len(),
        }
    }

    /// Returns it as a sentence.
    pub fn sentence(&self) -> String {
        let hundredths = (self.sd * 100.0).round() as i64;
        let shown = Length::from_mm_hundredths(hundredths).shown(
            LengthUnit::Millimeter,
            if hundredths % 10 == 0 { 1 } else { 2 },
        );
        match self.sd > 0.115 {
            true => format!(
                "Your readings repeat to {shown} mm: more notes are measured twice than with 0.1 mm."
            ),
            false => format!("Your readings repeat to {shown} mm."),
        }
    }
}
