//! Tests of the response that is learned, and of the turn that follows from it.

use super::*;
use crate::analysis::screw::{Correction, Screw, correction};
use crate::unit::{Length, Turns};
use proptest::prelude::*;

fn mm(mm: f64) -> Length {
    Length::from_mm(mm)
}

fn trial(turned: i64, per_turn: f64) -> TurnResult {
    let turned = Turns::from_64ths(turned);
    TurnResult {
        turned,
        before: mm(46.0),
        after: mm(46.0 + turned.turns() * per_turn),
    }
}

fn n(number: i64) -> Note {
    Note::new(number).unwrap()
}

fn screw(id: &str) -> Screw {
    let measure = crate::trade::Instrument::Grand.measure(id).unwrap();
    Screw::of(measure).unwrap()
}

const ROUGHLY_8: Prior = Prior::rough(8.0);

fn learned(trials: &[TurnResult]) -> Response {
    learn(trials, ROUGHLY_8, NoiseModel::default()).unwrap()
}

#[test]
fn without_trials_the_default_stands_with_its_doubt() {
    let response = learned(&[]);
    assert!((response.mm_per_turn - 8.0).abs() < 1e-12);
    assert!((response.standard_error - 2.8).abs() < 1e-12);
}

#[test]
fn trials_move_the_response_towards_the_instrument_and_make_it_surer() {
    let mut before = learned(&[]);
    for count in 1..12 {
        let now = learned(&vec![trial(8, 10.0); count]);
        assert!((now.mm_per_turn - 10.0).abs() < (before.mm_per_turn - 10.0).abs());
        assert!(now.standard_error < before.standard_error);
        before = now;
    }
}

#[test]
fn slips_do_not_bend_the_line() {
    let mut trials = vec![trial(8, 10.0); 9];
    let clean = learned(&trials);
    trials.extend([trial(8, -10.0), trial(-12, -9.0), trial(6, 90.0)]);
    let with_slips = learned(&trials);
    assert_eq!(with_slips.set_aside, [9, 10, 11]);
    assert!((with_slips.mm_per_turn - clean.mm_per_turn).abs() < 0.15);
}

#[test]
fn a_first_turn_the_wrong_way_is_set_aside() {
    let response = learned(&[trial(8, -8.0)]);
    assert_eq!(response.set_aside, [0]);
    assert_eq!(response.mm_per_turn, 8.0);
}

#[test]
fn a_strange_instrument_is_believed_when_it_says_so_three_times() {
    let response = learned(&[trial(8, 24.0), trial(-8, 24.0), trial(16, 24.0)]);
    assert!(response.set_aside.is_empty());
    assert!((response.mm_per_turn - 24.0).abs() < 2.0, "{response:?}");
}

#[test]
fn own_data_that_are_uncertain_do_not_throw_a_good_prior_away() {
    // Three small turns of 12.8 mm a turn are uncertain by more than 3 mm, and the prior of 8.0 ± 0.8 is not.
    let prior = Prior {
        mm_per_turn: 8.0,
        spread: 0.8,
    };
    let seen = [trial(2, 12.8), trial(2, 12.8), trial(-2, 12.8)];
    let found = learn(&seen, prior, NoiseModel::default()).unwrap();
    assert!((8.0..8.6).contains(&found.mm_per_turn), "{found:?}");
    assert!(found.mm_per_turn > 2.0 * found.standard_error);
}

#[test]
fn turns_that_fall_as_far_as_readings_vary_widen_nothing_and_a_rough_hand_does() {
    let exact = learned(&vec![trial(16, 8.0); 12]);
    assert_eq!(exact.spread_factor, 1.0);
    let rough: Vec<TurnResult> = (0..12)
        .map(|i| trial(16, if i % 2 == 0 { 5.6 } else { 10.4 }))
        .collect();
    let rough = learned(&rough);
    assert!(rough.spread_factor > 1.5, "{rough:?}");
    let given = |response: &Response| match correction(mm(48.0), mm(45.0), response, &screw("blow"))
    {
        Correction::Turn { give_or_take, .. } => give_or_take.mm(),
        other => panic!("{other:?}"),
    };
    assert!(given(&rough) > 1.5 * given(&exact));
}

#[test]
fn a_section_that_is_not_known_is_as_uncertain_as_the_others_differ_and_few_know_less() {
    let spread = |others: i64| {
        let breaks = (1..=others).map(|k| n(k * 20));
        let sections = Sections::new(breaks).unwrap();
        let notes = (0..others).map(|k| n(k * 20 + 5));
        let trials: Vec<(Note, TurnResult)> = notes
            .flat_map(|note| vec![(note, trial(64, 8.0)); 60])
            .collect();
        let all = learn_action(&trials, &sections, ROUGHLY_8, NoiseModel::default()).unwrap();
        let new = all.sections.last().unwrap();
        new.standard_error / new.mm_per_turn
    };
    // With one other section √2 · 0.08, and a little for its own error.
    assert!((0.113..0.117).contains(&spread(1)), "{}", spread(1));
    assert!(spread(3) < spread(2) && spread(2) < spread(1));
}

#[test]
fn nothing_turned_says_nothing() {
    let response = learned(&[trial(0, 8.0)]);
    assert_eq!((response.used, response.mm_per_turn), (0, 8.0));
}

#[test]
fn a_trial_makes_a_narrower_prior_than_a_default() {
    let prior = Prior::from_trial(&trial(64, 9.0), NoiseModel::default()).unwrap();
    assert!((prior.mm_per_turn - 9.0).abs() < 1e-6);
    assert!(prior.spread < Prior::rough(9.0).spread);
    assert!(Prior::from_trial(&trial(64, -9.0), NoiseModel::default()).is_err());
    assert!(Prior::from_trial(&trial(0, 9.0), NoiseModel::default()).is_err());
}

#[test]
fn a_section_without_trials_answers_as_the_rest_and_one_with_many_as_itself() {
    let sections = Sections::new([n(20), n(40), n(60)]).unwrap();
    let mut trials = Vec::new();
    for _ in 0..20 {
        trials.push((n(5), trial(8, 7.0)));
        trials.push((n(30), trial(8, 8.0)));
        trials.push((n(50), trial(8, 9.0)));
    }
    let all = learn_action(&trials, &sections, ROUGHLY_8, NoiseModel::default()).unwrap();
    let of = |s: usize| all.sections[s].mm_per_turn;
    assert!(
        (of(0) - 7.0).abs() < 0.25 && (of(2) - 9.0).abs() < 0.25,
        "{all:?}"
    );
    assert!((of(3) - 8.0).abs() < 0.3);
    assert!(all.sections[3].standard_error > all.sections[2].standard_error);
}

#[test]
fn a_section_with_one_trial_leans_on_the_others() {
    let sections = Sections::new([n(44)]).unwrap();
    let mut trials = vec![(n(5), trial(8, 8.0)); 20];
    trials.push((n(60), trial(8, 12.0)));
    let all = learn_action(&trials, &sections, ROUGHLY_8, NoiseModel::default()).unwrap();
    let treble = all.sections[1].mm_per_turn;
    assert!(treble > 8.0 && treble < 10.5, "{treble}");
}

#[test]
fn a_note_of_its_own_kind_is_learned_from_its_own_turns() {
    let section = learned(&vec![trial(8, 8.0); 30]);
    let once = learn_note(&section, &[trial(8, 9.5)], NoiseModel::default()).unwrap();
    let often = learn_note(&section, &[trial(8, 9.5); 6], NoiseModel::default()).unwrap();
    assert!(section.mm_per_turn < once.mm_per_turn && once.mm_per_turn < often.mm_per_turn);
}

#[test]
fn the_less_is_known_the_less_is_turned() {
    let sure = learned(&vec![trial(32, 8.0); 40]);
    let unsure = learned(&[]);
    let turned =
        |response: &Response| match correction(mm(50.0), mm(45.0), response, &screw("blow")) {
            Correction::Turn { turns, .. } => -turns.in_64ths(),
            other => panic!("{other:?}"),
        };
    assert!(turned(&unsure) < turned(&sure));
    assert_eq!(turned(&sure), 40);
}

#[test]
fn directions_are_those_of_the_trade() {
    let sure = learned(&vec![trial(32, 8.0); 40]);
    let way = |reading, target, id| match correction(mm(reading), mm(target), &sure, &screw(id)) {
        Correction::Turn { direction, .. } => direction,
        other => panic!("{other:?}"),
    };
    assert_eq!(way(46.0, 45.0, "blow"), "up");
    assert_eq!(way(1.0, 2.0, "let_off"), "down");
    assert_eq!(way(1.0, 2.0, "drop"), "down");
}

#[test]
fn a_response_that_may_be_none_is_tried_first() {
    let vague = Prior {
        mm_per_turn: 8.0,
        spread: 5.0,
    };
    let vague = learn(&[], vague, NoiseModel::default()).unwrap();
    let asked = correction(mm(50.0), mm(45.0), &vague, &screw("blow"));
    assert_eq!(asked, Correction::TryFirst);
    for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(learn(&[], Prior::rough(bad), NoiseModel::default()).is_err());
    }
}

#[test]
fn slips_among_few_turns_do_not_turn_a_screw_around() {
    // Three slips out of four in one section: the others, and what is usual, still say which way it goes.
    let sections = Sections::new([n(44)]).unwrap();
    let mut trials = vec![(n(60), trial(8, 8.0)); 6];
    trials.extend([-8.0, -8.0, -8.0, 8.0].map(|per_turn| (n(5), trial(8, per_turn))));
    let all = learn_action(&trials, &sections, ROUGHLY_8, NoiseModel::default()).unwrap();
    assert!(all.sections[0].mm_per_turn > 4.0, "{all:?}");
    let note = learn_note(
        &all.sections[0],
        &[trial(8, -8.0); 3],
        NoiseModel::default(),
    )
    .unwrap();
    assert!(note.mm_per_turn > 4.0, "{note:?}");
}

proptest! {
    #[test]
    fn a_turn_is_whole_steps_never_beyond_the_target_and_never_too_far(
        reading in -60.0..60.0f64, target in -60.0..60.0f64, count in 0usize..5, per_turn in 4.0..12.0f64,
    ) {
        let response = learned(&vec![trial(8, per_turn); count]);
        match correction(mm(reading), mm(target), &response, &screw("blow")) {
            Correction::Turn { turns, expected, .. } => {
                prop_assert_eq!(turns.in_64ths() % 2, 0);
                prop_assert!(turns.in_64ths().abs() <= 64);
                let step = response.mm_per_turn / 32.0;
                let left = (mm(target) - expected).mm();
                let error = target - reading;
                // Rounding may overshoot the target by half the resolution at most.
                prop_assert!(left.abs() <= error.abs() + 1e-6);
                prop_assert!(left * error.signum() >= -0.5 * step - 1e-6);
            }
            Correction::Leave => prop_assert!(
                (target - reading).abs() < response.mm_per_turn / 32.0 * 1.2
            ),
            Correction::TryFirst => prop_assert!(false),
        }
    }

    #[test]
    fn no_trials_make_it_stumble(
        trials in prop::collection::vec((1i64..=88, any::<i64>(), any::<i64>(), any::<i64>()), 0..12),
        prior in any::<f64>(), reading in any::<i64>(), notes in any::<f64>(),
    ) {
        let trials: Vec<(Note, TurnResult)> = trials.into_iter().map(|(k, turned, before, after)| (n(k), TurnResult {
            turned: Turns::from_64ths(turned), before: Length::from_nm(before), after: Length::from_nm(after),
        })).collect();
        let scatter = NoiseModel { reading: Length::from_nm(reading), notes };
        let sections = Sections::new([n(30)]).unwrap();
        for prior in [Prior::rough(prior), ROUGHLY_8] {
            if let Ok(learned) = learn_action(&trials, &sections, prior, scatter) {
                let _ = correction(mm(1.0), mm(2.0), &learned.whole, &screw("blow"));
            }
        }
    }
}

/// The bisquare with the prior as one more observation, written out without anything prepared.
fn plain(rows: &[TrialChange], start: f64, prior: Prior) -> f64 {
    let turned = rows.iter().filter(|row| row.turns != 0.0);
    let seen: Vec<f64> = turned.map(|row| row.away(start)).collect();
    let wide = crate::analysis::robust_scale(&seen).max(1.0);
    let weight = |row: &TrialChange, slope: f64| {
        let u = row.away(slope) / wide / 4.685;
        (1.0 - u * u).max(0.0).powi(2)
    };
    let mut slope = start;
    for step in 0..=50 {
        let (mut squares, mut products) = (0.0, 0.0);
        for row in rows {
            let of_row = weight(row, slope) / (wide * row.scale).powi(2);
            squares += of_row * row.turns.powi(2);
            products += of_row * row.turns * row.change;
        }
        let data = (squares > 0.0).then(|| (products / squares, squares.sqrt().recip()));
        let known = fit::trust(data, prior) / prior.spread.powi(2);
        let next = (products + prior.mm_per_turn * known) / (squares + known);
        let settled = step > 0 && (next - slope).abs() <= 1e-9 * next.abs();
        slope = next;
        if settled {
            break;
        }
    }
    slope
}

proptest! {
    #[test]
    fn the_prepared_fit_is_the_plain_one(
        turned in prop::collection::vec((-40i64..40, -3.0f64..3.0), 3..30),
    ) {
        let rows: Vec<TrialChange> = turned
            .iter()
            .filter(|(turns, _)| *turns != 0)
            .map(|(turns, off)| TrialChange {
                turns: *turns as f64 / 64.0,
                change: 9.0 * *turns as f64 / 64.0 + 0.2 * off,
                scale: 0.15 + 0.01 * off.abs(),
            })
            .collect();
        let (fitted, expected) = (refined(&rows, 7.0, ROUGHLY_8).slope, plain(&rows, 7.0, ROUGHLY_8));
        prop_assert!((fitted - expected).abs() < 1e-8 * expected.abs(), "{fitted} {expected}");
    }
}
