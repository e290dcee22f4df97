//! The upright after its regulation: strings, dampers, pedals, tuning and voicing.

use super::super::caution::Caution;
use super::super::grand::{returned, survey};
use super::super::step::{Per, Stage, Step};

pub(super) fn steps() -> Vec<Step> {
    vec![
        climate_return(),
        returned::strings_levelled(),
        hammers_spaced(),
        mating(),
        returned::damper_end(),
        damper_key(),
        half_blow_pedal(),
        pedals(),
        returned::tuning(),
        voicing(),
        returned::hammers_filed(),
    ]
}

fn climate_return() -> Step {
    survey::climate_at("climate_return", "Climate after regulation", Stage::Return)
        .after(&["spring"])
}

fn hammers_spaced() -> Step {
    returned::one(
        "hammers_spaced",
        "Hammers spaced to their strings",
        Per::Note,
    )
    .after(&["action_in"])
    .takes_minutes(20)
    .instructions(
        "Screwdriver, light",
        "Push each hammer to its strings: it meets all strings of its unison and no other. Loosen the butt flange screw, move the hammer, and tighten again; then see that its catcher still meets its check.",
        "A hammer off its unison wears one shoulder and leaves a string silent.",
    )
    .cautions(&[Caution::Tension])
}

fn mating() -> Step {
    returned::mating().instructions(
        "Marking paper, sandpaper file, eye protection",
        "Hold the hammer against its strings by the jack and pluck each string: all must be stopped alike. Take a little felt where the hammer touches first.",
        "Hammers shaped to crooked strings are wrong again when the strings are leveled.",
    )
}

fn damper_key() -> Step {
    returned::one("damper_key", "Damper lift at half blow", Per::Damped)
        .after(&["lost_motion"])
        .takes_minutes(45)
        .instructions(
            "Spoon bender, light",
            "Press slowly and watch: the damper starts to lift as the hammer passes half of its blow. Bend the spoon toward the damper lever for an earlier lift, away for a later one.",
            "Early: the touch is heavy and the note rings on. Late: the damper drags and a soft note is choked.",
        )
        .cautions(&[Caution::Tension])
}

fn half_blow_pedal() -> Step {
    returned::one("half_blow_pedal", "Half-blow pedal", Per::Whole)
        .after(&["blow", "bridle_straps"])
        .takes_minutes(10)
        .instructions(
            "Rule, wrench for the pedal rod",
            "Hold the pedal down and measure from crown to string in the middle of the action: half of the blow is left. Give the pedal a little free play before the rail moves.",
            "Too far: soft notes fail. If the rail does not come home, every blow is short.",
        )
        .cautions(&[Caution::Tension, Caution::Mains])
}

/// The damper pedal lifts all dampers at once; the practice pedal moves and returns freely (C).
fn pedals() -> Step {
    returned::one("pedals", "Damper and practice pedal", Per::Whole)
        .after(&["damper_key"])
        .takes_minutes(15)
        .instructions(
            "Wrench for the rods, wire bender, light",
            "Give the damper pedal a little free play, then look along the dampers: all start at one instant. Bend the wire of a damper that starts early or late, and try the practice pedal’s rail for its height.",
            "Without free play the dampers never rest fully; one that lifts early rings under a resting foot.",
        )
        .cautions(&[Caution::Tension, Caution::Mains])
}

fn voicing() -> Step {
    returned::voicing()
        .after(&["tuning"])
        .takes_minutes(90)
        .instructions(
            "Voicing needles, file, hammer block, eye protection",
            "Play the scale at one strength and mark what stands out. Needle the shoulders of a bright hammer, file or harden a dull one, a little at a time.",
            "Needles in the crown take the tone and do not give it back; a hammer voiced before it is mated is voiced twice.",
        )
}
