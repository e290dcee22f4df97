//! The travel balance: what the key's dip is spent on.
//!
//! **Rule** (P: technicians' list, Jan 2010): `(blow − let-off) / (dip − aftertouch) = action ratio`.
//! With lost motion `m`, which the key spends before anything moves,
//! `aftertouch = dip − m − (blow − let-off)/ratio`.
//! It must hold that a deeper dip, a shorter blow and a wider let-off each give more
//! aftertouch (P: key-dip article, part 1).
//!
//! **Range**: blow and let-off at the hammer's crown, the rest at the key's front edge. The
//! ratio changes through the stroke; this one is its average from rest to let-off,
//! usually between 5 and 6.5 (M). **Error**: 0.1 mm in dip is 0.1 mm in aftertouch, 1 mm
//! in blow is about 0.18 mm.

use super::{SumError, median, positive, robust_scale};
use crate::note::{Color, Note};
use crate::unit::Length;

/// The five lengths that balance, of one note.
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
    /// How far the key goes down in all.
    pub dip: Length,
    /// How far it goes before the hammer moves.
    pub lost_motion: Length,
    /// From the hammer's rest to the string.
    pub blow: Length,
    /// From the string to where the hammer lets off.
    pub let_off: Length,
    /// How far the key still goes after let-off.
    pub aftertouch: Length,
}

/// One of the five lengths that balance.
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

    /// Its name in the trade.
    pub const fn name(self) -> &'static str {
        match self {
            Dimension::Dip => "dip",
            Dimension::LostMotion => "lost motion",
            Dimension::Blow => "blow",
            Dimension::LetOff => "let-off",
            Dimension::Aftertouch => "aftertouch",
        }
    }

    /// How much the sum `dip − m − (blow − let-off)/ratio − aftertouch` grows with 1 mm of this.
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
    /// The length in this dimension.
    pub const fn get(&self, dimension: Dimension) -> Length {
        match dimension {
            Dimension::Dip => self.dip,
            Dimension::LostMotion => self.lost_motion,
            Dimension::Blow => self.blow,
            Dimension::LetOff => self.let_off,
            Dimension::Aftertouch => self.aftertouch,
        }
    }

    /// The key travel that the hammer uses, in mm: dip less lost motion less aftertouch.
    fn key_mm(&self) -> f64 {
        (self.dip - self.lost_motion - self.aftertouch).mm()
    }

    /// The hammer travel up to let-off, in mm.
    fn hammer_mm(&self) -> f64 {
        (self.blow - self.let_off).mm()
    }

    /// This note's own action ratio.
    ///
    /// # Errors
    /// Refuses readings that leave key or hammer no travel.
    pub fn ratio(&self) -> Result<f64, SumError> {
        let key = positive(self.key_mm(), "Dip less lost motion and aftertouch")?;
        let hammer = positive(self.hammer_mm(), "Blow less let-off")?;
        Ok(hammer / key)
    }

    /// The aftertouch that the other four leave at this ratio. Below zero means that the
    /// hammer never reaches its let-off.
    ///
    /// # Errors
    /// Refuses a ratio that is not above zero.
    pub fn aftertouch_at(&self, ratio: f64) -> Result<Length, SumError> {
        self.solved(Dimension::Aftertouch, ratio)
    }

    /// The length that one dimension must have for the other four to balance.
    ///
    /// # Errors
    /// Refuses a ratio that is not above zero.
    pub fn solved(&self, floated: Dimension, ratio: f64) -> Result<Length, SumError> {
        let ratio = positive(ratio, "The action ratio")?;
        let over = self.key_mm() - self.hammer_mm() / ratio;
        let now = self.get(floated).mm();
        Ok(Length::from_mm(now - over / floated.weight(ratio)))
    }
}

/// A floated dimension that left its plausible range, and what each of the others would have
/// to change by, alone, to bring it back to the nearest limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Strayed {
    /// How far it lies beyond the limit: positive above the highest, negative below the lowest.
    pub by: Length,
    /// For each of the other four dimensions the change that would bring it back.
    pub bring_back: Vec<(Dimension, Length)>,
}

/// A note with its floated dimension solved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Floated {
    /// The note.
    pub note: Note,
    /// What the floated dimension comes to.
    pub value: Length,
    /// How far it left its plausible range, if it did.
    pub strayed: Option<Strayed>,
}

/// Solves the floated dimension of a note, with a warning where it leaves `plausible`
/// (lowest and highest). Makers fix dip and blow and float the aftertouch; many technicians
/// float the blow or the dip instead; all three are good practice (C).
///
/// # Errors
/// Refuses a ratio that is not above zero.
///
/// ```
/// use evenhand_core::note::Note;
/// use evenhand_core::analysis::travel::{Dimension, Travel, float};
/// use evenhand_core::unit::Length;
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let note = Travel { dip: mm(950), lost_motion: mm(0), blow: mm(4700), let_off: mm(200), aftertouch: mm(0) };
/// let found = float(Note::FIRST, &note, Dimension::Aftertouch, 5.0, (mm(85), mm(145)))?;
/// assert_eq!(found.value, mm(50));
/// let strayed = found.strayed.unwrap();
/// assert_eq!(strayed.by, mm(-35));
/// // A dip deeper by 0.35 mm, or a blow shorter by 1.75 mm, brings it back.
/// assert!(strayed.bring_back.contains(&(Dimension::Dip, mm(35))));
/// assert!(strayed.bring_back.contains(&(Dimension::Blow, mm(-175))));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn float(
    note: Note,
    travel: &Travel,
    floated: Dimension,
    ratio: f64,
    plausible: (Length, Length),
) -> Result<Floated, SumError> {
    let value = travel.solved(floated, ratio)?;
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
            .filter(|d| *d != floated)
            // The floated one goes back by −by when the other takes up its share of the balance.
            .map(|d| (d, by.mm() * floated.weight(ratio) / d.weight(ratio)))
            .map(|(d, mm)| (d, Length::from_mm(mm)))
            .collect(),
    });
    Ok(Floated {
        note,
        value,
        strayed,
    })
}

/// The ratios of an instrument, naturals and sharps apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ratios {
    /// Of the naturals.
    pub naturals: f64,
    /// Of the sharps.
    pub sharps: f64,
}

impl Ratios {
    /// The ratio of a note.
    pub const fn of(&self, note: Note) -> f64 {
        match note.color() {
            Color::Natural => self.naturals,
            Color::Sharp => self.sharps,
        }
    }
}

/// [`float`] for many notes.
///
/// # Errors
/// Refuses a ratio that is not above zero.
pub fn float_all(
    notes: &[(Note, Travel)],
    floated: Dimension,
    ratios: Ratios,
    plausible: (Length, Length),
) -> Result<Vec<Floated>, SumError> {
    notes
        .iter()
        .map(|(note, travel)| float(*note, travel, floated, ratios.of(*note), plausible))
        .collect()
}

/// How far a note is from the ratio of the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Residual {
    /// The note.
    pub note: Note,
    /// Its own ratio.
    pub own_ratio: f64,
    /// Its aftertouch less the one that the ratio of the rest would give it.
    pub aftertouch: Length,
    /// Whether it does not fit the rest: its parts differ or a reading slipped, so look at it.
    pub odd: bool,
}

/// The action ratio of an instrument from sample notes.
///
/// **Rule**: least squares through the origin of hammer travel on key travel,
/// `ratio = Σkh/Σk²`, over the notes that fit together. A note is odd, and left out, when it
/// lies more than 3.5 robust standard deviations (P: the cut-off that Iglewicz and Hoaglin 1993
/// give for the modified z-score) from the median ratio; the deviation counts as at least
/// [`READING_SCATTER`], so that readings better than a caliper's do not make a note odd.
/// **Error**: the standard error `√(Σr²/(n−1)/Σk²)`; with 10 good notes about 0.5 %.
#[derive(Clone, Debug, PartialEq)]
pub struct RatioFit {
    /// The ratio.
    pub ratio: f64,
    /// Its standard error; nothing for a single fitting note.
    pub standard_error: Option<f64>,
    /// How many notes the fit rests on.
    pub fitted: usize,
    /// Every sample note that has a ratio, in the order given.
    pub residuals: Vec<Residual>,
    /// Notes whose readings leave key or hammer no travel: read them again.
    pub unusable: Vec<Note>,
}

/// The scatter of key travel, in mm, that reading alone brings: dip, aftertouch and the
/// hammer's two lengths to about 0.05 mm at the key each (M).
pub const READING_SCATTER: f64 = 0.1;

/// How many robust standard deviations make a note odd.
const ODD: f64 = 3.5;

impl RatioFit {
    /// From sample notes, whichever their color; [`fit_by_color`] keeps naturals and sharps apart.
    ///
    /// # Errors
    /// Refuses when no note has key and hammer travel.
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
        // With two notes nothing tells which of them is the odd one.
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

    /// The notes that do not fit the rest.
    pub fn odd(&self) -> impl Iterator<Item = &Residual> {
        self.residuals.iter().filter(|r| r.odd)
    }
}

/// Slope through the origin of hammer travel on key travel, with its standard error.
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

/// The ratio of the naturals and that of the sharps, each from its own sample notes: their
/// keys have different levers.
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
