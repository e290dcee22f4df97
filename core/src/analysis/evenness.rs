//! How even a row of readings is: the statistics of one step, as found or as left.
//!
//! Readings are integers in the stored unit of the measure (nanometers, milligram-force, a count),
//! and every sum over them is exact. Only the standard deviation is rounded, once, at the end, so
//! readings that differ in the eighth digit lose no precision.

use crate::note::{Color, Note, Sections};
use crate::trade::{Measure, Verdict};
use crate::unit::Kind;

/// Count, mean and standard deviation of integers. The count is at least 1; it has no default.
///
/// **Rule** (P: NIST/SEMATECH e-Handbook, sample standard deviation): `sd² = Σ(x − mean)²/(n − 1)`.
/// **Error**: the sums are exact; the results are within a few units of the last place of `f64`.
///
/// ```
/// use evenhand_core::analysis::evenness::Moments;
///
/// let moments = Moments::of([1_000_001, 1_000_003, 1_000_002]).unwrap();
/// assert_eq!((moments.mean, moments.sd), (1_000_002.0, Some(1.0)));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// The number of values.
    pub count: usize,
    /// The mean.
    pub mean: f64,
    /// The sample standard deviation (n − 1), or `None` for a single value.
    pub sd: Option<f64>,
}

impl Moments {
    /// Computes them. Returns `None` if there are no values.
    pub fn of(values: impl IntoIterator<Item = i64, IntoIter: Clone>) -> Option<Moments> {
        let values = values.into_iter();
        let count = values.clone().count();
        if count == 0 {
            return None;
        }
        let n = count as i128;
        let sum: i128 = values.clone().map(i128::from).sum();
        // n·x − Σx is n times the deviation from the mean, and still an integer.
        let squares: f64 = values
            .map(|x| (i128::from(x) * n - sum) as f64)
            .map(|scaled| scaled * scaled)
            .sum();
        let (whole, rest) = (sum / n, sum % n);
        Some(Moments {
            count,
            mean: whole as f64 + rest as f64 / n as f64,
            sd: (count > 1).then(|| (squares / (count - 1) as f64).sqrt() / count as f64),
        })
    }
}

/// The difference between two neighboring notes of the same color; it saturates. There is no default.
///
/// ```
/// use evenhand_core::analysis::evenness::{Evenness, Jump};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Verdict;
///
/// // C4, C#4 and D4: the sharp between them is no neighbor.
/// let [c, sharp, d] = [40, 41, 42].map(|n| Note::new(n).unwrap());
/// let figures = Evenness::of(&[(c, 10), (sharp, 99), (d, 7)], |_, _| Verdict::OnTarget).unwrap();
/// assert_eq!(figures.greatest_step, Some(Jump { from: c, to: d, by: -3 }));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Jump {
    /// The lower note.
    pub from: Note,
    /// Its next neighbor of the same color.
    pub to: Note,
    /// The reading of the upper note minus that of the lower, in the stored unit.
    pub by: i64,
}

/// The statistics of a row of readings, in the stored unit of the measure. It has at least one
/// reading and no default.
///
/// ```
/// use evenhand_core::note::Note;
/// use evenhand_core::analysis::evenness::Evenness;
/// use evenhand_core::trade::Verdict;
///
/// // Let-off of three naturals in nanometers, aim 2.0 ± 0.3 mm, accept ± 0.5 mm.
/// let read = [(1, 2_000_000), (3, 2_400_000), (4, 1_400_000)];
/// let read = read.map(|(n, nm)| (Note::new(n).unwrap(), nm));
/// let figures = Evenness::of(&read, |_, nm| match (nm - 2_000_000i64).abs() {
///     0..=300_000 => Verdict::OnTarget,
///     300_001..=500_000 => Verdict::Acceptable,
///     _ => Verdict::Out,
/// })
/// .unwrap();
/// assert_eq!((figures.in_aim, figures.in_accept), (1, 2));
/// assert_eq!(figures.greatest_step.unwrap().by, -1_000_000);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Evenness {
    /// Count, mean and standard deviation.
    pub moments: Moments,
    /// How many are on target.
    pub in_aim: usize,
    /// How many are on target or acceptable.
    pub in_accept: usize,
    /// The smallest reading.
    pub least: i64,
    /// The largest reading.
    pub most: i64,
    /// The largest difference between neighbors (biggest jump): between neighbors of the same color
    /// that were both measured, or `None` if there are none. Of equal ones the lowest on the
    /// keyboard.
    pub greatest_step: Option<Jump>,
}

impl Evenness {
    /// Computes them from one reading per note; if a note comes twice, the later reading counts.
    /// Returns `None` if there is no reading.
    pub fn of(readings: &[(Note, i64)], stands: impl Fn(Note, i64) -> Verdict) -> Option<Evenness> {
        let row = row_of(readings);
        let read = || {
            Note::all()
                .zip(&row)
                .filter_map(|(note, value)| Some((note, (*value)?)))
        };
        let values = || read().map(|(_, value)| value);
        let count = |standing| read().filter(|&(n, v)| stands(n, v) == standing).count();
        let in_aim = count(Verdict::OnTarget);
        Some(Evenness {
            moments: Moments::of(values().collect::<Vec<_>>())?,
            in_aim,
            in_accept: in_aim + count(Verdict::Acceptable),
            least: values().min()?,
            most: values().max()?,
            greatest_step: greatest_step(&row),
        })
    }

    /// Returns the biggest jump if it is more than readings alone make: of a length 0.5 mm, of anything else
    /// two and a half times what counts as unchanged.
    ///
    /// **Rule** (M): between the neighbors of 88 even notes, readings with a standard deviation of 0.1 mm make a
    /// biggest jump of some 0.4 mm.
    ///
    /// ```
    /// use evenhand_core::analysis::evenness::Evenness;
    /// use evenhand_core::note::Note;
    /// use evenhand_core::trade::{Instrument, Verdict};
    ///
    /// let jump = |by: i64| {
    ///     let read = [(1, 2_000_000), (3, 2_000_000 + by)].map(|(n, nm)| (Note::new(n).unwrap(), nm));
    ///     let figures = Evenness::of(&read, |_, _| Verdict::OnTarget).unwrap();
    ///     figures.shown_jump(Instrument::Grand.measure("let_off").unwrap())
    /// };
    /// assert!(jump(400_000).is_none() && jump(500_000).is_some());
    /// ```
    pub fn shown_jump(&self, measure: &Measure) -> Option<Jump> {
        let least = match measure.kind {
            Kind::Length => 500_000,
            _ => measure.repeat.unsigned_abs() * 5 / 2,
        };
        self.greatest_step
            .filter(|step| step.by.unsigned_abs() >= least)
    }

    /// Returns the largest reading minus the smallest; saturates.
    pub fn range(&self) -> i64 {
        self.most.saturating_sub(self.least)
    }

    /// Returns the same statistics for each section, bass first, with `None` for a section without
    /// readings.
    pub fn by_section(
        readings: &[(Note, i64)],
        sections: &Sections,
        stands: impl Fn(Note, i64) -> Verdict,
    ) -> Vec<Option<Evenness>> {
        (0..sections.count())
            .map(|section| {
                let here: Vec<_> = readings
                    .iter()
                    .copied()
                    .filter(|(note, _)| sections.of(*note) == section)
                    .collect();
                Evenness::of(&here, &stands)
            })
            .collect()
    }
}

fn row_of(readings: &[(Note, i64)]) -> [Option<i64>; Note::COUNT] {
    let mut row = [None; Note::COUNT];
    for (note, value) in readings {
        row[note.index()] = Some(*value);
    }
    row
}

fn greatest_step(row: &[Option<i64>; Note::COUNT]) -> Option<Jump> {
    let mut greatest: Option<Jump> = None;
    for color in [Color::Natural, Color::Sharp] {
        let notes: Vec<Note> = Note::all().filter(|n| n.color() == color).collect();
        for pair in notes.windows(2) {
            let (Some(a), Some(b)) = (row[pair[0].index()], row[pair[1].index()]) else {
                continue;
            };
            let step = Jump {
                from: pair[0],
                to: pair[1],
                by: b.saturating_sub(a),
            };
            if greatest.is_none_or(|g| is_greater(step, g)) {
                greatest = Some(step);
            }
        }
    }
    greatest
}

fn is_greater(step: Jump, than: Jump) -> bool {
    let size = |s: Jump| s.by.unsigned_abs();
    size(step) > size(than) || (size(step) == size(than) && step.from < than.from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn n(number: i64) -> Note {
        Note::new(number).unwrap()
    }

    fn all_out(_: Note, _: i64) -> Verdict {
        Verdict::Out
    }

    #[test]
    fn nothing_read_has_no_figures_and_one_reading_no_scatter() {
        assert_eq!(Evenness::of(&[], all_out), None);
        let one = Evenness::of(&[(n(5), 7)], all_out).unwrap();
        assert_eq!((one.moments.sd, one.range()), (None, 0));
        assert_eq!(one.greatest_step, None);
    }

    #[test]
    fn a_step_is_between_neighbors_of_one_colour_only() {
        // Sharps lie 10 higher than naturals; that is no unevenness.
        let read: Vec<_> = Note::all()
            .map(|note| (note, if note.is_sharp() { 10 } else { 0 }))
            .collect();
        assert_eq!(
            Evenness::of(&read, all_out)
                .unwrap()
                .greatest_step
                .unwrap()
                .by,
            0
        );
        // A0 and C1 have B0 between them, which was not read.
        let gap = Evenness::of(&[(n(1), 0), (n(4), 50)], all_out).unwrap();
        assert_eq!(gap.greatest_step, None);
        // A♯0 and C♯1 are neighbors among the sharps.
        let sharps = Evenness::of(&[(n(2), 0), (n(5), -50)], all_out).unwrap();
        assert_eq!(sharps.greatest_step.unwrap().by, -50);
    }

    #[test]
    fn the_greatest_of_several_steps_is_named_the_lowest_of_equals() {
        // A0, B0, C1, D1 and, among the sharps, A♯0 and C♯1.
        let read = [(1, 0), (3, 5), (4, -4), (6, 5), (2, 0), (5, 3)];
        let read = read.map(|(k, v)| (n(k), v));
        let step = Evenness::of(&read, all_out).unwrap().greatest_step;
        assert_eq!(
            step,
            Some(Jump {
                from: n(3),
                to: n(4),
                by: -9
            })
        );
    }

    #[test]
    fn a_second_reading_of_a_note_replaces_the_first() {
        let twice = Evenness::of(&[(n(1), 0), (n(1), 4)], all_out).unwrap();
        assert_eq!((twice.moments.count, twice.moments.mean), (1, 4.0));
    }

    #[test]
    fn sections_are_figured_apart() {
        let sections = Sections::new([n(20)]).unwrap();
        let read = [(n(19), 1), (n(20), 2), (n(22), 9)];
        let by = Evenness::by_section(&read, &sections, all_out);
        assert_eq!(by.len(), 2);
        assert_eq!(by[0].unwrap().moments.count, 2);
        assert_eq!(by[1].unwrap().moments.mean, 9.0);
    }

    proptest! {
        #[test]
        fn the_scatter_does_not_depend_on_where_the_readings_lie(
            values in prop::collection::vec(-1_000i64..1_000, 2..88),
            shift in -1_000_000_000_000_000i64..1_000_000_000_000_000,
        ) {
            let here = Moments::of(values.clone()).unwrap();
            let there = Moments::of(values.iter().map(|v| v + shift).collect::<Vec<_>>()).unwrap();
            prop_assert_eq!(here.sd, there.sd);
        }

        #[test]
        fn no_readings_make_it_stumble(
            readings in prop::collection::vec((1i64..=88, any::<i64>()), 0..100),
        ) {
            let readings: Vec<_> = readings.into_iter().map(|(k, v)| (n(k), v)).collect();
            if let Some(figures) = Evenness::of(&readings, all_out) {
                prop_assert!(figures.moments.mean.is_finite());
                prop_assert!(figures.moments.sd.is_none_or(f64::is_finite));
            }
        }
    }
}
