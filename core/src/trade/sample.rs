//! The sample of notes that a survey measures, and why each is in it.

use crate::note::{Color, Note, Sections};

/// Why a note is in the sample. Reasons compare in the order listed here; there is no default.
///
/// ```
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::trade::{SampleReason, sample_plan};
///
/// let plan = sample_plan(&Sections::default());
/// let last = plan.last().unwrap();
/// assert_eq!(last.note, Note::LAST);
/// assert!(last.why.contains(&SampleReason::SectionEnd(0)));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SampleReason {
    /// It is at an end of this section (from 0): strings, parts and plate change there.
    SectionEnd(usize),
    /// It is in the middle of this section (from 0).
    SectionMiddle(usize),
    /// It is a sharp beside this sampled natural: sharps have other levers and wear less.
    SharpBeside(Note),
    /// It is in the two octaves that are played most, where wear shows first (M: C4 to B5).
    PlayedMost,
}

/// A note of the sample, with every reason for it; see [`sample_plan`]. It has no default.
///
/// ```
/// use evenhand_core::note::Sections;
/// use evenhand_core::trade::sample_plan;
///
/// let plan = sample_plan(&Sections::default());
/// assert!(plan.iter().all(|sampled| !sampled.why.is_empty()));
/// assert!(plan.is_sorted_by_key(|sampled| sampled.note));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sampled {
    /// The note.
    pub note: Note,
    /// The reasons, at least one, in their order and each once.
    pub why: Vec<SampleReason>,
}

/// Returns the notes to measure in a survey, from the bass up.
///
/// **Rule** (C: sample notes at the section ends, naturals and sharps): in each section the
/// naturals nearest to its two ends and a natural in its middle with a sharp beside it in the same
/// section; and one such pair in each of the two octaves played most. That is about twenty notes,
/// which take half an hour.
/// **Range**: any sections; a section that consists of one sharp gives no note.
/// **Error**: the sample is chosen and not random, and it favors notes where faults show, so the
/// share of faults that it finds is more likely too high than too low.
///
/// ```
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::trade::{SampleReason, sample_plan};
///
/// let breaks = [20, 52, 72].map(|n| Note::new(n).unwrap());
/// let plan = sample_plan(&Sections::new(breaks)?);
/// assert!(plan.len() >= 16 && plan.len() <= 20);
/// assert_eq!((plan[0].note, &plan[0].why[..]), (Note::FIRST, &[SampleReason::SectionEnd(0)][..]));
/// # Ok::<(), evenhand_core::note::SectionsError>(())
/// ```
pub fn sample_plan(sections: &Sections) -> Vec<Sampled> {
    let mut reasons: Vec<Vec<SampleReason>> = vec![Vec::new(); Note::COUNT];
    let mut add = |natural: Option<Note>, why: SampleReason| {
        let Some(natural) = natural else { return };
        reasons[natural.index()].push(why);
        let section = sections.of(natural);
        let mut sharps = natural.neighboring_sharps();
        let beside = sharps.find(|n| sections.of(*n) == section);
        if let (Some(sharp), SampleReason::SectionMiddle(_) | SampleReason::PlayedMost) =
            (beside, why)
        {
            reasons[sharp.index()].push(SampleReason::SharpBeside(natural));
        }
    };
    for section in 0..sections.count() {
        let Some((first, last)) = sections.ends(section) else {
            continue;
        };
        let naturals: Vec<Note> = Note::all()
            .filter(|n| (first..=last).contains(n) && n.color() == Color::Natural)
            .collect();
        let middle = naturals.get(naturals.len() / 2).copied();
        add(naturals.first().copied(), SampleReason::SectionEnd(section));
        add(middle, SampleReason::SectionMiddle(section));
        add(naturals.last().copied(), SampleReason::SectionEnd(section));
    }
    // F4 and F5, in the middle of the octaves from C4 and C5, each with a sharp above it.
    for number in [45, 57] {
        add(Note::new(number).ok(), SampleReason::PlayedMost);
    }
    Note::all()
        .zip(reasons)
        .filter(|(_, why)| !why.is_empty())
        .map(|(note, mut why)| {
            why.sort_unstable();
            why.dedup();
            Sampled { note, why }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn n(number: i64) -> Note {
        Note::new(number).unwrap()
    }

    #[test]
    fn each_section_is_sampled_at_both_ends_with_naturals_and_sharps() {
        let sections = Sections::new([20, 52, 72].map(n)).unwrap();
        let plan = sample_plan(&sections);
        for section in 0..4 {
            let here: Vec<_> = plan
                .iter()
                .filter(|s| sections.of(s.note) == section)
                .collect();
            let ends = here
                .iter()
                .filter(|s| s.why.contains(&SampleReason::SectionEnd(section)));
            assert_eq!(ends.count(), 2);
            assert!(here.iter().any(|s| s.note.is_sharp()));
            assert!(
                here.iter()
                    .any(|s| s.why.contains(&SampleReason::SectionMiddle(section)))
            );
        }
        assert!(plan.windows(2).all(|w| w[0].note < w[1].note));
        assert!(plan.iter().all(|s| !s.why.is_empty()));
    }

    #[test]
    fn tiny_sections_are_sampled_too() {
        let sections = Sections::new([1, 2, 3].map(n)).unwrap();
        let plan = sample_plan(&sections);
        // A section of one sharp has no natural to sample.
        assert!(plan.iter().any(|s| s.note == n(1)) && plan.iter().any(|s| s.note == n(3)));
    }
}
