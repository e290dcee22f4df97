//! The steps of the survey, at the piano before any work, and the steps of taking the action out.

use super::super::caution::Caution;
use super::super::part::Part;
use super::super::step::{Per, Place, Stage, Step};

pub(super) fn steps() -> Vec<Step> {
    vec![
        climate(),
        pitch_a4(),
        found_sample(),
        wear(),
        decisions(),
        action_out(),
        string_height(),
    ]
}

/// Returns a step that records the climate, which is done three times in a job.
pub(in crate::trade) fn climate_at(id: &'static str, name: &'static str, stage: Stage) -> Step {
    Step::new(id, name, stage, Per::Whole, &["humidity", "temperature"])
        .takes_minutes(2)
        .instructions(
            "Hygrometer with thermometer",
            "Lay the hygrometer where the action stands, out of sun and drafts. Give it ten minutes to settle, then read it.",
            "Straight from the car or a warm pocket it still reads the car or the pocket. Heights measured in one climate do not hold in another.",
        )
}

pub(in crate::trade) fn climate() -> Step {
    climate_at("climate", "Climate", Stage::Survey)
}

pub(in crate::trade) fn pitch_a4() -> Step {
    Step::new("pitch_a4", "Pitch of A4", Stage::Survey, Per::Whole, &["pitch_a4"])
        .takes_minutes(2)
        .instructions(
            "Tuning device or fork, mute",
            "Mute A4 to one string and measure its fundamental. Do it before any work: a pitch raise takes hours.",
            "With all three strings open you get an average of three pitches.",
        )
}

/// It needs the action out, because the gauge stands on the bare key bed. Its readings are of the
/// instrument as found: nothing was done to the strings yet.
fn string_height() -> Step {
    Step::new(
        "string_height",
        "String heights over the key bed",
        Stage::TakeApart,
        Per::SectionEnds,
        &["string_height"],
    )
    .at(Some(Place::Piano))
    .as_found()
    .after(&["action_out"])
    .takes_minutes(10)
    .instructions(
        "Height gauge or rule with a square foot, light",
        "Stand the gauge on the bare key bed under the first and the last unison of each section, at the strike point. Measure to the underside of the strings.",
        "Away from the strike point the strings slope, and the gauge reads too high or too low. Every blow set against the stand-in is then off by as much.",
    )
    .cautions(&[Caution::Tension])
}

/// The measures of the as-found and the as-left sample. Friction is computed from down and up weight,
/// because the flanges cannot be gauged while the action is in the piano.
pub(super) const SAMPLE: [&str; 10] = [
    "natural_dip",
    "sharp_dip",
    "blow",
    "let_off",
    "drop",
    "aftertouch",
    "checking",
    "spring",
    "down_weight",
    "up_weight",
];

fn found_sample() -> Step {
    Step::new(
        "found_sample",
        "As-found sample",
        Stage::Survey,
        Per::Sample,
        &SAMPLE,
    )
    .only_before("action_out")
    .takes_minutes(30)
    .instructions(
        "Rule, dip block, let-off and aftertouch gauges, gram weights, light",
        "Measure each sample note as it is, in the order of the stroke: dip, blow, let-off, drop, aftertouch, check, spring. Take down and up weight with the dampers held off by the pedal.",
        "If you turn a screw before you measure, there is nothing to compare the result with.",
    )
}

pub(in crate::trade) fn wear() -> Step {
    let wear = Part::ALL.map(Part::wear);
    Step::new("wear", "Wear", Stage::Survey, Per::Section, &wear)
        .takes_minutes(20)
        .instructions(
            "Light, mirror",
            "Look at the worst note of each section, not at the average: string cuts, flat knuckles, keys that rock sideways, glazed leather, clicking centers. Worn out is what can no longer be regulated around.",
            "If you judge by the average, you miss the note that the client hears.",
        )
}

/// Only sections that are worn are asked for, so the step is there only where something is (minutes M).
pub(in crate::trade) fn decisions() -> Step {
    let decisions = Part::ALL.map(Part::decision);
    Step::new(
        "decisions",
        "Decisions on the wear",
        Stage::Survey,
        Per::Section,
        &decisions,
    )
    .after(&["wear"])
    .takes_minutes(5)
    .instructions(
        "None",
        "Decide for each worn section with the client or the office: leave, recondition or renew. What is renewed gets its own steps and its line in the parts to order.",
        "Work that nobody agreed to is not paid for.",
    )
}

pub(in crate::trade) fn action_out() -> Step {
    Step::new(
        "action_out",
        "Action out, stack off, keys off",
        Stage::TakeApart,
        Per::Whole,
        &["action_out"],
    )
    .at(Some(Place::Piano))
    .takes_minutes(30)
    .instructions(
        "Screwdrivers, trays for screws, pencil, bench with a flat top",
        "Unplug and unhook whatever is wired or linked, take off fallboard, key slip and cheek blocks, and draw the action out level without touching a key. Sort the screws by place, and see that the keys are numbered before they come off.",
        "A key pressed on the way out raises its hammer into the pin block or the plate and breaks the shank.",
    )
    .cautions(&[Caution::HeavyAction, Caution::Mains])
}
