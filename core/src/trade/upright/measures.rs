//! The measures that the upright defines itself; it shares the others with the grand.

use super::super::band::Band;
use super::super::measure::{Adjuster, Measure};
use super::super::measures::constructors::{MM, by_eye, good, grade, length, tick};
use super::super::measures::{bench, survey};
use super::super::part::Part;
use super::super::source::Source::{self, Common, Published};
use super::super::step::Per;
use crate::unit::Turns;

/// Blow 45 to 48 mm, let-off 1/8 in, checking 15 mm:
/// <https://mmdigest.com/Archives/Digests/201002/2010.02.15.07.html>. What is acceptable is M.
const DIGEST: Source = Published("Mechanical Music Digest, 15 February, message 7", "2010");

/// Returns the measures that the upright defines itself.
///
/// `damper_key` is shared: it is good if the damper starts to lift at half of the blow.
pub(in crate::trade) fn measures() -> Vec<Measure> {
    vec![
        survey::wear_of(Part::Knuckles, "Wear of butt leather and felt"),
        survey::decision_of(Part::Knuckles, "Butt leather and felt: decision"),
        renewed(Part::Knuckles, "Butt leather and felt renewed"),
        renewed(Part::Checks, "Check felt and catcher leather renewed"),
        renewed(Part::Cloths, "Wippen cloth renewed"),
        renewed(Part::Capstans, "Capstans or stickers renewed"),
        good("rail_set", "Hammer and spring rail", Per::Whole),
        blow(),
        lost_motion(),
        bench::let_off().flat(Band::mm(300, 50, 100)).from(DIGEST),
        bench::checking()
            .flat(Band::mm(1500, 100, 200))
            .from(DIGEST),
        good("bridle_straps", "Bridle straps", Per::Note),
        spring(),
        half_blow_pedal(),
    ]
}

/// Returns the measure of a renewal, as the part is called on the upright.
fn renewed(part: Part, name: &'static str) -> Measure {
    tick(part.renewal(), name, Per::Note).where_graded(part.renewed_where())
}

/// The rest rail changes the blow of all notes together; on an upright the capstan takes up lost motion
/// and does not set the blow.
fn blow() -> Measure {
    length("blow", "Blow", Per::Note)
        .flat(Band::mm(4600, 100, 200))
        .from(DIGEST)
        .plausible(30 * MM, 60 * MM)
        .form(2, 1)
        .words("long", "short")
        .moved(by_eye(
            "hammer rest rail",
            "away from the strings",
            "toward the strings",
        ))
        .repeats(MM / 2)
}

/// Key travel before the hammer moves; without any, the jack may not return.
fn lost_motion() -> Measure {
    length("lost_motion", "Lost motion", Per::Note)
        .flat(Band::mm(10, 10, 10))
        .from(Common("taken up, 0 to 0.2 mm; the middle from memory"))
        .plausible(0, 5 * MM)
        .form(1, 1)
        .words("too much", "too little")
        // M: 8 mm of hammer travel per turn, as on the grand, divided by a ratio of about 5.
        .moved(Adjuster::Turned {
            part: "capstan",
            directions: ("down", "up"),
            response: 16 * MM / 10,
            resolution: Turns::from_64ths(2),
        })
        .repeats(MM / 10)
}

fn spring() -> Measure {
    grade(
        "spring",
        "Hammer and jack springs",
        Per::Note,
        &["none", "slow", "firm return", "too strong"],
        2,
    )
    .from(Common(
        "the hammer comes back at once, without being thrown",
    ))
    .words("strong", "weak")
    .moved(by_eye("spring", "stronger", "weaker"))
}

/// The blow that remains while the pedal is held down.
fn half_blow_pedal() -> Measure {
    length(
        "half_blow_pedal",
        "Blow under the half-blow pedal",
        Per::Whole,
    )
    .flat(Band::mm(2300, 200, 400))
    .from(Common(
        "half of the upright’s 46 mm; the tolerances from memory",
    ))
    .plausible(10 * MM, 50 * MM)
    .form(2, 1)
    .words("long", "short")
    .moved(by_eye("pedal travel", "less", "more"))
    .repeats(MM)
}
