//! From a reading to a turn: which part is turned, and how far.

use super::response::{NoiseModel, Response};
use crate::trade::{Adjuster, Measure};
use crate::unit::{Kind, Length, Turns};

/// The largest turn before re-measuring: one turn (M).
pub const MAX: Turns = Turns::from_64ths(64);

/// A part that is turned to change a reading, as given by the trade ([`Adjuster::Turned`]). It has
/// no default; [`Screw::of`] looks it up.
///
/// ```
/// use evenhand_core::analysis::screw::Screw;
/// use evenhand_core::trade::Instrument;
/// use evenhand_core::unit::Turns;
///
/// let button = Screw::of(Instrument::Grand.measure("let_off").unwrap()).unwrap();
/// assert_eq!((button.part, button.directions), ("button", ("down", "up")));
/// assert_eq!((button.mm_per_turn, button.resolution), (5.0, Turns::from_64ths(4)));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screw {
    /// Its name in the trade.
    pub part: &'static str,
    /// The direction in words for a larger reading, and for a smaller one.
    pub directions: (&'static str, &'static str),
    /// The rough response in millimeters per turn, before anything is learned.
    pub mm_per_turn: f64,
    /// The finest turn that the hand can make.
    pub resolution: Turns,
}

impl Screw {
    /// Returns the part that moves a measure, or `None` if the measure is not a length or is not
    /// moved by turning.
    ///
    /// ```
    /// use evenhand_core::analysis::screw::Screw;
    /// use evenhand_core::trade::Instrument;
    ///
    /// let of = |id| Screw::of(Instrument::Grand.measure(id).unwrap());
    /// assert_eq!(of("blow").unwrap().part, "capstan");
    /// assert_eq!(of("checking"), None);
    /// ```
    pub fn of(measure: &Measure) -> Option<Screw> {
        match measure.adjuster? {
            Adjuster::Turned {
                part,
                directions,
                response,
                resolution,
            } if measure.kind == Kind::Length => Some(Screw {
                part,
                directions,
                mm_per_turn: Length::from_nm(response).mm(),
                resolution,
            }),
            _ => None,
        }
    }
}

/// What to do about a reading: at most a turn of [`MAX`]. There is no default.
///
/// ```
/// use evenhand_core::analysis::response::{NoiseModel, Prior, learn};
/// use evenhand_core::analysis::screw::{Correction, MAX, Screw, correction};
/// use evenhand_core::trade::Instrument;
/// use evenhand_core::unit::Length;
///
/// let button = Instrument::Grand.measure("let_off").and_then(Screw::of).unwrap();
/// let rough = learn(&[], Prior::rough(button.mm_per_turn), NoiseModel::default())?;
/// let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
/// let from = |reading| correction(mm(reading), mm(2), &rough, &button);
/// assert_eq!(from(2), Correction::Leave);
/// assert!(matches!(from(20), Correction::Turn { turns, direction: "up", .. } if turns == -MAX));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Correction {
    /// Nothing: the change is finer than the hand can turn.
    Leave,
    /// The response is too uncertain to give a direction: make a trial turn, then re-measure.
    TryFirst,
    /// Turn.
    Turn {
        /// The amount; positive for a larger reading.
        turns: Turns,
        /// The direction in words.
        direction: &'static str,
        /// The expected reading.
        expected: Length,
        /// The standard deviation of the expected reading.
        give_or_take: Length,
    },
}

/// Returns the turn that brings a reading to its target.
///
/// **Rule**: `t = −e·b/(b² + s²)`, the turn with the smallest expected squared error if the
/// response is `b ± s` (P: decision under a normal posterior). It never exceeds `−e/b`, and shrinks
/// as `b` becomes less certain. If `b` is not more than twice its standard error, there is no turn.
/// The result is limited to [`MAX`] and rounded to the resolution of the screw, halves toward 0;
/// since the expected squared error is a parabola, the nearest multiple is the best that the hand
/// can make. If that is 0, it returns [`Correction::Leave`]. The reading to expect has the standard
/// deviation `φ·√(t² s² + 2σ²)`: the response, two readings, and by [`Response::spread_factor`] φ what hand and
/// screw add over all turns; or `√(t² s² + t² b² (h² − 0.08²) + 2σ²)` if that is more, as it is of large turns, with
/// [`Response::hand`] h, in which s holds the 0.08 between notes already.
///
/// ```
/// use evenhand_core::analysis::response::{Prior, NoiseModel, learn};
/// use evenhand_core::analysis::screw::{Correction, Screw, correction};
/// use evenhand_core::trade::Instrument;
/// use evenhand_core::unit::{Length, Turns};
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let button = Instrument::Grand.measure("let_off").and_then(Screw::of).unwrap();
/// let unknown = learn(&[], Prior::rough(button.mm_per_turn), NoiseModel::default())?;
/// let Correction::Turn { turns, direction, .. } = correction(mm(130), mm(200), &unknown, &button) else {
///     panic!("0.7 mm is worth a turn");
/// };
/// assert_eq!((turns.to_string().as_str(), direction), ("1/8", "down"));
/// assert_eq!(correction(mm(190), mm(200), &unknown, &button), Correction::Leave);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn correction(
    reading: Length,
    target: Length,
    response: &Response,
    screw: &Screw,
) -> Correction {
    let (b, s) = (response.mm_per_turn, response.standard_error);
    // Negated so that NaN gives no turn.
    if !(b > 2.0 * s && b.is_finite()) {
        return Correction::TryFirst;
    }
    let wanted = (target - reading).mm() * b / (b * b + s * s) * 64.0;
    let resolution = screw.resolution.in_64ths().max(1);
    let most = (MAX.in_64ths() / resolution).max(1);
    let steps = wanted / resolution as f64;
    // Halves round toward 0; the cast saturates, so nothing overflows before `min`.
    let whole = ((steps.abs() - 0.5).ceil() as i64).min(most);
    if whole < 1 {
        return Correction::Leave;
    }
    let counted = whole.saturating_mul(resolution);
    let turns = Turns::from_64ths(if wanted < 0.0 { -counted } else { counted });
    Correction::Turn {
        turns,
        direction: if wanted < 0.0 {
            screw.directions.1
        } else {
            screw.directions.0
        },
        expected: reading + Length::from_mm(turns.turns() * b),
        give_or_take: Length::from_mm(usual(turns.turns(), response)),
    }
}

/// Returns the standard deviation of the reading to expect after a turn, in mm.
fn usual(turns: f64, response: &Response) -> f64 {
    let alone = turns * response.standard_error;
    let twice_read = response.reading.mm() * std::f64::consts::SQRT_2;
    let by_factor = response.spread_factor * alone.hypot(twice_read);
    let notes = NoiseModel::default().notes;
    let of_hand = (response.hand.powi(2) - notes * notes).max(0.0).sqrt();
    let by_hand = alone.hypot(turns * response.mm_per_turn * of_hand);
    by_factor.max(by_hand.hypot(twice_read))
}
