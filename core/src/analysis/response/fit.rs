//! Robust lines through the origin: the bisquare fit with a prior, and the median slope.

use std::cmp::Ordering;

use super::super::robust_scale;
use super::model::Prior;

/// Number of standard deviations from the prior beyond which one of the first trials is set aside
/// (M).
const INCREDIBLE: f64 = 3.5;

/// The tuning constant of the bisquare (P: Beaton and Tukey 1974; 95 % efficiency at the normal).
const BISQUARE: f64 = 4.685;

/// A trial prepared for the fit: turns, the change in mm, and the standard deviation of its
/// residual in mm.
pub struct TrialChange {
    pub turns: f64,
    pub change: f64,
    pub scale: f64,
}

impl TrialChange {
    /// Returns the residual from the line with this slope, in units of its standard deviation.
    pub fn away(&self, slope: f64) -> f64 {
        (self.change - slope * self.turns) / self.scale
    }
}

pub struct Fit {
    pub slope: f64,
    /// The inverse square of the standard error.
    pub information: f64,
    pub weights: Vec<f64>,
}

impl Fit {
    /// Computes the precision-weighted mean of the trials, each with its weight, and of the prior,
    /// with the weight `trust`.
    pub fn of(rows: &[TrialChange], weights: Vec<f64>, prior: Prior, trust: f64) -> Fit {
        let known = trust / prior.spread.powi(2);
        let sum = |f: fn(&TrialChange) -> f64| -> f64 {
            let weighed = rows.iter().zip(&weights);
            weighed.map(|(row, w)| w * f(row) / row.scale.powi(2)).sum()
        };
        let information = sum(|r| r.turns * r.turns) + known;
        let slope = (sum(|r| r.turns * r.change) + prior.mm_per_turn * known) / information;
        Fit {
            slope,
            information,
            weights,
        }
    }
}

/// Returns how far the prior is trusted against the data alone, `b ± se`.
///
/// **Rule** (P: the weight of Student's t with 4 degrees of freedom, Lange, Little and Taylor 1989):
/// `z = (b − b0)/√(spread² + se²)`, trust `min(1, 5/(4 + z²))`. Data that are uncertain themselves
/// contradict no prior, and no prior loses all of its weight.
pub fn trust(data: Option<(f64, f64)>, prior: Prior) -> f64 {
    let Some((slope, error)) = data else {
        return 1.0;
    };
    let off = slope - prior.mm_per_turn;
    let square = off * off / (prior.spread * prior.spread + error * error);
    (5.0 / (4.0 + square)).min(1.0)
}

/// Fits one or two trials: each has full weight, or none if it is incredible by the prior.
pub fn first_trials(rows: &[TrialChange], prior: Prior) -> Fit {
    let weight = |row: &TrialChange| {
        let doubt = row.scale.hypot(prior.spread * row.turns);
        let off = (row.change - prior.mm_per_turn * row.turns).abs();
        if off <= INCREDIBLE * doubt { 1.0 } else { 0.0 }
    };
    Fit::of(rows, rows.iter().map(weight).collect(), prior, 1.0)
}

/// Refines the fit by the bisquare from `start`, with the prior as one more observation.
pub fn refined(rows: &[TrialChange], start: f64, prior: Prior) -> Fit {
    let turned = rows.iter().filter(|row| row.turns != 0.0);
    let seen: Vec<f64> = turned.map(|row| row.away(start)).collect();
    // The observed residuals may increase the scale, never reduce it below the error of reading.
    let wide = robust_scale(&seen).max(1.0);
    let rows: Vec<TrialChange> = rows
        .iter()
        .map(|row| TrialChange {
            scale: wide * row.scale,
            ..*row
        })
        .collect();
    // Of each row, with all that does not depend on the slope: the residual is `change − slope·turns`, in units of the
    // cut-off; and what it adds to the two sums with full weight.
    let ready: Vec<[f64; 4]> = rows
        .iter()
        .map(|row| {
            let (unit, square) = (row.scale * BISQUARE, row.scale.powi(2));
            let sums = [row.turns * row.turns, row.turns * row.change].map(|sum| sum / square);
            [row.change / unit, row.turns / unit, sums[0], sums[1]]
        })
        .collect();
    // Returns the next slope, and how far the prior is trusted in it.
    let step = |slope: f64| {
        let (mut known, mut sum) = (0.0, 0.0);
        for [change, turns, square, product] in &ready {
            let weight = bisquare(change - slope * turns);
            known += weight * square;
            sum += weight * product;
        }
        let data = (known > 0.0).then(|| (sum / known, known.sqrt().recip()));
        let trust = trust(data, prior);
        let of_prior = trust / prior.spread.powi(2);
        let next = (sum + prior.mm_per_turn * of_prior) / (known + of_prior);
        (next, trust)
    };
    let mut from = start;
    let (mut slope, mut trust) = step(from);
    for _ in 0..50 {
        let (next, next_trust) = step(slope);
        // If nothing has weight, the prior remains.
        if !next.is_finite() {
            return Fit::of(&rows, vec![0.0; rows.len()], prior, 1.0);
        }
        let settled = (next - slope).abs() <= 1e-9 * next.abs();
        (from, slope, trust) = (slope, next, next_trust);
        if settled {
            break;
        }
    }
    let weights = rows.iter().map(|row| bisquare(row.away(from) / BISQUARE));
    Fit::of(&rows, weights.collect(), prior, trust)
}

/// Returns Tukey's weight for a residual in units of the cut-off: 1 at 0, and 0 from 1 on.
fn bisquare(u: f64) -> f64 {
    if u.abs() < 1.0 {
        (1.0 - u * u).powi(2)
    } else {
        0.0
    }
}

/// Returns the slope through the origin with the smallest sum of absolute residuals: the median of
/// `y/x` with weights `|x|` (P: the L1 line). Points at `x = 0` have no weight; returns `None` if
/// there are no others. Of two equally good slopes it returns the mean.
///
/// ```
/// use evenhand_core::analysis::response::median_slope;
///
/// assert_eq!(median_slope(&[(1.0, 5.0), (-1.0, -5.0), (1.0, -5.0)]), Some(5.0));
/// ```
pub fn median_slope(points: &[(f64, f64)]) -> Option<f64> {
    let mut slopes: Vec<(f64, f64)> = points
        .iter()
        .map(|(x, y)| (y / x, x.abs()))
        .filter(|(slope, weight)| slope.is_finite() && weight.is_finite() && *weight > 0.0)
        .collect();
    slopes.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let half = slopes.iter().map(|s| s.1).sum::<f64>() / 2.0;
    let mut below = 0.0;
    for (i, (slope, weight)) in slopes.iter().enumerate() {
        below += weight;
        match below.total_cmp(&half) {
            Ordering::Less => continue,
            Ordering::Equal => {
                return Some((slope + slopes.get(i + 1).map_or(*slope, |s| s.0)) / 2.0);
            }
            Ordering::Greater => return Some(*slope),
        }
    }
    None
}
