//! The steps of the return: regulating against the strings, dampers, pedals, tuning and voicing.

use super::super::caution::Caution;
use super::super::step::{Per, Stage, Step};
use super::survey;

pub(super) fn steps() -> Vec<Step> {
    vec![
        action_in(),
        climate_return(),
        bedding(),
        mating(),
        final_regulation(),
        damper_key(),
        damper_tray(),
        stop_rails(),
        pedals(),
        tuning(),
        voicing(),
    ]
}

/// Returns a step of one measure with the same id.
pub(in crate::trade) fn one(id: &'static str, name: &'static str, per: Per) -> Step {
    Step::new(id, name, Stage::Return, per, &[id])
}

fn action_in() -> Step {
    one("action_in", "Action in, keys clear, shift works", Per::Whole)
        .after(&["action_out", "stack_on"])
        .takes_minutes(20)
        .instructions(
            "Help to lift, light, screwdrivers",
            "Slide the action in level, all hammers down, and watch the first and the last under-lever. Put in the cheek blocks, try every key, and press the shift to both ends.",
            "A raised hammer breaks on the pin block; a cheek block that presses too hard binds the shift.",
        )
        .cautions(&[Caution::HeavyAction])
}

fn climate_return() -> Step {
    survey::climate_at("climate_return", "Climate on return", Stage::Return).after(&["action_in"])
}

fn bedding() -> Step {
    one("bedding", "Key frame bedded, glides set", Per::Whole)
        .after(&["action_in"])
        .takes_minutes(20)
        .instructions(
            "Glide tool, thin paper strips, light",
            "With the glides raised, tap along the front and the back rail: no knock anywhere. Then turn each glide down until it just carries, tried with a paper strip, and see that the shift still returns.",
            "A glide down too far lifts the balance rail and with it every key; one too high knocks in a hard blow.",
        )
        .cautions(&[Caution::HeavyAction])
}

fn mating() -> Step {
    one(
        "mating",
        "Strings levelled, hammers mated to all strings",
        Per::Note,
    )
    .after(&["bedding"])
    .takes_minutes(60)
    .instructions(
        "String hook, bubble gauge, marking paper, sandpaper file, eye protection",
        "Level the strings of each unison first, then block the hammer up to them and pluck each string: all must be stopped alike. Lift the low string with the hook, or take a little felt where the hammer touches first.",
        "Felt taken to suit crooked strings is wrong again when the strings are levelled; a hook pulled hard can break a string.",
    )
    .cautions(&[Caution::Tension, Caution::Dust])
}

fn final_regulation() -> Step {
    Step::new(
        "final_regulation",
        "Final regulation against the strings",
        Stage::Return,
        Per::Note,
        &["blow", "let_off", "drop", "checking", "aftertouch"],
    )
    .after(&["action_in", "bedding", "mating"])
    .takes_minutes(90)
    .instructions(
        "Gauges and tools of the bench regulation, light",
        "Read a few control notes of each section first: if a whole section is off by the same amount, look at bedding and string heights before you turn anything. Then correct note by note against the strings.",
        "Eighty-eight capstans turned against a frame that lies badly are turned back when it is bedded.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Tension])
}

fn damper_key() -> Step {
    one("damper_key", "Damper lift with the key", Per::Note)
        .after(&["bedding"])
        .takes_minutes(45)
        .instructions(
            "Light, screwdriver for the under-lever or damper wire",
            "Press slowly and watch: the damper starts to lift as the hammer passes half of its blow. Set the damper on its wire or the under-lever at its screw; mark notes without dampers good.",
            "Early, the touch is heavy from the start and the note rings on; late, a soft repeated note is damped before it sounds.",
        )
        .cautions(&[Caution::Tension])
}

fn damper_tray() -> Step {
    one("damper_tray", "Damper lift with the tray", Per::Note)
        .takes_minutes(30)
        .instructions(
            "Light, screwdriver for the damper wire",
            "Raise the tray slowly with the pedal and look along the heads: all start at one instant and drop together. Loosen the wire’s screw, set the head, and turn it straight before tightening.",
            "One that starts early rings when the foot rests on the pedal; a head set askew damps two strings of three.",
        )
        .cautions(&[Caution::Tension, Caution::Mains])
}

/// Added to the usual order: set last, because both rails depend on dip and damper lift (C; minutes M).
fn stop_rails() -> Step {
    one(
        "stop_rails",
        "Key stop and damper stop set",
        Per::Whole,
    )
    .after(&["action_in"])
    .takes_minutes(10)
    .instructions(
        "Feeler block, screwdriver",
        "Lift the keys against the key-stop rail: a little room, about 2 mm, and no more. Press keys to the bottom and set the damper stop just above the lifted under-levers.",
        "Too low either stops the key before its punching and steals the dip; too high it lets keys leave their pins or dampers jump.",
    )
}

fn pedals() -> Step {
    one("pedals", "Pedals: free play, shift, sostenuto", Per::Whole)
        .after(&["action_in", "damper_tray"])
        .takes_minutes(20)
        .instructions(
            "Screwdriver, wrench for the rods, light under the piano",
            "Give each pedal a little free play before it works. Shift until the hammers leave the left string of the treble and come back of themselves; hold one damper with the sostenuto and play its neighbors.",
            "Without free play the dampers never rest fully; a shift that goes too far strikes the next unison.",
        )
        .cautions(&[Caution::Mains])
}

pub(in crate::trade) fn tuning() -> Step {
    one("tuning", "Tuning", Per::Whole)
        .after(&["action_in"])
        .takes_minutes(90)
        .instructions(
            "Tuning lever, mutes, tuning device or fork, eye protection",
            "Bring the piano to pitch and tune it, with firm test blows. Note unisons that will not hold and pins that turn too easily.",
            "A pitch raise in one pass sinks again within the day; an old string pulled up fast may break.",
        )
        .cautions(&[Caution::Tension])
}

pub(in crate::trade) fn voicing() -> Step {
    one("voicing", "Voicing", Per::Note)
        .after(&["mating", "tuning"])
        .takes_minutes(120)
        .instructions(
            "Voicing needles, file, hammer block, eye protection",
            "Play the scale at one strength and mark what stands out, then do the same with the shift. Needle the shoulders of a bright hammer, file or harden a dull one, a little at a time.",
            "Needles in the crown take the tone and do not give it back; a hammer voiced before it is mated is voiced twice.",
        )
        .cautions(&[Caution::Blades, Caution::Dust])
}
