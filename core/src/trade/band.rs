use std::fmt;

use serde::{Deserialize, Serialize};

use super::MeasureId;
use crate::note::{Note, Sections};

/// An aim with the two bands around it, in the measure's whole small units
/// (nanometres, milligram-force, …; the place of a grade; 1 for good).
///
/// Inside the aim band the note is as it should be; inside the accept band it
/// may stay. A side without a limit is `None`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    /// What is aimed at.
    pub aim: i64,
    /// Lowest and highest that count as on target.
    pub within: (Option<i64>, Option<i64>),
    /// Lowest and highest that may stay.
    pub accept: (Option<i64>, Option<i64>),
}

impl Band {
    /// A band that is as wide below as above.
    pub const fn even(aim: i64, within: i64, accept: i64) -> Band {
        Band {
            aim,
            within: (
                Some(aim.saturating_sub(within)),
                Some(aim.saturating_add(within)),
            ),
            accept: (
                Some(aim.saturating_sub(accept)),
                Some(aim.saturating_add(accept)),
            ),
        }
    }

    /// A band from `aim` upward, with `accept` the least that may stay.
    pub const fn at_least(aim: i64, accept: i64) -> Band {
        Band {
            aim,
            within: (Some(aim), None),
            accept: (Some(accept), None),
        }
    }

    /// A band in hundredths of a millimetre, as the tables of the trade give it.
    pub const fn mm(aim: i64, within: i64, accept: i64) -> Band {
        Band::even(aim * 10_000, within * 10_000, accept * 10_000)
    }

    /// A band in tenths of a gram-force.
    pub const fn gf(aim: i64, within: i64, accept: i64) -> Band {
        Band::even(aim * 100, within * 100, accept * 100)
    }

    /// The exact grade or answer that is wanted, nothing else accepted.
    pub const fn only(aim: i64) -> Band {
        Band::even(aim, 0, 0)
    }

    /// How far the aim band and the accept band reach to either side of the aim, where they
    /// reach as far below as above.
    pub fn widths(&self) -> Option<(i64, i64)> {
        let within = self.within.1?.saturating_sub(self.aim);
        let accept = self.accept.1?.saturating_sub(self.aim);
        (*self == Band::even(self.aim, within, accept)).then_some((within, accept))
    }

    /// The same aim, with everything between two values accepted too.
    pub(crate) fn reaching(self, (low, high): (i64, i64)) -> Band {
        Band {
            accept: (
                self.accept.0.map(|own| own.min(low)),
                self.accept.1.map(|own| own.max(high)),
            ),
            ..self
        }
    }

    /// What to say of a value.
    pub fn judge(&self, value: i64) -> Verdict {
        let inside = |(low, high): (Option<i64>, Option<i64>)| {
            low.is_none_or(|l| l <= value) && high.is_none_or(|h| value <= h)
        };
        if inside(self.within) {
            Verdict::OnAim
        } else if inside(self.accept) {
            Verdict::Accepted
        } else {
            Verdict::Out
        }
    }

    /// Whether the aim lies in the aim band and that in the accept band.
    pub fn is_sound(&self) -> bool {
        self.check().is_ok()
    }

    /// Holds the aim to its aim band, and that to the accept band.
    ///
    /// # Errors
    /// [`TargetRefused`], with what does not fit.
    pub fn check(&self) -> Result<(), TargetRefused> {
        let below = |inner: Option<i64>, outer: Option<i64>| match (inner, outer) {
            (_, None) => true,
            (None, Some(_)) => false,
            (Some(i), Some(o)) => o <= i,
        };
        let negated = |v: Option<i64>| v.map(i64::saturating_neg);
        let aimed = below(Some(self.aim), self.within.0)
            && below(negated(Some(self.aim)), negated(self.within.1));
        let held = below(self.within.0, self.accept.0)
            && below(negated(self.within.1), negated(self.accept.1));
        match (aimed, held) {
            (true, true) => Ok(()),
            (false, _) => Err(TargetRefused::AimOutside),
            (true, false) => Err(TargetRefused::Wider),
        }
    }

    /// The band a `part` of the way to another, `part` out of `whole`.
    fn towards(&self, other: &Band, part: i64, whole: i64) -> Band {
        let mix = |a: i64, b: i64| {
            let step =
                (i128::from(b) - i128::from(a)) * i128::from(part) / i128::from(whole.max(1));
            i64::try_from(i128::from(a) + step).unwrap_or(a)
        };
        let side = |a: Option<i64>, b: Option<i64>| Some(mix(a?, b?));
        Band {
            aim: mix(self.aim, other.aim),
            within: (
                side(self.within.0, other.within.0),
                side(self.within.1, other.within.1),
            ),
            accept: (
                side(self.accept.0, other.accept.0),
                side(self.accept.1, other.accept.1),
            ),
        }
    }
}

/// What a reading is against its target.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Inside the aim band.
    OnAim,
    /// Outside the aim band, inside the accept band: it may stay.
    Accepted,
    /// Outside the accept band.
    Out,
}

/// A target over the 88 notes.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Target {
    /// The same for every note.
    Flat(Band),
    /// One band for each section from the bass; the last serves any section above it.
    BySection(Vec<Band>),
    /// Straight lines between bands at rising notes, flat outside the first and last.
    Tapered(Vec<(Note, Band)>),
    /// A share of another measure's reading on the same note, in percent of it:
    /// damper lift at half of the blow. Without that reading, of its own aim.
    ShareOf {
        /// The measure that it is a share of.
        of: MeasureId,
        /// The share in per cent.
        percent: i64,
        /// How far from it counts as on target.
        within: i64,
        /// How far from it may stay.
        accept: i64,
    },
}

/// How a target goes over the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Shape {
    /// The same for every note.
    Flat,
    /// One for each section.
    BySection,
    /// Straight lines between notes.
    Tapered,
    /// A share of another reading.
    ShareOf,
}

impl Shape {
    /// All shapes.
    pub const ALL: [Shape; 4] = [
        Shape::Flat,
        Shape::BySection,
        Shape::Tapered,
        Shape::ShareOf,
    ];
}

impl Target {
    /// How it goes over the notes.
    pub const fn shape(&self) -> Shape {
        match self {
            Target::Flat(_) => Shape::Flat,
            Target::BySection(_) => Shape::BySection,
            Target::Tapered(_) => Shape::Tapered,
            Target::ShareOf { .. } => Shape::ShareOf,
        }
    }

    /// The band for a note (or, without one, for a whole-action or section record).
    ///
    /// `reading` answers with the reading of another measure on the same note,
    /// or that measure's aim, for targets that derive from one.
    pub fn band(
        &self,
        note: Option<Note>,
        section: usize,
        reading: impl FnOnce(&MeasureId) -> Option<i64>,
    ) -> Option<Band> {
        match self {
            Target::Flat(band) => Some(*band),
            Target::BySection(bands) => bands.get(section).or(bands.last()).copied(),
            Target::Tapered(points) => tapered(points, note?),
            Target::ShareOf {
                of,
                percent,
                within,
                accept,
            } => {
                let whole = i128::from(reading(of)?) * i128::from(*percent) / 100;
                Some(Band::even(i64::try_from(whole).ok()?, *within, *accept))
            }
        }
    }

    /// The band of a note by the sections of the instrument, for targets that need no other reading.
    pub fn plain_band(&self, note: Note, sections: &Sections) -> Option<Band> {
        self.band(Some(note), sections.of(note), |_| None)
    }

    /// Whether every band is sound and tapers rise.
    pub fn is_sound(&self) -> bool {
        self.check().is_ok()
    }

    /// Holds every band to itself, and a taper to rising notes.
    ///
    /// # Errors
    /// [`TargetRefused`], with what does not fit.
    pub fn check(&self) -> Result<(), TargetRefused> {
        match self {
            Target::Flat(band) => band.check(),
            Target::BySection(bands) if bands.is_empty() => Err(TargetRefused::Empty),
            Target::BySection(bands) => bands.iter().try_for_each(Band::check),
            Target::Tapered(points) if points.is_empty() => Err(TargetRefused::Empty),
            Target::Tapered(points) => {
                let turned_back = points.windows(2).find(|w| w[0].0 >= w[1].0);
                match turned_back {
                    Some(w) => Err(TargetRefused::NotRising(w[0].0, w[1].0)),
                    None => points.iter().try_for_each(|(_, band)| band.check()),
                }
            }
            Target::ShareOf { within, accept, .. } => Band::even(0, *within, *accept).check(),
        }
    }
}

/// A target that could judge nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TargetRefused {
    /// The aim lies outside its own aim band.
    AimOutside,
    /// The aim band is wider than the accept band.
    Wider,
    /// There is no band at all.
    Empty,
    /// Two points of a taper stand in the wrong order or on the same note.
    NotRising(Note, Note),
}

impl fmt::Display for TargetRefused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            TargetRefused::AimOutside => "The aim must lie inside its own tolerance.",
            TargetRefused::Wider => {
                "What may stay cannot be narrower than what is within aim. Widen it, or narrow the aim."
            }
            TargetRefused::Empty => "A target needs at least one aim.",
            TargetRefused::NotRising(a, b) => {
                return write!(
                    f,
                    "The point at {b} is given after the one at {a}. Give them from bass to treble, each note once."
                );
            }
        })
    }
}

impl std::error::Error for TargetRefused {}

fn tapered(points: &[(Note, Band)], note: Note) -> Option<Band> {
    let above = points.partition_point(|(n, _)| *n < note);
    match (above.checked_sub(1).map(|i| points[i]), points.get(above)) {
        (Some((a, from)), Some((b, to))) => {
            let part = i64::from(note.number()) - i64::from(a.number());
            let whole = i64::from(b.number()) - i64::from(a.number());
            Some(from.towards(to, part, whole))
        }
        (Some((_, only)), None) => Some(only),
        (None, Some((_, only))) => Some(*only),
        (None, None) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(number: i64) -> Note {
        Note::new(number).unwrap()
    }

    #[test]
    fn a_taper_is_straight_between_its_points_and_flat_outside() {
        let points = vec![
            (n(1), Band::mm(250, 30, 50)),
            (n(51), Band::mm(200, 30, 50)),
            (n(81), Band::mm(150, 30, 50)),
        ];
        let target = Target::Tapered(points);
        let aim = |note| target.band(Some(n(note)), 0, |_| None).unwrap().aim;
        assert_eq!(
            (aim(1), aim(51), aim(81), aim(88)),
            (2_500_000, 2_000_000, 1_500_000, 1_500_000)
        );
        assert_eq!(aim(26), 2_250_000);
        assert!(target.is_sound());
    }

    #[test]
    fn a_share_follows_the_other_reading() {
        let target = Target::ShareOf {
            of: MeasureId::from("blow"),
            percent: 50,
            within: 2_000_000,
            accept: 5_000_000,
        };
        let band = target.band(Some(n(40)), 0, |_| Some(45_000_000)).unwrap();
        assert_eq!(band.aim, 22_500_000);
        assert_eq!(target.band(Some(n(40)), 0, |_| None), None);
    }

    #[test]
    fn an_aim_outside_its_own_band_is_not_sound() {
        let mut band = Band::mm(200, 30, 50);
        assert!(band.is_sound());
        band.aim = 0;
        assert!(!band.is_sound());
        assert!(!Band::even(10, 5, 3).is_sound());
        assert!(Band::at_least(3, 2).is_sound());
        assert_eq!(band.check(), Err(TargetRefused::AimOutside));
        assert_eq!(band.widths(), None);
        assert_eq!(Band::even(10, 3, 5).widths(), Some((3, 5)));
        assert_eq!(Band::at_least(3, 2).widths(), None);
        assert_eq!(Band::even(10, 5, 3).check(), Err(TargetRefused::Wider));
        assert!(!Band::at_least(2, 3).is_sound());
    }
}
