//! Tests of the target arithmetic.

use super::*;
use crate::job::tests::{BENCH, Phone, n, on};
use crate::job::{Job, Setup};
use crate::note::Sections;

fn flat(hundredths: i64) -> Option<Target> {
    Some(Target::Flat(Band::mm(hundredths, 30, 50)))
}

#[test]
fn a_target_of_another_shape_comes_to_the_same_on_each_note() {
    let mut phone = Phone::new(1);
    phone.setup(Setup {
        sections: Sections::new([20, 52].map(n)).ok(),
        ..Setup::default()
    });
    let bands = |phone: &Phone| -> Vec<_> {
        Note::all()
            .map(|note| phone.state().band("drop", Subject::Note(note)))
            .collect()
    };
    let before = bands(&phone);
    for shape in [Shape::BySection, Shape::Tapered, Shape::Flat] {
        let target = target_as(phone.state(), "drop", shape).unwrap();
        assert_eq!(target.shape(), shape);
        assert!(target.is_sound());
        phone.target("drop", Scope::Job, Some(target));
        assert_eq!(bands(&phone), before, "{shape:?}");
    }
    // A drop equal to the let-off, which has a target of its own.
    let share = target_as(phone.state(), "drop", Shape::ShareOf).unwrap();
    phone.target("drop", Scope::Job, Some(share));
    phone.read("let_off", on(30), BENCH, 1_700_000);
    let aim = |note| phone.state().band("drop", on(note)).unwrap().aim;
    assert_eq!((aim(30), aim(31)), (1_700_000, 2_000_000));
}

#[test]
fn a_scope_answers_with_its_own_target_or_with_what_holds_there() {
    let mut phone = Phone::new(1);
    let of = |phone: &Phone, scope| target_of(phone.state(), "let_off", scope);
    assert_eq!(of(&phone, Scope::Note(n(30))), flat(200));
    phone.target("let_off", Scope::Section(0), flat(250));
    assert_eq!(of(&phone, Scope::Note(n(30))), flat(250));
    assert_eq!(of(&phone, Scope::Job), flat(200));
    let state = phone.state();
    assert_eq!(state.target_set("let_off", Scope::Note(n(30))), None);
    assert_eq!(state.targets_apart("let_off"), [Scope::Section(0)]);
    phone.target("let_off", Scope::Section(0), None);
    assert!(phone.state().targets_apart("let_off").is_empty());
}

#[test]
fn what_is_out_is_counted_anew_with_a_changed_target() {
    let mut phone = Phone::new(1);
    for (note, nm) in [(1, 2_000_000), (2, 2_600_000), (3, 1_000_000)] {
        phone.read("let_off", on(note), BENCH, nm);
    }
    assert_eq!(out_now(phone.state(), "let_off"), (3, 2));
    phone.target("let_off", Scope::Job, flat(250));
    assert_eq!(out_now(phone.state(), "let_off"), (3, 1));
}

#[test]
fn targets_that_can_be_set_stand_in_the_stage_of_their_work() {
    let state = Job::new();
    let all = targets_by_stage(state.state());
    let of = |id: &str| {
        let here = all
            .iter()
            .find(|(_, ms)| ms.iter().any(|m| m.id.as_str() == id));
        here.map(|(stage, _)| *stage)
    };
    assert_eq!(of("blow"), Some(Stage::Regulate));
    assert_eq!(of("key_height"), Some(Stage::Regulate));
    assert_eq!(of("pitch_a4"), Some(Stage::Survey));
    assert_eq!(of("wear_hammers"), Some(Stage::Survey));
    // A tick, a reading without a target, and the climate.
    for id in ["cauls_in", "string_height", "humidity"] {
        assert_eq!(of(id), None, "{id}");
    }
    for (_, measures) in &all {
        for measure in measures {
            let shares = shares(state.state(), measure.id.as_str());
            assert!(
                shares
                    .iter()
                    .all(|m| m.id != measure.id && m.kind == measure.kind)
            );
        }
    }
}

#[test]
fn the_target_of_the_length_that_floats_is_as_it_was_set() {
    let mut phone = Phone::new(1);
    phone.setup(Setup {
        following: Some(crate::job::FollowingLength::Dip),
        ..Setup::default()
    });
    phone.target("natural_dip", Scope::Job, flat(1_000));
    let of_note = target_of(phone.state(), "natural_dip", Scope::Note(n(40)));
    assert_eq!(of_note, flat(1_000));
}
