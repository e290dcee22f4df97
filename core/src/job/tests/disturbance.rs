//! Tests of what disturbs what.

use std::collections::BTreeSet;

use super::*;
use crate::trade::{Disturbance, Per, Reach, Strength, TABLE};

/// A disturbed reading: measure, subject, on the bench.
type Found = BTreeSet<(String, Subject, bool)>;

/// D4, a natural between two sharps, and the sharp above it; both stand in the middle section.
const NATURAL: i64 = 42;
const SHARP: i64 = 43;

/// The rows after which readings no longer hold.
fn voiding() -> impl Iterator<Item = &'static Disturbance> {
    TABLE.iter().filter(|row| row.strength == Strength::Voids)
}

/// Every measure in the table of disturbances.
fn spoken_of() -> BTreeSet<&'static str> {
    let of = |row: &'static Disturbance| row.disturbs.iter().copied().chain([row.work]);
    TABLE.iter().flat_map(of).collect()
}

/// Where the test reads: the notes around, one far away, and the section and the whole.
fn subjects() -> Vec<Subject> {
    let mut subjects: Vec<Subject> = (40..=45).map(on).collect();
    subjects.extend([on(80), Subject::Section(1), Subject::Whole]);
    subjects
}

/// A phone on which everything was read once, at both places.
fn all_read() -> Phone {
    let mut phone = Phone::new(1);
    phone.setup(Setup {
        sections: crate::note::Sections::new([20, 52, 72].map(n)).ok(),
        ..Setup::default()
    });
    for measure in spoken_of() {
        read_everywhere(&mut phone, measure);
    }
    // A record that is itself work has disturbed the readings before it.
    for measure in spoken_of() {
        if !Instrument::Grand
            .measure(measure)
            .is_some_and(|m| m.records_work)
        {
            read_everywhere(&mut phone, measure);
        }
    }
    assert_eq!(disturbed(&phone), Found::new());
    phone
}

fn read_everywhere(phone: &mut Phone, measure: &str) {
    for subject in subjects() {
        for place in [BENCH, PIANO] {
            phone.read(measure, subject, place, 1);
        }
    }
}

fn disturbed(phone: &Phone) -> Found {
    let mut found = Found::new();
    for measure in spoken_of() {
        for subject in subjects() {
            for place in [BENCH, PIANO] {
                if phone.state().disturbed(measure, subject, place).is_some() {
                    found.insert((measure.to_owned(), subject, place == BENCH));
                }
            }
        }
    }
    found
}

/// Returns what work affects by the table: its own measure and those listed, on the same note, on
/// the sharps beside it, or on everything in the section or the whole. Work on the bench affects both
/// places, work in the piano only the piano. Rows after which a reading is only looked at void nothing.
fn expected(work: &str, from: Subject, place: Place) -> Found {
    let below = |subject: &Subject| match (from, subject) {
        (Subject::Whole, _) => true,
        (Subject::Section(_), Subject::Note(note)) => note.number() < 53,
        (a, b) => a == *b,
    };
    let beside = |subject: &Subject| match (from, subject) {
        (Subject::Note(note), Subject::Note(sharp)) => {
            note.neighboring_sharps().any(|s| s == *sharp)
        }
        (_, Subject::Note(sharp)) => sharp.is_sharp() && below(subject),
        _ => false,
    };
    let mut found = Found::new();
    let section = |subject: &Subject| match (from, subject) {
        // The section of all the subjects but note 80.
        (Subject::Note(_), Subject::Note(note)) => note.number() < 53,
        (Subject::Note(_), Subject::Section(1)) => true,
        _ => below(subject),
    };
    let mut put = |measure: &str, subject: Subject, only: Option<Place>| {
        if only != Some(BENCH) {
            found.insert((measure.to_owned(), subject, false));
        }
        if place == BENCH && only != Some(PIANO) {
            found.insert((measure.to_owned(), subject, true));
        }
    };
    for subject in subjects() {
        if below(&subject) {
            put(work, subject, None);
        }
        for row in voiding().filter(|row| row.work == work) {
            let reached = match row.reach {
                Reach::Note => below(&subject),
                Reach::NeighboringSharps => beside(&subject),
                Reach::Section => section(&subject),
            };
            if reached {
                for measure in row.disturbs {
                    put(measure, subject, row.only);
                }
            }
        }
    }
    found
}

/// The work of each row, on a subject that it is done on.
fn works() -> Vec<(&'static str, Subject)> {
    let works: BTreeSet<&'static str> = TABLE.iter().map(|row| row.work).collect();
    let per = |work: &str| {
        let known = Instrument::Grand.measure(work);
        known
            .or_else(|| Instrument::Upright.measure(work))
            .unwrap()
            .per
    };
    works
        .into_iter()
        .map(|work| match per(work) {
            Per::Whole => (work, Subject::Whole),
            Per::Sharp => (work, on(SHARP)),
            _ => (work, on(NATURAL)),
        })
        .collect()
}

#[test]
fn each_row_of_the_table_makes_read_again_exactly_what_it_names() {
    let read = all_read();
    for (work, from) in works() {
        for place in [BENCH, PIANO] {
            let mut phone = read.clone();
            let entry = phone.correct(work, from, place);
            let found = disturbed(&phone);
            assert_eq!(found, expected(work, from, place), "{work} {place:?}");
            for (measure, subject, bench) in &found {
                let at = if *bench { BENCH } else { PIANO };
                let cause = phone.state().disturbed(measure, *subject, at).unwrap();
                let told = Cause {
                    work: MeasureId::from(work),
                    on: from,
                    position: phone.job.log().position(entry.id).unwrap(),
                };
                assert_eq!(cause, told, "{measure}");
            }
        }
    }
}

#[test]
fn work_on_a_section_or_on_the_whole_reaches_all_its_notes() {
    let read = all_read();
    for (work, _) in works() {
        for from in [Subject::Section(1), Subject::Whole] {
            let mut phone = read.clone();
            phone.correct(work, from, BENCH);
            assert_eq!(
                disturbed(&phone),
                expected(work, from, BENCH),
                "{work} {from:?}"
            );
        }
    }
}

#[test]
fn reading_again_clears_it() {
    let read = all_read();
    for (work, from) in works() {
        let mut phone = read.clone();
        phone.correct(work, from, BENCH);
        for (measure, subject, bench) in disturbed(&phone) {
            let known = Instrument::Grand.measure(&measure);
            // A record that is itself work comes first, so that it disturbs nothing that was re-measured.
            if known.is_some_and(|m| m.records_work) {
                phone.read(&measure, subject, if bench { BENCH } else { PIANO }, 1);
            }
        }
        for (measure, subject, bench) in disturbed(&phone) {
            phone.read(&measure, subject, if bench { BENCH } else { PIANO }, 1);
        }
        assert_eq!(disturbed(&phone), Found::new(), "{work}");
    }
}

#[test]
fn undo_restores_and_undo_of_the_undo_disturbs_again() {
    let read = all_read();
    for (work, from) in works() {
        let mut phone = read.clone();
        let entry = phone.correct(work, from, BENCH);
        let undo = phone.undo(&entry);
        assert_eq!(disturbed(&phone), Found::new(), "{work}");
        assert!(!phone.state().is_alive(entry.id));
        let redo = phone.undo(&undo);
        assert_eq!(disturbed(&phone), expected(work, from, BENCH), "{work}");
        assert!(phone.state().is_alive(entry.id));
        phone.undo(&redo);
        assert_eq!(disturbed(&phone), Found::new(), "{work}");
    }
}

#[test]
fn an_undone_reading_lets_the_one_before_count_again() {
    let mut phone = Phone::new(1);
    let first = phone.read("blow", on(40), BENCH, 46_000_000);
    phone.read("aftertouch", on(40), BENCH, 1_200_000);
    let second = phone.read("blow", on(40), BENCH, 45_000_000);
    assert!(
        phone
            .state()
            .disturbed("aftertouch", on(40), BENCH)
            .is_some()
    );
    phone.undo(&second);
    let measure_state = phone.state().measure_state("blow", on(40), BENCH).unwrap();
    assert_eq!(measure_state.in_effect().unwrap().position.id, first.id);
    assert_eq!(phone.state().disturbed("aftertouch", on(40), BENCH), None);
}

#[test]
fn a_natural_disturbs_the_level_of_the_sharps_beside_it_and_no_other() {
    let mut phone = Phone::new(1);
    for note in [39, 41, 43, 46] {
        phone.read("sharp_level", on(note), BENCH, 12_500_000);
    }
    phone.correct("natural_level", on(42), BENCH);
    let again = |note| {
        phone
            .state()
            .disturbed("sharp_level", on(note), BENCH)
            .is_some()
    };
    assert_eq!([39, 41, 43, 46].map(again), [false, true, true, false]);
}

#[test]
fn a_turn_makes_its_own_reading_stale_until_it_is_read_again() {
    let mut phone = Phone::new(1);
    phone.read("let_off", on(49), BENCH, 2_600_000);
    let turned = phone.correct("let_off", on(49), BENCH);
    let measure_state = |phone: &Phone| {
        phone
            .state()
            .measure_state("let_off", on(49), BENCH)
            .cloned()
            .unwrap()
    };
    assert_eq!(
        measure_state(&phone)
            .changed_since_read()
            .unwrap()
            .position
            .id,
        turned.id
    );
    let cause = phone.state().disturbed("let_off", on(49), BENCH).unwrap();
    assert_eq!(cause.work.as_str(), "let_off");
    phone.read("let_off", on(49), BENCH, 2_000_000);
    assert_eq!(measure_state(&phone).changed_since_read(), None);
    assert_eq!(phone.state().disturbed("let_off", on(49), BENCH), None);
}

#[test]
fn bench_work_is_felt_in_the_piano_and_piano_work_not_on_the_bench() {
    let mut phone = Phone::new(1);
    for place in [BENCH, PIANO] {
        phone.read("aftertouch", on(30), place, 1_150_000);
    }
    let again = |phone: &Phone| {
        [BENCH, PIANO].map(|p| phone.state().disturbed("aftertouch", on(30), p).is_some())
    };
    let in_piano = phone.correct("blow", on(30), PIANO);
    assert_eq!(again(&phone), [false, true]);
    phone.undo(&in_piano);
    phone.correct("blow", on(30), BENCH);
    assert_eq!(again(&phone), [true, true]);
}

#[test]
fn sliding_the_action_in_again_voids_nothing() {
    let mut phone = all_read();
    for _ in 0..2 {
        phone.read("action_in", Subject::Whole, PIANO, 1);
        assert_eq!(disturbed(&phone), Found::new());
        assert_eq!(phone.state().looks(), []);
    }
}

#[test]
fn the_height_of_a_guide_key_reaches_its_section_and_no_other() {
    let mut phone = all_read();
    phone.correct("key_height", on(NATURAL), BENCH);
    let again = |note| phone.state().disturbed("blow", on(note), BENCH).is_some();
    assert_eq!([40, 45, 80].map(again), [true, true, false]);
}

#[test]
fn a_stand_in_set_anew_voids_the_bench_alone() {
    let mut phone = all_read();
    phone.correct("stand_in", on(NATURAL), BENCH);
    let again = |place| phone.state().disturbed("let_off", on(45), place).is_some();
    assert_eq!([BENCH, PIANO].map(again), [true, false]);
}

/// Published: grand regulation article series, part XXII: key height and key dip directly
/// affect the checking distance; checking affects the repetition spring and nothing else.
#[test]
fn height_and_dip_disturb_checking_and_checking_only_the_spring() {
    let read = all_read();
    for (work, note) in [
        ("natural_level", NATURAL),
        ("sharp_level", SHARP),
        ("natural_dip", NATURAL),
        ("sharp_dip", SHARP),
    ] {
        let mut phone = read.clone();
        phone.correct(work, on(note), BENCH);
        assert!(
            phone
                .state()
                .disturbed("checking", on(note), BENCH)
                .is_some(),
            "{work}"
        );
    }
    let mut phone = read.clone();
    phone.correct("checking", on(NATURAL), BENCH);
    let others: BTreeSet<String> = disturbed(&phone).into_iter().map(|(m, ..)| m).collect();
    assert_eq!(
        others,
        BTreeSet::from(["checking".to_owned(), "spring".to_owned()])
    );
}

#[test]
fn a_reading_that_moved_tells_of_work_and_one_that_repeats_does_not() {
    let mut phone = Phone::new(1);
    phone.read("blow", on(40), BENCH, 46_000_000);
    phone.read("aftertouch", on(40), BENCH, 1_150_000);
    // Blow repeats to 0.2 mm.
    phone.read("blow", on(40), BENCH, 45_900_000);
    assert_eq!(phone.state().disturbed("aftertouch", on(40), BENCH), None);
    phone.read("blow", on(40), BENCH, 45_000_000);
    assert!(
        phone
            .state()
            .disturbed("aftertouch", on(40), BENCH)
            .is_some()
    );
}

#[test]
fn a_turn_is_told_once_and_not_again_by_the_reading_after_it() {
    let mut phone = Phone::new(1);
    phone.read("blow", on(40), BENCH, 46_000_000);
    phone.correct("blow", on(40), BENCH);
    phone.read("aftertouch", on(40), BENCH, 1_150_000);
    phone.read("blow", on(40), BENCH, 45_000_000);
    assert_eq!(phone.state().disturbed("aftertouch", on(40), BENCH), None);
}

#[test]
fn needs_work_that_becomes_good_tells_of_work_and_the_other_way_does_not() {
    let mut phone = Phone::new(1);
    phone.read("keys_eased", on(40), BENCH, 1);
    phone.read("down_weight", on(40), BENCH, 50_000);
    phone.read("keys_eased", on(40), BENCH, 0);
    assert_eq!(phone.state().disturbed("down_weight", on(40), BENCH), None);
    phone.read("keys_eased", on(40), BENCH, 1);
    assert!(
        phone
            .state()
            .disturbed("down_weight", on(40), BENCH)
            .is_some()
    );
}

#[test]
fn the_latest_cause_is_told() {
    let mut phone = Phone::new(1);
    phone.read("aftertouch", on(40), BENCH, 1_150_000);
    phone.correct("blow", on(40), BENCH);
    let later = phone.correct("let_off", on(40), BENCH);
    let cause = phone
        .state()
        .disturbed("aftertouch", on(40), BENCH)
        .unwrap();
    assert_eq!(
        (cause.work.as_str(), cause.position.id),
        ("let_off", later.id)
    );
}

#[test]
fn bedding_on_the_bench_voids_bench_readings_and_bedding_in_the_piano_those_in_the_piano() {
    let goes = |bedding: &str, at: Place, read_at: Place| {
        let mut phone = Phone::new(1);
        phone.read("bedding_bench", Subject::Whole, BENCH, 0);
        phone.read("blow", on(40), read_at, 45_000_000);
        phone.read("let_off", on(40), read_at, 2_000_000);
        assert_eq!(phone.state().disturbed("blow", on(40), read_at), None);
        phone.read(bedding, Subject::Whole, at, 1);
        let disturbed = |measure| phone.state().disturbed(measure, on(40), read_at);
        assert_eq!(disturbed("let_off"), None, "no height, dip or blow");
        disturbed("blow").map(|cause| cause.work.to_string())
    };
    assert_eq!(
        goes("bedding_bench", BENCH, BENCH).as_deref(),
        Some("bedding_bench")
    );
    assert_eq!(
        goes("bedding_bench", BENCH, PIANO).as_deref(),
        Some("bedding_bench")
    );
    assert_eq!(goes("bedding", PIANO, PIANO).as_deref(), Some("bedding"));
    assert_eq!(goes("bedding", PIANO, BENCH), None);
}
