//! The calculations of the survey: the share of all notes that is likely out, and the parts that the
//! wear calls for. The choice of sample notes is
//! [`crate::trade::sample_plan`].
//! The file is long because its types carry their examples.

use super::SumError;
use crate::note::{Note, Sections};
use crate::trade::{Instrument, Part};
use crate::unit::Value;

/// A share of all notes, between 0 and 1, with its confidence interval. It has no default;
/// [`Share::WHOLE`] is all notes.
///
/// ```
/// use evenhand_core::analysis::survey::{Share, share_out};
///
/// let sampled: Share = share_out(4, 16, 88)?;
/// assert_eq!(sampled.likely, 0.25);
/// assert!(sampled.low < 0.25 && sampled.high > 0.25);
/// assert!(share_out(17, 16, 88).is_err());
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share {
    /// The lower end of the interval.
    pub low: f64,
    /// The share in the sample.
    pub likely: f64,
    /// The upper end of the interval.
    pub high: f64,
}

impl Share {
    /// All notes, as for work that does not depend on the state of single notes.
    pub const WHOLE: Share = Share {
        low: 1.0,
        likely: 1.0,
        high: 1.0,
    };
}

/// The standard normal quantile for a two-sided interval of 95 %.
pub const Z_95: f64 = 1.959_963_984_540_054;

/// Returns the quantile of Student's t for an interval of 95 %.
///
/// **Rule** (P: Fisher and Cornish 1960): the expansion around the normal quantile, to the third order.
/// **Error**: below 0.002 from 7 degrees of freedom on.
///
/// ```
/// use evenhand_core::analysis::survey::student_95;
///
/// assert!((student_95(9) - 2.262).abs() < 0.001);
/// ```
pub fn student_95(freedom: usize) -> f64 {
    let (z, n) = (Z_95, freedom.max(1) as f64);
    let z2 = z * z;
    let first = (z2 + 1.0) / 4.0;
    let second = ((5.0 * z2 + 16.0) * z2 + 3.0) / 96.0;
    let third = (((3.0 * z2 + 19.0) * z2 + 17.0) * z2 - 15.0) / 384.0;
    z * (1.0 + (first + (second + third / n) / n) / n)
}

/// Returns the share of a population that is out, from `out` notes out of `read`.
///
/// **Rule** (P: Gelman et al., the beta-binomial prediction; prior of Jeffreys): the notes read are known; of the `m`
/// others, as many are out as a beta-binomial variable with `a = out + ½`, `b = read − out + ½` says. The ends
/// are those of its counts outside which lie at most 2.5 % on each side.
/// **Range**: a sample drawn without regard to the state of the notes.
/// **Error**: with 18 of 88 notes read the interval covers 95 % on average, and 89 % where it covers least.
///
/// # Errors
/// Returns an error if the sample is empty, or if more are out than read or more read than exist.
///
/// ```
/// use evenhand_core::analysis::survey::share_out;
///
/// let all_read = share_out(22, 88, 88)?;
/// assert_eq!((all_read.low, all_read.high), (0.25, 0.25));
/// let sampled = share_out(4, 16, 88)?;
/// assert!(sampled.low > 0.09 && sampled.high < 0.5);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn share_out(out: u32, read: u32, population: u32) -> Result<Share, SumError> {
    if read == 0 {
        return Err(SumError::TooFew("sample notes", 0, 1));
    }
    if out > read || read > population {
        return Err(SumError::Contradiction(
            "More notes are out than were measured, or more were measured than there are. Count them again.",
        ));
    }
    let (x, n, all) = (f64::from(out), f64::from(read), f64::from(population));
    let likely = x / n;
    let (low, high) = others_out(out, read, population - read);
    let share = |others: u32| (x + f64::from(others)) / all;
    Ok(Share {
        low: share(low).min(likely),
        likely,
        high: share(high).max(likely),
    })
}

/// Returns the ends of the 95 % interval of how many of `others` are out.
fn others_out(out: u32, read: u32, others: u32) -> (u32, u32) {
    const TAIL: f64 = 0.025;
    let (a, b) = (f64::from(out) + 0.5, f64::from(read - out) + 0.5);
    let m = f64::from(others);
    // Each probability from the one before; they are divided by their sum.
    let mut weight = 1.0;
    let mut weights = Vec::with_capacity(others as usize + 1);
    for k in 0..=others {
        weights.push(weight);
        let k = f64::from(k);
        weight *= (m - k) / (k + 1.0) * (a + k) / (b + m - k - 1.0);
    }
    let all: f64 = weights.iter().sum();
    let tail = |weights: &mut dyn Iterator<Item = &f64>| {
        let mut below = 0.0;
        let skipped = weights.take_while(|weight| {
            below += **weight;
            below <= TAIL * all
        });
        skipped.count() as u32
    };
    let low = tail(&mut weights.iter());
    (low, others - tail(&mut weights.iter().rev()))
}

/// Returns the variance of how many of the notes that were not read are out, as [`share_out`] predicts it.
///
/// ```
/// use evenhand_core::analysis::survey::variance_out;
///
/// assert_eq!(variance_out(3, 88, 88), 0.0);
/// assert!(variance_out(0, 10, 88) > 0.0 && variance_out(5, 10, 88) > variance_out(0, 10, 88));
/// ```
pub fn variance_out(out: u32, read: u32, population: u32) -> f64 {
    let (a, b) = (
        f64::from(out) + 0.5,
        f64::from(read.saturating_sub(out)) + 0.5,
    );
    let (m, of) = (f64::from(population.saturating_sub(read)), a + b);
    m * a * b * (of + m) / (of * of * (of + 1.0))
}

/// Returns the Wilson score interval for a share `p` observed in `n` observations (not necessarily
/// an integer), without the finite-population correction.
///
/// # Errors
/// Returns an error if `n` or `z` is not above 0, or if `p` is outside 0 to 1.
pub fn wilson(p: f64, n: f64, z: f64) -> Result<(f64, f64), SumError> {
    let (n, z) = (
        super::positive(n, "The sample")?,
        super::positive(z, "The quantile")?,
    );
    if !(0.0..=1.0).contains(&p) {
        return Err(SumError::Outside("The share", 0, 1));
    }
    let zz = z * z / n;
    let middle = p + zz / 2.0;
    let half = (zz * (p * (1.0 - p) + zz / 4.0)).sqrt();
    let end = |v: f64| (v / (1.0 + zz)).clamp(0.0, 1.0);
    Ok((end(middle - half), end(middle + half)))
}

/// The wear of a kind of part in a section. More wear compares as greater; there is no default.
///
/// ```
/// use evenhand_core::analysis::survey::{Wear, wear_work};
/// use evenhand_core::note::Sections;
/// use evenhand_core::trade::{Instrument, Part};
///
/// assert!(Wear::Sound < Wear::Worn && Wear::Worn < Wear::WornOut);
/// // A section that is graded twice takes the worse grade.
/// let grades = [Wear::WornOut, Wear::Sound].map(|wear| (Part::Hammers, 0, wear));
/// let asked = wear_work(Instrument::Grand, &Sections::default(), &grades);
/// assert_eq!(asked[0].remedy, "new hammers");
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Wear {
    /// As it should be.
    Sound,
    /// Worn, can be reconditioned.
    Worn,
    /// Worn out: past reconditioning.
    WornOut,
}

impl Wear {
    /// Returns the wear that a grade of the survey means, or `None` if it is no grade.
    pub(super) const fn of(grade: Value) -> Option<Wear> {
        match grade {
            Value::Grade(0) => Some(Wear::Sound),
            Value::Grade(1) => Some(Wear::Worn),
            Value::Grade(_) => Some(Wear::WornOut),
            _ => None,
        }
    }
}

/// The work for one kind of part, in one section or more. [`wear_work`] lists it; it has no default.
///
/// ```
/// use evenhand_core::analysis::survey::{Wear, WearWork, wear_work};
/// use evenhand_core::note::Sections;
/// use evenhand_core::trade::{Instrument, Part};
///
/// let asked = wear_work(Instrument::Grand, &Sections::default(), &[(Part::Capstans, 0, Wear::Worn)]);
/// let polish = WearWork { part: Part::Capstans, sections: vec![0], remedy: "polish the capstans", pieces: 0 };
/// assert_eq!(asked, [polish]);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WearWork {
    /// The kind of part.
    pub part: Part,
    /// The sections with this grade of wear, 0 in the bass.
    pub sections: Vec<usize>,
    /// What to do, in words.
    pub remedy: &'static str,
    /// The number of pieces to order; 0 if it is reconditioned.
    pub pieces: u32,
}

/// Returns the work that the wear grades call for: new parts first, then reconditioning, each kind
/// of part once for each. Sound parts are omitted; a section graded twice takes the worse grade.
///
/// ```
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::analysis::survey::{Wear, wear_work};
/// use evenhand_core::trade::{Instrument, Part};
///
/// let sections = Sections::new([Note::new(20).unwrap()])?;
/// let grades = [(Part::Knuckles, 0, Wear::Worn), (Part::Knuckles, 1, Wear::WornOut)];
/// let asked = wear_work(Instrument::Grand, &sections, &grades);
/// assert_eq!((asked[0].remedy, asked[0].pieces), ("new knuckles", 68));
/// assert_eq!(asked[1].pieces, 0);
/// # Ok::<(), evenhand_core::note::SectionsError>(())
/// ```
pub fn wear_work(
    instrument: Instrument,
    sections: &Sections,
    grades: &[(Part, usize, Wear)],
) -> Vec<WearWork> {
    let worst = |part: Part, section: usize| {
        let here = grades
            .iter()
            .filter(|(p, s, _)| (*p, *s) == (part, section));
        here.map(|(_, _, wear)| *wear).max()
    };
    let mut parts: Vec<Part> = grades.iter().map(|(part, ..)| *part).collect();
    parts.sort_unstable();
    parts.dedup();
    let mut asked = Vec::new();
    for wear in [Wear::WornOut, Wear::Worn] {
        for &part in &parts {
            let here: Vec<usize> = (0..sections.count())
                .filter(|s| worst(part, *s) == Some(wear))
                .collect();
            if here.is_empty() {
                continue;
            }
            let notes = Note::all()
                .filter(|n| here.contains(&sections.of(*n)))
                .count() as u32;
            let (recondition, renew) = part.remedies(instrument);
            asked.push(match wear {
                Wear::WornOut => WearWork {
                    part,
                    sections: here,
                    remedy: renew,
                    pieces: notes * part.per_note(instrument),
                },
                _ => WearWork {
                    part,
                    sections: here,
                    remedy: recondition,
                    pieces: 0,
                },
            });
        }
    }
    asked
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_larger_sample_narrows_the_interval_and_reading_all_closes_it() {
        let width = |read: u32| {
            let share = share_out(read / 4, read, 88).unwrap();
            share.high - share.low
        };
        assert!(width(8) > width(16) && width(16) > width(44) && width(44) > width(80));
        assert_eq!(width(88), 0.0);
    }

    #[test]
    fn half_of_the_notes_say_more_than_half_of_a_crowd_would() {
        let width = |population| {
            let share = share_out(11, 44, population).unwrap();
            share.high - share.low
        };
        assert!(width(88) < 0.8 * width(100_000));
    }

    #[test]
    fn what_was_read_is_certain() {
        let none = share_out(0, 16, 88).unwrap();
        assert_eq!((none.low, none.likely), (0.0, 0.0));
        assert!(none.high > 0.05 && none.high < 72.0 / 88.0);
        let nearly_all = share_out(80, 87, 88).unwrap();
        assert!(nearly_all.low >= 80.0 / 88.0 && nearly_all.high <= 81.0 / 88.0 + 0.02);
    }

    #[test]
    fn impossible_samples_are_refused() {
        assert!(share_out(0, 0, 88).is_err());
        assert!(share_out(5, 4, 88).is_err());
        assert!(share_out(1, 89, 88).is_err());
        assert!(wilson(1.5, 4.0, Z_95).is_err());
    }

    #[test]
    fn sound_parts_ask_for_nothing_and_the_worse_grade_counts() {
        let whole = Sections::default();
        assert_eq!(
            wear_work(
                Instrument::Grand,
                &whole,
                &[(Part::Hammers, 0, Wear::Sound)]
            ),
            []
        );
        let twice = [
            (Part::Bushings, 0, Wear::Worn),
            (Part::Bushings, 0, Wear::WornOut),
        ];
        let asked = wear_work(Instrument::Grand, &whole, &twice);
        assert_eq!(asked.len(), 1);
        assert_eq!(asked[0].pieces, 4 * 88);
        assert_eq!(
            wear_work(
                Instrument::Grand,
                &whole,
                &[(Part::Bushings, 9, Wear::WornOut)]
            ),
            []
        );
    }

    proptest! {
        #[test]
        fn the_likely_share_lies_in_its_interval(population in 1u32..200, read in 1u32..200, out in 0u32..200) {
            if let Ok(share) = share_out(out, read, population) {
                prop_assert!(0.0 <= share.low && share.low <= share.likely);
                prop_assert!(share.likely <= share.high && share.high <= 1.0);
            }
        }
    }
}
