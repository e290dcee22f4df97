//! The measures of the survey, taken at the piano before any work.

use super::super::band::Band;
use super::super::measure::Measure;
use super::super::part::{Decision, Part};
use super::super::source::Source::{Common, Published};
use super::super::step::Per;
use super::constructors::{MM, grade, length};
use super::targets::{HOUSE_PITCHES, pitch_target};
use crate::unit::Kind;

pub(super) fn measures() -> Vec<Measure> {
    [climate(), vec![pitch_a4(), string_height()], wear()].concat()
}

/// Without default targets: nobody adjusts the room. The change between bench and return matters.
fn climate() -> Vec<Measure> {
    vec![
        Measure::new("humidity", "Relative humidity", Kind::Humidity, Per::Whole)
            .plausible(50, 980)
            .form(2, 0)
            .words("humid", "dry")
            // M: a common hygrometer repeats to 2 %.
            .repeats(20),
        Measure::new("temperature", "Temperature", Kind::Temperature, Per::Whole)
            .plausible(-5_000, 45_000)
            .form(2, 1)
            .words("warm", "cool")
            .repeats(500),
    ]
}

fn pitch_a4() -> Measure {
    Measure::new("pitch_a4", "Pitch of A4", Kind::Frequency, Per::Whole)
        .aimed(pitch_target(HOUSE_PITCHES[0]))
        // ISO 16 (http://www.hawaiilibrary.net/articles/ISO_16); ± 0.5 Hz: Gazzetta Ufficiale, 12 May 1989,
        // 089G0200, article 3; accepted: M.
        .from(Published(
            "ISO 16, and Gazzetta Ufficiale 089G0200 for ± 0.5 Hz",
            "1989",
        ))
        .plausible(400_000, 470_000)
        .form(3, 1)
        .words("sharp", "flat")
        .repeats(200)
}

/// Without a default target: it belongs to the instrument, and the stand-in strings are set from it.
fn string_height() -> Measure {
    length(
        "string_height",
        "String height over the key bed",
        Per::SectionEnds,
    )
    .plausible(150 * MM, 250 * MM)
    .form(3, 1)
    .repeats(MM / 2)
}

/// The wear of each kind of part by section, and what is decided for it.
fn wear() -> Vec<Measure> {
    let names = |part: Part| match part {
        Part::Hammers => ("Wear of hammers", "Hammers: decision"),
        Part::Knuckles => ("Wear of knuckles", "Knuckles: decision"),
        Part::Bushings => ("Wear of key bushings", "Key bushings: decision"),
        Part::Checks => ("Wear of back checks", "Back checks: decision"),
        Part::Centers => ("Wear of centers", "Centers: decision"),
        Part::Cloths => ("Wear of cloths", "Cloths: decision"),
        Part::Capstans => ("Wear of capstans", "Capstans: decision"),
        Part::Punchings => ("Wear of punchings", "Punchings: decision"),
        Part::BackRail => ("Wear of back-rail cloth", "Back-rail cloth: decision"),
        Part::Dampers => ("Wear of damper felts", "Damper felts: decision"),
    };
    let of = |part: Part| {
        let (wear, decision) = names(part);
        [wear_of(part, wear), decision_of(part, decision)]
    };
    Part::ALL.into_iter().flat_map(of).collect()
}

/// Returns the measure of the wear of one kind of part.
pub(in crate::trade) fn wear_of(part: Part, name: &'static str) -> Measure {
    grade(
        part.wear(),
        name,
        Per::Section,
        &["sound", "worn", "worn out"],
        0,
    )
    .flat(Band {
        aim: 0,
        within: (Some(0), Some(0)),
        accept: (Some(0), Some(1)),
    })
    .from(Common(
        "sound is on target, worn is acceptable, worn out is out",
    ))
    .words("worn", "sound")
}

/// Returns the measure of what is decided for one kind of part: without a target, and asked only where it is worn.
pub(in crate::trade) fn decision_of(part: Part, name: &'static str) -> Measure {
    Measure::new(part.decision(), name, Kind::Grade, Per::Section)
        .graded(&Decision::WORDS)
        .where_graded(part.decided_where())
}
