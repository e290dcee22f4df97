//! Tests of working time.

use super::*;

fn open(phone: &mut Phone, step: &str) {
    let step = step_id(step);
    phone.act(EntryKind::PassOpened { step });
}

fn close(phone: &mut Phone, step: &str) {
    let step = step_id(step);
    phone.act(EntryKind::PassClosed { step });
}

fn minutes(phone: &Phone, step: &str) -> i64 {
    phone.state().spent_ms(step) / MINUTE_MS
}

#[test]
fn minutes_count_between_the_entries_of_an_open_pass_and_long_pauses_do_not() {
    let mut phone = Phone::new(1);
    phone.wait(1);
    open(&mut phone, "let_off");
    phone.wait(2);
    phone.read("let_off", on(1), BENCH, 2_000_000);
    // A pause for lunch is not counted.
    phone.wait(45);
    phone.read("let_off", on(2), BENCH, 2_000_000);
    phone.wait(3);
    phone.read("let_off", on(3), BENCH, 2_000_000);
    phone.wait(1);
    close(&mut phone, "let_off");
    phone.wait(2);
    phone.read("let_off", on(4), BENCH, 2_000_000);
    assert_eq!(minutes(&phone, "let_off"), 6);
    assert_eq!(phone.progress("let_off").spent_ms, 6 * MINUTE_MS);
}

#[test]
fn a_pause_of_three_minutes_counts_and_one_a_moment_longer_does_not() {
    let mut phone = Phone::new(1);
    open(&mut phone, "drop");
    phone.at_ms += 3 * MINUTE_MS;
    phone.read("drop", on(1), BENCH, 2_000_000);
    assert_eq!(phone.state().spent_ms("drop"), 3 * MINUTE_MS);
    phone.at_ms += 3 * MINUTE_MS + 1;
    phone.read("drop", on(2), BENCH, 2_000_000);
    assert_eq!(phone.state().spent_ms("drop"), 3 * MINUTE_MS);
}

#[test]
fn a_clock_set_back_takes_no_minutes_away() {
    let mut phone = Phone::new(1);
    open(&mut phone, "drop");
    phone.wait(2);
    phone.read("drop", on(1), BENCH, 2_000_000);
    phone.wait(-60);
    phone.read("drop", on(2), BENCH, 2_000_000);
    phone.wait(1);
    phone.read("drop", on(3), BENCH, 2_000_000);
    assert_eq!(minutes(&phone, "drop"), 3);
}

#[test]
fn opening_another_pass_closes_the_first_and_a_late_close_of_it_does_no_harm() {
    let mut phone = Phone::new(1);
    open(&mut phone, "drop");
    phone.wait(1);
    open(&mut phone, "spring");
    close(&mut phone, "drop");
    phone.wait(2);
    phone.read("spring", on(1), BENCH, 2);
    assert_eq!((minutes(&phone, "drop"), minutes(&phone, "spring")), (1, 2));
}

#[test]
fn two_devices_each_count_their_own_open_pass() {
    let mut stack = Phone::new(1);
    let mut keys = stack.copy(2);
    open(&mut stack, "drop");
    open(&mut keys, "key_tops");
    stack.wait(2);
    stack.read("drop", on(1), BENCH, 2_000_000);
    keys.wait(3);
    keys.read("key_tops", on(1), BENCH, 1);
    stack.job.merge(keys.job.log().entries().to_vec());
    assert_eq!(
        (minutes(&stack, "drop"), minutes(&stack, "key_tops")),
        (2, 3)
    );
}

fn state_minutes(phone: &mut Phone, step: &str, minutes: u32) -> Entry {
    phone.act(EntryKind::MinutesStated {
        step: step_id(step),
        minutes,
    })
}

#[test]
fn a_long_work_without_entries_has_the_minutes_that_were_stated() {
    let mut phone = Phone::new(1);
    open(&mut phone, "tuning");
    phone.wait(95);
    phone.read("tuning", Subject::Whole, PIANO, 1);
    close(&mut phone, "tuning");
    assert_eq!(minutes(&phone, "tuning"), 0);
    assert!(!phone.progress("tuning").time_stated);
    let stated = state_minutes(&mut phone, "tuning", 90);
    assert_eq!(minutes(&phone, "tuning"), 90);
    assert!(phone.progress("tuning").time_stated);
    phone.undo(&stated);
    assert_eq!(minutes(&phone, "tuning"), 0);
    assert!(!phone.progress("tuning").time_stated);
}

#[test]
fn stated_minutes_stand_for_all_before_and_what_is_counted_later_is_added() {
    let mut phone = Phone::new(1);
    open(&mut phone, "drop");
    phone.wait(2);
    phone.read("drop", on(1), BENCH, 2_000_000);
    state_minutes(&mut phone, "drop", 30);
    phone.wait(3);
    phone.read("drop", on(2), BENCH, 2_000_000);
    assert_eq!(minutes(&phone, "drop"), 33);
    state_minutes(&mut phone, "drop", 40);
    assert_eq!(minutes(&phone, "drop"), 40);
}

#[test]
fn time_by_device_adds_up_to_the_time_of_the_step() {
    let mut stack = Phone::new(1);
    open(&mut stack, "drop");
    let mut keys = stack.copy(2);
    open(&mut keys, "drop");
    for phone in [&mut stack, &mut keys] {
        phone.wait(2);
        phone.read("drop", on(1), BENCH, 2_000_000);
    }
    stack.job.merge(keys.job.log().entries().to_vec());
    let by_replica = |phone: &Phone| -> Vec<i64> {
        let all = phone.job.spent_by_device();
        all.into_iter().map(|(.., ms)| ms / MINUTE_MS).collect()
    };
    assert_eq!(by_replica(&stack), [2, 2]);
    let stated = state_minutes(&mut stack, "drop", 25);
    assert_eq!(
        (by_replica(&stack), minutes(&stack, "drop")),
        (vec![25], 25)
    );
    stack.undo(&stated);
    assert_eq!(
        (by_replica(&stack), minutes(&stack, "drop")),
        (vec![2, 2], 4)
    );
}
