//! The steps for which the action of the upright is out, as far as they differ from the grand's.

use super::super::caution::Caution;
use super::super::grand::recondition;
use super::super::step::{Per, Place, Stage, Step};

pub(super) fn action_out() -> Step {
    Step::new(
        "action_out",
        "Action out, keys off",
        Stage::TakeApart,
        Per::Whole,
        &["action_out"],
    )
    .at(Some(Place::Piano))
    .takes_minutes(20)
    .instructions(
        "Screwdrivers, action cradle, pencil",
        "Unplug and unhook whatever is wired or linked, free the pedal dowels, undo the brackets and tilt the action out by its posts into a cradle. See that the keys are numbered before they come off.",
        "Without a cradle the action falls over, and bridle wires left hooked under the stickers bend.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Mains, Caution::Tension])
}

pub(super) fn dust() -> Step {
    recondition::dust().instructions(
        "Vacuum with a soft brush, dry brushes, mask, eye protection",
        "Clean the key bed, the keys, the action and the bottom of the case from the top down. Look for what does not belong there: coins, moth, loose key leads, broken springs.",
        "Blown about, dust settles in the centers and the bushings; a hard nozzle lifts felt and tears straps.",
    )
}

/// The radius is known for the hammer alone, as on the grand.
pub(super) fn centre_pins() -> Step {
    Step::new(
        "centre_pins",
        "Center-pin friction",
        Stage::Recondition,
        Per::Note,
        &["hammer_friction", "wippen_friction", "jack_friction"],
    )
    .after(&["action_out"])
    .takes_minutes(90)
    .instructions(
        "Gram gauge, center pins by size, reamers, broaches, pliers, center lubricant, gloves",
        "Unhook the butt spring and push each part with the gauge at its stated radius; measure the force that keeps it moving. Ream and pin the next size for a loose center, ease or treat a tight one.",
        "Loose: the hammer wanders sideways and clicks. Tight: it is slow to come back, and the note repeats badly.",
    )
    .cautions(&[Caution::Blades, Caution::Solvents])
}

pub(super) fn capstans_polished() -> Step {
    Step::new(
        "capstans_polished",
        "Capstans or stickers polished and lubricated",
        Stage::Recondition,
        Per::Note,
        &["capstans_polished"],
    )
    .after(&["action_out"])
    .takes_minutes(60)
    .instructions(
        "Metal polish, cloths, dry lubricant, gloves",
        "Polish the head of each capstan bright, or the foot of its sticker smooth, and rub it with dry lubricant. Hold the key so that the capstan does not turn.",
        "A rough head cuts the wippen cloth. A capstan that turns while you polish changes its lost motion.",
    )
    .cautions(&[Caution::Heat, Caution::Solvents])
}

pub(super) fn travelled() -> Step {
    recondition::travelled()
        .instructions(
            "Traveling paper, heat source for burning in, screwdriver",
            "Push a few hammers together toward the strings and watch the gaps: each must travel straight and strike all strings of its unison. Put traveling paper behind one side of the butt flange to turn its path, burn in a shank that leans, then space the hammers.",
            "Paper on the wrong side doubles the error; too much heat chars the shank, and no flame belongs near solvents.",
        )
}

pub(super) fn action_in() -> Step {
    Step::new(
        "action_in",
        "Action in, keys on",
        Stage::Align,
        Per::Whole,
        &["action_in"],
    )
    .at(Some(Place::Piano))
    .after(&["action_out", "cauls_out"])
    .takes_minutes(20)
    .instructions(
        "Screwdrivers",
        "Set the action on its bolts, draw the brackets evenly, and hook up the pedal dowels. See that every sticker or wippen stands on its capstan and that no damper is held off.",
        "If a bracket is not home on its bolt, the whole action leans, and blow and let-off differ from end to end.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Tension])
}
