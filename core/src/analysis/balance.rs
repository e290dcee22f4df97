//! The travel balance of a job: what each note's dip is spent on, the action ratio that its sample
//! notes show, and what the floated length comes to. The sums are those of [`super::travel`].

use super::SumError;
use super::advice::dip_of;
use super::travel::{Dimension, Floated, RatioFit, Travel, fit_by_color, float};
use crate::job::{Floats, MeasureState, State, Subject};
use crate::note::{Color, Note};
use crate::trade::{Occasion, Place, afloat};
use crate::unit::Length;

/// Where a length of the balance comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Source {
    /// Read, and it holds.
    Read(Place),
    /// Read, and disturbed since: read it again.
    Disturbed(Place),
    /// Not read: the aim of its target; lost motion is taken as none.
    Aimed,
    /// Neither read nor aimed at.
    Unknown,
}

/// One length of the balance of a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Part {
    /// Which.
    pub dimension: Dimension,
    /// How long; nothing where it is unknown.
    pub length: Option<Length>,
    /// Where it comes from.
    pub source: Source,
}

/// What an action ratio rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RatioFrom {
    /// Sample notes of the same color: how many, and the standard error (nothing for one note).
    Notes(usize, Option<f64>),
    /// Sample notes of the other color, whose keys have another lever.
    OtherColor(usize),
    /// The aims alone: nothing was read of it yet.
    Aims,
}

/// The balance of one note.
#[derive(Clone, Debug, PartialEq)]
pub struct NoteBalance {
    /// The note.
    pub note: Note,
    /// The five lengths, in the order of [`Dimension::ALL`].
    pub parts: [Part; 5],
    /// The action ratio computed with.
    pub ratio: f64,
    /// What that rests on.
    pub ratio_from: RatioFrom,
    /// The aftertouch that the other four leave at this ratio; nothing while one of them is unknown.
    pub aftertouch: Option<Length>,
    /// Which length floats on this job, where that was chosen.
    pub floats: Option<Dimension>,
    /// The length that floats on this job, solved from the other four; nothing while none is chosen
    /// or one of the four is unknown. Where it strayed, by how much and what brings it back.
    pub floated: Option<Floated>,
    /// Whether its readings do not fit the other notes': its parts differ or a reading slipped.
    pub odd: bool,
}

impl NoteBalance {
    /// The key's travel that the hammer uses, in mm at the key: (blow − let-off) ÷ ratio.
    pub fn hammer_at_key(&self) -> Option<Length> {
        let of = |d: Dimension| self.parts.iter().find(|p| p.dimension == d)?.length;
        let hammer = of(Dimension::Blow)? - of(Dimension::LetOff)?;
        Some(Length::from_mm(hammer.mm() / self.ratio))
    }
}

/// What the dip of a note is spent on, in lengths at the key that add up to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spent {
    /// The dip.
    pub dip: Length,
    /// Before the hammer moves.
    pub lost_motion: Length,
    /// While the hammer goes to its let-off: (blow − let-off) ÷ ratio.
    pub hammer: Length,
    /// After that; below zero where the hammer never reaches its let-off.
    pub aftertouch: Length,
}

impl NoteBalance {
    /// What the dip is spent on, with the floated length as it is solved; the aftertouch is
    /// solved while none is chosen. Nothing where too little is known.
    pub fn spent(&self) -> Option<Spent> {
        let solved = match &self.floated {
            Some(floated) => (self.floats?, floated.value),
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

/// The balance of a job at one place.
pub struct Balance<'a> {
    state: &'a State,
    place: Place,
    /// The ratio of the naturals, by least squares over those with dip, blow, let-off and aftertouch read.
    pub naturals: Result<RatioFit, SumError>,
    /// The ratio of the sharps.
    pub sharps: Result<RatioFit, SumError>,
    /// Which length floats, where that was chosen.
    pub floats: Option<Dimension>,
}

/// The travel balance of a job, of readings at a place.
///
/// The ratio belongs to the parts and not to the regulation, so it is fitted over every note on
/// which dip, blow, let-off and aftertouch were read on one occasion at one place and hold: during
/// the work, else as found.
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
        floats: state.setup().floats.map(dimension),
    }
}

/// The length of the balance that floats.
pub const fn dimension(floats: Floats) -> Dimension {
    match floats {
        Floats::Aftertouch => Dimension::Aftertouch,
        Floats::Blow => Dimension::Blow,
        Floats::Dip => Dimension::Dip,
    }
}

/// The measure that a length of the balance is read as.
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

/// The readings of a note that show its ratio.
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
    /// The balance of one note.
    pub fn note(&self, note: Note) -> NoteBalance {
        let parts = Dimension::ALL.map(|d| self.part(d, note));
        let of = |d: Dimension| parts.iter().find(|p| p.dimension == d)?.length;
        let (ratio, ratio_from) = self.ratio(note);
        // The solved length itself need not be known.
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
        let floated = self.floats.and_then(|floats| {
            let plausible = self.plausible(floats, note);
            float(note, &solve(floats)?, floats, ratio, plausible).ok()
        });
        NoteBalance {
            note,
            parts,
            ratio,
            ratio_from,
            aftertouch,
            floats: self.floats,
            floated,
            odd: self.odd().any(|odd| odd == note),
        }
    }

    /// The notes whose readings do not fit the rest: look at their parts, or read them again.
    pub fn odd(&self) -> impl Iterator<Item = Note> {
        let fits = [&self.naturals, &self.sharps].into_iter().flatten();
        fits.flat_map(|fit| fit.odd().map(|r| r.note))
    }

    /// The notes of which the floated length leaves its plausible range, with what would bring it back.
    pub fn strayed(&self) -> Vec<Floated> {
        let floated = Note::all().filter_map(|note| self.note(note).floated);
        floated.filter(|f| f.strayed.is_some()).collect()
    }

    /// The range in which the floated length is plausible.
    ///
    /// That of the trade ([`afloat`]); where the job accepts more, that much more. Lost motion and
    /// let-off do not float: whatever the job accepts of up to 4 mm is plausible (M).
    pub fn plausible(&self, dimension: Dimension, note: Note) -> (Length, Length) {
        let measure = measure_of(dimension, note);
        let known = afloat(measure, self.state.instrument());
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

    fn part(&self, dimension: Dimension, note: Note) -> Part {
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
            return Part {
                dimension,
                length: Some(length),
                source: match disturbed {
                    true => Source::Disturbed(place),
                    false => Source::Read(place),
                },
            };
        }
        let length = self.aim(dimension, note);
        Part {
            dimension,
            length,
            source: length.map_or(Source::Unknown, |_| Source::Aimed),
        }
    }

    /// The aim of a length; a sharp's dip has none of its own.
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

    /// The ratio at which the aims balance; of a sharp, with the dip of a natural. Aims that leave
    /// no travel say nothing, and 5.5 is taken, the middle of what is usual (M).
    fn aimed_ratio(&self, note: Note) -> f64 {
        let natural = Note::all().find(|n| !n.is_sharp()).unwrap_or(note);
        let aims = travel(|d| self.aim(d, note).or_else(|| self.aim(d, natural)));
        aims.and_then(|t| t.ratio().ok()).unwrap_or(5.5)
    }
}

#[cfg(test)]
mod tests;
