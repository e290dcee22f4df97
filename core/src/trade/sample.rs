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

/// Returns the notes to measure in a survey, drawn at random with a seed, from the bass up. The same seed draws
/// the same notes on every device.
///
/// **Rule** (P: any text on survey sampling, proportional stratified sampling): each section, and a long one in parts
/// of about two octaves, gives its share of some twelve notes, in naturals and sharps apart: two naturals and a
/// sharp of 22 notes, and one of each at least. They lie spread, since each is drawn from its own run of neighbors. More
/// would tell more and cost the technician more touches than the rest of a small job (C); notes can be added.
/// **Range**: any sections.
/// **Error**: what a share of such a sample says of all notes is in
/// [`share_out`](crate::analysis::survey::share_out).
///
/// ```
/// use evenhand_core::note::Sections;
/// use evenhand_core::trade::drawn_sample;
///
/// let drawn = drawn_sample(&Sections::default(), 7);
/// assert_eq!(drawn.len(), 12);
/// assert_eq!(drawn, drawn_sample(&Sections::default(), 7));
/// assert_ne!(drawn, drawn_sample(&Sections::default(), 8));
/// ```
pub fn drawn_sample(sections: &Sections, seed: u32) -> Vec<Note> {
    /// So many naturals and sharps of so many notes.
    const OF: ([usize; 2], usize) = ([2, 1], 22);
    let mut drawn = Vec::new();
    let mut state = u64::from(seed);
    for section in 0..sections.count() {
        let Some((first, last)) = sections.ends(section) else {
            continue;
        };
        let all: Vec<Note> = Note::all().filter(|n| (first..=last).contains(n)).collect();
        let parts = (all.len() / OF.1).max(1);
        for part in runs(&all, parts) {
            for (color, of) in [Color::Natural, Color::Sharp].into_iter().zip(OF.0) {
                let notes = part.iter().copied().filter(|n| n.color() == color);
                let notes: Vec<Note> = notes.collect();
                let count = ((of * part.len() + OF.1 / 2) / OF.1).max(1);
                let chosen = runs(&notes, count.min(notes.len()));
                drawn.extend(chosen.map(|run| run[random(&mut state) as usize % run.len()]));
            }
        }
    }
    drawn.sort_unstable();
    drawn
}

/// Divides notes into runs of nearly the same length; none if there are no runs.
fn runs(notes: &[Note], count: usize) -> impl Iterator<Item = &[Note]> {
    let end = move |k: usize| k * notes.len() / count.max(1);
    (0..count).map(move |k| &notes[end(k)..end(k + 1)])
}

/// Returns the next of a sequence of random numbers of 32 bits (P: splitmix64, Steele, Lea and Flood 2014).
fn random(state: &mut u64) -> u32 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    (z >> 32) as u32
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
    fn drawn_notes_are_spread_and_of_both_colors_in_any_sections() {
        let breaks = [vec![], vec![20, 52, 72], vec![1, 2, 3], vec![44]];
        for breaks in breaks {
            let sections = Sections::new(breaks.into_iter().map(n)).unwrap();
            for seed in [0, 1, u32::MAX] {
                let drawn = drawn_sample(&sections, seed);
                assert!((10..=16).contains(&drawn.len()), "{drawn:?}");
                assert!(drawn.windows(2).all(|w| w[0] < w[1]), "each once, rising");
                let sharps = drawn.iter().filter(|n| n.is_sharp()).count();
                assert!((3..=6).contains(&sharps), "{drawn:?}");
                // No two octaves and a half are without one.
                let gaps = drawn.windows(2).map(|w| w[1].number() - w[0].number());
                assert!(gaps.max() < Some(30), "{drawn:?}");
                for section in 0..sections.count() {
                    assert!(drawn.iter().any(|n| sections.of(*n) == section));
                }
            }
        }
    }

    #[test]
    fn each_note_of_a_run_is_drawn_as_often_as_the_others() {
        let mut counts = [0u32; Note::COUNT];
        for seed in 0..4_000 {
            for note in drawn_sample(&Sections::default(), seed) {
                counts[note.index()] += 1;
            }
        }
        // 12 of 88, naturals 8 of 52, sharps 4 of 36; runs have 6 to 10 notes.
        assert!(counts.iter().all(|c| (330..800).contains(c)), "{counts:?}");
    }

    #[test]
    fn tiny_sections_are_sampled_too() {
        let sections = Sections::new([1, 2, 3].map(n)).unwrap();
        let plan = sample_plan(&sections);
        // A section of one sharp has no natural to sample.
        assert!(plan.iter().any(|s| s.note == n(1)) && plan.iter().any(|s| s.note == n(3)));
    }
}
