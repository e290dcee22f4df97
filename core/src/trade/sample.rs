use crate::note::{Colour, Note, Sections};

/// Why a note is in the sample.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Why {
    /// It stands at the end of this section: strings, parts and plate change there.
    SectionEnd(usize),
    /// It stands in the middle of this section.
    SectionMiddle(usize),
    /// A sharp beside a sampled natural: sharps have other levers and wear less.
    SharpBeside(Note),
    /// It lies in the two octaves that are played most, where wear shows first (M: C4 to B5).
    PlayedMost,
}

/// A note of the sample, with every reason for it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sampled {
    /// The note.
    pub note: Note,
    /// Why it is in the sample, at least one reason.
    pub why: Vec<Why>,
}

/// The notes to read for a survey, from the bass up.
///
/// **Rule** (C: sample notes at the section ends, naturals and sharps): of each section the
/// naturals nearest to its two ends, a natural in its middle with a sharp beside it in the same
/// section, and one such pair in each of the two octaves played most. Some twenty notes are what
/// half an hour reads.
/// **Range**: any sections. **Error**: the sample is chosen, not drawn by lot, and it leans
/// towards places where trouble shows; the share it finds is more likely too high than too low.
///
/// ```
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::trade::sample_plan;
///
/// let breaks = [20, 52, 72].map(|n| Note::new(n).unwrap());
/// let plan = sample_plan(&Sections::new(breaks)?);
/// assert!(plan.len() >= 16 && plan.len() <= 20);
/// # Ok::<(), evenhand_core::note::SectionsError>(())
/// ```
pub fn sample_plan(sections: &Sections) -> Vec<Sampled> {
    let mut reasons: Vec<Vec<Why>> = vec![Vec::new(); Note::COUNT];
    let mut add = |natural: Option<Note>, why: Why| {
        let Some(natural) = natural else { return };
        reasons[natural.index()].push(why);
        let section = sections.of(natural);
        let mut sharps = natural.neighbouring_sharps();
        let beside = sharps.find(|n| sections.of(*n) == section);
        if let (Some(sharp), Why::SectionMiddle(_) | Why::PlayedMost) = (beside, why) {
            reasons[sharp.index()].push(Why::SharpBeside(natural));
        }
    };
    for section in 0..sections.count() {
        let Some((first, last)) = sections.ends(section) else {
            continue;
        };
        let naturals: Vec<Note> = Note::all()
            .filter(|n| (first..=last).contains(n) && n.colour() == Colour::Natural)
            .collect();
        let middle = naturals.get(naturals.len() / 2).copied();
        add(naturals.first().copied(), Why::SectionEnd(section));
        add(middle, Why::SectionMiddle(section));
        add(naturals.last().copied(), Why::SectionEnd(section));
    }
    // F4 and F5: the middles of the octaves from C4 and C5, each with a sharp above it.
    for number in [45, 57] {
        add(Note::new(number).ok(), Why::PlayedMost);
    }
    Note::all()
        .zip(reasons)
        .filter(|(_, why)| !why.is_empty())
        .map(|(note, mut why)| {
            why.sort();
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
                .filter(|s| s.why.contains(&Why::SectionEnd(section)));
            assert_eq!(ends.count(), 2);
            assert!(here.iter().any(|s| s.note.is_sharp()));
            assert!(
                here.iter()
                    .any(|s| s.why.contains(&Why::SectionMiddle(section)))
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
