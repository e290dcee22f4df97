//! The statistics against certified values, against general libraries, and against what
//! they promise.
//!
//! Certified values: NIST Statistical Reference Datasets, univariate summary statistics. The
//! NumAcc sets are made by their published rule; the Michelson and Mavro data were taken from
//! copies of the public-domain files, not from NIST itself, and are held to NIST's figures here.
//! `oracle.json` holds the answers of scipy and statsmodels to the questions in `oracle.py`;
//! `statrs` answers while the test runs.

use evenhand_core::analysis::evenness::Moments;
use evenhand_core::analysis::response::{NoiseModel, Prior, TurnResult, learn, median_slope};
use evenhand_core::analysis::survey::{Z_95, wilson};
use evenhand_core::analysis::travel::{RatioFit, Travel};
use evenhand_core::note::Note;
use evenhand_core::unit::{Length, Turns};
use serde_json::Value;
use statrs::distribution::{ContinuousCDF, Normal};
use statrs::statistics::Statistics;

/// Mean and standard deviation of whole multiples of `1/per`, against certified ones.
fn certify(values: &[i64], per: f64, mean: f64, sd: f64) {
    let found = Moments::of(values.iter().copied()).unwrap();
    let within = |found: f64, certified: f64| (found - certified).abs() <= 2e-15 * certified.abs();
    assert!(within(found.mean / per, mean), "{found:?} is not {mean}");
    let digits = (found.sd.unwrap() / per / sd - 1.0).abs();
    // Certified to 15 digits.
    assert!(digits <= 5e-15, "{found:?} is not {sd}: {digits:e}");
}

/// One middle value, then 500 pairs around it, in tenths.
fn numacc(middle: i64) -> Vec<i64> {
    let pairs = (0..500).flat_map(|_| [middle - 1, middle + 1]);
    std::iter::once(middle).chain(pairs).collect()
}

#[test]
fn nist_numacc_sets_keep_their_certified_digits() {
    certify(
        &[10_000_001, 10_000_003, 10_000_002],
        1.0,
        10_000_002.0,
        1.0,
    );
    certify(&numacc(12), 10.0, 1.2, 0.1);
    certify(&numacc(10_000_002), 10.0, 1_000_000.2, 0.1);
    certify(&numacc(100_000_002), 10.0, 10_000_000.2, 0.1);
}

#[test]
fn nist_michelson_keeps_its_certified_digits() {
    // Michelson's 1879 velocities of light in air, thousands of km/s less 299, in hundredths.
    #[rustfmt::skip]
    let hundredths = [
        85, 74, 90, 107, 93, 85, 95, 98, 98, 88, 100, 98, 93, 65, 76, 81, 100, 100, 96, 96,
        96, 94, 96, 94, 88, 80, 85, 88, 90, 84, 83, 79, 81, 88, 88, 83, 80, 79, 76, 80,
        88, 88, 88, 86, 72, 72, 62, 86, 97, 95, 88, 91, 85, 87, 84, 84, 85, 84, 84, 84,
        89, 81, 81, 82, 80, 77, 76, 74, 75, 76, 91, 92, 89, 86, 88, 72, 84, 85, 85, 78,
        89, 84, 78, 81, 76, 81, 79, 81, 82, 85, 87, 87, 81, 74, 81, 94, 95, 80, 81, 87,
    ];
    assert_eq!(hundredths.len(), 100);
    let values = hundredths.map(|h| 29_900 + h);
    certify(&values, 100.0, 299.852_4, 0.079_010_547_819_051_8);
}

#[test]
fn nist_mavro_keeps_its_certified_digits() {
    // Filter transmittance, in hundred-thousandths less 200 000.
    #[rustfmt::skip]
    let values = [
        180, 170, 180, 190, 180, 170, 150, 140, 150, 150, 170, 180, 180, 190, 190, 210, 200,
        160, 140, 130, 130, 150, 150, 160, 150, 140, 130, 140, 150, 140, 150, 160, 150, 160,
        190, 200, 200, 210, 220, 230, 240, 250, 270, 260, 260, 260, 270, 260, 250, 240,
    ];
    let values = values.map(|v| 200_000 + v);
    certify(&values, 1e5, 2.001_856, 0.000_429_123_454_003_053);
}

#[test]
fn a_general_library_finds_the_same_mean_and_scatter() {
    for seed in 1..40u64 {
        let readings: Vec<i64> = (0..seed + 1)
            .map(|i| 45_000_000 + (seed * 7_919 + i * 104_729) as i64 % 1_999_993)
            .collect();
        let found = Moments::of(readings.iter().copied()).unwrap();
        let as_numbers = || readings.iter().map(|r| *r as f64);
        assert!((found.mean / as_numbers().mean() - 1.0).abs() < 1e-14);
        assert!((found.sd.unwrap() / as_numbers().std_dev() - 1.0).abs() < 1e-10);
    }
}

#[test]
fn the_quantile_of_95_per_cent_is_that_of_the_normal() {
    let normal = Normal::new(0.0, 1.0).unwrap();
    assert!((Z_95 - normal.inverse_cdf(0.975)).abs() < 1e-9);
}

fn oracle(question: &str) -> Vec<Value> {
    let all: Value = serde_json::from_str(include_str!("oracle.json")).unwrap();
    all[question].as_array().unwrap().clone()
}

fn numbers(value: &Value) -> Vec<i64> {
    let row = value.as_array().unwrap().iter();
    row.map(|v| v.as_i64().unwrap()).collect()
}

fn near(found: f64, answer: &Value, within: f64) {
    let answer = answer.as_f64().unwrap();
    assert!((found - answer).abs() <= within, "{found} is not {answer}");
}

#[test]
fn wilson_intervals_are_those_of_statsmodels() {
    for asked in oracle("wilson") {
        let (out, read) = (
            asked["out"].as_f64().unwrap(),
            asked["read"].as_f64().unwrap(),
        );
        let (low, high) = wilson(out / read, read, Z_95).unwrap();
        near(low, &asked["low"], 1e-9);
        near(high, &asked["high"], 1e-9);
    }
}

#[test]
fn the_action_ratio_is_the_least_squares_line_of_statsmodels() {
    for asked in oracle("through_origin") {
        let travel = |(key, hammer): (&i64, &i64)| Travel {
            dip: Length::from_mm_hundredths(key + 115),
            lost_motion: Length::ZERO,
            blow: Length::from_mm_hundredths(hammer + 200),
            let_off: Length::from_mm_hundredths(200),
            aftertouch: Length::from_mm_hundredths(115),
        };
        let (keys, hammers) = (numbers(&asked["key"]), numbers(&asked["hammer"]));
        let notes = Note::all().zip(keys.iter().zip(&hammers).map(travel));
        let fit = RatioFit::of(&notes.collect::<Vec<_>>()).unwrap();
        assert_eq!(fit.fitted, keys.len());
        near(fit.ratio, &asked["slope"], 1e-9);
        near(fit.standard_error.unwrap(), &asked["standard_error"], 1e-9);
    }
}

/// Turns and changes in mm.
fn points(asked: &Value) -> Vec<(f64, f64)> {
    let turned = numbers(&asked["turned"]).into_iter();
    let changes = numbers(&asked["change"]);
    let both = turned.zip(changes);
    both.map(|(t, um)| (t as f64 / 64.0, um as f64 / 1e3))
        .collect()
}

#[test]
fn no_line_through_the_origin_has_smaller_absolute_residuals_than_scipy_s_linear_program() {
    for asked in oracle("median_slope") {
        let points = points(&asked);
        let slope = median_slope(&points).unwrap();
        let sum: f64 = points.iter().map(|(x, y)| (y - slope * x).abs()).sum();
        near(sum, &asked["least_sum"], 1e-9);
    }
}

#[test]
fn with_nothing_known_beforehand_the_response_is_the_bisquare_line_of_statsmodels() {
    for asked in oracle("bisquare") {
        let trial = |(turned, um): (i64, i64)| TurnResult {
            turned: Turns::from_64ths(turned),
            before: Length::ZERO,
            after: Length::from_nm(um * 1000),
        };
        let turned = numbers(&asked["turned"]).into_iter();
        let trials: Vec<TurnResult> = turned.zip(numbers(&asked["change"])).map(trial).collect();
        let nothing_known = Prior {
            mm_per_turn: 1.0,
            spread: 1e7,
        };
        let one_kind = NoiseModel {
            notes: 0.0,
            ..NoiseModel::default()
        };
        let response = learn(&trials, nothing_known, one_kind).unwrap();
        near(response.mm_per_turn, &asked["slope"], 1e-6);
    }
}
