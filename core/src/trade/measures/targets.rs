//! Targets offered in place of the defaults, and targets of computed measures.

use super::super::Instrument;
use super::super::band::{Band, Target};
use super::super::measure::MeasureId;
use super::constructors::MM;
use crate::note::Note;

/// The published range of aftertouch in nanometers: 0.030 to 0.060 in
/// (<http://moypiano.com/ptg/pianotech.php/1999-August/050752.html>).
pub(super) const AFTERTOUCH: (Option<i64>, Option<i64>) = (Some(762_000), Some(1_524_000));

/// The action ratios that are plausible (M): 4.5 to 6.0. With the default targets it is 43/8.85 = 4.86.
///
/// They are ratios of travel. Ratios from weights are other figures and do not belong here.
pub const PLAUSIBLE_RATIO: (f64, f64) = (4.5, 6.0);

/// The note of the lowest plain wire in the taper of let-off (M: between 21 and 33, depending on the
/// scale).
const LOW_PLAIN_WIRE: i64 = 28;

/// Returns the acceptable range, in nanometers, of the length that is left to follow from the others:
/// dip, blow or aftertouch. Returns `None` for any other measure.
///
/// **Source**: P: blow 43 mm (upright models) and up to 48, natural dip 9.5 to 11 mm
/// (<https://www.moypiano.com/ptg/pianotech.php/2002-October/120239.html>), blow up to 49 mm
/// (<http://moypiano.com/ptg/pianotech.php/2009-February/004685.html>); aftertouch 0.030 to 0.060 in
/// (<http://moypiano.com/ptg/pianotech.php/1999-August/050752.html>); the upright's blow 45 to 48 mm
/// (<https://mmdigest.com/Archives/Digests/201002/2010.02.15.07.html>). The dip of a sharp has the range of a
/// natural (M).
///
/// ```
/// use evenhand_core::trade::{Instrument, derived_range};
///
/// assert_eq!(derived_range("blow", Instrument::Grand), Some((43_000_000, 49_000_000)));
/// assert_eq!(derived_range("let_off", Instrument::Grand), None);
/// ```
pub fn derived_range(measure: &str, instrument: Instrument) -> Option<(i64, i64)> {
    Some(match (measure, instrument) {
        ("natural_dip" | "sharp_dip", _) => (19 * MM / 2, 11 * MM),
        ("blow", Instrument::Grand) => (43 * MM, 49 * MM),
        ("blow", Instrument::Upright) => (45 * MM, 48 * MM),
        ("aftertouch", _) => (AFTERTOUCH.0?, AFTERTOUCH.1?),
        _ => return None,
    })
}

/// Returns let-off tapered over the notes, offered in place of the flat 2.0 mm: 2.5 mm at A0, 2.0 mm
/// at the lowest plain wire, 1.5 mm at C8.
///
/// **Source**: P: twice the core wire
/// (<https://www.moypiano.com/ptg/pianotech.php/attachments/74/75/50/88/attachment.htm>). The tolerances of ± 0.3 and ± 0.5 mm are
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

/// Returns the targets for a job in inches, in place of the defaults: aims that stand on a rule, as 1 3/4 in for the blow,
/// with the tolerances of the defaults.
///
/// **Source**: C, but for the drop, at most 1/16 in (P: <https://www.manualslib.com/manual/3083539/Steinway-And-Sons-S.html>).
/// With the ratio of the defaults they leave an
/// aftertouch of 1.1 mm, which 3/64 in is.
///
/// ```
/// use evenhand_core::trade::{Instrument, inch_targets};
///
/// let all = inch_targets(Instrument::Grand);
/// let (_, blow) = all.iter().find(|(id, _)| id.as_str() == "blow").unwrap();
/// assert_eq!(blow.band(None, 0, |_| None).unwrap().aim, 44_450_000);
/// ```
pub fn inch_targets(instrument: Instrument) -> Vec<(MeasureId, Target)> {
    // In 64ths of an inch.
    let aims: &[(&'static str, i64)] = match instrument {
        Instrument::Grand => &[
            ("sharp_level", 32),
            ("natural_dip", 25),
            ("sharp_dip", 25),
            ("blow", 112),
            ("let_off", 4),
            ("drop", 4),
            ("aftertouch", 3),
            ("checking", 40),
            ("rest_cushion", 8),
        ],
        Instrument::Upright => &[
            ("sharp_level", 32),
            ("natural_dip", 25),
            ("sharp_dip", 25),
            ("blow", 116),
            ("let_off", 8),
            ("aftertouch", 3),
            ("checking", 40),
            ("half_blow_pedal", 58),
        ],
    };
    let target = |(id, sixty_fourths): &(&'static str, i64)| {
        let measure = instrument.measure(id)?;
        let usual = measure.target.as_ref()?.band(None, 0, |_| None)?;
        let by = sixty_fourths * INCH_64TH - usual.aim;
        let moved =
            |(low, high): (Option<i64>, Option<i64>)| (low.map(|l| l + by), high.map(|h| h + by));
        let band = Band {
            aim: usual.aim + by,
            within: moved(usual.within),
            accept: moved(usual.accept),
        };
        Some((measure.id.clone(), Target::Flat(band)))
    };
    aims.iter().filter_map(target).collect()
}

/// Nanometers in 1/64 in.
const INCH_64TH: i64 = 396_875;

/// The pitches of A4 to choose from, in thousandths of a hertz: standard pitch, and the house pitches of
/// continental Europe (P: <http://www.hawaiilibrary.net/articles/ISO_16>).
pub const HOUSE_PITCHES: [i64; 3] = [440_000, 442_000, 443_000];

/// Returns the target of a house pitch of A4 in thousandths of a hertz, ± 0.5 Hz on target and ± 2 Hz
/// acceptable, as at 440 Hz.
///
/// ```
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{Instrument, pitch_target};
///
/// let measure = Instrument::Grand.measure("pitch_a4").unwrap();
/// assert_eq!(measure.target, Some(pitch_target(440_000)));
/// assert_eq!(pitch_target(442_000).band(None, 0, |_| None).unwrap().aim, 442_000);
/// ```
pub const fn pitch_target(millihertz: i64) -> Target {
    Target::Flat(Band::even(millihertz, 500, 2_000))
}

/// Returns the target of balance weight, half the sum of down and up weight: 39 gf ± 1.5 on target,
/// ± 4 acceptable.
///
/// **Source**: P: 38 to 40 gf
/// (<https://www.moypiano.com/ptg/caut.php/attachments/65/a6/c4/bf/attachment.htm>). No step takes this measure, because it is computed
/// from two readings.
pub fn balance_weight_target() -> Target {
    Target::Flat(Band::gf(390, 15, 40))
}

/// Returns the target of friction, half the difference of down and up weight: from 16 gf at A0 down to
/// 11 gf at C8, ± 2 on target, ± 4 acceptable.
///
/// **Source**: P: around 16 in the bass and 11 in the treble
/// (<https://www.moypiano.com/ptg/pianotech.php/1998-October/038299.html>). Calculated, like balance weight.
pub fn friction_target() -> Target {
    Target::Tapered(vec![
        (Note::FIRST, Band::gf(160, 20, 40)),
        (Note::LAST, Band::gf(110, 20, 40)),
    ])
}

/// Returns the target of the hammer travel at which the damper starts to lift: half of the blow, ± 2 mm
/// on target, ± 5 mm acceptable.
///
/// **Source**: P, of the upright:
/// <https://api.brainscape.com/flashcards/regulation-21247600/packs/23283580>; C. The measure `damper_key` is good or needs work, because it is
/// judged by eye; this target is for a technician who measures it in mm.
pub fn damper_lift_target() -> Target {
    Target::ShareOf {
        of: MeasureId::of("blow"),
        percent: 50,
        within: 2 * MM,
        accept: 5 * MM,
    }
}
