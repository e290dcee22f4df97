//! Targets offered in place of the defaults, and targets of computed measures.

use super::super::Instrument;
use super::super::band::{Band, Target};
use super::super::measure::MeasureId;
use super::constructors::MM;
use crate::note::Note;

/// The note of the lowest plain wire in the taper of let-off (M: between 21 and 33, depending on the
/// scale).
const LOW_PLAIN_WIRE: i64 = 28;

/// Returns the acceptable range, in nanometers, of the length that is left to follow from the others:
/// dip, blow or aftertouch. Returns `None` for any other measure.
///
/// **Source**: P: blow 44 to 48 mm and natural dip 9.5 to 11 mm, makers' manuals as quoted on technicians'
/// lists; aftertouch 0.035 to 0.050 in, technicians' lists; the upright's blow 45 to 48 mm,
/// player-piano technicians' digest, 2010. The dip of a sharp has the range of a natural (M).
///
/// ```
/// use evenhand_core::trade::{Instrument, derived_range};
///
/// assert_eq!(derived_range("blow", Instrument::Grand), Some((44_000_000, 48_000_000)));
/// assert_eq!(derived_range("let_off", Instrument::Grand), None);
/// ```
pub fn derived_range(measure: &str, instrument: Instrument) -> Option<(i64, i64)> {
    Some(match (measure, instrument) {
        ("natural_dip" | "sharp_dip", _) => (19 * MM / 2, 11 * MM),
        ("blow", Instrument::Grand) => (44 * MM, 48 * MM),
        ("blow", Instrument::Upright) => (45 * MM, 48 * MM),
        ("aftertouch", _) => (889_000, 1_270_000),
        _ => return None,
    })
}

/// Returns let-off tapered over the notes, offered in place of the flat 2.0 mm: 2.5 mm at A0, 2.0 mm
/// at the lowest plain wire, 1.5 mm at C8.
///
/// **Source**: P: technicians' list, twice the core wire. The tolerances of ± 0.3 and ± 0.5 mm are
/// those of the flat target (C), and the note of the lowest plain wire is M.
///
/// ```
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::let_off_taper;
///
/// let band = let_off_taper().band(Some(Note::FIRST), 0, |_| None).unwrap();
/// assert_eq!(band.aim, 2_500_000);
/// ```
pub fn let_off_taper() -> Target {
    let low_plain = Note::new(LOW_PLAIN_WIRE).unwrap_or(Note::FIRST);
    Target::Tapered(vec![
        (Note::FIRST, Band::mm(250, 30, 50)),
        (low_plain, Band::mm(200, 30, 50)),
        (Note::LAST, Band::mm(150, 30, 50)),
    ])
}

/// Returns the target of balance weight, half the sum of down and up weight: 39 gf ± 1.5 on target,
/// ± 4 acceptable.
///
/// **Source**: P: technicians' list, 38 to 40 gf. No step takes this measure, because it is computed
/// from two readings.
pub fn balance_weight_target() -> Target {
    Target::Flat(Band::gf(390, 15, 40))
}

/// Returns the target of friction, half the difference of down and up weight: from 16 gf at A0 down to
/// 10 gf at C8, ± 2 on target, ± 4 acceptable.
///
/// **Source**: P: technicians' list, October 1998. Calculated, like balance weight.
pub fn friction_target() -> Target {
    Target::Tapered(vec![
        (Note::FIRST, Band::gf(160, 20, 40)),
        (Note::LAST, Band::gf(100, 20, 40)),
    ])
}

/// Returns the target of the hammer travel at which the damper starts to lift: half of the blow, ± 2 mm
/// on target, ± 5 mm acceptable.
///
/// **Source**: P: trade flashcards; C. The measure `damper_key` is good or needs work, because it is
/// judged by eye; this target is for a technician who measures it in mm.
pub fn damper_lift_target() -> Target {
    Target::ShareOf {
        of: MeasureId::of("blow"),
        percent: 50,
        within: 2 * MM,
        accept: 5 * MM,
    }
}
