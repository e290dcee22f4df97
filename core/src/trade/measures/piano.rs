//! The measures taken with the action back in the piano.

use super::super::measure::{Measure, TakenWhere};
use super::super::source::Source::Common;
use super::super::step::Per;
use super::constructors::{by_eye, good, grade, tick};
use crate::note::Note;
use crate::unit::Kind;

pub(super) fn measures() -> Vec<Measure> {
    vec![
        tick("action_in", "Action in", Per::Whole),
        // Each record means that the frame was bedded, which disturbs the whole action.
        good("bedding", "Key frame bedded", Per::Whole).records_work(),
        good("strings_levelled", "Strings leveled", Per::Note),
        good("hammers_spaced", "Hammers spaced", Per::Note),
        good("mating", "Hammers mated to the strings", Per::Note),
        // Without a target: it belongs to the instrument.
        Measure::new(
            "damper_end",
            "Last note with a damper",
            Kind::Count,
            Per::Whole,
        )
        .plausible(1, Note::COUNT as i64)
        .form(2, 0),
        // Recorded as good or not; `damper_lift_target` is for technicians who measure it in mm.
        // C: the damper starts to lift as the hammer passes half of the blow (P, of the upright:
        // https://api.brainscape.com/flashcards/regulation-21247600/packs/23283580).
        good("damper_key", "Damper lift with the key", Per::Note),
        good("damper_tray", "Damper lift with the tray", Per::Note),
        good("stop_rails", "Key stop and damper stop", Per::Whole),
        good("shift", "Shift", Per::Section),
        good("sostenuto", "Sostenuto", Per::Section),
        good("pedals", "Pedals", Per::Whole),
        tick("tuning", "Tuning", Per::Whole),
        grade(
            "voicing",
            "Voicing",
            Per::Note,
            &["dull", "even", "bright"],
            1,
        )
        .from(Common(""))
        .words("bright", "dull")
        .moved(by_eye("hammer", "file", "needle")),
        tick("hammers_filed", "Hammer filed", Per::Note)
            .where_graded(TakenWhere::graded("voicing", 0, 0)),
        good("play_test", "Play test", Per::Note),
    ]
}
