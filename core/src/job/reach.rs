//! The reach of a disturbance: which subjects work on one subject affects, and the inverse.

use super::Subject;
use crate::note::{Note, Sections};
use crate::trade::Reach;

/// Returns the subjects from which work affects `on`: itself, the naturals beside a sharp, or all notes of its
/// section; its section; the whole.
pub(crate) fn reached_from(
    on: Subject,
    reach: Reach,
    sections: &Sections,
) -> impl Iterator<Item = Subject> + use<> {
    let whole = Some(Subject::Whole);
    let (reaching, within) = match (reach, on) {
        (Reach::Note, Subject::Note(note)) => {
            ([Some(on), section_of(note, sections), whole, None], None)
        }
        (Reach::Note, Subject::Section(_)) => ([Some(on), whole, None, None], None),
        (_, Subject::Whole) if reach != Reach::NeighboringSharps => {
            ([whole, None, None, None], None)
        }
        (Reach::Section, Subject::Note(note)) => {
            let section = sections.of(note);
            let here = section_of(note, sections);
            ([here, whole, None, None], sections.ends(section))
        }
        (Reach::Section, Subject::Section(section)) => {
            let notes = sections.ends(usize::from(section));
            ([Some(on), whole, None, None], notes)
        }
        (Reach::NeighboringSharps, Subject::Note(note)) if note.is_sharp() => {
            let [below, above] = [note.down(), note.up()].map(|n| n.map(Subject::Note));
            ([below, above, section_of(note, sections), whole], None)
        }
        _ => ([None; 4], None),
    };
    let notes = within.into_iter().flat_map(|(first, last)| {
        Note::all()
            .skip(first.index())
            .take_while(move |n| *n <= last)
    });
    reaching
        .into_iter()
        .flatten()
        .chain(notes.map(Subject::Note))
}

/// Returns the subjects that work on `from` affects: the inverse of [`reached_from`].
pub(crate) fn reached_by(from: Subject, reach: Reach, sections: &Sections) -> Vec<Subject> {
    if let (Subject::Note(note), Reach::NeighboringSharps) = (from, reach) {
        return note.neighboring_sharps().map(Subject::Note).collect();
    }
    let has = |note: Note, section: u8| sections.of(note) == usize::from(section);
    let notes = Note::all().filter(|note| match from {
        Subject::Note(from) if reach == Reach::Section => sections.of(*note) == sections.of(from),
        Subject::Note(from) => *note == from,
        Subject::Section(section) => has(*note, section),
        Subject::Whole => true,
    });
    match reach {
        Reach::NeighboringSharps => notes
            .filter(|note| note.is_sharp())
            .map(Subject::Note)
            .collect(),
        Reach::Note | Reach::Section => {
            let own = match from {
                Subject::Note(note) if reach == Reach::Section => section_of(note, sections),
                _ => None,
            };
            let all_sections = (0..sections.count() as u8).map(Subject::Section);
            let wider = all_sections
                .chain([Subject::Whole])
                .filter(|on| *on == from || from == Subject::Whole || Some(*on) == own);
            notes.map(Subject::Note).chain(wider).collect()
        }
    }
}

/// Returns the section of a note as a subject.
fn section_of(note: Note, sections: &Sections) -> Option<Subject> {
    u8::try_from(sections.of(note)).ok().map(Subject::Section)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_work_reaches_is_reached_from_it() {
        let sections = Sections::new([20, 52, 72].map(|n| Note::new(n).unwrap())).unwrap();
        let all_sections = (0..sections.count() as u8).map(Subject::Section);
        let notes = Note::all().map(Subject::Note);
        let all: Vec<Subject> = notes.chain(all_sections).chain([Subject::Whole]).collect();
        for reach in [Reach::Note, Reach::NeighboringSharps, Reach::Section] {
            for &from in &all {
                let reached = reached_by(from, reach, &sections);
                for &on in &all {
                    let back = reached_from(on, reach, &sections).any(|s| s == from);
                    assert_eq!(reached.contains(&on), back, "{from:?} {on:?} {reach:?}");
                }
            }
        }
    }
}
