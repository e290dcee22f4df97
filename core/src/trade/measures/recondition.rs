//! What is taken while the action is apart, and of its foundation.

use super::super::band::Band;
use super::super::measure::Measure;
use super::super::source::Source::{Memory, Published};
use super::super::step::Per;
use super::{GF, MM, by_eye, good, length, tick};
use crate::unit::Kind;

pub(super) fn measures() -> Vec<Measure> {
    [rubbing(), pins(), centres(), alignment()].concat()
}

/// What is done, and ticked.
fn rubbing() -> Vec<Measure> {
    vec![
        tick("action_out", "Action out", Per::Whole),
        tick("dust", "Dust and vacuum", Per::Whole),
        tick("cauls_in", "Cauls in", Per::Note),
        tick("cauls_out", "Cauls out", Per::Note),
        tick("pins_polished", "Key pins polished", Per::Note),
        tick("capstans_polished", "Capstans polished", Per::Note),
        tick("key_tops", "Key tops cleaned", Per::Note),
        hammer_felt(),
        tick("stack_lubricated", "Stack lubricated", Per::Whole),
        tick("checks_brushed", "Back checks brushed", Per::Note),
        tick("knuckles_brushed", "Knuckles brushed", Per::Note),
        tick("cloth_brushed", "Contact cloth brushed", Per::Note),
        tick("buttons_brushed", "Let-off buttons brushed", Per::Note),
        tick("screws", "Screws tightened", Per::Whole),
    ]
}

/// What is left after shaping, so each reading tells of that work.
fn hammer_felt() -> Measure {
    length("hammer_felt", "Felt over the wood at the crown", Per::Note)
        .flat(Band::at_least(3 * MM, 3 * MM))
        .from(Memory(""))
        .plausible(MM / 2, 25 * MM)
        .form(2, 1)
        .words("thick", "thin")
        .repeats(MM / 2)
        .records_work()
}

/// No target: the pins are what they are, and the caul is chosen over them by 0.05 mm
/// (P: caul maker's data, 0.002 in over the pin). Pins of about 3.2 to 4.2 mm are
/// usual at the balance rail (M).
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
        // C: front pins differ from balance pins and take cauls of their own.
        pin("front_pin", "Key pin, front rail"),
    ]
}

/// Centre-pin friction. The source gives one tolerance for each, which serves as both bands here.
fn centres() -> Vec<Measure> {
    let friction = |id, name, band| {
        Measure::new(id, name, Kind::Force, Per::Note)
            .flat(band)
            .from(Published(
                "technicians’ forum quoting a flange maker’s manual, 2023",
            ))
            .plausible(0, 99 * GF / 10)
            .form(1, 1)
            .words("tight", "loose")
            .moved(by_eye("centre pin", "thicker", "eased or thinner"))
            .repeats(GF / 2)
    };
    vec![
        // At 23 mm from the centre.
        friction(
            "hammer_friction",
            "Hammer flange friction",
            Band::gf(35, 15, 15),
        ),
        friction(
            "wippen_friction",
            "Wippen flange friction",
            Band::gf(25, 15, 15),
        ),
        friction("jack_friction", "Jack friction", Band::gf(15, 5, 5)),
        friction("lever_friction", "Lever friction", Band::gf(55, 15, 15)),
        hammer_swings(),
    ]
}

/// Swings of a hammer let go level, counted by those who use no gauge.
fn hammer_swings() -> Measure {
    Measure::new("hammer_swings", "Hammer swings", Kind::Count, Per::Note)
        .flat(Band::even(6, 1, 3))
        .from(Memory("five to seven swings"))
        .plausible(0, 20)
        .form(2, 0)
        .words("loose", "tight")
        .repeats(2)
}

fn alignment() -> Vec<Measure> {
    vec![
        // P: bushing clearance 0.05 mm at the balance, 0.13 mm at the front: technicians' list, Aug 2006.
        good("keys_eased", "Keys eased", Per::Note),
        good("keys_squared", "Keys squared and spaced", Per::Note),
        good("bedding_bench", "Key frame steady on the bench", Per::Whole),
        good("travelled", "Shanks and wippens travelled", Per::Note),
    ]
}
