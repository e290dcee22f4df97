//! What is known of an instrument, against calculations that are not ours: the trust in a prior, chained readings,
//! errors in variables, and what is uncertain.

use evenhand_core::analysis::belief::{Belief, Look, Repeatability, missed_by_look, normal_below};
use evenhand_core::analysis::learned::FirstReadings;
use evenhand_core::analysis::response::{
    NoiseModel, Prior, TurnResult, learn, learn_note, learn_whole,
};
use evenhand_core::analysis::screw::{Correction, Screw, correction};
use evenhand_core::analysis::survey::student_95;
use evenhand_core::analysis::sweep::wants_gauge;
use evenhand_core::note::Note;
use evenhand_core::simulation::Random;
use evenhand_core::trade::Instrument;
use evenhand_core::unit::{Length, Turns};
use statrs::distribution::{Continuous, ContinuousCDF, Normal, StudentsT};
use statrs::statistics::Statistics;

/// All notes alike, so that a fit is a plain one.
const ALIKE: NoiseModel = NoiseModel {
    reading: Length::from_nm(100_000),
    notes: 0.0,
};

fn trial(turned: i64, before: f64, after: f64) -> TurnResult {
    TurnResult {
        turned: Turns::from_64ths(turned),
        before: Length::from_mm(before),
        after: Length::from_mm(after),
    }
}

/// P: Student's t, the library's quantile.
#[test]
fn the_quantile_of_t_is_student_s() {
    for freedom in [7, 9, 17, 30, 87] {
        let t = StudentsT::new(0.0, 1.0, freedom as f64).unwrap();
        let found = student_95(freedom);
        assert!(
            (found - t.inverse_cdf(0.975)).abs() < 0.002,
            "{freedom}: {found}"
        );
    }
}

/// The weight of an observation under Student's t with 4 degrees of freedom is `−(d ln f/dz)/z`, here from the library's
/// density; a prior that agrees counts in full.
#[test]
fn the_trust_in_a_prior_is_its_weight_under_student_s_t() {
    let density = StudentsT::new(0.0, 1.0, 4.0).unwrap();
    for per_turn in [8.0, 8.5, 9.5, 11.0, 14.0] {
        let trials = vec![trial(16, 45.0, 45.0 + per_turn / 4.0); 5];
        let prior = Prior {
            mm_per_turn: 8.0,
            spread: 0.8,
        };
        let information: f64 = 5.0 * 0.25f64.powi(2) / 0.02;
        let z = (per_turn - 8.0) / (0.8f64.powi(2) + information.recip()).sqrt();
        let h = 1e-5;
        let slope = (density.ln_pdf(z + h) - density.ln_pdf(z - h)) / (2.0 * h);
        // The rows of the data are a little below full weight, too, by the bisquare.
        let trust = if z == 0.0 { 1.0 } else { (-slope / z).min(1.0) };
        let known = trust / 0.8f64.powi(2);
        let expected = (information * per_turn + known * 8.0) / (information + known);
        let found = learn(&trials, prior, ALIKE).unwrap();
        assert!(
            (found.mm_per_turn - expected).abs() < 1e-3,
            "{per_turn}: {found:?} {expected}"
        );
        let error = (information + known).sqrt().recip();
        assert!(
            (found.standard_error - error).abs() < 1e-3,
            "{per_turn}: {found:?} {error}"
        );
    }
}

/// Readings on cumulative turns with one intercept a note: the slope of least squares within notes, from the deviations of
/// each note's readings and turns from their means.
#[test]
fn chained_turns_are_fitted_with_one_intercept_a_note() {
    let vague = Prior {
        mm_per_turn: 8.0,
        spread: 1e4,
    };
    let chains: [&[(i64, f64)]; 3] = [
        &[(0, 46.31), (-8, 45.31), (-4, 44.82), (2, 45.06)],
        &[(0, 43.87), (8, 44.86)],
        &[(0, 44.40), (4, 44.91), (2, 45.14)],
    ];
    let (mut trials, mut sxy, mut sxx) = (Vec::new(), 0.0, 0.0);
    for (at, chain) in chains.iter().enumerate() {
        let note = Note::new(at as i64 * 7 + 1).unwrap();
        let pairs = chain.windows(2).rev();
        trials.extend(pairs.map(|p| (note, trial(p[1].0, p[0].1, p[1].1))));
        let mut turned = 0.0;
        let turns: Vec<f64> = chain
            .iter()
            .map(|(by, _)| {
                turned += *by as f64 / 64.0;
                turned
            })
            .collect();
        let read: Vec<f64> = chain.iter().map(|(_, mm)| *mm).collect();
        let (mean_t, mean_r) = ((&turns).mean(), (&read).mean());
        for (t, r) in turns.iter().zip(&read) {
            sxy += (t - mean_t) * (r - mean_r);
            sxx += (t - mean_t).powi(2);
        }
    }
    // The bisquare gives the rows weights just below 1, so the slope is near, and the error a little larger.
    let found = learn_whole(&trials, vague, ALIKE).unwrap();
    let error = 0.1 / sxx.sqrt();
    assert!(
        (found.mm_per_turn - sxy / sxx).abs() < 0.1 * error,
        "{found:?} {}",
        sxy / sxx
    );
    assert!(
        (found.standard_error / error - 1.0).abs() < 0.1,
        "{found:?} {error}"
    );
}

/// The same for one note with two turns, which has no robust weights: exact.
#[test]
fn the_chain_of_one_note_is_exact() {
    let section = learn(
        &[],
        Prior {
            mm_per_turn: 8.0,
            spread: 1e4,
        },
        ALIKE,
    )
    .unwrap();
    let own = [trial(-4, 45.22, 44.93), trial(-8, 46.31, 45.22)];
    let (t, r) = ([0.0, -0.125, -0.1875], [46.31, 45.22, 44.93]);
    let (mean_t, mean_r) = ((&t[..]).mean(), (&r[..]).mean());
    let sxy: f64 = t
        .iter()
        .zip(&r)
        .map(|(t, r)| (t - mean_t) * (r - mean_r))
        .sum();
    let sxx: f64 = t.iter().map(|t| (t - mean_t).powi(2)).sum();
    let found = learn_note(&section, &own, ALIKE).unwrap();
    assert!(
        (found.mm_per_turn - sxy / sxx).abs() < 1e-5,
        "{found:?} {}",
        sxy / sxx
    );
    assert!(
        (found.standard_error - 0.1 / sxx.sqrt()).abs() < 1e-5,
        "{found:?}"
    );
}

/// Notes that are turned because they read far off: regressing the change on the turn overstates the response by
/// λ = σ²/(σ² + τ²), and with the value to expect in the place of the first reading it does not.
#[test]
fn first_readings_moved_to_their_mean_take_the_bias_out_of_the_response() {
    let (sd, spread, response) = (0.1, 0.25, 8.0);
    let mut chance = Random::new(20);
    let (mut raw, mut moved) = (Vec::new(), Vec::new());
    for _ in 0..300 {
        let truth: Vec<f64> = (0..88).map(|_| 45.3 + spread * chance.normal()).collect();
        let read: Vec<f64> = truth.iter().map(|t| t + sd * chance.normal()).collect();
        let known = FirstReadings::of(&read, sd).unwrap();
        let (mut sxx, mut of_raw, mut of_moved) = (0.0, 0.0, 0.0);
        for (truth, before) in truth.iter().zip(&read) {
            let turn = (45.3 - before) / response;
            let after = truth + response * turn + sd * chance.normal();
            sxx += turn * turn;
            of_raw += turn * (after - before);
            of_moved += turn * (after - known.expected(*before));
        }
        raw.push(of_raw / sxx / response);
        moved.push(of_moved / sxx / response);
    }
    let lambda = sd * sd / (sd * sd + spread * spread);
    assert!(
        ((&raw).mean() - 1.0 - lambda).abs() < 0.01,
        "{}",
        (&raw).mean()
    );
    assert!(((&moved).mean() - 1.0).abs() < 0.01, "{}", (&moved).mean());
}

/// The library's normal distribution, in the middle and in the tails that decide.
#[test]
fn the_probability_of_being_out_is_the_normal_one() {
    let normal = Normal::new(0.0, 1.0).unwrap();
    for k in -60..=60 {
        let z = f64::from(k) / 10.0;
        assert!((normal_below(z) - normal.cdf(z)).abs() < 1e-7, "{z}");
    }
    let known = Belief {
        mean: 2.2,
        variance: 0.02,
    };
    let of = Normal::new(2.2, 0.02f64.sqrt()).unwrap();
    let out = of.cdf(1.5) + 1.0 - of.cdf(2.5);
    assert!((known.out(1.5, 2.5) - out).abs() < 1e-7);
}

/// Reading after reading is the weighted mean of all of them, whatever the order (closed form).
#[test]
fn readings_update_a_belief_to_their_weighted_mean() {
    let readings = [(2.05, 0.011), (1.98, 0.011), (2.12, 0.04), (2.0, 0.011)];
    let start = Belief {
        mean: 2.1,
        variance: 0.05,
    };
    let known = readings
        .iter()
        .fold(start, |known, (mm, noise)| known.read(*mm, *noise).belief);
    let all = readings.iter().chain([&(2.1, 0.05)]);
    let weight: f64 = all.clone().map(|(_, v)| v.recip()).sum();
    let mean = all.map(|(mm, v)| mm / v).sum::<f64>() / weight;
    assert!((known.mean - mean).abs() < 1e-12 && (known.variance - weight.recip()).abs() < 1e-12);
}

/// Misses of a look, counted: values beyond the limit with a flat density, seen with a normal error, below what is flagged.
#[test]
fn the_misses_of_a_look_are_those_of_the_integral() {
    let (sd, accept, density) = (0.14, 0.5, 0.3);
    let normal = Normal::new(0.0, sd).unwrap();
    for flagged in [0.21, 0.4, 0.5, 0.6] {
        let step = 1e-4;
        let beyond = (0..20_000).map(|k| accept + (f64::from(k) + 0.5) * step);
        let one_side: f64 = beyond
            .map(|x| density * normal.cdf(flagged - x) * step)
            .sum();
        let found = missed_by_look(88, density, sd, accept, flagged);
        assert!(
            (found - 2.0 * 88.0 * one_side).abs() < 1e-4,
            "{flagged}: {found} {}",
            2.0 * 88.0 * one_side
        );
    }
}

/// What a note is after a look in which it did not stand out: the moments by summing the normal density over all values, each
/// weighed by how likely the eye lets it pass.
#[test]
fn a_look_leaves_the_moments_of_the_sum_over_all_values() {
    for (mean, variance, flagged, eye) in [
        (0.0, 4.0, 0.6, 0.18),
        (0.2, 0.05, 0.3, 0.1),
        (-0.5, 0.2, 0.4, 0.18),
    ] {
        let before = Normal::new(mean, f64::sqrt(variance)).unwrap();
        let error = Normal::new(0.0, eye).unwrap();
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for k in -120_000..120_000 {
            let x = (f64::from(k) + 0.5) * 1e-4;
            let weight = before.pdf(x) * (error.cdf(flagged - x) - error.cdf(-flagged - x));
            (sum, first, second) = (sum + weight, first + weight * x, second + weight * x * x);
        }
        let (first, second) = (first / sum, second / sum - (first / sum).powi(2));
        let before = Belief {
            mean: 45.0 + mean,
            variance,
        };
        let known = before.looked(45.0, Look { flagged, eye });
        assert!(
            (known.mean - 45.0 - first).abs() < 1e-4,
            "{known:?} {first}"
        );
        assert!((known.variance - second).abs() < 1e-4, "{known:?} {second}");
    }
}

/// With the scatter of an action that nobody looked after, what the looks flag leaves fewer than 0.1 notes out and unseen;
/// let-off by eye alone leaves more, whatever within its aim is flagged.
#[test]
fn what_the_looks_flag_is_safe_and_the_let_off_by_eye_alone_is_not() {
    let missed = |accept: f64, scatter: f64, look: Look| {
        let density = Normal::new(0.0, scatter).unwrap().pdf(accept);
        missed_by_look(88, density, look.eye, accept, look.flagged)
    };
    // The accepted deviation, and the standard deviation of the notes with that of all of them.
    for (id, accept, scatter) in [
        ("blow", 1.0, 1.2 * 1.25_f64.sqrt()),
        ("drop", 0.8, 0.7 * 1.25_f64.sqrt()),
        ("checking", 2.0, 1.5 * 1.25_f64.sqrt()),
        ("let_off", 0.5, 0.6 * 1.25_f64.sqrt()),
        ("aftertouch", 0.374, 0.3),
    ] {
        let look = Look::of(id).unwrap();
        let found = missed(accept, scatter, look);
        assert!(found < 0.1, "{id}: {found}");
        let eye = look.eye.max(0.18);
        let by_eye = missed(accept, scatter, Look { eye, ..look });
        assert_eq!(by_eye > 0.1, wants_gauge(id), "{id} by eye: {by_eye}");
    }
}

/// What is usual after a turn, in closed form from what is learned of the hand: of a large turn its error, of a small one
/// that of two readings.
#[test]
fn what_is_usual_after_a_turn_holds_the_hand_and_two_readings() {
    let blow = Screw::of(Instrument::Grand.measure("blow").unwrap()).unwrap();
    let trials: Vec<TurnResult> = (0..24)
        .map(|k| trial(8, 45.0, if k % 2 == 0 { 45.7 } else { 46.3 }))
        .collect();
    let known = learn(&trials, Prior::rough(8.0), NoiseModel::default()).unwrap();
    assert!(known.hand > 0.08 && known.spread_factor >= 1.0);
    for off in [0.5, 2.0, 4.0] {
        let at = |mm| Length::from_mm(mm);
        let found = correction(at(45.0 + off), at(45.0), &known, &blow);
        let Correction::Turn {
            turns,
            give_or_take,
            ..
        } = found
        else {
            panic!("{found:?}");
        };
        let (t, b, s) = (turns.turns(), known.mm_per_turn, known.standard_error);
        let readings = 2.0 * 0.1f64.powi(2);
        let by_factor = known.spread_factor.powi(2) * (t * t * s * s + readings);
        let by_hand = t * t * (s * s + b * b * (known.hand.powi(2) - 0.08f64.powi(2))) + readings;
        let usual = by_factor.max(by_hand).sqrt();
        assert!(
            (give_or_take.mm() - usual).abs() < 1e-5,
            "{off}: {give_or_take:?} {usual}"
        );
        assert_eq!(
            by_hand > by_factor,
            off > 1.0,
            "{off}: {by_hand} {by_factor}"
        );
    }
}

/// Twelve notes read twice: the estimate is the library's variance of the differences, shrunk as it says.
#[test]
fn own_repeatability_is_half_the_mean_square_of_differences() {
    let mut chance = Random::new(12);
    let differences: Vec<f64> = (0..12)
        .map(|_| 0.15 * 2f64.sqrt() * chance.normal())
        .collect();
    let mirrored: Vec<f64> = differences.iter().flat_map(|d| [*d, -*d]).collect();
    // Around 0 the variance of all with both signs is the mean square.
    let square = mirrored.iter().population_variance();
    let expected = ((10.0 * 0.01 + 12.0 * square / 2.0) / 22.0).sqrt();
    let found = Repeatability::of(0.1, &differences);
    assert!((found.sd - expected).abs() < 1e-12, "{found:?} {expected}");
}
