//! The measures of regulating on the bench.
//!
//! `repeats` lies between the noise of measuring twice and the smallest change made by hand: 1/32
//! turn of a capstan moves the hammer 0.25 mm, 1/16 turn of a button 0.3 mm (M).

use super::super::band::Band;
use super::super::measure::{Adjuster, Measure};
use super::super::source::Source::{Common, Memory, Published};
use super::super::step::Per;
use super::constructors::{GF, MM, by_eye, good, grade, length, tick};
use super::targets::{AFTERTOUCH, balance_weight_target, friction_target};
use crate::unit::{Kind, Turns};

pub(super) fn measures() -> Vec<Measure> {
    [
        vec![tick("stack_on", "Keys and stack on", Per::Whole)],
        vec![tick("play_in", "Played in", Per::Whole), stand_in()],
        keys(),
        parts(),
        hammers(),
        checks(),
        vec![aftertouch(), rest_cushion()],
        weights(),
    ]
    .concat()
}

/// Returns the adjuster for a button or screw of the stack: 5 mm of reading per turn, because the
/// crown of the hammer is about 130 mm from its center pin and the knuckle 17 mm; the smallest turn by
/// hand is 1/16 (M).
pub(in crate::trade) fn screw(part: &'static str) -> Adjuster {
    Adjuster::Turned {
        part,
        directions: ("down", "up"),
        response: 5 * MM,
        resolution: Turns::from_64ths(4),
    }
}

/// Without a default target: each stand-in is set to the height of its string plus the offset of the
/// bench. The range is wide because every bench has its own datum.
fn stand_in() -> Measure {
    length("stand_in", "Stand-in string height", Per::SectionEnds)
        .plausible(100 * MM, 300 * MM)
        .form(3, 1)
        .moved(by_eye("stand-in", "raise", "lower"))
        .repeats(MM / 5)
}

fn keys() -> Vec<Measure> {
    vec![
        // Without a default target: the technician sets it. P: 63 and 63.5 mm to the underside of the key
        // covering (http://moypiano.com/ptg/pianotech.php/2009-February/004790.html,
        // https://azpianoservice.com/piano-regulation); 65.9 mm on one model
        // (https://88keyspianowarehouse.com/steinway-o-action-project/).
        length("key_height", "Key height", Per::Natural)
            .plausible(60 * MM, 68 * MM)
            .form(2, 1)
            .moved(Adjuster::BalancePunchings)
            .repeats(MM / 5),
        natural_level(),
        length("sharp_level", "Sharp level over the naturals", Per::Sharp)
            .flat(Band::mm(1250, 20, 50))
            .from(Memory(""))
            .plausible(9 * MM, 16 * MM)
            .form(2, 1)
            .moved(Adjuster::BalancePunchings)
            .repeats(MM / 5),
        dip("natural_dip", "Natural dip", Per::Natural)
            .plausible(7 * MM, 13 * MM)
            // https://www.moypiano.com/ptg/pianotech.php/2002-October/120239.html, 9.5 to 11 mm by maker.
            .flat(Band::mm(1000, 10, 30))
            .from(Published("Key dip, dip in…", "2002")),
        // Without a default target: a sharp is set to the dip that gives the aftertouch of the
        // naturals, which is computed for each note.
        dip("sharp_dip", "Sharp dip", Per::Sharp).plausible(8 * MM, 12 * MM),
    ]
}

/// Levels are hundredths of a millimeter. The range ends at 1 mm, so that typing 15 means 0.15; a larger
/// error has to be typed with its decimal point and is asked about.
fn natural_level() -> Measure {
    length(
        "natural_level",
        "Natural level from the straight edge",
        Per::Natural,
    )
    .flat(Band::mm(0, 10, 25))
    .from(Memory(""))
    .plausible(-MM, MM)
    .form(1, 2)
    .moved(Adjuster::BalancePunchings)
    .repeats(MM / 10)
}

/// The repeatability is 0.15 mm, which moves the aftertouch from its aim to the end of its tolerance.
fn dip(id: &'static str, name: &'static str, per: Per) -> Measure {
    length(id, name, per)
        .form(2, 1)
        .words("deep", "shallow")
        .moved(Adjuster::FrontPunchings)
        .repeats(3 * MM / 20)
}

fn parts() -> Vec<Measure> {
    vec![
        good("jack_position", "Jack to the knuckle core", Per::Note),
        good("lever_height", "Repetition lever height", Per::Note),
    ]
}

fn hammers() -> Vec<Measure> {
    vec![
        length("blow", "Blow", Per::Note)
            // https://www.moypiano.com/ptg/pianotech.php/2002-October/120239.html, 44 to 48 mm by maker.
            .flat(Band::mm(4500, 50, 100))
            .from(Published("Key dip, dip in…", "2002"))
            .plausible(30 * MM, 60 * MM)
            .form(2, 1)
            .words("long", "short")
            // M: 10 mm of dip lifts the capstan about 5 mm and the hammer about 45 mm. Turning the
            // capstan up shortens the blow; the smallest turn by hand is 1/32.
            .moved(Adjuster::Turned {
                part: "capstan",
                directions: ("down", "up"),
                response: 8 * MM,
                resolution: Turns::from_64ths(2),
            })
            .repeats(MM / 5),
        let_off()
            // let_off_taper() is offered in its place.
            .flat(Band::mm(200, 30, 50))
            .from(Common("")),
        // Drop is measured from the let-off point.
        length("drop", "Drop", Per::Note)
            .flat(Band::mm(200, 30, 80))
            .from(Common("about as much as the let-off"))
            .plausible(0, 8 * MM)
            .form(1, 1)
            .words("too much", "too little")
            .moved(screw("drop screw"))
            .repeats(MM / 5),
    ]
}

/// Returns let-off without its target. A hammer that blocks against the string reads 0.
pub(in crate::trade) fn let_off() -> Measure {
    length("let_off", "Let-off", Per::Note)
        .plausible(0, 8 * MM)
        .form(1, 1)
        .words("wide", "close")
        .moved(screw("button"))
        .repeats(MM / 5)
}

fn checks() -> Vec<Measure> {
    vec![
        good("checks_squared", "Back checks squared", Per::Note),
        // http://www.moypiano.com/ptg/pianotech.php/2003-May/135642.html, 14 to 16 mm; accepted: M.
        checking().flat(Band::mm(1500, 100, 200)).from(Published(
            "Backchecking height and an incredible help",
            "2003",
        )),
        grade(
            "spring",
            "Repetition spring",
            Per::Note,
            &["none", "slow", "firm rise", "jumps"],
            2,
        )
        .from(Common("neither slow nor jumping"))
        .words("strong", "weak")
        .moved(by_eye("spring", "stronger", "weaker")),
    ]
}

/// Returns checking distance without its target; it is read with a rule, to a millimeter at best (M).
pub(in crate::trade) fn checking() -> Measure {
    length("checking", "Checking distance", Per::Note)
        .plausible(5 * MM, 30 * MM)
        .form(2, 1)
        .words("far", "near")
        .moved(by_eye(
            "back check",
            "away from the hammer",
            "toward the hammer",
        ))
        .repeats(MM)
}

/// Without an adjuster: it follows from blow and dip, and the one that is left to follow changes it.
///
/// Acceptable is what is published: 0.030 to 0.060 in, by customer and action
/// (<http://moypiano.com/ptg/pianotech.php/1999-August/050752.html>); the aim of 0.045 in is that of
/// <http://www.moypiano.com/ptg/caut.php/2004-June/011928.html>.
fn aftertouch() -> Measure {
    length("aftertouch", "Aftertouch", Per::Note)
        .flat(Band {
            accept: AFTERTOUCH,
            ..Band::mm(115, 15, 15)
        })
        .from(Published("Keydip: method", "1999"))
        .plausible(0, 5 * MM / 2)
        .form(1, 2)
        .words("too much", "too little")
        .repeats(MM / 10)
}

/// P: about 2 mm (<https://thetunersblog.blogspot.com/search/label/Grand%20%20piano%20action>, 2014); up to
/// 5/16 in (<http://www.moypiano.com/ptg/pianotech.php/2010-July/025990.html>). The aim is M.
fn rest_cushion() -> Measure {
    length("rest_cushion", "Rest cushion to the shanks", Per::Section)
        .flat(Band {
            accept: (Some(MM), Some(8 * MM)),
            ..Band::mm(300, 100, 100)
        })
        .from(Published("Regulation of a grand piano, part 2", "2014"))
        .plausible(0, 99 * MM / 10)
        .form(1, 1)
        .words("wide", "close")
        .moved(by_eye("rest cushion", "lower", "raise"))
        .repeats(MM / 2)
}

/// Balance weight and friction are computed from the two weights that are measured; `targets` has
/// their targets.
fn weights() -> Vec<Measure> {
    let weight = |id, name, low: i64, high: i64| {
        Measure::new(id, name, Kind::Force, Per::Note)
            .plausible(low * GF, high * GF)
            .form(2, 0)
            .words("heavy", "light")
            .repeats(2 * GF)
    };
    vec![
        weight("down_weight", "Down weight", 20, 99),
        weight("up_weight", "Up weight", 0, 60)
            // https://grandwork.tools/blogs/chris/weighing-off-the-grand-action-part-3, 20 g in the bass.
            .flat(Band::at_least(20 * GF, 20 * GF))
            .from(Published("Weighing off the grand action, part 3", "")),
        weight("balance_weight", "Balance weight", 10, 80)
            .aimed(balance_weight_target())
            .from(Published(
                "College technicians’ archive, message with attachment a6-c4-bf",
                "about 2003",
            )),
        weight("friction", "Friction", 0, 40)
            .words("too much", "too little")
            .aimed(friction_target())
            .from(Published("Moment of inertia in keys", "1998")),
    ]
}
