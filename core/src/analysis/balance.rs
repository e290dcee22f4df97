//! The travel balance of a job: how the dip of each note is used, the action ratio from the sample
//! notes, and the length that is left to follow. The calculations are those of [`super::travel`].

use super::SumError;
use super::advice::dip_of;
use super::travel::{Dimension, RatioFit, SolvedNote, Travel, fit_by_color, solve_note};
use crate::job::{FollowingLength, MeasureState, State, Subject};
use crate::note::{Color, Note};
use crate::trade::{Occasion, PLAUSIBLE_RATIO, Place, derived_range};
use crate::unit::Length;

/// The origin of a length in the balance. It has no default and no order.
///
/// ```
/// use evenhand_core::analysis::balance::{Source, balance};
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let note = balance(job.state(), Place::Bench).note(Note::FIRST);
/// // Nothing is measured yet, and each length has a target.
/// assert!(note.parts.iter().all(|part| part.source == Source::Aimed));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Measured at this place, and it holds.
    Read(Place),
    /// Measured at this place, and disturbed since: re-measure.
    Disturbed(Place),
    /// Not measured: the aim of its target is used; lost motion counts as 0.
    Aimed,
    /// Neither measured nor given a target.
    Unknown,
}

/// One length in the balance of a note. [`NoteBalance::parts`] has five; it has no default.
///
/// ```
/// use evenhand_core::analysis::balance::balance;
/// use evenhand_core::analysis::travel::Dimension;
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let part = balance(job.state(), Place::Bench).note(Note::FIRST).parts[0];
/// assert_eq!((part.dimension, part.length.map(|l| l.mm())), (Dimension::Dip, Some(10.0)));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LengthPart {
    /// Which of the five lengths.
    pub dimension: Dimension,
    /// The length, or `None` if it is unknown.
    pub length: Option<Length>,
    /// Where it comes from.
    pub source: Source,
}

/// The evidence for an action ratio. It has no default.
///
/// ```
/// use evenhand_core::analysis::balance::{RatioFrom, balance};
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let note = balance(job.state(), Place::Bench).note(Note::FIRST);
/// assert_eq!(note.ratio_from, RatioFrom::Aims);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RatioFrom {
    /// Sample notes of the same color: their number and the standard error (`None` for a single
    /// note).
    Notes(usize, Option<f64>),
    /// Sample notes of the other color, whose keys have a different lever: their number.
    OtherColor(usize),
    /// The aims only: no sample note was measured.
    Aims,
}

/// The travel balance of one note. [`Balance::note`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::balance::balance;
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let spent = balance(job.state(), Place::Bench).note(Note::FIRST).spent().unwrap();
/// let parts = spent.lost_motion.mm() + spent.hammer.mm() + spent.aftertouch.mm();
/// assert!((spent.dip.mm() - parts).abs() < 1e-5);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct NoteBalance {
    /// The note.
    pub note: Note,
    /// The five lengths, in the order of [`Dimension::ALL`].
    pub parts: [LengthPart; 5],
    /// The action ratio that was used.
    pub ratio: f64,
    /// The evidence for the ratio.
    pub ratio_from: RatioFrom,
    /// The aftertouch that the other four lengths give at this ratio, or `None` if one of them is
    /// unknown.
    pub aftertouch: Option<Length>,
    /// The length that is left to follow on this job, if one is chosen.
    pub following: Option<Dimension>,
    /// The length that is left to follow, solved from the other four, with a warning if it is
    /// outside its plausible range. `None` if none is chosen or one of the four is unknown.
    pub solved: Option<SolvedNote>,
    /// Whether its readings are an outlier among the sample notes: its parts differ, or a reading
    /// is wrong.
    pub odd: bool,
}

impl NoteBalance {
    /// Returns whether the ratio is outside [`PLAUSIBLE_RATIO`]: a reading or its unit is probably wrong.
    pub fn is_ratio_odd(&self) -> bool {
        self.ratio < PLAUSIBLE_RATIO.0 || self.ratio > PLAUSIBLE_RATIO.1
    }

    /// Returns the key travel that the hammer uses, (blow − let-off) ÷ ratio, or `None` if blow or
    /// let-off is unknown.
    pub fn hammer_at_key(&self) -> Option<Length> {
        let of = |d: Dimension| self.parts.iter().find(|p| p.dimension == d)?.length;
        let hammer = of(Dimension::Blow)? - of(Dimension::LetOff)?;
        Some(Length::from_mm(hammer.mm() / self.ratio))
    }
}

/// How the dip of a note is used: lengths at the key that add up to the dip. It has no default.
///
/// ```
/// use evenhand_core::analysis::balance::balance;
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let spent = balance(job.state(), Place::Bench).note(Note::FIRST).spent().unwrap();
/// assert_eq!((spent.dip.mm(), spent.aftertouch.mm()), (10.0, 1.15));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spent {
    /// The dip.
    pub dip: Length,
    /// The travel before the hammer moves.
    pub lost_motion: Length,
    /// The travel that brings the hammer to let-off: (blow − let-off) ÷ ratio.
    pub hammer: Length,
    /// The travel after let-off; negative if the hammer never reaches let-off.
    pub aftertouch: Length,
}

impl NoteBalance {
    /// Returns how the dip is used, with the length that is left to follow as solved; if none is
    /// chosen, the aftertouch is solved. Returns `None` if too little is known.
    pub fn spent(&self) -> Option<Spent> {
        let solved = match &self.solved {
            Some(solved) => (self.following?, solved.value),
            None => (Dimension::Aftertouch, self.aftertouch?),
        };
        let of = |d: Dimension| match solved {
            (dimension, length) if dimension == d => Some(length),
            _ => self.parts.iter().find(|p| p.dimension == d)?.length,
        };
        let (dip, lost_motion) = (of(Dimension::Dip)?, of(Dimension::LostMotion)?);
        let aftertouch = of(Dimension::Aftertouch)?;
        Some(Spent {
            dip,
            lost_motion,
            hammer: dip - lost_motion - aftertouch,
            aftertouch,
        })
    }
}

/// The action ratio of the default targets: (45 − 2)/(10 − 1.15).
const DEFAULT_RATIO: f64 = 43.0 / 8.85;

/// The travel balance of a job at one place. [`balance`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::balance::balance;
/// use evenhand_core::job::Job;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let balance = balance(job.state(), Place::Bench);
/// // No note has all four readings, and no length is chosen to follow.
/// assert!(balance.naturals.is_err() && balance.following.is_none());
/// assert!(balance.strayed().is_empty());
/// ```
pub struct Balance<'a> {
    state: &'a State,
    place: Place,
    /// The ratio of the naturals, by least squares over the notes with dip, blow, let-off and
    /// aftertouch measured.
    pub naturals: Result<RatioFit, SumError>,
    /// The ratio of the sharps, likewise.
    pub sharps: Result<RatioFit, SumError>,
    /// The length that is left to follow, if one is chosen.
    pub following: Option<Dimension>,
}

/// Returns the travel balance of a job, from the readings at a place.
///
/// The ratio belongs to the parts and not to the regulation. So it is fitted over every note whose
/// dip, blow, let-off and aftertouch were measured on one occasion at one place and still hold:
/// readings of the work first, otherwise those as found.
///
/// ```
/// use evenhand_core::job::Job;
/// use evenhand_core::note::Note;
/// use evenhand_core::analysis::balance::{RatioFrom, balance};
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// let note = balance(job.state(), Place::Bench).note(Note::FIRST);
/// assert_eq!(note.ratio_from, RatioFrom::Aims);
/// // Of the aims: 45 − 2 over 10 − 1.15.
/// assert!((note.ratio - 43.0 / 8.85).abs() < 1e-9);
/// ```
pub fn balance(state: &State, place: Place) -> Balance<'_> {
    let samples: Vec<(Note, Travel)> = Note::all()
        .filter_map(|note| Some((note, sampled(state, note)?)))
        .collect();
    let (naturals, sharps) = fit_by_color(&samples);
    Balance {
        state,
        place,
        naturals,
        sharps,
        following: state.setup().following.map(dimension),
    }
}

/// Returns the dimension of the balance for a choice of what is left to follow.
pub const fn dimension(following: FollowingLength) -> Dimension {
    match following {
        FollowingLength::Aftertouch => Dimension::Aftertouch,
        FollowingLength::Blow => Dimension::Blow,
        FollowingLength::Dip => Dimension::Dip,
    }
}

/// Returns the id of the measure that a dimension is read as on a note.
pub const fn measure_of(dimension: Dimension, note: Note) -> &'static str {
    match dimension {
        Dimension::Dip => dip_of(note),
        Dimension::LostMotion => "lost_motion",
        Dimension::Blow => "blow",
        Dimension::LetOff => "let_off",
        Dimension::Aftertouch => "aftertouch",
    }
}

fn length(measure_state: &MeasureState) -> Option<Length> {
    measure_state.in_effect()?.value.length()
}

/// Returns the readings of a note that show its ratio, or `None` if they are incomplete.
fn sampled(state: &State, note: Note) -> Option<Travel> {
    let on = Subject::Note(note);
    let measure_state = |d, place| state.measure_state(measure_of(d, note), on, place);
    let worked = |place: Place| {
        travel(|d| {
            let length = length(measure_state(d, place)?)?;
            let holds = state.disturbed(measure_of(d, note), on, place).is_none();
            holds.then_some(length)
        })
    };
    let found = |place: Place| {
        travel(|d| {
            measure_state(d, place)?
                .of(Occasion::AsFound)?
                .value
                .length()
        })
    };
    let places = [Place::Piano, Place::Bench];
    let worked = places.into_iter().find_map(worked);
    worked.or_else(|| places.into_iter().find_map(found))
}

fn travel(of: impl Fn(Dimension) -> Option<Length>) -> Option<Travel> {
    Some(Travel {
        dip: of(Dimension::Dip)?,
        lost_motion: of(Dimension::LostMotion).unwrap_or(Length::ZERO),
        blow: of(Dimension::Blow)?,
        let_off: of(Dimension::LetOff)?,
        aftertouch: of(Dimension::Aftertouch)?,
    })
}

impl Balance<'_> {
    /// Returns the balance of one note.
    pub fn note(&self, note: Note) -> NoteBalance {
        let parts = Dimension::ALL.map(|d| self.part(d, note));
        let of = |d: Dimension| parts.iter().find(|p| p.dimension == d)?.length;
        let (ratio, ratio_from) = self.ratio(note);
        // The length to solve may itself be unknown.
        let solve = |solved: Dimension| {
            travel(|d| {
                if d == solved {
                    Some(Length::ZERO)
                } else {
                    of(d)
                }
            })
        };
        let aftertouch = solve(Dimension::Aftertouch).and_then(|t| t.aftertouch_at(ratio).ok());
        let solved = self.following.and_then(|following| {
            let plausible = self.plausible(following, note);
            solve_note(note, &solve(following)?, following, ratio, plausible).ok()
        });
        NoteBalance {
            note,
            parts,
            ratio,
            ratio_from,
            aftertouch,
            following: self.following,
            solved,
            odd: self.odd().any(|odd| odd == note),
        }
    }

    /// Returns the notes whose readings are outliers: check their parts, or re-measure.
    pub fn odd(&self) -> impl Iterator<Item = Note> {
        let fits = [&self.naturals, &self.sharps].into_iter().flatten();
        fits.flat_map(|fit| fit.odd().map(|r| r.note))
    }

    /// Returns the notes whose length left to follow is outside its plausible range, with the
    /// changes that would bring it back.
    pub fn strayed(&self) -> Vec<SolvedNote> {
        let solved = Note::all().filter_map(|note| self.note(note).solved);
        solved.filter(|f| f.strayed.is_some()).collect()
    }

    /// Returns the plausible range of a dimension if it is left to follow: lowest and highest.
    ///
    /// It is the range of the trade ([`derived_range`]), widened to what the job accepts. Lost motion and
    /// let-off are never left to follow; for them it is what the job accepts, up to 4 mm (M).
    pub fn plausible(&self, dimension: Dimension, note: Note) -> (Length, Length) {
        let measure = measure_of(dimension, note);
        let known = derived_range(measure, self.state.instrument());
        let (low, high) = known.unwrap_or((0, 4_000_000));
        let (low, high) = (Length::from_nm(low), Length::from_nm(high));
        let band = self.state.band(measure, Subject::Note(note));
        let accept = band.map_or((None, None), |b| b.accept);
        let wider = |side: Option<i64>, own: Length| side.map_or(own, Length::from_nm);
        (
            low.min(wider(accept.0, low)),
            high.max(wider(accept.1, high)),
        )
    }

    fn part(&self, dimension: Dimension, note: Note) -> LengthPart {
        let (measure, on) = (measure_of(dimension, note), Subject::Note(note));
        let read = |place| {
            Some((
                length(self.state.measure_state(measure, on, place)?)?,
                place,
            ))
        };
        let other = match self.place {
            Place::Bench => Place::Piano,
            Place::Piano => Place::Bench,
        };
        if let Some((length, place)) = read(self.place).or_else(|| read(other)) {
            let disturbed = self.state.disturbed(measure, on, place).is_some();
            return LengthPart {
                dimension,
                length: Some(length),
                source: match disturbed {
                    true => Source::Disturbed(place),
                    false => Source::Read(place),
                },
            };
        }
        let length = self.aim(dimension, note);
        LengthPart {
            dimension,
            length,
            source: length.map_or(Source::Unknown, |_| Source::Aimed),
        }
    }

    /// Returns the aim of a dimension, or `None` if it has none; the dip of a sharp has no target
    /// of its own.
    fn aim(&self, dimension: Dimension, note: Note) -> Option<Length> {
        let measure = measure_of(dimension, note);
        let band = self.state.band(measure, Subject::Note(note));
        match (dimension, band) {
            (Dimension::LostMotion, _) => Some(Length::ZERO),
            (_, Some(band)) => Some(Length::from_nm(band.aim)),
            (_, None) => None,
        }
    }

    fn ratio(&self, note: Note) -> (f64, RatioFrom) {
        let (own, other) = match note.color() {
            Color::Natural => (&self.naturals, &self.sharps),
            Color::Sharp => (&self.sharps, &self.naturals),
        };
        match (own, other) {
            (Ok(fit), _) => (fit.ratio, RatioFrom::Notes(fit.fitted, fit.standard_error)),
            (Err(_), Ok(fit)) => (fit.ratio, RatioFrom::OtherColor(fit.fitted)),
            (Err(_), Err(_)) => (self.aimed_ratio(note), RatioFrom::Aims),
        }
    }

    /// Returns the ratio at which the aims balance; for a sharp, with the dip of a natural. If the
    /// aims leave no travel it is 4.86, that of the default targets.
    fn aimed_ratio(&self, note: Note) -> f64 {
        let natural = Note::all().find(|n| !n.is_sharp()).unwrap_or(note);
        let aims = travel(|d| self.aim(d, note).or_else(|| self.aim(d, natural)));
        aims.and_then(|t| t.ratio().ok()).unwrap_or(DEFAULT_RATIO)
    }
}

#[cfg(test)]
mod tests;
