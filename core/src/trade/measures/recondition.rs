//! The measures of reconditioning and aligning, taken while the action is apart.

use super::super::band::Band;
use super::super::measure::Measure;
use super::super::source::Source::{Memory, Published};
use super::super::step::Per;
use super::constructors::{GF, MM, by_eye, good, length, tick};
use crate::unit::Kind;

pub(super) fn measures() -> Vec<Measure> {
    [cleaning(), pins(), center_pins(), alignment()].concat()
}

/// Work that is ticked off, and the felt left after shaping.
fn cleaning() -> Vec<Measure> {
    vec![
        tick("action_out", "Action out", Per::Whole),
        tick("key_bed", "Key bed cleaned", Per::Whole),
        tick("dust", "Dust and vacuum", Per::Whole),
        tick("cauls_in", "Cauls in", Per::Note),
        tick("cauls_out", "Cauls out", Per::Note),
        tick("pins_polished", "Key pins polished", Per::Note),
        tick("capstans_polished", "Capstans polished", Per::Note),
        tick("key_tops", "Key tops cleaned", Per::Note),
        tick("hammers_shaped", "Hammers shaped", Per::Note),
        hammer_felt(),
        tick("blown_out", "Blown out after filing", Per::Whole),
        tick("stack_lubricated", "Stack lubricated", Per::Whole),
        tick("checks_brushed", "Back checks brushed", Per::Note),
        tick("knuckles_brushed", "Knuckles brushed", Per::Note),
        tick("cloth_brushed", "Contact cloth brushed", Per::Note),
        tick("buttons_brushed", "Let-off buttons brushed", Per::Note),
        tick("screws", "Screws tightened", Per::Whole),
    ]
}

/// The felt left after shaping; each record means that the hammer was shaped.
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

/// Without default targets: pins are not changed, and the caul is chosen 0.05 mm thicker than the pin
/// (P: caul maker's data, 0.002 in over the pin). Balance-rail pins are usually about 3.2 to 4.2 mm (M).
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

/// Center-pin friction. The source gives one tolerance for each part, used here for both bands.
fn center_pins() -> Vec<Measure> {
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
        // Measured at 23 mm from the center pin.
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

/// The swings of a hammer let go level, for technicians who use no gauge.
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
        // P: technicians' list, August 2006: bushing clearance 0.05 mm at the balance rail, 0.13 mm at the front rail.
        good("keys_eased", "Keys eased", Per::Note),
        good("keys_squared", "Keys squared and spaced", Per::Note),
        good("bedding_bench", "Key frame steady on the bench", Per::Whole),
        good("travelled", "Shanks and wippens travelled", Per::Note),
    ]
}
