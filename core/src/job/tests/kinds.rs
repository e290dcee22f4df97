//! Tests of kinds of job: which steps are done, where, and what the sample measures.

use super::*;
use crate::trade::{Instrument, JobKind, Order, Per, Stage};

fn choose(kind: &JobKind) -> EntryKind {
    EntryKind::KindChosen {
        kind: Box::new(kind.clone()),
    }
}

fn of_kind(at: usize, instrument: Instrument) -> Phone {
    let mut phone = Phone::new(1);
    let set = Box::new(Details {
        instrument: Some(instrument),
        ..Details::default()
    });
    phone.act(EntryKind::Details { set });
    phone.act(choose(&JobKind::built_in(instrument)[at]));
    phone
}

fn has(phone: &Phone, id: &str) -> bool {
    phone.state().step(id).is_some()
}

#[test]
fn every_step_that_a_built_in_kind_names_is_one_of_the_trades() {
    for instrument in [Instrument::Grand, Instrument::Upright] {
        let kinds = JobKind::built_in(instrument);
        for (at, kind) in kinds.iter().enumerate() {
            for id in &kind.steps {
                let is_there = instrument.steps().iter().any(|s| s.id == *id);
                assert!(is_there, "{}: {id}", kind.name);
            }
            // Nothing is graded, so nothing is called for.
            let conditional = instrument.conditional_steps();
            let usual = Order::of(instrument).without(|id| conditional.iter().any(|s| s.id == *id));
            let order = kind.order(&usual);
            assert_eq!(Order::new(order.steps().to_vec()), Ok(order.clone()));
            assert_eq!(
                of_kind(at, instrument).state().order().steps().len(),
                order.steps().len()
            );
            assert!(kind.minutes() > 0);
            assert!(kinds[..at].iter().all(|k| k.name != kind.name));
        }
        // Each does more than the one before it.
        let minutes = [3, 0, 1, 2].map(|at| kinds[at].minutes());
        assert!(minutes.is_sorted(), "{minutes:?}");
        let all = instrument.steps().len();
        assert_eq!(kinds[2].order(&Order::of(instrument)).steps().len(), all);
    }
}

#[test]
fn in_a_job_without_a_bench_every_measure_is_read_in_the_piano_and_once() {
    for at in [0, 3, 4] {
        let phone = of_kind(at, Instrument::Grand);
        let steps = phone.state().order().steps();
        assert!(steps.iter().all(|s| s.place != Some(Place::Bench)));
        let mut taken: Vec<&MeasureId> = Vec::new();
        for step in steps.iter().filter(|s| s.occasion == Occasion::Working) {
            for id in &step.takes {
                assert!(!taken.contains(&id), "{id} is taken twice");
                taken.push(id);
            }
        }
    }
    let phone = of_kind(0, Instrument::Grand);
    let step = phone.state().step("let_off").unwrap();
    assert_eq!(phone.state().place(), Place::Piano);
    assert_eq!(step.place, Some(Place::Piano));
}

#[test]
fn a_kind_of_all_steps_in_the_piano_has_no_step_that_needs_a_bench_and_beds_the_frame_first() {
    let mut kind = JobKind::built_in(Instrument::Grand)[2].clone();
    kind.place = Place::Piano;
    let mut phone = Phone::new(1);
    phone.act(choose(&kind));
    for id in [
        "stand_in",
        "final_regulation",
        "keys_in_piano",
        "bedding_bench",
    ] {
        assert!(!has(&phone, id), "{id}");
    }
    let steps = phone.state().order().steps();
    let at = |id: &str| steps.iter().position(|s| s.id.as_str() == id).unwrap();
    assert!(at("bedding") < at("key_height"));
    assert_eq!(steps[at("bedding")].stage, Stage::Align);
    assert!(steps[at("blow")].how.starts_with("Measure from the string"));
    assert!(steps.iter().all(|s| s.place != Some(Place::Bench)));
}

#[test]
fn steps_are_added_to_a_kind_and_left_out_of_it_and_another_kind_leaves_that() {
    let mut phone = of_kind(0, Instrument::Grand);
    assert!(!has(&phone, "checking") && has(&phone, "drop"));
    let not_done = phone.state().steps_not_done();
    assert!(
        not_done
            .iter()
            .any(|(id, name)| id.as_str() == "checking" && name == "Checking distance")
    );
    assert!(
        not_done
            .iter()
            .all(|(id, _)| id.as_str() != "final_regulation")
    );
    let left_out = |step: &str, out| EntryKind::LeftOut {
        step: step_id(step),
        out,
    };
    phone.act(left_out("checking", false));
    phone.act(left_out("drop", true));
    assert!(has(&phone, "checking") && !has(&phone, "drop"));
    assert_eq!(
        phone.state().step("checking").unwrap().place,
        Some(Place::Piano)
    );
    phone.act(choose(&JobKind::built_in(Instrument::Grand)[1]));
    assert!(has(&phone, "checking") && !has(&phone, "drop") && has(&phone, "stand_in"));
    let chosen = phone.job.log().last().unwrap().id;
    phone.act(EntryKind::Undo { entry: chosen });
    assert!(!has(&phone, "stand_in") && has(&phone, "checking"));
}

#[test]
fn an_own_step_is_in_a_job_of_every_kind_and_is_done_in_the_piano_without_a_bench() {
    let mut phone = of_kind(0, Instrument::Grand);
    phone.act(EntryKind::OwnStep {
        step: Box::new(OwnStep {
            id: step_id("own_wires"),
            name: "Wires looked at".to_owned(),
            stage: Stage::Regulate,
            after: Some(step_id("let_off")),
            per: Per::Note,
            kind: Kind::Good,
            minutes: 5,
            how: String::new(),
        }),
    });
    let own = phone.state().step("own_wires").unwrap();
    assert_eq!(own.place, Some(Place::Piano));
}

#[test]
fn a_kind_of_the_other_instrument_has_no_effect() {
    let mut phone = of_kind(0, Instrument::Grand);
    let set = Box::new(Details {
        instrument: Some(Instrument::Upright),
        ..Details::default()
    });
    let mut upright = Phone::new(2);
    upright.act(EntryKind::Details { set: set.clone() });
    phone.act(EntryKind::Details { set });
    assert_eq!(phone.state().kind(), None);
    assert_eq!(phone.state().order(), upright.state().order());
}

#[test]
fn the_sample_measures_what_the_kind_or_the_setup_says() {
    let mut phone = of_kind(0, Instrument::Grand);
    let takes = |phone: &Phone, step: &str| {
        let step = phone.state().step(step).unwrap();
        step.takes.iter().map(|m| m.to_string()).collect::<Vec<_>>()
    };
    let of_kind = ["let_off", "drop", "aftertouch", "spring"];
    assert_eq!(takes(&phone, "found_sample"), of_kind);
    assert_eq!(takes(&phone, "left_sample"), of_kind);
    let measures = |ids: &[&'static str]| EntryKind::Setup {
        set: Box::new(Setup {
            sample_measures: Some(ids.iter().map(|id| MeasureId::of(id)).collect()),
            ..Setup::default()
        }),
    };
    phone.act(measures(&["blow", "up_weight"]));
    assert_eq!(takes(&phone, "found_sample"), ["blow", "up_weight"]);
    // What none of its measures is would be no sample.
    phone.act(measures(&["pitch_a4"]));
    assert_eq!(takes(&phone, "found_sample").len(), 10);
    phone.act(measures(&[]));
    assert_eq!(takes(&phone, "left_sample").len(), 10);
}

#[test]
fn a_sample_goes_note_by_note_where_it_is_set_up_so() {
    let mut phone = of_kind(0, Instrument::Grand);
    let items = |phone: &Phone| {
        let step = phone.state().step("found_sample").unwrap();
        phone.state().items(step)
    };
    let by_measure = items(&phone);
    assert_eq!(by_measure[0].measure, by_measure[1].measure);
    phone.act(EntryKind::Setup {
        set: Box::new(Setup {
            sample_by_note: Some(true),
            ..Setup::default()
        }),
    });
    let by_note = items(&phone);
    let first: Vec<_> = by_note[..4].iter().map(|i| i.measure.to_string()).collect();
    assert_eq!(first, ["let_off", "drop", "aftertouch", "spring"]);
    assert!(by_note[..4].iter().all(|i| i.on == by_note[0].on));
    assert_eq!(by_note.len(), by_measure.len());
}

#[test]
fn what_a_grade_calls_for_is_done_where_the_grade_is_taken() {
    let grade = |phone: &mut Phone, measure: &str| {
        phone.read_as(Occasion::AsFound, measure, Subject::Section(0), PIANO, 2);
    };
    for (at, decided, renewed) in [
        (1, true, true),
        (2, true, true),
        (3, true, false),
        (4, false, false),
    ] {
        let mut phone = of_kind(at, Instrument::Grand);
        grade(&mut phone, "wear_knuckles");
        grade(&mut phone, "decide_knuckles");
        assert_eq!(has(&phone, "decisions"), decided, "{at}");
        assert_eq!(has(&phone, "knuckles_renewed"), renewed, "{at}");
    }
    let mut phone = of_kind(4, Instrument::Grand);
    phone.read("voicing", on(40), PIANO, 0);
    assert!(has(&phone, "hammers_filed"));
}
