//! Tests of working time.

use super::*;

fn open(phone: &mut Phone, step: &str) {
    phone.act(EntryKind::PassOpened {
        step: step_id(step),
        utc_offset_minutes: None,
    });
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
    phone.read("drop", on(1), BENCH, 2_000_000);
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

/// As version 0.1 stated minutes: all in all, whoever worked.
fn state_minutes(phone: &mut Phone, step: &str, minutes: u32) -> Entry {
    phone.act(EntryKind::MinutesStated {
        step: step_id(step),
        minutes,
        worked: None,
        instead_of: None,
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

/// The times of a step: day, name, minutes, and whether they are stated.
fn times(phone: &Phone, step: &str) -> Vec<(String, Option<String>, i64, bool)> {
    let times = phone.state().work_times_of(step).into_iter();
    let told = times.map(|t| {
        let (minutes, is_stated) = (t.minutes(), t.is_stated());
        (
            t.worked.day.to_string(),
            t.worked.technician,
            minutes,
            is_stated,
        )
    });
    told.collect()
}

/// One line of [`times`].
fn time(
    day: &str,
    name: Option<&str>,
    minutes: i64,
    is_stated: bool,
) -> (String, Option<String>, i64, bool) {
    (day.to_owned(), name.map(str::to_owned), minutes, is_stated)
}

fn sign(phone: &mut Phone, name: &str) {
    let technician = Some(name.to_owned());
    phone.act(EntryKind::Details {
        set: Box::new(Details {
            technician,
            ..Details::default()
        }),
    });
}

/// Opens a pass, reads a note two minutes later, and closes the pass.
fn two_minutes(phone: &mut Phone, step: &str, note: i64) {
    open(phone, step);
    phone.wait(2);
    phone.read(step, on(note), BENCH, 2_000_000);
    close(phone, step);
}

fn work_day(day: &str, name: Option<&str>) -> WorkDay {
    WorkDay {
        day: day.parse().unwrap(),
        technician: name.map(str::to_owned),
    }
}

/// States the minutes of a person on a day.
fn state_for(phone: &mut Phone, step: &str, minutes: u32, worked: WorkDay) -> Entry {
    let stated = phone
        .state()
        .minutes_stated(step_id(step), minutes, worked, None);
    phone.act(stated)
}

const TODAY: &str = "2026-09-21";

#[test]
fn time_by_person_adds_up_to_the_time_of_the_step() {
    let mut stack = Phone::new(1);
    let mut keys = stack.copy(2);
    for (phone, name) in [(&mut stack, "R. Sample"), (&mut keys, "S. Pattern")] {
        sign(phone, name);
        two_minutes(phone, "drop", 1);
    }
    stack.job.merge(keys.job.log().entries().to_vec());
    let counted = [
        time(TODAY, Some("R. Sample"), 2, false),
        time(TODAY, Some("S. Pattern"), 2, false),
    ];
    assert_eq!(times(&stack, "drop"), counted);
    assert_eq!(minutes(&stack, "drop"), 4);
    let stated = state_minutes(&mut stack, "drop", 25);
    assert_eq!(
        times(&stack, "drop"),
        [time(TODAY, Some("R. Sample"), 25, true)]
    );
    assert_eq!(minutes(&stack, "drop"), 25);
    stack.undo(&stated);
    assert_eq!(times(&stack, "drop"), counted);
}

#[test]
fn who_only_looks_or_notes_a_remark_counts_nothing() {
    let mut office = Phone::new(1);
    sign(&mut office, "Office");
    open(&mut office, "natural_level");
    office.wait(2);
    office.act(EntryKind::Remark {
        on: on(1),
        step: Some(step_id("natural_level")),
        fault: true,
        text: "Buzzes.".to_owned(),
    });
    office.wait(1);
    close(&mut office, "natural_level");
    assert_eq!(times(&office, "natural_level"), []);
    assert_eq!(office.state().workers("natural_level"), []);
    assert_eq!(office.state().spent_ms("natural_level"), 0);
    // What was looked at before the first reading is part of the work.
    open(&mut office, "natural_level");
    office.wait(3);
    office.act(EntryKind::Undo {
        entry: office.job.log().last().unwrap().id,
    });
    office.wait(2);
    office.read("natural_level", on(1), BENCH, 0);
    assert_eq!(minutes(&office, "natural_level"), 5);
}

#[test]
fn two_technicians_on_one_phone_have_their_own_time() {
    let mut phone = Phone::new(1);
    // The name is given after the first minutes: they are of the same hands.
    two_minutes(&mut phone, "drop", 1);
    sign(&mut phone, "R. Sample");
    two_minutes(&mut phone, "drop", 2);
    let second = phone.job.log().last().unwrap().clone();
    sign(&mut phone, "S. Pattern");
    two_minutes(&mut phone, "drop", 3);
    let times = times(&phone, "drop");
    let told = [
        time(TODAY, Some("R. Sample"), 4, false),
        time(TODAY, Some("S. Pattern"), 2, false),
    ];
    assert_eq!(times, told);
    let last = work_day(TODAY, Some("S. Pattern"));
    assert_eq!(phone.state().last_worked("drop"), Some(last));
    assert_eq!(phone.job.technician_of(&second), Some("R. Sample"));
    assert_eq!(phone.state().technician(phone.replica), Some("S. Pattern"));
}

#[test]
fn a_name_that_is_taken_back_owns_no_time() {
    let mut phone = Phone::new(1);
    sign(&mut phone, "R. Sample");
    let slip = phone.job.log().last().unwrap().clone();
    two_minutes(&mut phone, "drop", 1);
    phone.undo(&slip);
    assert_eq!(times(&phone, "drop"), [time(TODAY, None, 2, false)]);
    assert_eq!(phone.state().technician(phone.replica), None);
}

#[test]
fn minutes_are_stated_for_a_person_a_day_and_a_step_whoever_states_them() {
    let mut phone = Phone::new(1);
    sign(&mut phone, "R. Sample");
    two_minutes(&mut phone, "drop", 1);
    let mut office = phone.copy(2);
    sign(&mut office, "Office");
    let pattern = work_day("2026-09-20", Some("S. Pattern"));
    state_for(&mut office, "drop", 95, pattern.clone());
    assert_eq!(
        times(&office, "drop"),
        [
            time("2026-09-20", Some("S. Pattern"), 95, true),
            time(TODAY, Some("R. Sample"), 2, false),
        ]
    );
    // The same key again corrects it, and nothing else.
    let corrected = state_for(&mut office, "drop", 80, pattern);
    assert_eq!(minutes(&office, "drop"), 82);
    let names = office.state().technician_names();
    assert_eq!(names, ["Office", "R. Sample", "S. Pattern"]);
    let stated = &office.state().work_times_of("drop")[0];
    let by = Some("Office".to_owned());
    let at_ms = corrected.at_ms;
    assert_eq!(stated.source, TimeSource::Stated { by, at_ms });
    office.undo(&corrected);
    assert_eq!(minutes(&office, "drop"), 97);
    // What is counted later on that day is added.
    let sample = work_day(TODAY, Some("R. Sample"));
    state_for(&mut office, "drop", 30, sample);
    phone.job.merge(office.job.log().entries().to_vec());
    phone.wait(60);
    two_minutes(&mut phone, "drop", 2);
    assert_eq!(
        times(&phone, "drop")[1],
        time(TODAY, Some("R. Sample"), 32, true)
    );
    assert_eq!(phone.job.state(), &State::folded(phone.job.log()));
}

#[test]
fn a_corrected_name_or_day_moves_the_time_in_one_entry() {
    let mut phone = Phone::new(1);
    two_minutes(&mut phone, "drop", 1);
    let nobody = work_day(TODAY, None);
    let sample = work_day(TODAY, Some("R. Sample"));
    state_for(&mut phone, "drop", 10, sample.clone());
    let moved = phone
        .state()
        .minutes_stated(step_id("drop"), 2, sample.clone(), Some(nobody));
    let moved = phone.act(moved);
    assert_eq!(
        times(&phone, "drop"),
        [time(TODAY, Some("R. Sample"), 12, true)]
    );
    phone.undo(&moved);
    assert_eq!(minutes(&phone, "drop"), 12);
    assert_eq!(times(&phone, "drop").len(), 2);
    // To another day.
    let day_before = work_day("2026-09-20", Some("R. Sample"));
    let moved = phone
        .state()
        .minutes_stated(step_id("drop"), 15, day_before, Some(sample));
    phone.act(moved);
    assert_eq!(
        times(&phone, "drop"),
        [
            time("2026-09-20", Some("R. Sample"), 15, true),
            time(TODAY, None, 2, false),
        ]
    );
}

/// Files of version 0.1 say only how many minutes, all in all.
#[test]
fn minutes_without_a_person_belong_to_the_one_who_did_the_work() {
    let mut phone = Phone::new(1);
    sign(&mut phone, "R. Sample");
    open(&mut phone, "tuning");
    phone.wait(95);
    phone.read("tuning", Subject::Whole, PIANO, 1);
    let mut office = phone.copy(2);
    sign(&mut office, "Office");
    state_minutes(&mut office, "tuning", 90);
    assert_eq!(
        times(&office, "tuning"),
        [time(TODAY, Some("R. Sample"), 90, true)]
    );
    // Of two who worked at it neither is known to have taken the time.
    sign(&mut phone, "S. Pattern");
    phone.read("tuning", Subject::Whole, PIANO, 1);
    phone.wait(1);
    phone.job.merge(office.job.log().entries().to_vec());
    let mut office = phone.copy(3);
    sign(&mut office, "Office");
    state_minutes(&mut office, "tuning", 100);
    assert_eq!(times(&office, "tuning"), [time(TODAY, None, 100, true)]);
    // Nobody worked at it.
    state_minutes(&mut office, "voicing", 20);
    assert_eq!(times(&office, "voicing"), [time(TODAY, None, 20, true)]);
}

#[test]
fn the_day_of_work_is_that_of_the_place() {
    let mut phone = Phone::new(1);
    // 14:13 in UTC is 00:13 of the next day where the clocks are ten hours ahead.
    for (offset, day) in [(0, TODAY), (600, "2026-09-22"), (-900, "2026-09-20")] {
        phone.act(EntryKind::PassOpened {
            step: step_id("drop"),
            utc_offset_minutes: Some(offset),
        });
        phone.at_ms += MINUTE_MS;
        phone.read("drop", on(1), BENCH, 2_000_000);
        phone.at_ms -= MINUTE_MS;
        close(&mut phone, "drop");
        let days: Vec<String> = times(&phone, "drop").into_iter().map(|t| t.0).collect();
        assert!(days.contains(&day.to_owned()), "{days:?}");
    }
}

#[test]
fn a_pass_tells_how_long_it_has_been_open() {
    let mut phone = Phone::new(1);
    assert_eq!(
        phone.state().pass_open_minutes(phone.replica, NINE_MS),
        None
    );
    open(&mut phone, "tuning");
    phone.wait(95);
    phone.read("tuning", Subject::Whole, PIANO, 1);
    let open_minutes = |phone: &Phone| phone.state().pass_open_minutes(phone.replica, phone.at_ms);
    assert_eq!(open_minutes(&phone), Some(95));
    assert_eq!(minutes(&phone, "tuning"), 0);
    close(&mut phone, "tuning");
    assert_eq!(open_minutes(&phone), None);
}
