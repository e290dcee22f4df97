//! The steps of the return: regulating against the strings, dampers, pedals, tuning and voicing.

use super::super::caution::Caution;
use super::super::step::{Per, Stage, Step};
use super::survey;

pub(super) fn steps() -> Vec<Step> {
    vec![
        action_in(),
        climate_return(),
        bedding(),
        keys_in_piano(),
        strings_levelled(),
        hammers_spaced(),
        mating(),
        final_regulation(),
        damper_end(),
        damper_key(),
        damper_tray(),
        stop_rails(),
        shift(),
        sostenuto(),
        pedals(),
        tuning(),
        voicing(),
        hammers_filed(),
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
            "Too far down: the glide lifts the balance rail, and every key with it. Too high: it knocks in a hard blow.",
        )
        .cautions(&[Caution::HeavyAction])
}

/// Sample notes first, then only where they point; the final leveling is done here.
fn keys_in_piano() -> Step {
    Step::new(
        "keys_in_piano",
        "Key height, level and dip in the piano",
        Stage::Return,
        Per::Sample,
        &[
            "key_height",
            "natural_level",
            "sharp_level",
            "natural_dip",
            "sharp_dip",
        ],
    )
    .after(&["bedding"])
    .takes_minutes(45)
    .instructions(
        "Straight edge, rule, dip block, punchings, tweezers",
        "Measure the sample notes on the key bed. Where they are off, measure their neighbors too; if a whole stretch is off by the same amount, check the bedding first. Lift the stack off or tip it to reach the balance-rail paper; weight the keys as in use.",
        "If you level keys on a badly bedded frame, you level them again once it is bedded.",
    )
    .cautions(&[Caution::HeavyAction])
}

pub(in crate::trade) fn strings_levelled() -> Step {
    one("strings_levelled", "Strings leveled", Per::Note)
        .takes_minutes(30)
        .instructions(
            "String hook, bubble gauge, eye protection",
            "Lay the gauge across the strings of each unison at the strike point. Lift the low string with the hook, a little at a time, until all lie at one height.",
            "A hard pull can break a string. Hammers shaped to crooked strings are wrong again when the strings are leveled.",
        )
        .cautions(&[Caution::Tension])
}

fn hammers_spaced() -> Step {
    one(
        "hammers_spaced",
        "Hammers spaced to their strings",
        Per::Note,
    )
    .after(&["action_in"])
    .takes_minutes(20)
    .instructions(
        "Screwdriver, light",
        "Raise each hammer to its strings: it meets all strings of its unison and no other. Loosen the flange screw, move the hammer, and tighten again; then look at the wippens of those that moved.",
        "A hammer off its unison wears one shoulder and leaves a string silent with the shift down.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Tension])
}

pub(in crate::trade) fn mating() -> Step {
    one("mating", "Hammers mated to all strings", Per::Note)
        .after(&["strings_levelled", "hammers_spaced"])
        .takes_minutes(45)
        .instructions(
            "Marking paper, sandpaper file, eye protection",
            "Block the hammer up to its strings and pluck each string: all must be stopped alike. Take a little felt where the hammer touches first.",
            "Hammers shaped to crooked strings are wrong again when the strings are leveled.",
        )
        .cautions(&[Caution::Tension, Caution::Dust])
}

fn final_regulation() -> Step {
    Step::new(
        "final_regulation",
        "Final regulation against the strings",
        Stage::Return,
        Per::Note,
        &[
            "blow",
            "let_off",
            "drop",
            "checking",
            "aftertouch",
            "spring",
        ],
    )
    .after(&["action_in", "bedding"])
    .takes_minutes(90)
    .instructions(
        "Gauges and tools of the bench regulation, light",
        "Measure a few control notes of each section first. If a whole section is off by the same amount, check bedding and string heights before you turn anything. Then correct note by note against the strings.",
        "If you turn 88 capstans on a badly bedded frame, you turn them all back once it is bedded.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Tension])
}

/// Asked for, because it differs by model: the two steps after it go as far as this note.
pub(in crate::trade) fn damper_end() -> Step {
    one("damper_end", "Where the dampers end", Per::Whole)
        .takes_minutes(1)
        .instructions(
            "None",
            "Count the keys from the bass to the last note that has a damper, and enter its number.",
            "Without it, every note up to 88 is asked for.",
        )
}

fn damper_key() -> Step {
    one("damper_key", "Damper lift with the key", Per::Damped)
        .after(&["bedding"])
        .takes_minutes(45)
        .instructions(
            "Light, screwdriver for the under-lever or damper wire",
            "Press slowly and watch: the damper starts to lift as the hammer passes half of its blow. Set the damper on its wire or the under-lever at its screw.",
            "Early: the touch is heavy from the start and the note rings on. Late: a soft repeated note is damped before it sounds.",
        )
        .cautions(&[Caution::Tension])
}

fn damper_tray() -> Step {
    one("damper_tray", "Damper lift with the tray", Per::Damped)
        .takes_minutes(30)
        .instructions(
            "Light, screwdriver for the damper wire",
            "Raise the tray slowly with the pedal and look along the heads: all start at one instant and drop together. Loosen the wire’s screw, set the head, and turn it straight before tightening.",
            "One that starts early rings when the foot rests on the pedal; a crooked head damps two strings of three.",
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
        "Too low: either one stops the key before its punching and steals dip. Too high: keys leave their pins or dampers jump.",
    )
}

/// Published: the hammers clear one string of each unison.
fn shift() -> Step {
    one("shift", "Shift", Per::Section)
        .after(&["action_in"])
        .takes_minutes(10)
        .instructions(
            "Screwdriver, wrench for the rods, light",
            "Hold the shift down: the hammers clear one string of each unison and touch no other unison. Set the stop, and see that the action comes back by itself.",
            "Too far: the hammer strikes the next unison. Too short: it still touches all strings.",
        )
        .cautions(&[Caution::Mains])
}

/// Published: the blade stands 1/16 in below and away from the tabs.
fn sostenuto() -> Step {
    one("sostenuto", "Sostenuto", Per::Section)
        .after(&["damper_tray"])
        .takes_minutes(10)
        .instructions(
            "Screwdriver, wrench for the rods, light",
            "Hold a key of the section down, press the pedal, and play its neighbors: it holds that note and catches no other. At rest the blade stands 1.6 mm below the tabs and as far away from them.",
            "Too near: the blade catches dampers that are not held. Too far: it loses those that are.",
        )
        .cautions(&[Caution::Mains, Caution::Tension])
}

fn pedals() -> Step {
    one("pedals", "Pedals: free play", Per::Whole)
        .after(&["action_in"])
        .takes_minutes(10)
        .instructions(
            "Screwdriver, wrench for the rods, light under the piano",
            "Give each pedal a little free play before it works. Press each to its stop and let it up: it comes back by itself and makes no noise.",
            "Without free play the dampers never rest fully.",
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

/// Asked for where a hammer is dull: a needled or played-in hammer needs none (C; minutes M). Filing changes the
/// length of the hammer, so it disturbs what shaping disturbs.
pub(in crate::trade) fn hammers_filed() -> Step {
    one("hammers_filed", "Dull hammers filed", Per::Note)
        .after(&["voicing"])
        .takes_minutes(30)
        .instructions(
            "Sandpaper files, mask, eye protection",
            "File a dull hammer from the shoulders to the crown until it sounds like its neighbors, and tick it off. Leave out a note that was hardened or needled instead.",
            "A filed hammer is shorter: re-measure its blow, let-off, drop and checking.",
        )
        .cautions(&[Caution::Dust])
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
