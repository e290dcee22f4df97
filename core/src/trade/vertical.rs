//! The order of a vertical's regulation: shorter, and all of it read in the piano.
//!
//! The action comes out only to be cleaned and tightened. Steps that a vertical shares
//! with the grand are taken from there, with what they need here. Steps that the source
//! of the order does not name are added as common practice (C), minutes are M.

mod measures;
mod regulation;

pub(super) use measures::measures;

use super::grand::{align, proof, recondition, survey};
use super::step::{Place, Stage, Step};

/// The steps of the vertical, in the order of the trade.
pub(super) fn steps() -> Vec<Step> {
    [survey_steps(), apart(), regulation::steps(), proof_steps()].concat()
}

fn survey_steps() -> Vec<Step> {
    vec![
        survey::climate(),
        survey::pitch_a4(),
        regulation::found_sample(),
        regulation::wear(),
    ]
}

/// C: what a vertical's action is taken out for, and its keys.
fn apart() -> Vec<Step> {
    vec![
        regulation::action_out(),
        recondition::dust(),
        recondition::key_pin(),
        recondition::cauls_in(),
        recondition::cauls_out(),
        recondition::pins_polished(),
        recondition::screws(),
        align::keys_eased(),
        align::keys_squared(),
        regulation::travelled(),
        regulation::action_in(),
    ]
}

fn proof_steps() -> Vec<Step> {
    vec![
        proof::play_test().after(&["action_in"]),
        regulation::left_sample(),
    ]
}

/// A step of the grand's bench, read here in the piano.
fn in_place(step: Step) -> Step {
    step.at(Some(Place::Piano))
}

/// A step of one measure whose name in the log it shares, read in the piano.
fn one(id: &'static str, name: &'static str, per: super::Per) -> Step {
    in_place(Step::new(id, name, Stage::Bench, per, &[id]))
}
