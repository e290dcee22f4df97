//! Intervals against published ones, and against what they promise.

use evenhand_core::analysis::survey::{Z_95, share_out, wilson};
use statrs::distribution::{Discrete, Hypergeometric};

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
            let share = share_out(*seen, read, 88, Z_95).unwrap();
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
        assert!(least > 0.80, "{read} read: {least}");
    }
}

#[test]
fn without_the_correction_the_interval_is_wider_than_it_need_be() {
    let corrected = share_out(11, 44, 88, Z_95).unwrap();
    let (low, high) = wilson(0.25, 44.0, Z_95).unwrap();
    assert!(corrected.low > low && corrected.high < high);
}
