//! The survey and the regulation of the upright, done in the piano.

use super::super::caution::Caution;
use super::super::grand::{bench, proof, survey};
use super::super::step::{Per, Place, Stage, Step};

/// Returns the steps from key level to springs, in the order of the source; the rails, aftertouch and sharp dip are
/// added (C).
pub(super) fn steps() -> Vec<Step> {
    vec![
        natural_level(),
        sharp_level(),
        in_piano(bench::natural_dip()),
        rail_set(),
        blow(),
        lost_motion(),
        let_off(),
        aftertouch(),
        in_piano(bench::sharp_dip()),
        checking(),
        bridle_straps(),
        spring(),
    ]
}

/// The measures of the as-found and the as-left sample.
const SAMPLE: [&str; 8] = [
    "natural_dip",
    "sharp_dip",
    "blow",
    "lost_motion",
    "let_off",
    "aftertouch",
    "checking",
    "spring",
];

pub(super) fn found_sample() -> Step {
    Step::new(
        "found_sample",
        "As-found sample",
        Stage::Survey,
        Per::Sample,
        &SAMPLE,
    )
    .only_before("action_out")
    .takes_minutes(20)
    .instructions(
        "Rule, dip block, let-off and aftertouch gauges, light",
        "Measure each sample note as it is, in the order of the stroke: dip, blow, lost motion, let-off, aftertouch, check, spring. Look from the side, level with the hammers.",
        "If you turn a screw before you measure, there is nothing to compare the result with.",
    )
}

pub(super) fn play_test() -> Step {
    proof::play_test().instructions(
        "None",
        "Play each note three ways: as softly as it will sound, as hard as it is ever played, and as fast as it repeats. Mark a note that needs work and go back to the step that it points to.",
        "Silent when soft: lost motion or let-off. Double when hard: the check. Slow in repeats: springs, straps or friction.",
    )
}

pub(super) fn left_sample() -> Step {
    Step::new(
        "left_sample",
        "As-left sample",
        Stage::FinalCheck,
        Per::Sample,
        &SAMPLE,
    )
    .after(&["play_test"])
    .takes_minutes(15)
    .instructions(
        "The gauges of the as-found sample",
        "Measure the same notes with the same gauges as in the survey. Write down what you left as it is, and why.",
        "Another gauge or another hand shows a change that is not in the instrument.",
    )
}

pub(super) fn wear() -> Step {
    survey::wear().instructions(
        "Light, mirror",
        "Look at the worst note of each section, not at the average: string cuts, worn butt leather, keys that rock sideways, hard checks, clicking centers, straps that crumble. Worn out is what can no longer be regulated around.",
        "If you judge by the average, you miss the note that the client hears.",
    )
}

fn natural_level() -> Step {
    in_piano(bench::natural_level())
        .after(&["keys_eased", "action_in"])
        .instructions(
            "Straight edge, punchings, tweezers, feelers",
            "Lay the straight edge on the naturals at both ends and measure each against it; plus means high. Lift the key off its pins to reach the paper under the balance-rail punching; add some under a low key, take some from a high one.",
            "A punching at the balance rail lifts the front by more than its own thickness; a key that rocks reads level wherever you leave it.",
        )
}

fn sharp_level() -> Step {
    in_piano(bench::sharp_level()).instructions(
        "Sharp-height block, punchings, tweezers",
        "Stand the block on the two neighboring naturals and measure the sharp over them. Lift the key off its pins and change the paper under its balance-rail punching.",
        "Set the naturals first, or the sharps have nothing to stand on. A sharp too low disappears between pressed naturals.",
    )
}

/// Both rails carry the whole row, so they are looked at before any note of it (C; minutes M).
fn rail_set() -> Step {
    one("rail_set", "Hammer rail and spring rail set", Per::Whole)
        .after(&["action_in"])
        .takes_minutes(10)
        .instructions(
            "Screwdriver, long straight edge, cloth",
            "See that the hammer rail lies straight and its cloth is even, that its hooks and hinges do not bind, and that every hammer spring lies in its groove on the spring rail. Set both rails firm.",
            "A sagging rail makes a long blow in the middle; capstans turned to hide it have to be turned back.",
        )
}

/// The rail sets the blow of all notes, each capstan the hammer line (C).
fn blow() -> Step {
    one("blow", "Hammer line and blow", Per::Note)
        .after(&["action_in"])
        .takes_minutes(30)
        .instructions(
            "Rule, long straight edge, cloth for the rail",
            "Measure from the crown of the hammer at rest to the string, and look along the line. Move the rest rail, or change the cloth behind its hinges, for all. If a single hammer is off the rail, lower its capstan.",
            "A hammer held off the rail by a high capstan reads short; a rail moved after the lost motion is taken up brings it back on every note.",
        )
        .cautions(&[Caution::Tension])
}

fn lost_motion() -> Step {
    one("lost_motion", "Lost motion taken up", Per::Note)
        .after(&["blow"])
        .takes_minutes(45)
        .instructions(
            "Capstan tool, light",
            "Move the key as lightly as you can and watch when its hammer follows. Turn the capstan up until it follows at once while the hammer still lies on the rail.",
            "A capstan too high lifts the hammer off the rail, and the jack does not come back under the butt.",
        )
}

fn let_off() -> Step {
    one("let_off", "Let-off", Per::Note)
        .after(&["lost_motion"])
        .takes_minutes(45)
        .instructions(
            "Rule or let-off gauge, button tool",
            "Press the key slowly and measure how near the crown comes to the string before it falls back. Turn the button down toward the jack for wider, up for closer.",
            "Too close: it blocks when the weather changes. Too wide: soft notes are lost. By eye alone, a note that is off is easily missed: a gauge is safer.",
        )
        .cautions(&[Caution::Tension])
}

fn aftertouch() -> Step {
    one("aftertouch", "Aftertouch", Per::Note)
        .after(&["lost_motion", "let_off", "natural_dip"])
        .takes_minutes(45)
        .instructions(
            "Aftertouch gauge or blocks",
            "Press slowly to the end of let-off and measure how far the key still goes. If blow and lost motion are right, change the dip.",
            "Lost motion that was left looks like a shallow dip; too little aftertouch leaves the hammer unchecked.",
        )
}

fn checking() -> Step {
    one("checking", "Checking distance", Per::Note)
        .after(&["let_off", "natural_dip"])
        .takes_minutes(45)
        .instructions(
            "Rule, check-bending pliers",
            "Play a medium blow, hold the key, and measure from the string to the crown in check. Bend the check wire toward the catcher for a nearer catch, away for a farther one.",
            "Too near: the catcher drags on its way. Too far: the hammer bounces and fast notes have a long way back.",
        )
        .cautions(&[Caution::Tension])
}

fn bridle_straps() -> Step {
    one("bridle_straps", "Bridle straps", Per::Note)
        .after(&["lost_motion"])
        .takes_minutes(20)
        .instructions(
            "Tweezers, wire bender",
            "Check that each strap hangs slightly slack at rest and draws the hammer back with the wippen. Half-blow pedal down: no strap may lift its wippen. Bend the bridle wires into one line.",
            "Too short: the strap lifts the wippen under the pedal and the note fails. Too long: it does not help the hammer back.",
        )
}

fn spring() -> Step {
    one("spring", "Hammer and jack springs", Per::Note)
        .after(&["checking"])
        .takes_minutes(30)
        .instructions(
            "Spring hook",
            "Let the key come back slowly: the hammer returns at once, and the jack with it. Bend the spring for more or ease it for less; replace one that has slipped out or broken.",
            "Too weak: the hammer is in the way of the next stroke. Too strong: the touch is heavy.",
        )
}

/// Returns the same step, done in the piano.
fn in_piano(step: Step) -> Step {
    step.at(Some(Place::Piano))
}

/// Returns a step of one measure with the same id, done in the piano.
fn one(id: &'static str, name: &'static str, per: Per) -> Step {
    in_piano(Step::new(id, name, Stage::Regulate, per, &[id]))
}
