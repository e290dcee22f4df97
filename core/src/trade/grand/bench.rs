//! The steps of regulating on the bench, against stand-in strings.
//!
//! In this order later steps disturb earlier ones as little as possible: aftertouch and sharp dip stand
//! before the back checks, because a changed dip changes the checking. Where the dip is the length left
//! to follow, it is set last, from the aftertouch ([`crate::trade::Order::of`]).

use super::super::caution::Caution;
use super::super::step::{Per, Stage, Step};
use super::survey;

pub(super) fn steps() -> Vec<Step> {
    vec![
        stack_on(),
        climate_bench(),
        play_in(),
        stand_in(),
        key_height(),
        natural_level(),
        sharp_level(),
        natural_dip(),
        jack_position(),
        lever_height(),
        blow(),
        let_off(),
        drop(),
        aftertouch(),
        sharp_dip(),
        checks_squared(),
        checking(),
        spring(),
        rest_cushion(),
        weights(),
    ]
}

/// Returns a step of one measure with the same id.
fn one(id: &'static str, name: &'static str, per: Per) -> Step {
    Step::new(id, name, Stage::Regulate, per, &[id])
}

/// Added to the usual order: nothing can be played in or regulated before it (C; minutes M).
fn stack_on() -> Step {
    one("stack_on", "Keys and stack back on the frame", Per::Whole)
        .after(&["action_out", "cauls_out"])
        .takes_minutes(20)
        .instructions(
            "Screwdrivers",
            "Lay the keys on by number with clean punchings under them, set the stack in place and draw its screws evenly. Raise every hammer once and see that no wippen hangs on its capstan.",
            "A stray punching under one key looks like an error of level. A stack drawn down on one side twists, and the hammer line with it.",
        )
        .cautions(&[Caution::HeavyAction])
}

fn climate_bench() -> Step {
    survey::climate_at("climate_bench", "Climate at the bench", Stage::Regulate)
        .after(&["action_out"])
}

fn play_in() -> Step {
    one("play_in", "Play-in: settle the felts", Per::Whole)
        .after(&["stack_on"])
        .takes_minutes(10)
        .instructions(
            "Playing weight or two flat hands",
            "Play every key firmly some twenty times, sharps too, with the hammers against a padded rail. Do it again after any new cloth or felt, then look at blow, let-off and aftertouch on the sample notes.",
            "If the felts have not settled, dip and blow grow within the first weeks.",
        )
}

fn stand_in() -> Step {
    one("stand_in", "Stand-in strings set", Per::SectionEnds)
        .after(&["string_height", "bedding_bench"])
        .takes_minutes(10)
        .instructions(
            "Stand-in rail, height gauge",
            "Set the rail at both ends of each section to the string height taken at the piano, plus the offset of this bench. Check it from the same datum as in the survey.",
            "One section set wrong puts every hammer in it wrong by the same amount, and it looks perfectly even.",
        )
}

fn key_height() -> Step {
    one("key_height", "Key height of the guide keys", Per::Sample)
        .after(&["keys_eased", "bedding_bench", "play_in"])
        .takes_minutes(15)
        .instructions(
            "Rule or height block, punchings, tweezers",
            "Set the guide keys, at the ends and in the middle, to the height that the case allows, measured from the key bed to the top at the front edge. Lift the stack off or tip it, and change punchings under the balance-rail punching.",
            "Too high: the keys show under the fallboard. Too low: the key front sinks behind the slip.",
        )
}

pub(in crate::trade) fn natural_level() -> Step {
    one("natural_level", "Natural level", Per::Natural)
        .after(&["key_height"])
        .takes_minutes(60)
        .instructions(
            "Straight edge, punchings, tweezers, feelers",
            "Lay the straight edge on the guide keys and measure each natural against it, with the keys weighted as in use; plus means high. Lift the stack off or tip it to reach the balance-rail paper. Add paper under the punching of a low key, take it from a high one.",
            "A punching at the balance rail lifts the front by more than its own thickness; a key that rocks reads level wherever you leave it.",
        )
}

pub(in crate::trade) fn sharp_level() -> Step {
    one("sharp_level", "Sharp level above the naturals", Per::Sharp)
        .after(&["natural_level"])
        .takes_minutes(40)
        .instructions(
            "Sharp-height block, punchings, tweezers",
            "Stand the block on the two neighboring naturals and measure the sharp over them, with the keys weighted as in use. Lift the stack off or tip it, and change the paper under its balance-rail punching.",
            "Set the naturals first, or the sharps have nothing to stand on. A sharp too low disappears between pressed naturals.",
        )
}

pub(in crate::trade) fn natural_dip() -> Step {
    one("natural_dip", "Natural dip", Per::Natural)
        .after(&["natural_level"])
        .takes_minutes(60)
        .instructions(
            "Dip block, punchings, tweezers",
            "Press the block down with the same firm weight on every key and measure against the neighbors. Take paper from under the front punching for more dip, add it for less.",
            "A harder push reads deeper by 0.1 mm or more. With too little dip the hammer lets off and never checks.",
        )
}

fn jack_position() -> Step {
    one("jack_position", "Jack to the knuckle core", Per::Note)
        .after(&["stack_on"])
        .takes_minutes(45)
        .instructions(
            "Jack screwdriver, light from the side",
            "Look from the side: the back edge of the jack stands in line with the back of the knuckle’s core. Turn the jack’s regulating screw.",
            "Too far back: the touch is heavy at let-off. Too far forward: the jack slips out in a hard blow.",
        )
}

fn lever_height() -> Step {
    one(
        "lever_height",
        "Repetition lever height: the jack just clears",
        Per::Note,
    )
    .after(&["jack_position"])
    .takes_minutes(45)
    .instructions(
        "Screwdriver for the lever’s screw or button",
        "Push the jack out by its tender and let it come back: the hammer gives the slightest wink. Turn the lever’s screw until the jack just clears the knuckle.",
        "Too low: the jack rubs and does not return. Too high: there is lost motion before the jack takes the knuckle.",
    )
}

fn blow() -> Step {
    one("blow", "Blow", Per::Note)
        .after(&["stand_in", "play_in"])
        .takes_minutes(60)
        .instructions(
            "Rule or blow gauge, capstan tool",
            "Measure from the stand-in to the crown of the hammer at rest. Turn the capstan up for less blow, down for more.",
            "A hammer that rests on the cushion reads right, but its capstan does not carry it. A long blow eats the aftertouch.",
        )
}

fn let_off() -> Step {
    one("let_off", "Let-off", Per::Note)
        .after(&["stand_in", "play_in"])
        .takes_minutes(60)
        .instructions(
            "Let-off gauge or rule, button tool",
            "Press the key slowly and measure how near the crown comes to the string before it falls away. Turn the button down for wider, up for closer.",
            "Too close: it blocks when the weather changes. Too wide: soft notes are lost. By eye alone, a note that is off is easily missed: a gauge is safer.",
        )
}

fn drop() -> Step {
    one("drop", "Drop", Per::Note)
        .after(&["let_off"])
        .takes_minutes(45)
        .instructions(
            "Rule, screwdriver for the drop screw",
            "Check the spring roughly first: with a weak one drop cannot be measured. Press slowly through let-off and measure how far the hammer falls from there. Turn the drop screw down for more drop, up for less.",
            "Too little: the hammer trembles under the string or bounces back to it. Too much: the repetition is slow and felt in the finger.",
        )
}

fn checks_squared() -> Step {
    one("checks_squared", "Back checks squared to the tails", Per::Note)
        .after(&["stack_on"])
        .takes_minutes(45)
        .instructions(
            "Check-bending pliers, light from behind",
            "Look along the row from behind: each check stands square to its tail, in its middle, and all lean alike. Bend the wire at its foot and twist it at the head.",
            "A check that meets the tail on one edge wears it and throws the hammer sideways.",
        )
}

fn checking() -> Step {
    one("checking", "Checking distance", Per::Note)
        .after(&["play_in", "stand_in"])
        .takes_minutes(45)
        .instructions(
            "Rule, check-bending pliers",
            "Play a medium blow, hold the key, and measure from the string to the crown in check. Bend the check toward the hammer for a nearer catch, away for a farther one.",
            "Too near: the tail drags on its way up. Too far: fast notes have a long way back.",
        )
}

fn spring() -> Step {
    one("spring", "Repetition spring", Per::Note)
        .after(&["checking"])
        .takes_minutes(60)
        .instructions(
            "Spring hook",
            "Check the hammer, then let the key up just enough to free it: it rises firmly, without a jump felt in the key. Stretch the spring for more, ease it for less.",
            "Too strong: the hammer jumps and the key kicks. Too weak: the jack does not come back under the knuckle.",
        )
}

fn aftertouch() -> Step {
    one("aftertouch", "Aftertouch", Per::Note)
        .after(&["blow", "let_off", "natural_dip"])
        .takes_minutes(60)
        .instructions(
            "Aftertouch gauge or blocks",
            "Play in once more. Press slowly to the end of let-off and measure how far the key still goes. Too little: shorten the blow or deepen the dip; too much: the reverse.",
            "A gauge laid under the key measures the let-off travel too. Too little: the hammer does not check. Too much: it feels deep and slow.",
        )
}

pub(in crate::trade) fn sharp_dip() -> Step {
    one("sharp_dip", "Sharp dip by the same aftertouch", Per::Sharp)
        .after(&["aftertouch"])
        .takes_minutes(40)
        .instructions(
            "Aftertouch gauge, punchings, tweezers",
            "Give each sharp the aftertouch of the naturals beside it and write down the dip that does so. Change punchings under the front punching.",
            "Set to the naturals’ dip instead, sharps feel shallow or deep. Too deep: the finger meets the naturals.",
        )
}

fn rest_cushion() -> Step {
    one("rest_cushion", "Rest cushion clear of the shanks", Per::Section)
        .after(&["blow"])
        .takes_minutes(10)
        .instructions(
            "Rule or feeler block",
            "Look between shank and cushion with the hammers at rest, in the middle of each section. Raise or lower the rest rail or its blocks.",
            "Too high: the cushion carries the shanks and hides the blow. Too low: the hammers bounce in a hard blow.",
        )
}

fn weights() -> Step {
    Step::new(
        "weights",
        "Down weight and up weight",
        Stage::Regulate,
        Per::Sample,
        &["down_weight", "up_weight"],
    )
    .after(&["stack_on", "keys_eased", "play_in"])
    .takes_minutes(45)
    .instructions(
        "Gram weights",
        "Dampers up. Lay weights 13 mm behind the front edge until the key sinks slowly to let-off, then take them off until it just rises. Correct friction before any lead.",
        "Lead put in to hide friction leaves a key that is heavy to start and slow to come back.",
    )
    .cautions(&[Caution::Lead])
}
