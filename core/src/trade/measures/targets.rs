//! Targets that are offered beside the defaults, or that belong to a sum and not to a reading.

use super::super::Instrument;
use super::super::band::{Band, Target};
use super::super::measure::MeasureId;
use super::MM;
use crate::note::Note;

/// The note at which the taper of let-off takes the low plain wire to stand
/// (M: the first plain wire lies between 21 and 33, by the scale).
const LOW_PLAIN_WIRE: i64 = 28;

/// The lowest and highest, in nanometres, that a length of the travel balance may come to where it
/// is the one that floats; nothing for a measure that does not float.
///
/// P: blow 44 to 48 mm and natural dip 9.5 to 11 mm, makers' manuals as quoted on technicians'
/// lists; aftertouch 0.035 to 0.050 in, technicians' lists; the vertical's blow 45 to 48 mm,
/// player-piano technicians' digest, 2010. The sharp's dip is taken as the natural's (M).
pub fn afloat(measure: &str, instrument: Instrument) -> Option<(i64, i64)> {
    Some(match (measure, instrument) {
        ("natural_dip" | "sharp_dip", _) => (19 * MM / 2, 11 * MM),
        ("blow", Instrument::Grand) => (44 * MM, 48 * MM),
        ("blow", Instrument::Vertical) => (45 * MM, 48 * MM),
        ("aftertouch", _) => (889_000, 1_270_000),
        _ => return None,
    })
}

/// Let-off tapered over the notes, offered in place of the flat 2.0 mm: 2.5 mm in the
/// bass, 2.0 at the low plain wire, 1.5 at the top.
///
/// Source: P, technicians' list: twice the core wire. The bands of ± 0.3 and ± 0.5 are
/// those of the flat target (C), and the note of the low plain wire is M.
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

/// Balance weight, half the sum of down and up weight: 39 gf ± 1.5, accepted ± 4.
///
/// Source: P, technicians' list, 38 to 40. It is computed from two readings and read by
/// no gauge, so no step takes its measure.
pub fn balance_weight_target() -> Target {
    Target::Flat(Band::gf(390, 15, 40))
}

/// Friction, half the difference of down and up weight: 16 gf at note 1 falling to
/// 10 gf at note 88, ± 2, accepted ± 4.
///
/// Source: P, technicians' list, October 1998. Reckoned, as the balance weight is.
pub fn friction_target() -> Target {
    Target::Tapered(vec![
        (Note::FIRST, Band::gf(160, 20, 40)),
        (Note::LAST, Band::gf(100, 20, 40)),
    ])
}

/// Where the damper starts to lift, in mm of hammer travel: half of the blow ± 2,
/// accepted ± 5.
///
/// Source: P, trade flashcards; C. The measure `damper_key` is taken as good or needs work,
/// since that is how it is seen; this is for a technician who keeps it in mm.
pub fn damper_lift_target() -> Target {
    Target::ShareOf {
        of: MeasureId::of("blow"),
        percent: 50,
        within: 2 * MM,
        accept: 5 * MM,
    }
}
