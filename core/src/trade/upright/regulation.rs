//! The steps that the upright defines itself, and the order of its regulation.

use super::super::caution::Caution;
use super::super::grand::{align, bench, returned, survey};
use super::super::step::{Per, Place, Stage, Step};

/// Returns the steps from key level to voicing, in the order of the source; aftertouch, tuning and
/// climate are added as on the grand.
pub(super) fn steps() -> Vec<Step> {
    vec![
        in_piano(bench::natural_level()).after(&["keys_eased", "action_in"]),
        in_piano(bench::sharp_level()),
        in_piano(bench::natural_dip()),
        blow(),
        lost_motion(),
        let_off(),
        aftertouch(),
        sharp_dip(),
        checking(),
        bridle_straps(),
        spring(),
        climate_return(),
        damper_key(),
        half_blow_pedal(),
        pedals(),
        returned::tuning(),
        voicing(),
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
        "Read each sample note as it is, in the order of the stroke: dip, blow, lost motion, let-off, aftertouch, check, spring. Look from the side, level with the hammers.",
        "A screw turned before its reading is taken leaves nothing to compare the result with.",
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
        "Read the same notes with the same gauges as in the survey. Write down what was left as it is, and why.",
        "Another gauge or another weight of hand shows a change that the instrument did not make.",
    )
}

pub(super) fn wear() -> Step {
    survey::wear().instructions(
        "Light, mirror",
        "Look at the worst note of each section, not at the average: string cuts, worn butt leather, keys that rock sideways, hard checks, clicking centres, straps that crumble. Mark a part past it when it can no longer be regulated around.",
        "Wear runs one way: dip, blow and lost motion grow, let-off and checking shrink; a reading off to the other side was set so by someone.",
    )
}

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
        "Set down on its feet without a cradle the action falls over, and bridle wires left hooked under the keys’ stickers bend.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Mains, Caution::Tension])
}

pub(super) fn travelled() -> Step {
    align::travelled()
        .instructions(
            "Travelling paper, heat source for burning in, screwdriver",
            "Push a few hammers together towards the strings and watch the gaps: each must travel straight and strike all strings of its unison. Put travelling paper behind one side of the butt flange to turn its path, burn in a shank that leans, then space the hammers.",
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
        "A bracket not home on its bolt leans the whole action, and blow and let-off differ from end to end.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Tension])
}

/// The rail sets the blow of all notes, each capstan the hammer line (C).
fn blow() -> Step {
    one("blow", "Hammer line and blow", Per::Note)
        .after(&["natural_dip", "travelled"])
        .takes_minutes(30)
        .instructions(
            "Rule, long straight edge, cloth for the rail",
            "Read from the crown of the hammer at rest to the string, and look along the line. Move the rest rail, or change the cloth behind its hinges, for all; see to a single hammer that does not lie on the rail by its capstan.",
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
            "Press the key slowly and read how near the crown comes to the string before it falls back. Turn the button down towards the jack for wider, up for closer.",
            "Too close it blocks against the string in a damp week; too wide a soft stroke is lost.",
        )
        .cautions(&[Caution::Tension])
}

fn aftertouch() -> Step {
    one("aftertouch", "Aftertouch", Per::Note)
        .after(&["lost_motion", "let_off", "natural_dip"])
        .takes_minutes(45)
        .instructions(
            "Aftertouch gauge or blocks",
            "Press slowly to the end of let-off and read how far the key still goes. Change the dip where blow and lost motion are right.",
            "Lost motion that was left looks like a shallow dip; too little aftertouch leaves the hammer unchecked.",
        )
}

fn sharp_dip() -> Step {
    in_piano(bench::sharp_dip())
}

fn checking() -> Step {
    one("checking", "Checking distance", Per::Note)
        .after(&["let_off", "natural_dip"])
        .takes_minutes(45)
        .instructions(
            "Rule, check-bending pliers",
            "Play a medium blow, hold the key, and read from the string to the crown in check. Bend the check wire towards the catcher for a nearer catch, away for a farther one.",
            "Too near, the catcher drags on its way; too far, the hammer bounces and fast notes have a long way back.",
        )
        .cautions(&[Caution::Tension])
}

fn bridle_straps() -> Step {
    one("bridle_straps", "Bridle straps", Per::Note)
        .after(&["lost_motion"])
        .takes_minutes(20)
        .instructions(
            "Tweezers, wire bender",
            "Look that each strap hangs with a little slack at rest and draws before the wippen falls on its own. Press the half-blow pedal: no wippen may be lifted by its strap; bend the bridle wires into one line.",
            "Too short, the strap lifts the wippen under the pedal and the note fails; too long, it helps no hammer back.",
        )
}

fn spring() -> Step {
    one("spring", "Hammer and jack springs", Per::Note)
        .after(&["checking"])
        .takes_minutes(30)
        .instructions(
            "Spring hook",
            "Let the key come back slowly: the hammer returns at once, and the jack with it. Bend the spring for more or ease it for less; replace one that has slipped out or broken.",
            "A weak spring leaves the hammer in the way of the next stroke; a strong one makes the touch heavy.",
        )
}

fn damper_key() -> Step {
    returned::one("damper_key", "Damper lift at half blow", Per::Note)
        .after(&["lost_motion"])
        .takes_minutes(45)
        .instructions(
            "Spoon bender, light",
            "Press slowly and watch: the damper starts to lift as the hammer passes half of its blow. Bend the spoon towards the damper lever for an earlier lift, away for a later one; mark notes without dampers good.",
            "Early, the touch is heavy and the note rings on; late, the damper is dragged and a soft note is choked.",
        )
        .cautions(&[Caution::Tension])
}

fn half_blow_pedal() -> Step {
    returned::one("half_blow_pedal", "Half-blow pedal", Per::Whole)
        .after(&["blow", "bridle_straps"])
        .takes_minutes(10)
        .instructions(
            "Rule, wrench for the pedal rod",
            "Hold the pedal down and read from crown to string in the middle of the action: half of the blow is left. Give the pedal a little free play before the rail moves.",
            "A rail that moves too far takes up so much that soft notes fail; one that does not come home shortens every blow.",
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

fn climate_return() -> Step {
    survey::climate_at("climate_return", "Climate after regulation", Stage::Return)
        .after(&["spring"])
}

fn voicing() -> Step {
    returned::voicing().after(&["tuning"]).takes_minutes(90)
}

/// Returns the same step, done in the piano.
fn in_piano(step: Step) -> Step {
    step.at(Some(Place::Piano))
}

/// Returns a step of one measure with the same id, done in the piano.
fn one(id: &'static str, name: &'static str, per: Per) -> Step {
    in_piano(Step::new(id, name, Stage::Regulate, per, &[id]))
}
