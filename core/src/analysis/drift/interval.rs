//! When to check again: how fast each measure moves, and how soon one note in ten may be out.

use super::super::evenness::Moments;
use super::super::survey::student_95;
use super::model::{Drifted, Interval, MIN_NOTES, standard_error};
use crate::job::{Job, Subject};

/// The shortest and the longest suggested time, in months (M).
const SENSIBLE_MONTHS: (u32, u32) = (2, 36);
/// A measure is due when one note in ten is out: the normal quantile of 0.9.
const ONE_IN_TEN: f64 = 1.281_551_565_544_6;

/// How one measure moved, in its stored unit, as deviations from the aim of each note: so a target that
/// differs from note to note is no spread.
struct Pace<'a> {
    drifted: &'a Drifted,
    /// The mean and the standard deviation of the deviations then.
    start: (f64, f64),
    /// The mean change, and its standard error.
    change: (f64, f64),
    /// The variance that the changes have beyond that of two readings.
    spread: f64,
    /// The accepted deviations down and up, the narrowest of the notes; infinite without a limit.
    limits: (f64, f64),
}

impl<'a> Pace<'a> {
    fn of(job: &Job, drifted: &'a Drifted) -> Option<Pace<'a>> {
        let (error, sd) = (standard_error(&drifted.change)?, drifted.change.sd?);
        if drifted.change.count < MIN_NOTES {
            return None;
        }
        let (mut limits, mut off) = ((f64::INFINITY, f64::INFINITY), Vec::new());
        for (note, then) in &drifted.then.readings {
            let on = Subject::Note(*note);
            let band = job.state().band(drifted.measure.id.as_str(), on)?;
            let room = |limit: Option<i64>| {
                limit.map_or(f64::INFINITY, |limit| limit.abs_diff(band.aim) as f64)
            };
            limits.0 = limits.0.min(room(band.accept.0));
            limits.1 = limits.1.min(room(band.accept.1));
            off.push(then.saturating_sub(band.aim));
        }
        let start = Moments::of(off)?;
        // Two standard deviations of a reading count as unchanged.
        let noise = drifted.measure.repeat as f64 / 2.0;
        Some(Pace {
            drifted,
            start: (start.mean, start.sd.unwrap_or(0.0)),
            change: (drifted.change.mean, error),
            spread: (sd * sd - 2.0 * noise * noise).max(0.0),
            limits,
        })
    }

    fn half_width(&self) -> f64 {
        self.limits.0.min(self.limits.1)
    }

    /// Returns the months until one note in ten is out if the mean goes this far in `months`.
    fn months_to_out(&self, change: f64, months: f64) -> f64 {
        let is_out = |t: f64| {
            let part = t / months;
            let mean = self.start.0 + change * part;
            let sd = (self.start.1.powi(2) + self.spread * part * part).sqrt();
            mean + ONE_IN_TEN * sd >= self.limits.1 || ONE_IN_TEN * sd - mean >= self.limits.0
        };
        let (mut low, mut high) = (0.0, f64::from(SENSIBLE_MONTHS.1));
        if !is_out(high) {
            return f64::INFINITY;
        }
        // Each side is a convex curve, so it is crossed once.
        for _ in 0..40 {
            let middle = (low + high) / 2.0;
            match is_out(middle) {
                true => high = middle,
                false => low = middle,
            }
        }
        high
    }
}

/// Returns the months until one note in ten may be out, for the measure that is first.
///
/// **Rule**: a measure drifts from where it was left, as deviations from its aim with mean m and standard deviation s, at
/// a constant rate v, and its notes grow apart. One in ten is out when
/// `|m + v·t| + 1.28·√(s² + ω²t²)` reaches the accepted deviation (normal quantile), with
/// `ω² = max(0, sd_Δ² − 2σ²)/T²`, T the time between. What is not significant is not safe: the time is that
/// of the faster end of `v ± t(n−1)·SE`, 95 %. The first of several measures is biased toward a fast one, so
/// each mean change is shrunk first by `τ²/(τ² + SE²)` in units of its tolerance (P: Efron and Morris
/// 1975).
/// **Range**: [`MIN_NOTES`] notes or more, a month or more.
/// **Error**: two visits give one line; use, climate and settling are confounded in it.
pub(super) fn interval(job: &Job, all: &[Drifted], months: f64) -> Option<Interval> {
    // Within a month the error of reading is larger than wear.
    if months < 1.0 {
        return None;
    }
    let paces: Vec<Pace<'_>> = all.iter().filter_map(|d| Pace::of(job, d)).collect();
    let scaled = |p: &Pace<'_>| {
        let (mean, error) = p.change;
        (
            (mean / p.half_width()).powi(2),
            (error / p.half_width()).powi(2),
        )
    };
    let between = paces.iter().map(|p| scaled(p).0 - scaled(p).1).sum::<f64>();
    let between = (between / paces.len().max(1) as f64).max(0.0);
    let soonest = |p: &Pace<'_>| {
        let error = scaled(p).1;
        let kept = if error > 0.0 {
            between / (between + error)
        } else {
            1.0
        };
        let doubt = student_95(p.drifted.change.count - 1) * p.change.1;
        let ends = [-doubt, doubt].map(|end| p.months_to_out(kept * p.change.0 + end, months));
        ends[0].min(ends[1])
    };
    let first = paces.iter().map(|p| (soonest(p), p.drifted));
    let (soonest, d) = first.min_by(|a, b| a.0.total_cmp(&b.0))?;
    let told = (soonest.round() as u32).clamp(SENSIBLE_MONTHS.0, SENSIBLE_MONTHS.1);
    let after = whole_months(months);
    let went = match d.went_out {
        0 => String::new(),
        n => format!("; {n} of {} went out", d.change.count),
    };
    let reason = match soonest.is_finite() {
        true => format!(
            "{} moved most for its tolerance in {after}{went}. At the fastest pace that the readings allow, one note in ten is out in {}.",
            d.measure.name,
            whole_months(f64::from(told)),
        ),
        false => format!(
            "Even at the fastest pace that the readings allow, fewer than one note in ten is out in {}.",
            whole_months(f64::from(told)),
        ),
    };
    Some(Interval {
        months: told,
        reason,
    })
}

/// Returns the months as words: “11 months”.
fn whole_months(months: f64) -> String {
    match months.round() as i64 {
        1 => "a month".to_owned(),
        m => format!("{m} months"),
    }
}
