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

use super::Instrument;
use super::grand::{align, recondition, renewal, survey};
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
        survey::decisions(),
    ]
}

/// The work for which the action and the keys are taken out (C).
fn action_out_steps() -> Vec<Step> {
    let mut steps = vec![
        reconditioning::action_out(),
        reconditioning::dust(),
        recondition::key_pin(),
        renewal::bushings(),
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
    ];
    let travelled = steps.iter().position(|s| s.id.as_str() == "travelled");
    let place = travelled.unwrap_or(steps.len());
    steps.splice(place..place, renewal::steps(Instrument::Upright));
    steps
}

fn proof_steps() -> Vec<Step> {
    vec![regulation::play_test(), regulation::left_sample()]
}
