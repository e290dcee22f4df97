//! From a reading to a turn: what is turned, and how far.

use super::response::Response;
use crate::trade::{Adjuster, Measure};
use crate::unit::{Kind, Length, Turns};

/// The furthest that anything is turned before it is read again: one turn (M).
pub const MAX: Turns = Turns::from_64ths(64);

/// Something that is turned to move a reading, as the trade has it ([`Adjuster::Turned`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screw {
    /// Its name in the trade.
    pub part: &'static str,
    /// The way to turn it for a larger reading, and for a smaller.
    pub directions: (&'static str, &'static str),
    /// Reading in millimeters for one turn, before anything is known of the instrument.
    pub mm_per_turn: f64,
    /// The finest turn that a hand can do.
    pub resolution: Turns,
}

impl Screw {
    /// What a measure of lengths is moved by, where that is turned.
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

/// What to do with a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Correction {
    /// Nothing: what is wanted is finer than a hand can turn.
    Leave,
    /// The response is not known well enough to say which way it goes: turn once, read again.
    TryFirst,
    /// Turn.
    Turn {
        /// How far; positive for a larger reading.
        turns: Turns,
        /// Which way.
        direction: &'static str,
        /// What should be read after it.
        expected: Length,
        /// How far off that may be: one standard deviation.
        give_or_take: Length,
    },
}

/// The turn that brings a reading to its target.
///
/// **Rule**: `t = −e·b/(b² + s²)`, the turn with the smallest expected squared error when the
/// response is `b ± s` (P: decision under a normal posterior). It is never more than `−e/b`,
/// and the less is known of `b` the less it is. If `b` is not above twice its standard error there is no turn
/// at all. Then it is cut to [`MAX`] and rounded to whole steps of the screw's resolution, halves towards
/// less; since the expected squared error is a parabola over the steps, the nearest whole number of them
/// is the best that a hand can do. Where that is none, it says leave it.
///
/// ```
/// use evenhand_core::analysis::response::{Prior, Scatter, learn};
/// use evenhand_core::analysis::screw::{Correction, Screw, correction};
/// use evenhand_core::trade::Instrument;
/// use evenhand_core::unit::{Length, Turns};
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let button = Instrument::Grand.measure("let_off").and_then(Screw::of).unwrap();
/// let unknown = learn(&[], Prior::rough(button.mm_per_turn), Scatter::default())?;
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
    // Written so that a response that is not a number is not turned by.
    if !(b > 2.0 * s && b.is_finite()) {
        return Correction::TryFirst;
    }
    let wanted = (target - reading).mm() * b / (b * b + s * s) * 64.0;
    let resolution = screw.resolution.in_64ths().max(1);
    let most = (MAX.in_64ths() / resolution).max(1);
    let steps = wanted / resolution as f64;
    // Halves go towards less; the cast saturates, so nothing overflows before the cut.
    let whole = ((steps.abs() - 0.5).ceil() as i64).min(most);
    if whole < 1 {
        return Correction::Leave;
    }
    let counted = whole.saturating_mul(resolution);
    let turns = Turns::from_64ths(if wanted < 0.0 { -counted } else { counted });
    let twice_read = response.reading.mm() * std::f64::consts::SQRT_2;
    Correction::Turn {
        turns,
        direction: if wanted < 0.0 {
            screw.directions.1
        } else {
            screw.directions.0
        },
        expected: reading + Length::from_mm(turns.turns() * b),
        give_or_take: Length::from_mm((turns.turns() * s).hypot(twice_read)),
    }
}
