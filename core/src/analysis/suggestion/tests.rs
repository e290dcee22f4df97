//! Tests of the suggestions.

use super::*;
use crate::job::tests::{BENCH, MINUTE_MS, PIANO, Phone, on, step_id};
use crate::job::{EntryKind, Subject};

fn now(phone: &Phone) -> Vec<Suggestion> {
    let all = phone.state().progress(phone.at_ms);
    suggest_next(phone.state(), &all, phone.at_ms)
}

fn reason(phone: &Phone, step: &str) -> Option<Reason> {
    let found = now(phone).into_iter().find(|n| n.step.as_str() == step);
    found.map(|n| n.reason)
}

fn first(phone: &Phone) -> (String, Reason) {
    let now = now(phone).remove(0);
    (now.step.to_string(), now.reason)
}

/// The survey done and the action out.
fn on_the_bench() -> Phone {
    let mut phone = Phone::new(1);
    for step in [
        "climate",
        "pitch_a4",
        "string_height",
        "found_sample",
        "wear",
        "action_out",
    ] {
        phone.pass(step);
    }
    phone
}

#[test]
fn a_new_job_begins_with_the_first_step_that_needs_nothing() {
    let phone = Phone::new(1);
    assert_eq!(first(&phone), ("climate".to_owned(), Reason::Ready));
    assert_eq!(reason(&phone, "blow"), None);
}

#[test]
fn a_cure_is_begun_first_then_waited_for_then_what_it_held_up_comes_first() {
    let mut phone = on_the_bench();
    phone.pass("key_pin");
    phone.pass("cauls_in");
    assert_eq!(
        first(&phone),
        ("cauls_in".to_owned(), Reason::StartDrying { minutes: 720 })
    );
    assert_eq!(reason(&phone, "cauls_out"), None);
    phone.act(EntryKind::DryingStarted {
        step: step_id("cauls_in"),
        minutes: 720,
    });
    let until_ms = phone.at_ms + 720 * MINUTE_MS;
    let drying = Reason::Drying {
        of: step_id("cauls_in"),
        until_ms,
    };
    assert_eq!(now(&phone).last().unwrap().reason, drying);
    assert_eq!(now(&phone).last().unwrap().step.as_str(), "cauls_out");
    assert_eq!(reason(&phone, "cauls_in"), None);
    phone.wait(720);
    let over = Reason::DryingOver {
        of: step_id("cauls_in"),
    };
    assert_eq!(first(&phone), ("cauls_out".to_owned(), over));
}

#[test]
fn what_was_disturbed_comes_before_what_was_begun_and_that_before_what_is_ready() {
    let mut phone = on_the_bench();
    phone.pass_what_needs("aftertouch");
    phone.pass("aftertouch");
    phone.read("drop", on(1), BENCH, 2_000_000);
    phone.correct("blow", on(7), BENCH);
    phone.read("blow", on(7), BENCH, 45_000_000);
    let reasons: Vec<Reason> = now(&phone).into_iter().map(|n| n.reason).collect();
    let again = |adjusted| Reason::Remeasure { count: 1, adjusted };
    assert_eq!(reasons[0], again(0));
    assert_eq!(first(&phone).0, "aftertouch");
    // After its own correction, no other work is to blame.
    phone.correct("drop", on(1), BENCH);
    assert_eq!(reason(&phone, "drop"), Some(again(1)));
    phone.read("drop", on(1), BENCH, 2_000_000);
    let begun = reasons
        .iter()
        .position(|r| matches!(r, Reason::GoOn { .. }));
    let ready = reasons.iter().position(|r| *r == Reason::Ready);
    assert!(begun < ready && begun.is_some(), "{reasons:?}");
    phone.read("aftertouch", on(7), BENCH, 1_150_000);
    assert_eq!(reason(&phone, "aftertouch"), None);
}

#[test]
fn a_begun_step_says_how_many_are_left() {
    let mut phone = on_the_bench();
    phone.pass_what_needs("let_off");
    for note in 1..=8 {
        phone.read("let_off", on(note), BENCH, 2_000_000);
    }
    assert_eq!(reason(&phone, "let_off"), Some(Reason::GoOn { left: 80 }));
}

#[test]
fn what_the_action_must_be_moved_for_comes_after_what_can_be_done_where_it_is() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    let steps: Vec<String> = now(&phone).iter().map(|n| n.step.to_string()).collect();
    let place = |id: &str| steps.iter().position(|s| s == id).unwrap();
    // The survey is first in the order, and the action is on the bench.
    assert!(place("dust") < place("climate"), "{steps:?}");
    // The step that moves the action counts as possible where the action is.
    phone.pass_what_needs("action_in");
    let steps: Vec<String> = now(&phone).iter().map(|n| n.step.to_string()).collect();
    let place = |id: &str| steps.iter().position(|s| s == id).unwrap();
    assert!(place("action_in") < place("climate"), "{steps:?}");
}

#[test]
fn the_sample_as_found_is_not_suggested_once_the_action_is_out() {
    let mut phone = Phone::new(1);
    phone.pass("climate");
    assert_eq!(reason(&phone, "found_sample"), Some(Reason::Ready));
    let out = phone.read("action_out", Subject::Whole, PIANO, 1);
    assert!(phone.progress("found_sample").too_late);
    assert_eq!(reason(&phone, "found_sample"), None);
    // Heights over the key bed are easiest to measure now.
    assert_eq!(reason(&phone, "string_height"), Some(Reason::Ready));
    // Back in the piano, the action is not as it was found.
    phone.pass_what_needs("action_in");
    phone.pass("action_in");
    assert_eq!(reason(&phone, "found_sample"), None);
    phone.undo(&out);
    assert_eq!(reason(&phone, "found_sample"), Some(Reason::Ready));
}

#[test]
fn a_sample_as_found_that_is_measured_or_in_a_job_without_stripping_is_not_too_late() {
    let mut phone = on_the_bench();
    assert!(!phone.progress("found_sample").too_late);
    phone = Phone::new(1);
    phone.act(EntryKind::LeftOut {
        step: step_id("action_out"),
        out: true,
    });
    phone.read("action_out", Subject::Whole, PIANO, 1);
    assert_eq!(reason(&phone, "found_sample"), Some(Reason::Ready));
}

#[test]
fn a_finished_job_has_nothing_to_do() {
    let mut phone = Phone::new(1);
    for step in phone.state().order().steps().to_vec() {
        phone.pass(step.id.as_str());
        if step.drying_minutes > 0 {
            phone.act(EntryKind::DryingStarted {
                step: step.id.clone(),
                minutes: step.drying_minutes,
            });
            phone.wait(i64::from(step.drying_minutes));
        }
    }
    assert_eq!(now(&phone), []);
    let whole = State::stage_progress(&phone.state().progress(phone.at_ms), None);
    assert_eq!(whole.done, whole.steps);
}

#[test]
fn what_to_look_at_comes_after_what_is_ready() {
    let mut phone = Phone::new(1);
    phone.read("action_out", Subject::Whole, PIANO, 1);
    phone.read("play_in", Subject::Whole, BENCH, 1);
    phone.pass("blow");
    assert_eq!(reason(&phone, "blow"), None);
    phone.read("play_in", Subject::Whole, BENCH, 1);
    let sentence = "Check blow on the sample notes: played in again since.".to_owned();
    let look = Reason::Look { sentence };
    assert_eq!(reason(&phone, "blow"), Some(look.clone()));
    let reasons: Vec<Reason> = now(&phone).into_iter().map(|n| n.reason).collect();
    let at = reasons.iter().position(|r| *r == look).unwrap();
    assert!(reasons[..at].contains(&Reason::Ready));
    for note in phone.state().samples().to_vec() {
        phone.read("blow", Subject::Note(note), BENCH, 45_000_000);
    }
    assert_eq!(reason(&phone, "blow"), None);
}

#[test]
fn a_survey_that_was_left_out_is_not_taken_up_once_the_action_was_out() {
    let mut phone = Phone::new(1);
    phone.pass("action_out");
    let next = now(&phone);
    let of_survey = |s: &Suggestion| {
        let step = phone.state().step(s.step.as_str());
        step.is_some_and(|step| step.stage == Stage::Survey)
    };
    assert!(!of_survey(&next[0]), "{:?}", next[0]);
    assert!(next.iter().any(of_survey));
}

#[test]
fn what_an_earlier_step_will_spoil_waits_for_its_turn() {
    let mut phone = Phone::new(1);
    let order = phone.state().order();
    let ids = order.steps().iter().map(|s| s.id.to_string());
    let before: Vec<String> = ids.take_while(|id| id != "drop").collect();
    for step in before {
        phone.pass(&step);
    }
    phone.read("spring", on(1), BENCH, 2);
    phone.correct("checking", on(1), BENCH);
    assert!(matches!(
        reason(&phone, "spring"),
        Some(Reason::Remeasure { .. })
    ));
    let next = now(&phone);
    let place = |id: &str| next.iter().position(|s| s.step.as_str() == id);
    assert!(
        place("drop").is_some() && place("drop") < place("spring"),
        "{next:#?}"
    );
}
