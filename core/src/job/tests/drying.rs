//! Tests of drying time.

use super::*;

const DRYING: u32 = 720;

fn dried(minutes: u32) -> (Phone, Entry) {
    let mut phone = Phone::new(1);
    let started = phone.act(EntryKind::DryingStarted {
        step: step_id("cauls_in"),
        minutes,
    });
    (phone, started)
}

fn end(phone: &mut Phone) -> Entry {
    phone.act(EntryKind::DryingEnded {
        step: step_id("cauls_in"),
        reason: "warm room, bushings dry".to_owned(),
    })
}

fn wait(phone: &Phone) -> Drying {
    phone.state().drying("cauls_in").unwrap()
}

#[test]
fn a_cure_ends_at_its_wall_time() {
    let (phone, _) = dried(DRYING);
    let until = NINE_MS + i64::from(DRYING) * MINUTE_MS;
    let wait = wait(&phone);
    assert_eq!((wait.from_ms, wait.until_ms), (NINE_MS, until));
    assert!(!wait.is_over(until - 1));
    assert_eq!(wait.minutes_left(until - 1), 1);
    assert_eq!(wait.minutes_left(NINE_MS), 720);
    assert!(wait.is_over(until));
    assert_eq!(wait.minutes_left(until), 0);
    assert_eq!(wait.ended, None);
}

#[test]
fn a_cure_ended_early_keeps_its_reason_and_undo_lets_it_run_on() {
    let (mut phone, _) = dried(DRYING);
    let ended = end(&mut phone);
    assert_eq!(
        wait(&phone).ended.as_deref(),
        Some("warm room, bushings dry")
    );
    assert!(wait(&phone).is_over(NINE_MS));
    let undo = phone.undo(&ended);
    assert!(!wait(&phone).is_over(NINE_MS));
    phone.undo(&undo);
    assert!(wait(&phone).is_over(NINE_MS));
}

#[test]
fn an_undone_start_leaves_no_cure_or_the_one_before() {
    let (mut phone, first) = dried(DRYING);
    phone.wait(10);
    let second = phone.act(EntryKind::DryingStarted {
        step: step_id("cauls_in"),
        minutes: 60,
    });
    assert_eq!(wait(&phone).from_ms, phone.at_ms);
    phone.undo(&second);
    assert_eq!(wait(&phone).from_ms, NINE_MS);
    phone.undo(&first);
    assert_eq!(phone.state().drying("cauls_in"), None);
}

#[test]
fn a_cure_begun_again_after_an_early_end_runs() {
    let (mut phone, _) = dried(DRYING);
    end(&mut phone);
    phone.wait(5);
    phone.act(EntryKind::DryingStarted {
        step: step_id("cauls_in"),
        minutes: 30,
    });
    assert!(!wait(&phone).is_over(phone.at_ms));
    assert_eq!(wait(&phone).ended, None);
}

#[test]
fn an_end_without_a_start_is_no_cure() {
    let mut phone = Phone::new(1);
    end(&mut phone);
    assert_eq!(phone.state().drying("cauls_in"), None);
}

/// With the phone's clock set back an hour, drying is not over before its wall time has come.
#[test]
fn a_clock_set_back_makes_no_cure_shorter() {
    let (phone, _) = dried(DRYING);
    let hour_before = NINE_MS - 60 * MINUTE_MS;
    assert!(!wait(&phone).is_over(hour_before));
    assert_eq!(wait(&phone).minutes_left(hour_before), 780);
}

#[test]
fn the_longest_cure_from_the_last_moment_does_not_overflow() {
    let mut phone = Phone::new(1);
    phone.at_ms = i64::MAX;
    phone.act(EntryKind::DryingStarted {
        step: step_id("cauls_in"),
        minutes: u32::MAX,
    });
    assert!(!wait(&phone).is_over(i64::MIN));
    assert!(wait(&phone).minutes_left(i64::MIN) > 0);
}

/// What the drying of the key bushings delays of a step, in minutes from now.
fn dries_before(phone: &Phone, step: &str) -> Option<i64> {
    let step = phone.state().step(step).unwrap();
    let (of, until_ms) = phone.state().drying_before(step, phone.at_ms)?;
    assert_eq!(of, step_id("cauls_in"));
    Some((until_ms - phone.at_ms) / MINUTE_MS)
}

#[test]
fn work_that_needs_a_step_dry_is_asked_about_until_it_is_confirmed_or_dry() {
    let (mut phone, _) = dried(DRYING);
    phone.wait(20);
    assert_eq!(dries_before(&phone, "cauls_out"), Some(700));
    // The keys are eased after the cauls are out, so they need the bushings dry too.
    assert_eq!(dries_before(&phone, "keys_eased"), Some(700));
    assert_eq!(dries_before(&phone, "pins_polished"), None);
    let confirmed = phone.read("cauls_out", on(1), BENCH, 1);
    assert_eq!(dries_before(&phone, "cauls_out"), None);
    phone.undo(&confirmed);
    assert_eq!(dries_before(&phone, "cauls_out"), Some(700));
    phone.wait(700);
    assert_eq!(dries_before(&phone, "cauls_out"), None);
}

#[test]
fn cauls_that_are_all_out_and_a_wait_ended_early_hold_nothing_up() {
    let (mut phone, _) = dried(DRYING);
    phone.pass("cauls_out");
    assert_eq!(dries_before(&phone, "keys_eased"), None);
    let (mut phone, _) = dried(DRYING);
    end(&mut phone);
    assert_eq!(dries_before(&phone, "cauls_out"), None);
}

#[test]
fn cauls_drawn_before_they_were_put_in_again_are_asked_about_again() {
    let mut phone = Phone::new(1);
    phone.pass("cauls_out");
    phone.wait(1);
    phone.act(EntryKind::DryingStarted {
        step: step_id("cauls_in"),
        minutes: DRYING,
    });
    assert_eq!(dries_before(&phone, "cauls_out"), Some(720));
}
