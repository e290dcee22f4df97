//! Tests of readings as found, working and as left, on the bench and in the piano.

use super::*;

#[test]
fn what_was_found_is_never_disturbed_and_never_in_force() {
    let mut phone = Phone::new(1);
    phone.read_as(Occasion::AsFound, "aftertouch", on(40), PIANO, 1_600_000);
    phone.correct("blow", on(40), BENCH);
    phone.correct("aftertouch", on(40), PIANO);
    assert_eq!(phone.state().disturbed("aftertouch", on(40), PIANO), None);
    let measure_state = phone
        .state()
        .measure_state("aftertouch", on(40), PIANO)
        .unwrap();
    assert_eq!(measure_state.in_effect(), None);
    assert_eq!(measure_state.latest().unwrap().occasion, Occasion::AsFound);
    let found = phone.state().step("found_sample").unwrap();
    let item = Item {
        measure: MeasureId::of("aftertouch"),
        on: on(40),
    };
    assert!(matches!(
        phone.state().item_state(found, &item),
        ItemState::Read(..)
    ));
}

#[test]
fn an_occasion_is_what_the_entry_says_whatever_came_before() {
    let mut phone = Phone::new(1);
    phone.read("blow", on(40), PIANO, 45_000_000);
    phone.read_as(Occasion::AsLeft, "blow", on(40), PIANO, 45_100_000);
    phone.read_as(Occasion::AsFound, "blow", on(40), PIANO, 47_000_000);
    let measure_state = phone.state().measure_state("blow", on(40), PIANO).unwrap();
    let base = |occasion| measure_state.of(occasion).unwrap().value.base();
    assert_eq!(base(Occasion::AsFound), 47_000_000);
    assert_eq!(base(Occasion::Working), 45_000_000);
    assert_eq!(base(Occasion::AsLeft), 45_100_000);
    // As found, so not in effect although it is the latest.
    assert_eq!(measure_state.in_effect().unwrap().value.base(), 45_100_000);
}

#[test]
fn a_survey_counts_what_was_found_and_the_proof_what_was_left() {
    let mut phone = Phone::new(1);
    let sample = phone.state().samples()[0];
    let subject = Subject::Note(sample);
    phone.read("blow", subject, PIANO, 45_000_000);
    assert_eq!(
        (
            phone.progress("found_sample").read,
            phone.progress("left_sample").read
        ),
        (0, 0)
    );
    phone.read_as(Occasion::AsFound, "blow", subject, PIANO, 47_000_000);
    assert_eq!(
        (
            phone.progress("found_sample").read,
            phone.progress("left_sample").read
        ),
        (1, 0)
    );
    phone.read_as(Occasion::AsLeft, "blow", subject, PIANO, 45_000_000);
    assert_eq!(
        (
            phone.progress("found_sample").read,
            phone.progress("left_sample").read
        ),
        (1, 1)
    );
}

#[test]
fn a_reading_as_left_is_stale_once_its_note_was_turned_and_read_for_work() {
    let mut phone = Phone::new(1);
    let subject = Subject::Note(phone.state().samples()[0]);
    phone.read_as(Occasion::AsLeft, "blow", subject, PIANO, 45_000_000);
    phone.correct("blow", subject, PIANO);
    phone.read("blow", subject, PIANO, 44_000_000);
    let left = phone.state().step("left_sample").unwrap();
    let item = Item {
        measure: MeasureId::of("blow"),
        on: subject,
    };
    let state = phone.state().item_state(left, &item);
    assert!(
        matches!(state, ItemState::Remeasure(r, ..) if r.value.base() == 45_000_000),
        "{state:?}"
    );
}

/// The time of the work between the survey and the first working reading is unknown.
#[test]
fn the_first_reading_after_the_survey_disturbs_nothing_by_itself() {
    let mut phone = Phone::new(1);
    phone.read_as(Occasion::AsFound, "natural_dip", on(40), PIANO, 10_600_000);
    phone.read("aftertouch", on(40), PIANO, 1_150_000);
    phone.read_as(Occasion::AsLeft, "natural_dip", on(40), PIANO, 10_000_000);
    assert_eq!(phone.state().disturbed("aftertouch", on(40), PIANO), None);
}

#[test]
fn the_action_is_on_the_bench_from_its_coming_out_until_its_going_in() {
    let mut phone = Phone::new(1);
    assert_eq!(phone.state().place(), PIANO);
    let out = phone.read("action_out", Subject::Whole, PIANO, 1);
    assert_eq!(phone.state().place(), BENCH);
    phone.undo(&out);
    assert_eq!(phone.state().place(), PIANO);
    phone.read("action_out", Subject::Whole, PIANO, 1);
    phone.read("action_in", Subject::Whole, PIANO, 1);
    assert_eq!(phone.state().place(), PIANO);
    phone.read("action_out", Subject::Whole, PIANO, 1);
    assert_eq!(phone.state().place(), BENCH);
}

#[test]
fn a_tick_taken_away_is_still_to_be_done() {
    let mut phone = Phone::new(1);
    phone.read("action_out", Subject::Whole, PIANO, 1);
    assert!(phone.progress("action_out").is_read());
    phone.read("action_out", Subject::Whole, PIANO, 0);
    assert!(!phone.progress("action_out").is_read());
    assert_eq!(phone.state().place(), PIANO);
}

#[test]
fn needs_work_is_read_and_out() {
    let mut phone = Phone::new(1);
    phone.read("keys_eased", on(5), BENCH, 0);
    let progress = phone.progress("keys_eased");
    assert_eq!((progress.read, progress.out, progress.on_target), (1, 1, 0));
    phone.read("keys_eased", on(5), BENCH, 1);
    let progress = phone.progress("keys_eased");
    assert_eq!((progress.read, progress.out, progress.on_target), (1, 0, 1));
}

#[test]
fn bench_and_piano_readings_of_one_quantity_are_kept_apart() {
    let mut phone = Phone::new(1);
    phone.read("blow", on(40), BENCH, 45_000_000);
    phone.read("blow", on(40), PIANO, 46_000_000);
    let base = |place| {
        let measure_state = phone.state().measure_state("blow", on(40), place).unwrap();
        measure_state.in_effect().unwrap().value.base()
    };
    assert_eq!((base(BENCH), base(PIANO)), (45_000_000, 46_000_000));
    assert_eq!(phone.progress("blow").read, 1);
    assert_eq!(phone.progress("final_regulation").read, 1);
}
