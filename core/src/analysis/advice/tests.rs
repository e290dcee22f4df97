//! Tests of the advice on a job, by behavior. All data are invented. The file is long because the
//! tests share one setup.

use super::*;
use crate::analysis::corrections::{Corrections, corrections, corrections_of};
use crate::analysis::turn_observation::turns_of_note;
use crate::job::{Entry, EntryKind, Job, KeyLever, ReplicaId, Setup, Trial};
use crate::trade::Occasion;
use crate::trade::Step;
use crate::unit::{Kind, LengthUnit};

const BENCH: Place = Place::Bench;
const MM: LengthUnit = LengthUnit::Millimeter;
const INCH: LengthUnit = LengthUnit::Inch;

fn n(number: i64) -> Note {
    Note::new(number).unwrap()
}

fn on(number: i64) -> Subject {
    Subject::Note(n(number))
}

fn mm(hundredths: i64) -> Length {
    Length::from_mm_hundredths(hundredths)
}

/// A phone and the job on it.
#[derive(Default)]
struct Bench {
    job: Job,
}

impl Bench {
    fn act(&mut self, act: EntryKind) -> Entry {
        let entry = self.job.draft(ReplicaId::new(7), 0, act);
        self.job.apply(entry.clone());
        entry
    }

    fn read(&mut self, measure: &'static str, number: i64, hundredths: i64) -> Entry {
        let value = Value::from_base(Kind::Length, mm(hundredths).nm());
        let (id, occasion) = (MeasureId::of(measure), Occasion::Working);
        let replica = ReplicaId::new(7);
        let entry = self
            .job
            .reading(replica, 0, id, on(number), BENCH, occasion, value, "");
        self.job.apply(entry.clone());
        entry
    }

    fn correct(&mut self, measure: MeasureId, number: i64, made: Correction) -> Entry {
        self.act(EntryKind::Correction {
            measure,
            on: on(number),
            place: BENCH,
            made,
        })
    }

    fn turn(&mut self, measure: &'static str, number: i64, in_64ths: i64) -> Entry {
        let made = Correction::Turned(Turns::from_64ths(in_64ths));
        self.correct(MeasureId::of(measure), number, made)
    }

    fn setup(&mut self, set: Setup) {
        let set = Box::new(set);
        self.act(EntryKind::Setup { set });
    }

    fn with_keys_and_punchings() -> Bench {
        let key = KeyLever {
            front_nm: mm(22_000),
            back_nm: mm(11_000),
            front_pin_nm: mm(20_000),
        };
        let mut bench = Bench::default();
        bench.setup(Setup {
            natural_key: Some(key),
            sharp_key: Some(key),
            punchings_nm: Some(super::super::punchings::COMMON.to_vec()),
            ..Setup::default()
        });
        bench
    }

    fn advice(&self, measure: &str, number: i64) -> Advice {
        advice(self.job.state(), measure, on(number), BENCH).unwrap()
    }

    fn words(&self, measure: &str, number: i64) -> String {
        self.advice(measure, number).words(MM)
    }

    fn corrections(&self, step: &str) -> Corrections {
        let state = self.job.state();
        corrections(state, state.step(step).unwrap())
    }
}

#[test]
fn directions_are_those_of_the_trade() {
    let mut bench = Bench::default();
    for (measure, low, high) in [
        ("blow", "capstan down", "capstan up"),
        ("let_off", "button down", "button up"),
        ("drop", "drop screw down", "drop screw up"),
        (
            "checking",
            "back check away from the hammer",
            "back check toward the hammer",
        ),
    ] {
        let aim = bench.job.state().band(measure, on(40)).unwrap().aim / 10_000;
        bench.read(measure, 40, aim - 600);
        assert!(bench.words(measure, 40).starts_with(low), "{measure}");
        bench.read(measure, 40, aim + 600);
        // The reading changed without a recorded correction: that is work, and the new reading counts.
        assert!(bench.words(measure, 40).starts_with(high), "{measure}");
    }
}

#[test]
fn a_reading_in_its_aim_band_is_left() {
    let mut bench = Bench::default();
    bench.read("let_off", 40, 225);
    let advice = bench.advice("let_off", 40);
    assert_eq!(advice.movement, Movement::Leave(LeaveReason::OnTarget));
    assert_eq!(
        (advice.made(), advice.words(MM).as_str()),
        (None, "leave it")
    );
}

#[test]
fn one_tap_enters_the_turn_that_was_advised() {
    let mut bench = Bench::default();
    bench.read("blow", 40, 4700);
    let advice = bench.advice("blow", 40);
    let Movement::Turn {
        turns, expected, ..
    } = advice.movement
    else {
        panic!("{advice:?}");
    };
    // 8 mm per turn: 2 mm take 1/4 turn, slightly less while the response is a rough default.
    assert_eq!(turns, Turns::from_64ths(-14));
    assert_eq!(expected, mm(4525).nm());
    assert_eq!(advice.made(), Some(Correction::Turned(turns)));
    bench.correct(advice.moves.clone(), 40, advice.made().unwrap());
    let again = bench.advice("blow", 40);
    assert_eq!(
        again.movement,
        Movement::Remeasure {
            work: MeasureId::of("blow")
        }
    );
}

#[test]
fn what_turning_did_on_this_instrument_changes_the_next_turn() {
    let mut bench = Bench::default();
    bench.read("blow", 40, 4700);
    let Movement::Turn { turns: before, .. } = bench.advice("blow", 40).movement else {
        panic!()
    };
    // This instrument has 12 mm per turn.
    for number in 1..=12 {
        bench.read("blow", number, 4700);
        bench.turn("blow", number, -8);
        bench.read("blow", number, 4550);
    }
    let Movement::Turn { turns: after, .. } = bench.advice("blow", 40).movement else {
        panic!()
    };
    assert_eq!(
        (before, after),
        (Turns::from_64ths(-14), Turns::from_64ths(-10))
    );
    let whole = learned(bench.job.state(), "blow").unwrap().whole().unwrap();
    assert_eq!(whole.used, 12);
    assert!((whole.mm_per_turn - 12.0).abs() < 0.3);
}

#[test]
fn several_turns_between_two_readings_add_up_and_those_taken_back_do_not_count() {
    let mut bench = Bench::default();
    bench.read("let_off", 5, 300);
    bench.turn("let_off", 5, -4);
    let wrong = bench.turn("let_off", 5, 40);
    bench.turn("let_off", 5, -8);
    bench.read("let_off", 5, 206);
    bench.act(EntryKind::Undo { entry: wrong.id });
    let tried = turns_of_note(bench.job.state(), "let_off", n(5));
    assert_eq!(tried.len(), 1);
    assert_eq!(tried[0].turned, Turns::from_64ths(-12));
    assert_eq!(tried[0].before, Value::Nm(mm(300)));
    assert_eq!(tried[0].after, Value::Nm(mm(206)));
}

#[test]
fn a_reading_that_something_else_moved_as_well_teaches_nothing() {
    let mut bench = Bench::default();
    bench.read("drop", 5, 300);
    bench.turn("drop", 5, -8);
    // The let-off moves the drop.
    bench.turn("let_off", 5, 16);
    bench.read("drop", 5, 350);
    assert_eq!(turns_of_note(bench.job.state(), "drop", n(5)), []);
    bench.turn("drop", 5, -8);
    bench.read("drop", 5, 290);
    assert_eq!(turns_of_note(bench.job.state(), "drop", n(5)).len(), 1);
}

#[test]
fn a_reading_as_found_is_not_what_a_turn_of_the_work_started_from() {
    let mut bench = Bench::default();
    let value = Value::Nm(mm(4900));
    let (id, found) = (MeasureId::of("blow"), Occasion::AsFound);
    let job = &bench.job;
    let entry = job.reading(ReplicaId::new(7), 0, id, on(9), BENCH, found, value, "");
    bench.job.apply(entry);
    bench.turn("blow", 9, -8);
    bench.read("blow", 9, 4500);
    assert_eq!(turns_of_note(bench.job.state(), "blow", n(9)), []);
    // It also follows for the reading as left.
    bench.turn("blow", 9, -8);
    let (id, left) = (MeasureId::of("blow"), Occasion::AsLeft);
    let phone = ReplicaId::new(8);
    let value = Value::Nm(mm(4400));
    let entry = bench
        .job
        .reading(phone, 0, id, on(9), BENCH, left, value, "");
    bench.job.apply(entry);
    assert_eq!(turns_of_note(bench.job.state(), "blow", n(9)).len(), 1);
}

#[test]
fn trials_of_the_setup_count_before_anything_is_read() {
    let mut bench = Bench::default();
    bench.setup(Setup {
        trials: Some(vec![Trial {
            measure: MeasureId::of("let_off"),
            turned_64ths: Turns::from_64ths(64),
            before_nm: mm(300),
            after_nm: mm(700),
        }]),
        ..Setup::default()
    });
    let known = |measure| {
        learned(bench.job.state(), measure)
            .unwrap()
            .whole()
            .unwrap()
    };
    assert!((known("let_off").mm_per_turn - 4.0).abs() < 0.1);
    assert_eq!(known("drop").mm_per_turn, 5.0);
}

#[test]
fn a_low_natural_gets_paper_at_the_balance_rail_and_a_high_one_loses_it() {
    let mut bench = Bench::with_keys_and_punchings();
    // Levers of 220 and 110 mm: the front rises by three times the thickness. 0.38 mm low is 0.005 in.
    bench.read("natural_level", 40, -38);
    assert_eq!(
        bench.advice("natural_level", 40).words(INCH),
        "put in 0.005 in"
    );
    assert_eq!(bench.words("natural_level", 40), "put in 0.13 mm");
    let advice = bench.advice("natural_level", 40);
    bench.correct(advice.moves.clone(), 40, advice.made().unwrap());
    bench.read("natural_level", 40, 38);
    let advice = bench.advice("natural_level", 40);
    assert_eq!(advice.words(INCH), "take out 0.005 in");
    bench.correct(advice.moves.clone(), 40, advice.made().unwrap());
    bench.read("natural_level", 40, 76);
    // The punchings there are unrecorded: the advice is the thickness to take out.
    assert_eq!(
        bench.advice("natural_level", 40).words(INCH),
        "take out 0.010 in"
    );
}

#[test]
fn a_deep_key_gets_paper_at_the_front_rail() {
    let mut bench = Bench::with_keys_and_punchings();
    bench.read("natural_dip", 40, 1042);
    let advice = bench.advice("natural_dip", 40);
    assert_eq!(advice.words(INCH), "put in 0.015 in");
    let Movement::Punchings { expected, .. } = advice.movement else {
        panic!()
    };
    assert!((expected - mm(1000).nm()).abs() < 10_000);
}

#[test]
fn what_must_be_asked_for_is_said() {
    let mut bench = Bench::default();
    bench.read("natural_level", 40, -38);
    bench.read("aftertouch", 40, 150);
    let missing = |measure| bench.advice(measure, 40).movement;
    assert_eq!(
        missing("natural_level"),
        Movement::Missing(Missing::NaturalKey)
    );
    assert_eq!(
        missing("aftertouch"),
        Movement::Missing(Missing::FollowingLength)
    );
    assert_eq!(
        bench.corrections("natural_level").missing,
        [Missing::NaturalKey]
    );
    assert_eq!(
        bench.words("natural_level", 40),
        "needs the lever lengths of a natural key"
    );
}

#[test]
fn the_aftertouch_is_moved_by_the_length_that_floats() {
    let mut bench = Bench::with_keys_and_punchings();
    let following = |following| Setup {
        following: Some(following),
        ..Setup::default()
    };
    // Blow minus let-off is 43 and the key travel for it 8.6: a ratio of 5.
    for (measure, hundredths) in [
        ("natural_dip", 1000),
        ("blow", 4500),
        ("let_off", 200),
        ("aftertouch", 140),
    ] {
        bench.read(measure, 40, hundredths);
    }
    bench.setup(following(FollowingLength::Aftertouch));
    assert_eq!(
        bench.advice("aftertouch", 40).movement,
        Movement::Leave(LeaveReason::Follows)
    );
    bench.setup(following(FollowingLength::Dip));
    let dip = bench.advice("aftertouch", 40);
    assert_eq!(
        (dip.moves.as_str(), dip.words(INCH).as_str()),
        ("natural_dip", "put in 0.010 in")
    );
    bench.setup(following(FollowingLength::Blow));
    let blow = bench.advice("aftertouch", 40);
    // 0.25 mm of aftertouch is 1.25 mm of blow.
    let Movement::Turn {
        turns,
        expected,
        direction,
        ..
    } = blow.movement
    else {
        panic!()
    };
    assert_eq!((blow.moves.as_str(), direction), ("blow", "down"));
    assert_eq!(turns, Turns::from_64ths(8));
    assert_eq!(expected, mm(4600).nm());
}

#[test]
fn a_length_that_floats_is_left_where_the_aftertouch_put_it() {
    for (following, measure, hundredths) in [
        (FollowingLength::Dip, "natural_dip", 1040),
        (FollowingLength::Blow, "blow", 4670),
    ] {
        let mut bench = Bench::with_keys_and_punchings();
        bench.setup(Setup {
            following: Some(following),
            ..Setup::default()
        });
        bench.read(measure, 40, hundredths);
        // Until the aftertouch is read, it is corrected to its own aim.
        assert!(bench.advice(measure, 40).made().is_some(), "{measure}");
        bench.read("aftertouch", 40, 115);
        let advice = bench.advice(measure, 40);
        assert_eq!(advice.movement, Movement::Leave(LeaveReason::Follows));
        assert_eq!(
            advice.words(INCH),
            "leave it, it follows from the aftertouch"
        );
        // The other one is still corrected.
        let set = match measure {
            "blow" => "natural_dip",
            _ => "blow",
        };
        bench.read(set, 40, if set == "blow" { 4670 } else { 1040 });
        assert!(bench.advice(set, 40).made().is_some(), "{set}");
    }
}

#[test]
fn a_sharp_is_given_the_dip_that_makes_its_aftertouch() {
    let mut bench = Bench::with_keys_and_punchings();
    bench.read("sharp_dip", 41, 1000);
    assert_eq!(
        bench.advice("sharp_dip", 41).movement,
        Movement::Missing(Missing::Aftertouch)
    );
    bench.read("aftertouch", 41, 87);
    let advice = bench.advice("sharp_dip", 41);
    assert_eq!(
        (advice.off, advice.words(INCH).as_str()),
        (mm(-28).nm(), "take out 0.010 in")
    );
}

#[test]
fn advice_names_the_readings_that_it_disturbs() {
    let mut bench = Bench::default();
    bench.read("aftertouch", 40, 115);
    bench.read("aftertouch", 41, 115);
    bench.read("blow", 40, 4700);
    let disturbs = bench.advice("blow", 40).disturbs;
    assert_eq!(
        disturbs,
        [Item {
            measure: MeasureId::of("aftertouch"),
            on: on(40)
        }]
    );
    // A natural moves the level of the sharps beside it.
    let mut bench = Bench::with_keys_and_punchings();
    bench.read("sharp_level", 41, 1250);
    bench.read("natural_level", 40, -50);
    let disturbs = bench.advice("natural_level", 40).disturbs;
    assert_eq!(
        disturbs,
        [Item {
            measure: MeasureId::of("sharp_level"),
            on: on(41)
        }]
    );
}

#[test]
fn the_corrections_of_a_step_stand_from_the_bass_up_with_their_pick_list() {
    let mut bench = Bench::with_keys_and_punchings();
    for (number, hundredths) in [(42, -38), (40, -38), (1, 5), (3, -77), (44, 77)] {
        bench.read("natural_level", number, hundredths);
    }
    let found = bench.corrections("natural_level");
    let rows: Vec<_> = found
        .rows
        .iter()
        .map(|a| a.on.note().unwrap().number())
        .collect();
    assert_eq!((rows.as_slice(), found.left), (&[3, 40, 42, 44][..], 1));
    let picks: Vec<_> = found
        .picks
        .iter()
        .map(|p| (p.thickness.nm(), p.needed))
        .collect();
    assert_eq!(picks, [(127_000, 2), (254_000, 1)]);
    assert_eq!(found.readings, 4);
}

#[test]
fn corrections_over_several_measures_come_upstream_first() {
    let mut bench = Bench::default();
    for number in [50, 20] {
        bench.read("blow", number, 4700);
        bench.read("let_off", number, 300);
        bench.read("drop", number, 400);
        bench.read("spring", number, 2);
    }
    let state = bench.job.state();
    let steps: Vec<Step> = ["drop", "let_off", "blow"]
        .map(|id| state.step(id).unwrap().clone())
        .to_vec();
    let found = corrections_of(state, &steps);
    let rows: Vec<_> = found
        .rows
        .iter()
        .map(|a| (a.measure.as_str(), a.on.note().unwrap().number()))
        .collect();
    let drop_after_let_off = |note| {
        let at = |m| rows.iter().position(|r| *r == (m, note)).unwrap();
        at("let_off") < at("drop")
    };
    assert!(drop_after_let_off(20) && drop_after_let_off(50), "{rows:?}");
    // Each of the six is measured after it is made, each drop also before, and both springs at the end.
    assert_eq!(found.readings, 10);
}
