//! What advice is worth on invented actions, and the interval that says so.

use evenhand_core::job::Correction;
use evenhand_core::note::Note;
use evenhand_core::simulation::{
    Action, Effort, Honest, Order, Outcome, PairedResult, Policy, Random, Way, World, alone,
    coupled, regulated,
};
use evenhand_core::unit::Length;
use statrs::distribution::{ContinuousCDF, StudentsT};
use statrs::statistics::Statistics;

/// So many actions here; the example program plays through 200.
const ACTIONS: u64 = 30;

fn turns(outcomes: &[Outcome]) -> Vec<Option<f64>> {
    let turns = |e: Effort| f64::from(e.turns);
    outcomes.iter().map(|o| o.aim.map(turns)).collect()
}

fn compared(these: &[Outcome], those: &[Outcome]) -> PairedResult {
    let found = PairedResult::of(turns(these).into_iter(), turns(those).into_iter());
    found.expect("thirty pairs")
}

fn played(outcome: impl Fn(u64) -> Outcome) -> Vec<Outcome> {
    (100..100 + ACTIONS + 3).map(outcome).collect()
}

/// P: Student's t with n − 1 degrees of freedom; the library's own quantile, mean and deviation.
#[test]
fn the_interval_of_paired_differences_is_student_s() {
    for n in [30, 60, 200] {
        let mut chance = Random::new(n);
        let pairs: Vec<(f64, f64)> = (0..n)
            .map(|_| (chance.normal(), 3.0 + chance.normal()))
            .collect();
        let differences: Vec<f64> = pairs.iter().map(|(a, b)| a - b).collect();
        let t = StudentsT::new(0.0, 1.0, n as f64 - 1.0).expect("a distribution");
        let half = t.inverse_cdf(0.975) * (&differences).std_dev() / (n as f64).sqrt();
        let mean = (&differences).mean();
        let (these, those) = pairs
            .iter()
            .map(|(a, b)| (Some(*a), Some(*b)))
            .unzip::<_, _, Vec<_>, Vec<_>>();
        let found = PairedResult::of(these.into_iter(), those.into_iter()).expect("enough pairs");
        assert!((found.mean - mean).abs() < 1e-12);
        assert!(
            (found.low - (mean - half)).abs() < 0.005 * half,
            "{n}: {found:?}"
        );
        assert!(
            (found.high - (mean + half)).abs() < 0.005 * half,
            "{n}: {found:?}"
        );
    }
}

/// The invented normal numbers have the mean and deviation that they claim, within four standard errors.
#[test]
fn invented_noise_is_as_wide_as_it_says() {
    let mut chance = Random::new(5);
    let drawn: Vec<f64> = (0..20_000).map(|_| chance.normal()).collect();
    assert!((&drawn).mean().abs() < 4.0 / 20_000f64.sqrt());
    assert!(((&drawn).std_dev() - 1.0).abs() < 4.0 / 40_000f64.sqrt());
}

/// Key dip directly affects the checking distance:
/// <http://www.londonpianotuning.co.uk/grand-regulation-part-xxii/>. Which way is physics: a key that goes down less
/// lifts its back check less, and the hammer falls farther before it is caught.
#[test]
fn a_shallower_key_of_an_invented_action_checks_farther() {
    let mut action = Action::new(3);
    let truth = |action: &Action, id| action.truth(id, Note::FIRST);
    let before = ["natural_dip", "checking"].map(|id| truth(&action, id));
    let thicker = Correction::Punchings(vec![Length::from_mm_hundredths(30)]);
    action.make("natural_dip", Note::FIRST, &thicker);
    let after = ["natural_dip", "checking"].map(|id| truth(&action, id));
    assert!(after[0] < before[0] - 0.2, "{before:?} {after:?}");
    assert!(after[1] > before[1] + 0.2, "{before:?} {after:?}");
}

#[test]
fn what_was_learned_saves_turns_against_the_rough_default_and_the_eye() {
    for measure in ["blow", "let_off"] {
        let of = |policy| played(|seed| alone(seed, measure, policy));
        let learned = of(Policy::Learned);
        assert!(learned.iter().all(|o| o.aim.is_some()), "{measure}");
        for (other, least) in [(Policy::Default, 3.0), (Policy::ByEye, 10.0)] {
            let found = compared(&learned, &of(other));
            assert!(found.high < -least, "{measure} {other:?}: {found:?}");
        }
    }
}

#[test]
fn the_proposed_order_saves_turns_against_one_that_heeds_no_disturbance() {
    let of = |order| played(|seed| coupled(seed, Policy::Learned, order));
    let proposed = of(Order::Proposed);
    assert!(proposed.iter().all(|o| o.aim.is_some()));
    let found = compared(&proposed, &of(Order::Heedless));
    assert!(found.high < -50.0, "{found:?}");
}

/// The table of `examples/honest.rs`, which plays through 300, on a few actions: competent people end and are as good as the
/// program that measures everything; what is known need not be measured; and a reading after a turn lies in the range in
/// which it is said usually to lie as often as one standard deviation promises.
#[test]
fn what_is_known_is_not_measured_again_and_nothing_is_lost_by_it() {
    let in_world = |way, noise| -> Vec<Honest> {
        let world = World {
            noise,
            ..World::default()
        };
        (200..212).map(|seed| regulated(seed, way, world)).collect()
    };
    let of = |way| in_world(way, 1.0);
    let mean = |all: &[Honest], of: fn(&Honest) -> u32| {
        all.iter().map(|h| f64::from(of(h))).sum::<f64>() / all.len() as f64
    };
    let readings = |all: &[Honest]| mean(all, |h| h.effort.readings);
    let [all, hand, known] = [Way::All, Way::Practised, Way::Known { look: true }].map(of);
    for way in [&all, &hand, &known] {
        assert!(way.iter().all(|h| h.ended));
    }
    assert!((readings(&all) / readings(&hand) - 1.0).abs() < 0.05);
    assert!(
        readings(&known) < readings(&all) - 120.0,
        "{}",
        readings(&known)
    );
    assert!(mean(&known, |h| h.truly_out) <= mean(&all, |h| h.truly_out) + 0.2);
    // Rows looked along at the beginning save more, and leave no more out.
    let swept = of(Way::Swept);
    assert!(swept.iter().all(|h| h.ended));
    assert!(readings(&swept) < readings(&known) - 40.0);
    assert!(mean(&swept, |h| h.truly_out) <= mean(&all, |h| h.truly_out) + 0.2);
    // At doubled noise every job ends, and fewer notes are out than if everything is measured again.
    let [loud_all, loud] = [Way::All, Way::Known { look: true }].map(|way| in_world(way, 2.0));
    assert!(loud.iter().all(|h| h.ended));
    let out = [&loud_all, &loud].map(|all| mean(all, |h| h.truly_out));
    assert!(out[1] < out[0] - 1.0, "{out:?}");
    let share = |all: &[Honest]| {
        let held: u32 = all.iter().map(|h| h.as_expected.0).sum();
        let turns: u32 = all.iter().map(|h| h.as_expected.1).sum();
        f64::from(held) / f64::from(turns)
    };
    for share in [share(&all), share(&loud_all)] {
        assert!((share - 0.68).abs() < 0.03, "{share}");
    }
}
