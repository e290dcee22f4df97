//! The travel balance: how the dip of the key is used.
//!
//! **Rule** (P: <https://www.moypiano.com/ptg/pianotech.php/2010-January/018138.html>): `(blow − let-off) / (dip − aftertouch) = action
//! ratio`. With lost motion `m`, the key travel before anything moves, `aftertouch = dip − m −
//! (blow − let-off)/ratio`. A deeper dip, a shorter blow and a wider let-off each give more
//! aftertouch (P: <https://grandwork.tools/blogs/chris/grand-regulation-key-dip-part-1>).
//!
//! **Range**: blow and let-off at the crown of the hammer, the rest at the front edge of the key.
//! The ratio changes through the stroke; this one is its mean from rest to let-off, plausible from 4.5
//! to 6.0 ([`PLAUSIBLE_RATIO`](crate::trade::PLAUSIBLE_RATIO), M). It is no ratio of weights.
//! **Error**: 0.1 mm in dip is 0.1 mm in aftertouch, 1 mm in blow is about 0.2 mm.

use super::{SumError, median, positive, robust_scale};
use crate::note::{Color, Note};
use crate::unit::Length;

/// The five lengths of the travel balance of one note. Any lengths are allowed; the calculations
/// return an error if they leave key or hammer no travel. It has no default.
///
/// ```
/// use evenhand_core::analysis::travel::Travel;
/// use evenhand_core::unit::Length;
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let note = Travel { dip: mm(1000), lost_motion: mm(0), blow: mm(4500), let_off: mm(200), aftertouch: mm(115) };
/// let ratio = note.ratio()?;
/// assert!((ratio - 43.0 / 8.85).abs() < 1e-9);
/// assert_eq!(note.aftertouch_at(ratio)?, note.aftertouch);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Travel {
    /// The travel of the key in all.
    pub dip: Length,
    /// The travel of the key before the hammer moves.
    pub lost_motion: Length,
    /// The distance from the hammer at rest to the string.
    pub blow: Length,
    /// The distance from the string to the hammer at let-off.
    pub let_off: Length,
    /// The travel of the key after let-off.
    pub aftertouch: Length,
}

/// One of the five lengths of the travel balance. It has no default and no order.
///
/// ```
/// use evenhand_core::analysis::travel::Dimension;
///
/// // One mm of blow is worth less at the key than one mm of dip.
/// assert_eq!(Dimension::ALL.len(), 5);
/// assert_eq!(Dimension::LetOff.name(), "let-off");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Dimension {
    /// Key dip.
    Dip,
    /// Lost motion.
    LostMotion,
    /// Blow.
    Blow,
    /// Let-off.
    LetOff,
    /// Aftertouch.
    Aftertouch,
}

impl Dimension {
    /// All five.
    pub const ALL: [Dimension; 5] = [
        Dimension::Dip,
        Dimension::LostMotion,
        Dimension::Blow,
        Dimension::LetOff,
        Dimension::Aftertouch,
    ];

    /// Returns its name in the trade.
    pub const fn name(self) -> &'static str {
        match self {
            Dimension::Dip => "dip",
            Dimension::LostMotion => "lost motion",
            Dimension::Blow => "blow",
            Dimension::LetOff => "let-off",
            Dimension::Aftertouch => "aftertouch",
        }
    }

    /// Returns the derivative of `dip − m − (blow − let-off)/ratio − aftertouch` with respect to
    /// this length.
    fn weight(self, ratio: f64) -> f64 {
        match self {
            Dimension::Dip => 1.0,
            Dimension::LostMotion | Dimension::Aftertouch => -1.0,
            Dimension::Blow => -1.0 / ratio,
            Dimension::LetOff => 1.0 / ratio,
        }
    }
}

impl Travel {
    /// Returns the length of a dimension.
    pub const fn get(&self, dimension: Dimension) -> Length {
        match dimension {
            Dimension::Dip => self.dip,
            Dimension::LostMotion => self.lost_motion,
            Dimension::Blow => self.blow,
            Dimension::LetOff => self.let_off,
            Dimension::Aftertouch => self.aftertouch,
        }
    }

    /// Returns the key travel that the hammer uses, in mm: dip minus lost motion minus aftertouch.
    fn key_mm(&self) -> f64 {
        (self.dip - self.lost_motion - self.aftertouch).mm()
    }

    /// Returns the hammer travel up to let-off, in mm.
    fn hammer_mm(&self) -> f64 {
        (self.blow - self.let_off).mm()
    }

    /// Returns the action ratio of this note.
    ///
    /// # Errors
    /// [`SumError::NotPositive`] if the readings leave key or hammer no travel.
    pub fn ratio(&self) -> Result<f64, SumError> {
        let key = positive(self.key_mm(), "Dip less lost motion and aftertouch")?;
        let hammer = positive(self.hammer_mm(), "Blow less let-off")?;
        Ok(hammer / key)
    }

    /// Returns the aftertouch that the other four lengths give at this ratio. A negative one means
    /// that the hammer never reaches let-off.
    ///
    /// # Errors
    /// [`SumError::NotPositive`] if the ratio is not above 0.
    pub fn aftertouch_at(&self, ratio: f64) -> Result<Length, SumError> {
        self.solved(Dimension::Aftertouch, ratio)
    }

    /// Returns the length that one dimension must have for the five to balance.
    ///
    /// # Errors
    /// [`SumError::NotPositive`] if the ratio is not above 0.
    pub fn solved(&self, following: Dimension, ratio: f64) -> Result<Length, SumError> {
        let ratio = positive(ratio, "The action ratio")?;
        let over = self.key_mm() - self.hammer_mm() / ratio;
        let now = self.get(following).mm();
        Ok(Length::from_mm(now - over / following.weight(ratio)))
    }
}

/// The deviation of a solved length from its plausible range, and the change of each other length
/// that alone would bring it back to the nearest limit. Part of [`SolvedNote`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::travel::{Dimension, Travel, solve_note};
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Length;
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let note = Travel { dip: mm(950), lost_motion: mm(0), blow: mm(4700), let_off: mm(200), aftertouch: mm(0) };
/// let found = solve_note(Note::FIRST, &note, Dimension::Aftertouch, 5.0, (mm(85), mm(145)))?;
/// assert_eq!(found.strayed.unwrap().by, mm(-35));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Strayed {
    /// The distance beyond the limit: positive above the highest, negative below the lowest.
    pub by: Length,
    /// For each of the other four dimensions, the change that would bring it back.
    pub bring_back: Vec<(Dimension, Length)>,
}

/// A note with the length that is left to follow, solved from the other four. [`solve_note`] computes
/// it; it has no default.
///
/// ```
/// use evenhand_core::analysis::travel::{Dimension, Travel, solve_note};
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Length;
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let note = Travel { dip: mm(1000), lost_motion: mm(0), blow: mm(4700), let_off: mm(200), aftertouch: mm(0) };
/// let found = solve_note(Note::FIRST, &note, Dimension::Aftertouch, 5.0, (mm(85), mm(145)))?;
/// // 10 − 45 ÷ 5 = 1 mm, inside its plausible range.
/// assert_eq!((found.value, found.strayed), (mm(100), None));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SolvedNote {
    /// The note.
    pub note: Note,
    /// The solved length.
    pub value: Length,
    /// The deviation from its plausible range, or `None` if it is inside.
    pub strayed: Option<Strayed>,
}

/// Solves the length of a note that is left to follow, with a warning if it is outside `plausible`
/// (lowest and highest). Makers specify dip and blow and let the aftertouch follow; many
/// technicians let blow or dip follow instead; all three are good practice (C).
///
/// # Errors
/// [`SumError::NotPositive`] if the ratio is not above 0.
///
/// ```
/// use evenhand_core::note::Note;
/// use evenhand_core::analysis::travel::{Dimension, Travel, solve_note};
/// use evenhand_core::unit::Length;
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let note = Travel { dip: mm(950), lost_motion: mm(0), blow: mm(4700), let_off: mm(200), aftertouch: mm(0) };
/// let found = solve_note(Note::FIRST, &note, Dimension::Aftertouch, 5.0, (mm(85), mm(145)))?;
/// assert_eq!(found.value, mm(50));
/// let strayed = found.strayed.unwrap();
/// assert_eq!(strayed.by, mm(-35));
/// // A dip deeper by 0.35 mm, or a blow shorter by 1.75 mm, brings it back.
/// assert!(strayed.bring_back.contains(&(Dimension::Dip, mm(35))));
/// assert!(strayed.bring_back.contains(&(Dimension::Blow, mm(-175))));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn solve_note(
    note: Note,
    travel: &Travel,
    following: Dimension,
    ratio: f64,
    plausible: (Length, Length),
) -> Result<SolvedNote, SumError> {
    let value = travel.solved(following, ratio)?;
    let by = if value > plausible.1 {
        value - plausible.1
    } else if value < plausible.0 {
        value - plausible.0
    } else {
        Length::ZERO
    };
    let strayed = (by != Length::ZERO).then(|| Strayed {
        by,
        bring_back: Dimension::ALL
            .into_iter()
            .filter(|d| *d != following)
            // The solved length changes by −by if the other changes by that, scaled by the weights.
            .map(|d| (d, by.mm() * following.weight(ratio) / d.weight(ratio)))
            .map(|(d, mm)| (d, Length::from_mm(mm)))
            .collect(),
    });
    Ok(SolvedNote {
        note,
        value,
        strayed,
    })
}

/// The action ratios of an instrument, naturals and sharps apart. Both must be above 0;
/// [`float_all`] returns an error otherwise. It has no default.
///
/// ```
/// use evenhand_core::analysis::travel::Ratios;
/// use evenhand_core::note::Note;
///
/// let ratios = Ratios { naturals: 5.0, sharps: 5.5 };
/// assert_eq!(ratios.of(Note::new(1)?), 5.0);
/// assert_eq!(ratios.of(Note::new(2)?), 5.5);
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratios {
    /// The ratio of the naturals.
    pub naturals: f64,
    /// The ratio of the sharps.
    pub sharps: f64,
}

impl Ratios {
    /// Returns the ratio of a note.
    pub const fn of(&self, note: Note) -> f64 {
        match note.color() {
            Color::Natural => self.naturals,
            Color::Sharp => self.sharps,
        }
    }
}

/// Solves many notes with [`solve_note`].
///
/// # Errors
/// [`SumError::NotPositive`] if a ratio is not above 0.
pub fn float_all(
    notes: &[(Note, Travel)],
    following: Dimension,
    ratios: Ratios,
    plausible: (Length, Length),
) -> Result<Vec<SolvedNote>, SumError> {
    notes
        .iter()
        .map(|(note, travel)| solve_note(*note, travel, following, ratios.of(*note), plausible))
        .collect()
}

/// The residual of a note from the ratio fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// The note.
    pub note: Note,
    /// Its own ratio.
    pub own_ratio: f64,
    /// Its aftertouch minus the one that the fitted ratio would give.
    pub aftertouch: Length,
    /// Whether it is an outlier: its parts differ or a reading is wrong, so check it.
    pub odd: bool,
}

/// The action ratio of an instrument, fitted to sample notes. It has no default.
///
/// **Rule**: least squares through the origin of hammer travel on key travel, `ratio = Σkh/Σk²`,
/// over the notes that are not outliers. A note is an outlier, and left out, if it lies more than
/// 3.5 robust standard deviations (P: the cut-off that Iglewicz and Hoaglin 1993 give for the
/// modified z-score) from the median ratio. The standard deviation counts as at least
/// [`READING_SCATTER`], so that readings better than those of a caliper do not turn a note into an
/// outlier.
/// **Error**: the standard error `√(Σr²/(n−1)/Σk²)`; with 10 good notes about 0.5 %.
///
/// ```
/// use evenhand_core::analysis::travel::{RatioFit, Travel};
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Length;
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let note = Travel { dip: mm(1000), lost_motion: mm(0), blow: mm(4500), let_off: mm(200), aftertouch: mm(140) };
/// let fit = RatioFit::of(&[(Note::FIRST, note), (Note::LAST, note)])?;
/// assert!((fit.ratio - 43.0 / 8.6).abs() < 1e-9);
/// assert_eq!((fit.fitted, fit.odd().count()), (2, 0));
/// assert!(RatioFit::of(&[]).is_err());
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct RatioFit {
    /// The ratio.
    pub ratio: f64,
    /// Its standard error, or `None` if a single note was fitted.
    pub standard_error: Option<f64>,
    /// The number of notes fitted.
    pub fitted: usize,
    /// Every sample note that has a ratio, in the order given.
    pub residuals: Vec<Residual>,
    /// The notes whose readings leave key or hammer no travel: re-measure them.
    pub unusable: Vec<Note>,
}

/// The standard deviation of key travel, in mm, due to reading alone: dip, aftertouch and the two
/// hammer lengths, about 0.05 mm at the key each (M).
pub const READING_SCATTER: f64 = 0.1;

/// Number of robust standard deviations beyond which a note is an outlier.
const ODD: f64 = 3.5;

impl RatioFit {
    /// Fits the ratio to sample notes of any color; [`fit_by_color`] keeps naturals and sharps
    /// apart.
    ///
    /// # Errors
    /// [`SumError::TooFew`] if no note has key and hammer travel.
    pub fn of(samples: &[(Note, Travel)]) -> Result<RatioFit, SumError> {
        let (usable, unusable): (Vec<_>, Vec<_>) =
            samples.iter().partition(|(_, t)| t.ratio().is_ok());
        let mut own: Vec<f64> = usable.iter().flat_map(|(_, t)| t.ratio()).collect();
        let middle = median(&mut own).ok_or(SumError::TooFew(
            "sample notes with dip, blow, let-off and aftertouch",
            0,
            1,
        ))?;
        let off = |t: &Travel, ratio: f64| t.hammer_mm() / ratio - t.key_mm();
        let offs: Vec<f64> = usable.iter().map(|(_, t)| off(t, middle)).collect();
        let limit = ODD * robust_scale(&offs).max(READING_SCATTER);
        // Two notes cannot show which of them is the outlier.
        let is_odd = |i: usize| usable.len() > 2 && offs[i].abs() > limit;
        let fitting: Vec<&Travel> = (0..usable.len())
            .filter(|i| !is_odd(*i))
            .map(|i| &usable[i].1)
            .collect();
        let (ratio, standard_error) = least_squares(&fitting)?;
        let residuals = usable.iter().enumerate().map(|(i, (note, t))| Residual {
            note: *note,
            own_ratio: t.hammer_mm() / t.key_mm(),
            aftertouch: Length::from_mm(off(t, ratio)),
            odd: is_odd(i),
        });
        Ok(RatioFit {
            ratio,
            standard_error,
            fitted: fitting.len(),
            residuals: residuals.collect(),
            unusable: unusable.iter().map(|(note, _)| *note).collect(),
        })
    }

    /// Returns the notes that are outliers.
    pub fn odd(&self) -> impl Iterator<Item = &Residual> {
        self.residuals.iter().filter(|r| r.odd)
    }
}

/// Returns the slope through the origin of hammer travel on key travel, with its standard error.
fn least_squares(notes: &[&Travel]) -> Result<(f64, Option<f64>), SumError> {
    let kk: f64 = notes.iter().map(|t| t.key_mm().powi(2)).sum();
    let kh: f64 = notes.iter().map(|t| t.key_mm() * t.hammer_mm()).sum();
    let kk = positive(kk, "The key travel of the sample notes")?;
    let ratio = kh / kk;
    let rr: f64 = notes
        .iter()
        .map(|t| (t.hammer_mm() - ratio * t.key_mm()).powi(2))
        .sum();
    let error = (notes.len() > 1).then(|| (rr / (notes.len() - 1) as f64 / kk).sqrt());
    Ok((ratio, error))
}

/// Fits the ratio of the naturals and that of the sharps, each to its own sample notes: their keys
/// have different levers.
pub fn fit_by_color(
    samples: &[(Note, Travel)],
) -> (Result<RatioFit, SumError>, Result<RatioFit, SumError>) {
    let (sharps, naturals): (Vec<_>, Vec<_>) = samples
        .iter()
        .copied()
        .partition(|(note, _)| note.is_sharp());
    (RatioFit::of(&naturals), RatioFit::of(&sharps))
}

#[cfg(test)]
mod tests;
