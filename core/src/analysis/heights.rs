//! String heights, the stand-in strings on the bench, and what to do if heights disagree after the
//! action returned to the piano.
//!
//! Heights are above the key bed at the piano, and above the datum of the bench on the bench. A row
//! of 88 has `None` for a note whose height is unknown.

use super::{SumError, divided};
use crate::note::{Note, Sections};
use crate::unit::Length;

/// One length per note, or `None` if it is unknown.
pub type NoteLengths = [Option<Length>; Note::COUNT];

/// Returns the string heights of all notes from those measured, by linear interpolation within each
/// section (C: strings of a section lie in a plane; across a break they jump).
///
/// **Range**: between the lowest and the highest measured note of a section; nothing is
/// extrapolated.
/// **Error**: that of the measured heights, plus the sag of the section between them (agraffes and
/// plate are straight to about 0.3 mm, M); measure the middle as well if it matters. If a note
/// comes twice, the later height counts.
///
/// ```
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::analysis::heights::string_heights;
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_nm(mm * 1_000_000);
/// let note = |n| Note::new(n).unwrap();
/// let sections = Sections::new([note(21)])?;
/// let row = string_heights(&sections, &[(note(1), mm(190)), (note(21), mm(194))]);
/// assert_eq!(row[10], Some(mm(192)));
/// assert_eq!(row[21], None);
/// # Ok::<(), evenhand_core::note::SectionsError>(())
/// ```
pub fn string_heights(sections: &Sections, measured: &[(Note, Length)]) -> NoteLengths {
    let mut row = [None; Note::COUNT];
    for (note, height) in measured {
        row[note.index()] = Some(*height);
    }
    let known: Vec<(Note, Length)> = Note::all()
        .filter_map(|note| Some((note, row[note.index()]?)))
        .collect();
    for pair in known.windows(2) {
        let ((low, a), (high, b)) = (pair[0], pair[1]);
        if sections.of(low) == sections.of(high) {
            for (i, place) in row[low.index()..high.index()].iter_mut().enumerate() {
                let span = (high.index() - low.index()) as i128;
                let rise = i128::from(b.nm()) - i128::from(a.nm());
                let nm = i128::from(a.nm()) * span + rise * i as i128;
                *place = Some(Length::from_nm(divided(nm, span)));
            }
        }
    }
    row
}

/// A control note: its hammer measured above the bench datum and above the key bed, at the same
/// rest position. There is no default.
///
/// ```
/// use evenhand_core::analysis::heights::{BenchOffset, Control};
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
/// let control = |note, bench| Control { note, bench: mm(bench), key_bed: mm(145) };
/// let offset = BenchOffset::of(&[control(Note::FIRST, 160), control(Note::LAST, 164)])?.offset;
/// assert_eq!(offset, mm(17));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Control {
    /// The note.
    pub note: Note,
    /// Height above the bench datum.
    pub bench: Length,
    /// Height above the key bed.
    pub key_bed: Length,
}

/// The bench offset: how much higher a height reads on the bench than above the key bed.
///
/// ```
/// use evenhand_core::analysis::heights::{BenchOffset, Control};
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_nm(mm * 1_000_000);
/// let control = Control { note: Note::FIRST, bench: mm(160), key_bed: mm(145) };
/// assert_eq!(BenchOffset::of(&[control])?.offset, mm(15));
/// assert!(BenchOffset::of(&[]).is_err());
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BenchOffset {
    /// The mean difference over the control notes.
    pub offset: Length,
    /// The control note with the largest deviation from the mean, and that deviation. If it is
    /// larger than the error of a reading, the action rests on the bench otherwise than on the key
    /// bed.
    pub furthest: (Note, Length),
}

impl BenchOffset {
    /// Computes the mean of bench minus key bed over the control notes (rule: C).
    ///
    /// **Error**: that of one height difference divided by √n, if the bench is as flat as the key
    /// bed.
    ///
    /// # Errors
    /// [`SumError::TooFew`] if there is no control note.
    pub fn of(controls: &[Control]) -> Result<BenchOffset, SumError> {
        let differences: Vec<(Note, Length)> = controls
            .iter()
            .map(|c| (c.note, c.bench - c.key_bed))
            .collect();
        let offset = mean(&differences).ok_or(SumError::TooFew("control notes", 0, 1))?;
        let furthest = differences
            .iter()
            .map(|(note, d)| (*note, *d - offset))
            .max_by_key(|(_, d)| d.abs())
            .ok_or(SumError::TooFew("control notes", 0, 1))?;
        Ok(BenchOffset { offset, furthest })
    }
}

fn mean(lengths: &[(Note, Length)]) -> Option<Length> {
    Length::mean(&lengths.iter().map(|(_, l)| *l).collect::<Vec<_>>())
}

/// Returns the heights of the stand-in strings above the bench datum: string height plus bench
/// offset (C).
pub fn stand_in(string_heights: &NoteLengths, offset: Length) -> NoteLengths {
    string_heights.map(|height| Some(height? + offset))
}

/// Returns the heights of the hammers at rest: string height minus blow, above the same datum (C).
///
/// ```
/// use evenhand_core::analysis::heights::hammers_at_rest;
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Some(Length::from_nm(mm * 1_000_000));
/// assert_eq!(hammers_at_rest(&[mm(190); 88], &[mm(45); 88])[0], mm(145));
/// ```
pub fn hammers_at_rest(string_heights: &NoteLengths, blow: &NoteLengths) -> NoteLengths {
    let mut row = *string_heights;
    for (height, blow) in row.iter_mut().zip(blow) {
        *height = height.zip(*blow).map(|(h, b)| h - b);
    }
    row
}

/// What to do with a section after the return of the action. There is no default.
///
/// ```
/// use evenhand_core::analysis::heights::{HeightAdvice, after_return};
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
/// // The blow on the bench was 45 mm on both notes.
/// let advice = |low, high| {
///     let read = [(Note::FIRST, mm(45), mm(low)), (Note::LAST, mm(45), mm(high))];
///     after_return(&Sections::default(), &read, mm(1)).sections[0].advice.clone()
/// };
/// assert_eq!(advice(45, 46), HeightAdvice::Leave);
/// assert_eq!(advice(45, 47), HeightAdvice::AdjustNotes(vec![Note::LAST]));
/// assert_eq!(advice(47, 47), HeightAdvice::MoveSection(vec![]));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum HeightAdvice {
    /// Mean and every control note are on target.
    Leave,
    /// The section as a whole is right; these notes are not.
    AdjustNotes(Vec<Note>),
    /// The whole section moved by its mean: move it (or check its strings) before turning any
    /// capstan. These notes would still be off target afterwards.
    MoveSection(Vec<Note>),
    /// One control note is not enough to judge the section: measure at least one more.
    ReadMore,
}

/// How a section came back, from one control note or more. Part of [`ActionReturn`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::heights::{HeightAdvice, after_return};
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
/// let back = after_return(&Sections::default(), &[(Note::FIRST, mm(45), mm(47))], mm(1));
/// let section = &back.sections[0];
/// assert_eq!((section.section, section.count, section.mean), (0, 1, mm(2)));
/// assert_eq!(section.advice, HeightAdvice::ReadMore);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SectionReturn {
    /// The section, 0 in the bass.
    pub section: usize,
    /// How many control notes were measured in it.
    pub count: usize,
    /// The mean difference: piano minus bench.
    pub mean: Length,
    /// What to do.
    pub advice: HeightAdvice,
}

/// How the whole action came back. [`after_return`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::heights::after_return;
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
/// let sections = Sections::new([Note::new(44).unwrap()])?;
/// let back = |treble| {
///     let read = [(Note::FIRST, mm(45), mm(47)), (Note::LAST, mm(45), mm(treble))];
///     after_return(&sections, &read, mm(1))
/// };
/// assert_eq!((back(47).sections.len(), back(47).whole), (2, Some(mm(2))));
/// // The treble went the other way.
/// assert_eq!(back(43).whole, None);
/// # Ok::<(), evenhand_core::note::SectionsError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ActionReturn {
    /// The sections with control notes, bass first.
    pub sections: Vec<SectionReturn>,
    /// The mean over the sections, if every one of two or more moved the same way by more than the
    /// aim, and by the same amount within the aim: the action rests differently on the key bed. Bed
    /// it, or reset the heights, before turning 88 capstans.
    pub whole: Option<Length>,
}

/// Judges control notes measured on the bench and again in the piano (such as the blow), by
/// section, against an aim such as 0.5 mm.
///
/// **Rule** (C, with the section mean first): a section whose mean difference exceeds the aim moved
/// as one.
/// **Range**: two or more control notes per section.
/// **Error**: the standard error of a mean of n readings is about 0.1 mm/√n; an aim below 0.2 mm is
/// finer than that allows.
///
/// ```
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::analysis::heights::{HeightAdvice, after_return};
/// use evenhand_core::unit::Length;
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let note = |n| Note::new(n).unwrap();
/// let back = after_return(
///     &Sections::default(),
///     &[(note(1), mm(4500), mm(4600)), (note(44), mm(4510), mm(4605)), (note(88), mm(4500), mm(4605))],
///     mm(50),
/// );
/// assert_eq!(back.sections[0].mean, mm(100));
/// assert_eq!(back.sections[0].advice, HeightAdvice::MoveSection(vec![]));
/// ```
pub fn after_return(
    sections: &Sections,
    bench_and_piano: &[(Note, Length, Length)],
    aim: Length,
) -> ActionReturn {
    let sections: Vec<SectionReturn> = (0..sections.count())
        .filter_map(|section| {
            let differences: Vec<(Note, Length)> = bench_and_piano
                .iter()
                .filter(|(note, ..)| sections.of(*note) == section)
                .map(|(note, bench, piano)| (*note, *piano - *bench))
                .collect();
            judged(section, &differences, aim.abs())
        })
        .collect();
    let whole = moved_together(&sections, aim.abs());
    ActionReturn { sections, whole }
}

fn judged(section: usize, differences: &[(Note, Length)], aim: Length) -> Option<SectionReturn> {
    let mean = mean(differences)?;
    let beyond = |from: Length| -> Vec<Note> {
        let out = differences.iter().filter(|(_, d)| (*d - from).abs() > aim);
        out.map(|(note, _)| *note).collect()
    };
    let advice = if mean.abs() > aim && differences.len() < 2 {
        HeightAdvice::ReadMore
    } else if mean.abs() > aim {
        HeightAdvice::MoveSection(beyond(mean))
    } else {
        match beyond(Length::ZERO) {
            notes if notes.is_empty() => HeightAdvice::Leave,
            notes => HeightAdvice::AdjustNotes(notes),
        }
    };
    Some(SectionReturn {
        section,
        count: differences.len(),
        mean,
        advice,
    })
}

fn moved_together(sections: &[SectionReturn], aim: Length) -> Option<Length> {
    let least = sections.iter().map(|s| s.mean).min()?;
    let most = sections.iter().map(|s| s.mean).max()?;
    let same_way = least > aim || most < -aim;
    let together = sections.len() > 1 && same_way && most - least <= aim;
    let sum: i128 = sections.iter().map(|s| i128::from(s.mean.nm())).sum();
    together.then(|| Length::from_nm(divided(sum, sections.len() as i128)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mm(hundredths: i64) -> Length {
        Length::from_mm_hundredths(hundredths)
    }

    fn n(number: i64) -> Note {
        Note::new(number).unwrap()
    }

    fn three() -> Sections {
        Sections::new([n(20), n(60)]).unwrap()
    }

    #[test]
    fn both_ends_of_each_section_give_all_88_heights() {
        let ends: Vec<_> = three()
            .all_ends()
            .into_iter()
            .map(|note| (note, mm(19_000 + 10 * i64::from(note.number()))))
            .collect();
        let row = string_heights(&three(), &ends);
        for note in Note::all() {
            let expected = mm(19_000 + 10 * i64::from(note.number()));
            assert_eq!(row[note.index()], Some(expected), "{note}");
        }
    }

    #[test]
    fn no_line_is_drawn_across_a_break_nor_beyond_what_was_measured() {
        let row = string_heights(
            &three(),
            &[(n(18), mm(100)), (n(22), mm(200)), (n(24), mm(300))],
        );
        let known: Vec<usize> = (0..88)
            .filter(|i| row[*i].is_some())
            .map(|i| i + 1)
            .collect();
        assert_eq!(known, [18, 22, 23, 24]);
        assert_eq!(row[22], Some(mm(250)));
        assert_eq!(string_heights(&three(), &[]), [None; 88]);
    }

    #[test]
    fn the_bench_offset_is_the_mean_and_names_the_note_that_disagrees() {
        let control = |k, bench, key_bed| Control {
            note: n(k),
            bench: mm(bench),
            key_bed: mm(key_bed),
        };
        let controls = [
            control(1, 16_000, 14_500),
            control(44, 16_010, 14_500),
            control(88, 16_050, 14_500),
        ];
        let offset = BenchOffset::of(&controls).unwrap();
        assert_eq!(offset.offset, mm(1520));
        assert_eq!(offset.furthest, (n(88), mm(30)));
        assert!(BenchOffset::of(&[]).is_err());
        let mut row = [None; 88];
        row[3] = Some(mm(19_000));
        let stands = stand_in(&row, offset.offset);
        assert_eq!((stands[3], stands[4]), (Some(mm(20_520)), None));
    }

    #[test]
    fn single_notes_out_are_adjusted_and_a_moved_section_is_moved_first() {
        let read = [
            (n(1), mm(4500), mm(4500)),
            (n(10), mm(4500), mm(4560)),
            (n(20), mm(4500), mm(4470)),
            (n(21), mm(4500), mm(4600)),
            (n(40), mm(4500), mm(4610)),
            (n(60), mm(4500), mm(4700)),
            (n(61), mm(4500), mm(4520)),
        ];
        let back = after_return(&three(), &read, mm(50));
        let advice: Vec<_> = back.sections.iter().map(|s| s.advice.clone()).collect();
        assert_eq!(
            advice,
            [
                HeightAdvice::AdjustNotes(vec![n(10)]),
                HeightAdvice::MoveSection(vec![n(60)]),
                HeightAdvice::Leave
            ]
        );
        assert_eq!(back.whole, None);
    }

    #[test]
    fn one_note_does_not_speak_for_its_section() {
        let back = after_return(&three(), &[(n(1), mm(4500), mm(4600))], mm(50));
        assert_eq!(back.sections.len(), 1);
        assert_eq!(back.sections[0].advice, HeightAdvice::ReadMore);
        assert_eq!(back.whole, None);
    }

    #[test]
    fn sections_that_moved_alike_mean_that_the_action_lies_differently() {
        let read: Vec<_> = [1, 20, 21, 60, 61, 88]
            .into_iter()
            .map(|k| (n(k), mm(4500), mm(4600 + k / 2)))
            .collect();
        let back = after_return(&three(), &read, mm(50));
        assert_eq!(back.sections.len(), 3);
        let whole = back.whole.unwrap();
        assert!(whole > mm(110) && whole < mm(130), "{whole:?}");
    }

    proptest! {
        #[test]
        fn every_height_lies_between_the_measured_ones(
            measured in prop::collection::vec((1i64..=88, any::<i64>()), 0..20),
        ) {
            let measured: Vec<_> = measured.into_iter().map(|(k, nm)| (n(k), Length::from_nm(nm))).collect();
            let row = string_heights(&three(), &measured);
            let least = measured.iter().map(|(_, l)| *l).min();
            let most = measured.iter().map(|(_, l)| *l).max();
            for height in row.into_iter().flatten() {
                prop_assert!(least <= Some(height) && Some(height) <= most);
            }
            let _ = after_return(&three(), &measured.iter().map(|(k, l)| (*k, *l, -*l)).collect::<Vec<_>>(), mm(50));
        }
    }
}
