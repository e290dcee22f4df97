//! The measures of reconditioning and aligning, taken while the action is apart.

use super::super::band::{Band, Target};
use super::super::measure::{Adjuster, Measure};
use super::super::part::Part;
use super::super::source::Source::{Common, Memory, Published};
use super::super::step::Per;
use super::constructors::{GF, MM, by_eye, good, grade, length, tick};
use crate::note::Note;
use crate::unit::Kind;

pub(super) fn measures() -> Vec<Measure> {
    [cleaning(), renewals(), pins(), center_pins(), alignment()].concat()
}

/// Work that is ticked off, and the felt left after shaping.
fn cleaning() -> Vec<Measure> {
    vec![
        tick("action_out", "Action out", Per::Whole),
        tick("key_bed", "Key bed cleaned", Per::Whole),
        tick("dust", "Dust and vacuum", Per::Whole),
        tick("cauls_in", "Cauls in", Per::Note).where_graded(Part::Bushings.treated_where()),
        tick("cauls_out", "Cauls out", Per::Note),
        tick("pins_polished", "Key pins polished", Per::Note),
        tick("capstans_polished", "Capstans polished", Per::Note)
            .where_graded(Part::Capstans.treated_where()),
        tick("key_tops", "Key tops cleaned", Per::Note),
        tick("hammers_shaped", "Hammers shaped", Per::Note)
            .where_graded(Part::Hammers.treated_where()),
        hammer_felt(),
        tick("blown_out", "Blown out after filing", Per::Whole),
        tick("stack_lubricated", "Stack lubricated", Per::Whole),
        tick("checks_brushed", "Back checks brushed", Per::Note)
            .where_graded(Part::Checks.treated_where()),
        tick("knuckles_brushed", "Knuckles brushed", Per::Note)
            .where_graded(Part::Knuckles.treated_where()),
        tick("cloth_brushed", "Contact cloth brushed", Per::Note)
            .where_graded(Part::Cloths.treated_where()),
        tick("buttons_brushed", "Let-off buttons brushed", Per::Note),
        tick("screws", "Screws tightened", Per::Whole),
    ]
}

/// What is renewed where that was decided, and what is reconditioned only then.
fn renewals() -> Vec<Measure> {
    let per = |part: Part| match part {
        Part::Dampers => Per::Damped,
        _ => Per::Note,
    };
    let renewed =
        |part: Part, name| tick(part.renewal(), name, per(part)).where_graded(part.renewed_where());
    let treated =
        |part: Part, id, name| tick(id, name, per(part)).where_graded(part.treated_if_decided());
    vec![
        renewed(Part::Hammers, "Hammers hung"),
        renewed(Part::Knuckles, "Knuckles renewed"),
        renewed(Part::Bushings, "Key bushings renewed"),
        renewed(Part::Checks, "Check leather renewed"),
        renewed(Part::Centers, "Centers repinned"),
        renewed(Part::Cloths, "Contact and let-off cloth renewed"),
        renewed(Part::Capstans, "Capstans renewed"),
        renewed(Part::Punchings, "Felt punchings renewed"),
        renewed(Part::BackRail, "Back-rail cloth renewed"),
        renewed(Part::Dampers, "Damper felts renewed"),
        treated(
            Part::Punchings,
            "punchings_cleaned",
            "Felt punchings cleaned",
        ),
        treated(
            Part::BackRail,
            "back_rail_brushed",
            "Back-rail cloth brushed",
        ),
        treated(Part::Dampers, "dampers_brushed", "Damper felts brushed"),
    ]
}

/// The felt left after shaping; each record means that the hammer was shaped. The wood comes nearer to
/// the crown toward the treble, so the least felt is tapered: 8 mm at A0, 2 mm at C8 (M).
fn hammer_felt() -> Measure {
    length("hammer_felt", "Felt over the wood at the crown", Per::Note)
        .aimed(Target::Tapered(vec![
            (Note::FIRST, Band::at_least(8 * MM, 8 * MM)),
            (Note::LAST, Band::at_least(2 * MM, 2 * MM)),
        ]))
        .from(Memory(""))
        .plausible(MM / 2, 25 * MM)
        .form(2, 1)
        .words("thick", "thin")
        .repeats(MM / 2)
        .records_work()
}

/// Without default targets: pins are not changed, and the caul is chosen 0.05 mm thicker than the pin
/// (P: <https://erwinspiano.com/keybushingcauls>, 0.002 in over the pin). Balance-rail pins are usually about 3.2 to 4.2 mm (M).
fn pins() -> Vec<Measure> {
    let pin = |id, name| {
        length(id, name, Per::Section)
            .plausible(2 * MM, 5 * MM)
            .form(1, 2)
            .words("thick", "thin")
            .repeats(MM / 50)
    };
    vec![
        pin("key_pin", "Key pin, balance rail"),
        // C: front-rail pins differ from balance-rail pins and need other cauls.
        pin("front_pin", "Key pin, front rail"),
    ]
}

/// Center-pin friction. A force says something only with its radius: the hammer's is published at 23 mm
/// (<https://my.ptg.org/discussion/grand-hammer-shank-flange-pinning-torque>, 2 to 5 gf, used for both
/// bands). The other centers have no published radius, so they are graded by feel.
fn center_pins() -> Vec<Measure> {
    let friction = |id, name| {
        Measure::new(id, name, Kind::Force, Per::Note)
            .plausible(0, 99 * GF / 10)
            .form(1, 1)
            .words("tight", "loose")
            .moved(repinned())
            .repeats(GF / 2)
    };
    let center = |id, name| {
        grade(id, name, Per::Note, &["loose", "right", "firm"], 1)
            .from(Common("by feel, as the center of a new part"))
            .words("firm", "loose")
            .moved(repinned())
    };
    vec![
        friction("hammer_friction", "Hammer flange friction")
            .flat(Band::gf(35, 15, 15))
            .from(Published(
                "Grand hammer shank flange pinning torque",
                "2023",
            )),
        center("wippen_centre", "Wippen center"),
        center("jack_centre", "Jack center"),
        center("lever_centre", "Repetition lever center"),
        // Of earlier jobs: readable, without a target.
        friction("wippen_friction", "Wippen flange friction"),
        friction("jack_friction", "Jack friction"),
        friction("lever_friction", "Lever friction"),
        hammer_swings(),
    ]
}

fn repinned() -> Adjuster {
    by_eye("center pin", "thicker", "eased or thinner")
}

/// The swings of a hammer let go level, for technicians who use no gauge.
///
/// P: 6 in the bass, 4 in the treble, 2 more if the air is very dry and 1 fewer if it is very humid
/// (<http://www.moypiano.com/ptg/pianotech.php/2006-January/184490.html>): 4 to 7 for both bands.
fn hammer_swings() -> Measure {
    Measure::new("hammer_swings", "Hammer swings", Kind::Count, Per::Note)
        .flat(Band {
            aim: 5,
            within: (Some(4), Some(7)),
            accept: (Some(4), Some(7)),
        })
        .from(Published("Center pin friction, yet again", "2006"))
        .plausible(0, 20)
        .form(2, 0)
        .words("loose", "tight")
        .repeats(2)
}

fn alignment() -> Vec<Measure> {
    vec![
        // P: bushing clearance 0.05 mm at the balance rail, 0.13 mm at the front rail
        // (https://www.moypiano.com/ptg/pianotech.php/attachments/20060812/dd10df93/attachment.html).
        good("keys_eased", "Keys eased", Per::Note),
        good("keys_squared", "Keys squared and spaced", Per::Note),
        good("bedding_bench", "Key frame steady on the bench", Per::Whole),
        good("travelled", "Shanks and wippens traveled", Per::Note),
    ]
}
