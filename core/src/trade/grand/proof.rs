//! The steps of the final check: playing and measuring again.

use super::super::step::{Per, Stage, Step};
use super::survey;

pub(super) fn steps() -> Vec<Step> {
    vec![play_test(), left_sample()]
}

pub(in crate::trade) fn play_test() -> Step {
    Step::new(
        "play_test",
        "Play test: slow soft scale, hard blows, fast repeats",
        Stage::FinalCheck,
        Per::Note,
        &["play_test"],
    )
    .after(&["action_in"])
    .takes_minutes(30)
    .instructions(
        "None",
        "Play each note three ways: as softly as it will sound, as hard as it is ever played, and as fast as it repeats. Mark a note that needs work and go back to the step that it points to.",
        "Silent when soft: let-off or aftertouch. Double when hard: check and drop. Slow in repeats: spring or friction.",
    )
}

fn left_sample() -> Step {
    Step::new(
        "left_sample",
        "As-left sample",
        Stage::FinalCheck,
        Per::Sample,
        &survey::SAMPLE,
    )
    .after(&["play_test"])
    .takes_minutes(20)
    .instructions(
        "The gauges of the as-found sample",
        "Measure the same notes with the same gauges as in the survey. Write down what you left as it is, and why.",
        "Another gauge or another hand shows a change that is not in the instrument.",
    )
}
