//! The steps of an upright regulation: fewer than on the grand, and all readings taken in the piano.
//!
//! The action comes out only to be cleaned and tightened. Steps that the upright shares with the grand
//! are taken from there, with prerequisites of their own where they differ. Steps that the source of the
//! order does not name are common practice (C); minutes are M.

mod measures;
mod reconditioning;
mod regulation;
mod returned;

pub(super) use measures::measures;

use super::grand::{align, recondition, survey};
use super::step::Step;

/// Returns the steps of the upright, in their usual order.
pub(super) fn steps() -> Vec<Step> {
    [
        survey_steps(),
        action_out_steps(),
        regulation::steps(),
        returned::steps(),
        proof_steps(),
    ]
    .concat()
}

fn survey_steps() -> Vec<Step> {
    vec![
        survey::climate(),
        survey::pitch_a4(),
        regulation::found_sample(),
        regulation::wear(),
    ]
}

/// The work for which the action and the keys are taken out (C).
fn action_out_steps() -> Vec<Step> {
    vec![
        reconditioning::action_out(),
        reconditioning::dust(),
        recondition::key_pin(),
        recondition::cauls_in(),
        recondition::cauls_out(),
        recondition::pins_polished(),
        recondition::screws(),
        reconditioning::centre_pins(),
        reconditioning::capstans_polished(),
        reconditioning::travelled(),
        recondition::hammers_shaped(),
        recondition::blown_out(),
        align::keys_eased(),
        align::keys_squared(),
        reconditioning::action_in(),
    ]
}

fn proof_steps() -> Vec<Step> {
    vec![regulation::play_test(), regulation::left_sample()]
}
