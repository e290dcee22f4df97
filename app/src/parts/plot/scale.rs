//! The marks of a value axis.

use evenhand_core::analysis::profile::Profile;
use evenhand_core::unit::{Kind, LengthUnit, Value};

/// Returns whether values of this kind are words, each with half a place above and below it.
pub fn is_graded(kind: Kind) -> bool {
    matches!(kind, Kind::Grade | Kind::Good)
}

/// Returns about four evenly spaced marks, each a value and its label.
pub fn scale(profile: &Profile, low: f64, high: f64, length: LengthUnit) -> Vec<(i64, String)> {
    let measure = &profile.measure;
    let least = ((high - low) / 4.0) as i64;
    let (step, decimals) = match (measure.kind, length) {
        (kind, _) if is_graded(kind) => (1, 0),
        (Kind::Length, LengthUnit::Inch) => (inch_step(least), 3),
        (kind, _) => decimal_step(least, kind.per_shown()),
    };
    let whole = |end: f64| (end / step as f64) as i64;
    let (first, last) = (whole(low) - 1, whole(high) + 1);
    (first..=last)
        .filter(|n| (low..=high).contains(&((n * step) as f64)))
        .take(12)
        .map(|n| {
            let base = n * step;
            let words = match measure.kind {
                kind if is_graded(kind) => {
                    measure.shown(Value::from_base(measure.kind, base), length)
                }
                kind => kind.shown(base, length, decimals),
            };
            (base, words)
        })
        .collect()
}

/// Returns the smallest of 1, 2, 5, 10 … hundredths of the shown unit that is not below `least`, and its decimals.
fn decimal_step(least: i64, per_shown: i64) -> (i64, u32) {
    let mut ten = (per_shown / 100).max(1);
    loop {
        for times in [1, 2, 5] {
            let step = ten * times;
            if step >= least {
                let decimals = (0..3).find(|d| step * 10i64.pow(*d) % per_shown == 0);
                return (step, decimals.unwrap_or(2));
            }
        }
        ten = ten.saturating_mul(10);
    }
}

/// As [`decimal_step`] in 64ths of an inch, doubled.
fn inch_step(least: i64) -> i64 {
    let mut step = 396_875;
    while step < least {
        step *= 2;
    }
    step
}
