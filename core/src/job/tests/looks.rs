//! Tests of what to look at, and that re-measuring what is voided ends.

use super::*;
use crate::trade::StepId;
use crate::unit::Turns;
use proptest::prelude::*;

fn told(phone: &Phone) -> Vec<String> {
    let looks = phone.state().looks();
    looks.iter().map(|l| l.sentence(phone.state())).collect()
}

#[test]
fn played_in_again_the_sample_notes_are_looked_at_and_nothing_is_voided() {
    let mut phone = Phone::new(1);
    phone.read("action_out", Subject::Whole, PIANO, 1);
    phone.read("play_in", Subject::Whole, BENCH, 1);
    for note in Note::all() {
        phone.read("blow", Subject::Note(note), BENCH, 45_000_000);
    }
    assert_eq!(told(&phone), Vec::<String>::new());
    phone.read("play_in", Subject::Whole, BENCH, 1);
    let sentence = "Check blow on the sample notes: played in again since.";
    assert_eq!(told(&phone), [sentence]);
    assert_eq!(
        phone.state().looks()[0].on.len(),
        phone.state().samples().len()
    );
    assert_eq!(phone.progress("blow").to_remeasure, 0);
    let step = phone.state().step("blow").unwrap();
    assert_eq!(phone.state().looks_of(step), phone.state().looks());
    let in_piano = phone.state().step("final_regulation").unwrap();
    assert_eq!(phone.state().looks_of(in_piano), []);
    // The sample stands for the rest.
    for note in phone.state().samples().to_vec() {
        phone.read("blow", Subject::Note(note), BENCH, 45_000_000);
    }
    assert_eq!(told(&phone), Vec::<String>::new());
}

#[test]
fn a_capstan_turned_by_more_than_half_a_turn_asks_for_a_look_at_the_let_off() {
    let mut phone = Phone::new(1);
    phone.read("let_off", on(40), PIANO, 2_000_000);
    let mut turn = |turned| {
        phone.act(EntryKind::Correction {
            measure: MeasureId::of("blow"),
            on: on(40),
            place: PIANO,
            made: Correction::Turned(Turns::from_64ths(turned)),
        });
        told(&phone)
    };
    assert_eq!(turn(20), Vec::<String>::new());
    assert_eq!(turn(-12), Vec::<String>::new(), "half a turn and no more");
    assert_eq!(turn(1), ["Check let-off on note 40: blow changed since."]);
}

/// Returns the next number of a row that depends on its start alone.
fn next(row: &mut u64) -> u64 {
    *row = row
        .wrapping_mul(6_364_136_223_846_793_005)
        .wrapping_add(1_442_695_040_888_963_407);
    *row >> 33
}

/// Returns a value of a measure that is often far from the last one.
fn a_value(row: &mut u64, state: &State, measure: &str) -> i64 {
    let Some(measure) = state.measure(measure) else {
        return 0;
    };
    match measure.plausible {
        Some((low, high)) => low + next(row) as i64 % (high - low + 1),
        None => next(row) as i64 % 2,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn measuring_again_what_is_voided_ends(start in any::<u64>(), upright in any::<bool>()) {
        let (mut row, mut phone) = (start, Phone::new(1));
        let instrument = if upright { Instrument::Upright } else { Instrument::Grand };
        phone.act(EntryKind::Details {
            set: Box::new(Details { instrument: Some(instrument), ..Details::default() }),
        });
        let order: Vec<StepId> = phone.state().order().steps().iter().map(|s| s.id.clone()).collect();
        let near = |on: Subject| on.note().is_none_or(|n| (40..=43).contains(&n.number()));
        for _ in 0..2 {
            for id in &order {
                let step = phone.state().step(id.as_str()).unwrap().clone();
                for item in phone.state().items(&step).into_iter().filter(|i| near(i.on)) {
                    if next(&mut row).is_multiple_of(4) {
                        continue;
                    }
                    let (measure, value) = (item.measure.as_str(), a_value(&mut row, phone.state(), item.measure.as_str()));
                    let place = step.place_or(phone.state().place());
                    phone.read_as(step.occasion, measure, item.on, place, value);
                    if next(&mut row).is_multiple_of(8) {
                        phone.correct(measure, item.on, place);
                    }
                }
            }
        }
        // No chain of the table is longer.
        const ROUNDS: usize = 12;
        let mut rounds = 0;
        loop {
            let mut again = 0;
            for id in &order {
                let step = phone.state().step(id.as_str()).unwrap().clone();
                for item in phone.state().items(&step) {
                    let ItemState::Remeasure(reading, ..) = phone.state().item_state(&step, &item) else {
                        continue;
                    };
                    let occasion = reading.occasion;
                    let value = a_value(&mut row, phone.state(), item.measure.as_str());
                    let place = step.place_or(phone.state().place());
                    phone.read_as(occasion, item.measure.as_str(), item.on, place, value);
                    again += 1;
                }
            }
            if again == 0 {
                break;
            }
            rounds += 1;
            prop_assert!(rounds <= ROUNDS, "{again} still to re-measure");
        }
    }
}
