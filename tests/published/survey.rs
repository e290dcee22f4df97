//! Intervals against published ones, and against what they promise.

use evenhand_core::analysis::survey::{Z_95, share_out, variance_out, wilson};
use statrs::distribution::{Discrete, Hypergeometric};
use statrs::function::beta::ln_beta;
use statrs::function::factorial::ln_binomial;

/// P: Newcombe 1998, Statistics in Medicine 17, 857–872, table I, method 3, the score method without
/// continuity correction, as ten independent public test files copy it.
#[test]
fn wilson_intervals_are_newcombe_s() {
    for (out, read, low, high) in [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
        (29, 29, 0.8830, 1.0000),
    ] {
        let n = f64::from(read);
        let (a, b) = wilson(f64::from(out) / n, n, Z_95).unwrap();
        assert!(
            (a - low).abs() < 5.1e-5 && (b - high).abs() < 5.1e-5,
            "{a} {b}"
        );
    }
}

/// How often the interval from `read` of 88 notes holds the truth, if `out` of the 88 are out:
/// exactly, over every sample that can be drawn.
fn coverage(out: u64, read: u32) -> f64 {
    let drawn = Hypergeometric::new(88, out, u64::from(read)).unwrap();
    let truth = out as f64 / 88.0;
    (0..=read)
        .filter(|seen| {
            let share = share_out(*seen, read, 88).unwrap();
            share.low <= truth + 1e-12 && truth <= share.high + 1e-12
        })
        .map(|seen| drawn.pmf(u64::from(seen)))
        .sum()
}

#[test]
fn the_interval_for_88_notes_holds_the_truth_as_often_as_it_says() {
    for read in [8, 16, 24, 44, 80] {
        let over_all: Vec<f64> = (0..=88).map(|out| coverage(out, read)).collect();
        let mean = over_all.iter().sum::<f64>() / over_all.len() as f64;
        assert!((0.94..=0.99).contains(&mean), "{read} read: {mean}");
        let least = over_all.iter().copied().fold(1.0, f64::min);
        assert!(least > 0.84, "{read} read: {least}");
    }
    // With 18 notes, as a usual sample has.
    let least = (0..=88).map(|out| coverage(out, 18)).fold(1.0, f64::min);
    assert!(least > 0.88, "{least}");
}

/// The prediction of the notes that were not read is the beta-binomial, from the library's logarithms of the beta function
/// and the binomial coefficient.
#[test]
fn the_share_of_the_notes_not_read_is_beta_binomial() {
    for (out, read) in [(0, 18), (3, 18), (18, 18), (11, 44), (1, 80)] {
        let (m, a, b) = (88 - read, f64::from(out) + 0.5, f64::from(read - out) + 0.5);
        let pmf = |k: u32| {
            let (m, k) = (f64::from(m), f64::from(k));
            let ways = ln_binomial(m as u64, k as u64);
            (ways + ln_beta(k + a, m - k + b) - ln_beta(a, b)).exp()
        };
        let all: Vec<f64> = (0..=m).map(pmf).collect();
        assert!((all.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        let below = |k: u32| (0..k).map(pmf).sum::<f64>();
        let low = (0..=m).rfind(|k| below(*k) <= 0.025).unwrap();
        let high = (0..=m)
            .find(|k| 1.0 - below(*k + 1) <= 0.025 + 1e-12)
            .unwrap();
        let share = share_out(out, read, 88).unwrap();
        let likely = f64::from(out) / f64::from(read);
        let of = |others: u32| f64::from(out + others) / 88.0;
        assert!(
            (share.low - of(low).min(likely)).abs() < 1e-12,
            "{out} of {read}"
        );
        assert!(
            (share.high - of(high).max(likely)).abs() < 1e-12,
            "{out} of {read}"
        );
        let mean: f64 = (0..=m).map(|k| f64::from(k) * pmf(k)).sum();
        let square: f64 = (0..=m).map(|k| f64::from(k).powi(2) * pmf(k)).sum();
        let variance = variance_out(out, read, 88);
        assert!(
            (variance - (square - mean * mean)).abs() < 1e-8,
            "{out} of {read}"
        );
    }
}
