//! Tests of notes and sections.

use super::*;

#[test]
fn the_keyboard_has_52_naturals_and_36_sharps() {
    let sharps = Note::all().filter(|n| n.is_sharp()).count();
    assert_eq!((88 - sharps, sharps), (52, 36));
}

#[test]
fn every_name_reads_back_as_its_note() {
    for note in Note::all() {
        assert_eq!(note.name().parse(), Ok(note));
        assert_eq!(note.number().to_string().parse(), Ok(note));
    }
    assert_eq!("Bb0".parse(), Note::new(2));
    assert!("H4".parse::<Note>().is_err());
    assert!("C9".parse::<Note>().is_err());
    assert!("".parse::<Note>().is_err());
}

#[test]
fn a_natural_knows_the_sharps_beside_it() {
    let beside = |n: i64| -> Vec<u8> {
        let note = Note::new(n).unwrap();
        note.neighboring_sharps().map(Note::number).collect()
    };
    assert_eq!(beside(1), [2]);
    assert_eq!(beside(42), [41, 43]);
    assert_eq!(beside(40), [41]);
    assert_eq!(beside(88), Vec::<u8>::new());
    assert_eq!(beside(41), Vec::<u8>::new());
}

#[test]
fn sections_cover_every_note_once() {
    let sections = Sections::new([20, 52, 72].map(|n| Note::new(n).unwrap())).unwrap();
    let mut covered = Vec::new();
    for s in 0..sections.count() {
        let (a, b) = sections.ends(s).unwrap();
        covered.extend(a.number()..=b.number());
        assert_eq!((sections.of(a), sections.of(b)), (s, s));
    }
    assert_eq!(covered, (1..=88).collect::<Vec<u8>>());
    assert_eq!(sections.ends(4), None);
    assert_eq!(sections.all_ends().len(), 8);
}

#[test]
fn breaks_in_the_wrong_order_are_refused_with_their_notes() {
    let n = |n| Note::new(n).unwrap();
    let refused = Sections::new([n(52), n(20)]).unwrap_err().to_string();
    assert!(
        refused.contains("E2") && refused.contains("C5"),
        "{refused}"
    );
    assert_eq!(Sections::new([n(88)]), Err(SectionsError::AfterLast));
    assert_eq!(Sections::new((1..=8).map(n)), Err(SectionsError::TooMany));
}
