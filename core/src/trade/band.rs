//! Targets and their tolerances, and the verdict on a reading.

use std::fmt;

use serde::{Deserialize, Serialize};

use super::MeasureId;
use crate::note::{Note, Sections};

/// An aim with two tolerances around it, in the stored unit of the measure (nanometers,
/// milligram-force, …; the index of a grade; 1 for good or done).
///
/// A value inside `within` is on target; outside it but inside `accept` it is acceptable; outside
/// `accept` it is out. Limits are inclusive, and `None` is a side without a limit. It has no
/// default. Any band can be constructed; [`Band::check`] returns an error if the aim is not inside
/// `within`, or `within` not inside `accept`.
///
/// ```
/// use evenhand_core::trade::{Band, Verdict};
///
/// // 45 mm ± 0.5 mm on target, ± 1 mm acceptable.
/// let blow = Band::mm(4500, 50, 100);
/// assert_eq!(blow.judge(45_500_000), Verdict::OnTarget);
/// assert_eq!(blow.judge(46_000_000), Verdict::Acceptable);
/// assert_eq!(blow.judge(46_000_001), Verdict::Out);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Band {
    /// The value aimed at.
    pub aim: i64,
    /// The lowest and the highest value on target.
    pub within: (Option<i64>, Option<i64>),
    /// The lowest and the highest acceptable value.
    pub accept: (Option<i64>, Option<i64>),
}

impl Band {
    /// Creates a band that reaches as far below the aim as above it, in the unit of `aim`.
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

    /// Creates a band without an upper limit: on target from `aim` upward, acceptable from `accept` upward.
    pub const fn at_least(aim: i64, accept: i64) -> Band {
        Band {
            aim,
            within: (Some(aim), None),
            accept: (Some(accept), None),
        }
    }

    /// Creates a symmetric band from hundredths of a millimeter.
    ///
    /// For literals: each number times 10 000 must fit an `i64`.
    pub const fn mm(aim: i64, within: i64, accept: i64) -> Band {
        Band::even(aim * 10_000, within * 10_000, accept * 10_000)
    }

    /// Creates a symmetric band from tenths of a gram-force.
    ///
    /// For literals: each number times 100 must fit an `i64`.
    pub const fn gf(aim: i64, within: i64, accept: i64) -> Band {
        Band::even(aim * 100, within * 100, accept * 100)
    }

    /// Creates a band for exactly one grade or answer; every other one is out.
    pub const fn only(aim: i64) -> Band {
        Band::even(aim, 0, 0)
    }

    /// Returns how far `within` and `accept` reach to either side of the aim, or `None` if one of
    /// them reaches farther to one side than to the other, or has a side without a limit.
    pub fn widths(&self) -> Option<(i64, i64)> {
        let within = self.within.1?.saturating_sub(self.aim);
        let accept = self.accept.1?.saturating_sub(self.aim);
        (*self == Band::even(self.aim, within, accept)).then_some((within, accept))
    }

    /// Returns the same band with `accept` extended to include everything from `low` to `high`.
    pub(crate) fn reaching(self, (low, high): (i64, i64)) -> Band {
        Band {
            accept: (
                self.accept.0.map(|own| own.min(low)),
                self.accept.1.map(|own| own.max(high)),
            ),
            ..self
        }
    }

    /// Returns the verdict on a value, in the stored unit of the measure.
    pub fn judge(&self, value: i64) -> Verdict {
        let inside = |(low, high): (Option<i64>, Option<i64>)| {
            low.is_none_or(|l| l <= value) && high.is_none_or(|h| value <= h)
        };
        if inside(self.within) {
            Verdict::OnTarget
        } else if inside(self.accept) {
            Verdict::Acceptable
        } else {
            Verdict::Out
        }
    }

    /// Returns `true` if [`Band::check`] finds no error.
    pub fn is_sound(&self) -> bool {
        self.check().is_ok()
    }

    /// Checks that the aim lies inside `within`, and `within` inside `accept`.
    ///
    /// # Errors
    /// Returns [`TargetRefused::AimOutside`] or [`TargetRefused::Wider`].
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

    /// Interpolates linearly between this band and another, `part` out of `whole` of the way.
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

/// The result of comparing a reading with its target.
///
/// The better compares less: `OnTarget` < `Acceptable` < `Out`, so the maximum of several is the worst.
/// [`Band::judge`] returns it.
///
/// ```
/// use evenhand_core::trade::Verdict;
///
/// let worst = [Verdict::OnTarget, Verdict::Out, Verdict::Acceptable].into_iter().max();
/// assert_eq!(worst, Some(Verdict::Out));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// On target: inside `within`. In the job file `on_aim`.
    #[serde(rename = "on_aim")]
    OnTarget,
    /// Acceptable: outside `within`, inside `accept`.
    #[serde(rename = "accepted")]
    Acceptable,
    /// Out: outside `accept`.
    Out,
}

/// The target of a measure over the 88 notes.
///
/// It has no default. Any target can be constructed; [`Target::check`] returns an error if it
/// could not judge. Default targets name their [`super::Source`].
///
/// ```
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::trade::{Band, Target};
///
/// let taper = Target::Tapered(vec![
///     (Note::FIRST, Band::mm(250, 30, 50)),
///     (Note::new(51)?, Band::mm(200, 30, 50)),
/// ]);
/// let aim = |note| taper.plain_band(note, &Sections::default()).map(|band| band.aim);
/// assert_eq!(aim(Note::new(26)?), Some(2_250_000));
/// assert_eq!(aim(Note::LAST), Some(2_000_000));
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
pub enum Target {
    /// The same band for every note.
    Flat(Band),
    /// One band for each section, from the bass; the last also applies to the sections above it.
    BySection(Vec<Band>),
    /// Bands at rising notes, interpolated linearly between them and constant outside them.
    Tapered(Vec<(Note, Band)>),
    /// A percentage of another measure's reading on the same note, or of that measure's aim if there
    /// is no reading: the damper lifts at half of the blow.
    ShareOf {
        /// The other measure.
        of: MeasureId,
        /// The percentage of it that is aimed at.
        percent: i64,
        /// How far from the aim is on target, in the stored unit.
        within: i64,
        /// How far from the aim is acceptable, in the stored unit.
        accept: i64,
    },
}

/// The shape of a target over the notes: the variant of [`Target`] without its bands.
///
/// ```
/// use evenhand_core::trade::{Shape, let_off_taper};
///
/// assert_eq!(let_off_taper().shape(), Shape::Tapered);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Shape {
    /// One band for every note.
    Flat,
    /// One band for each section.
    BySection,
    /// Linear between notes.
    Tapered,
    /// A percentage of another reading.
    ShareOf,
}

impl Shape {
    /// All shapes, in the order in which they are offered.
    pub const ALL: [Shape; 4] = [
        Shape::Flat,
        Shape::BySection,
        Shape::Tapered,
        Shape::ShareOf,
    ];
}

impl Target {
    /// Returns the shape of this target.
    pub const fn shape(&self) -> Shape {
        match self {
            Target::Flat(_) => Shape::Flat,
            Target::BySection(_) => Shape::BySection,
            Target::Tapered(_) => Shape::Tapered,
            Target::ShareOf { .. } => Shape::ShareOf,
        }
    }

    /// Returns the band for a note, or for a record of a section or the whole action if `note` is
    /// `None`. Returns `None` if the target needs a note or another reading that is not there.
    ///
    /// `section` counts from 0 in the bass. `reading` returns the reading of another measure on the
    /// same note, or the aim of that measure; it is called for [`Target::ShareOf`] only.
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

    /// Returns the band of a note from the sections of the instrument alone, or `None` for
    /// [`Target::ShareOf`], which needs another reading.
    pub fn plain_band(&self, note: Note, sections: &Sections) -> Option<Band> {
        self.band(Some(note), sections.of(note), |_| None)
    }

    /// Returns `true` if [`Target::check`] finds no error.
    pub fn is_sound(&self) -> bool {
        self.check().is_ok()
    }

    /// Checks that there is a band, that every band is sound and that the notes of a taper rise.
    ///
    /// # Errors
    /// Returns the first [`TargetRefused`] found.
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

/// The error for a target that could not judge.
///
/// It displays as a sentence that says what to change.
///
/// ```
/// use evenhand_core::trade::{Band, Target, TargetRefused};
///
/// assert_eq!(Band::even(10, 5, 3).check(), Err(TargetRefused::Wider));
/// assert_eq!(Target::BySection(Vec::new()).check(), Err(TargetRefused::Empty));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TargetRefused {
    /// The aim lies outside `within`.
    AimOutside,
    /// `within` is wider than `accept`.
    Wider,
    /// There is no band.
    Empty,
    /// Two points of a taper are in the wrong order or on the same note; holds both notes.
    NotRising(Note, Note),
}

impl fmt::Display for TargetRefused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            TargetRefused::AimOutside => "The aim must lie inside its own tolerance.",
            TargetRefused::Wider => {
                "Acceptable cannot be narrower than on target. Widen it, or narrow the other."
            }
            TargetRefused::Empty => "A target needs at least one aim.",
            TargetRefused::NotRising(a, b) => {
                return write!(
                    f,
                    "The point at {b} comes after the one at {a}. Type them from bass to treble, each note once."
                );
            }
        })
    }
}

impl std::error::Error for TargetRefused {}

/// Returns the band of a note between rising points, or `None` if there are no points.
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
