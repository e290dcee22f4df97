//! Tests of the order of the steps: own steps, left out, arranged; details, setup and undo.

use super::*;
use crate::trade::{Per, Stage};

fn own(id: &str, after: Option<&str>) -> EntryKind {
    EntryKind::OwnStep {
        step: Box::new(OwnStep {
            id: step_id(id),
            name: format!("Own {id}"),
            stage: Stage::Regulate,
            after: after.map(step_id),
            per: Per::Note,
            kind: Kind::Good,
            minutes: 20,
            how: String::new(),
        }),
    }
}

fn ids(phone: &Phone) -> Vec<String> {
    let order = phone.state().order();
    order.steps().iter().map(|s| s.id.to_string()).collect()
}

fn place(phone: &Phone, id: &str) -> usize {
    ids(phone)
        .iter()
        .position(|i| i == id)
        .unwrap_or_else(|| panic!("no {id}"))
}

#[test]
fn an_own_step_stands_after_the_one_it_names_and_is_read_like_any() {
    let mut phone = Phone::new(1);
    phone.act(own("shift_spring", Some("blow")));
    assert_eq!(place(&phone, "shift_spring"), place(&phone, "blow") + 1);
    let measure = phone.state().measure("shift_spring").unwrap();
    assert_eq!(
        (measure.name.as_ref(), measure.kind),
        ("Own shift_spring", Kind::Good)
    );
    assert_eq!(phone.progress("shift_spring").expected, 88);
    assert_eq!(phone.progress("shift_spring").blocked_by, [step_id("blow")]);
    phone.act(EntryKind::Reading {
        measure: MeasureId::of("shift_spring"),
        on: on(1),
        place: BENCH,
        occasion: Occasion::Working,
        value: Value::Good(false),
        typed: "needs work".to_owned(),
    });
    assert_eq!(phone.progress("shift_spring").out, 1);
}

#[test]
fn an_own_step_written_anew_takes_the_place_of_the_old_and_undo_brings_that_back() {
    let mut phone = Phone::new(1);
    phone.act(own("x", Some("blow")));
    let again = phone.act(own("x", Some("drop")));
    assert_eq!(place(&phone, "x"), place(&phone, "drop") + 1);
    phone.undo(&again);
    assert_eq!(place(&phone, "x"), place(&phone, "blow") + 1);
}

#[test]
fn own_steps_may_name_each_other_in_any_order() {
    let mut phone = Phone::new(1);
    phone.act(own("second", Some("first")));
    phone.act(own("first", Some("blow")));
    assert_eq!(place(&phone, "second"), place(&phone, "first") + 1);
    assert_eq!(place(&phone, "first"), place(&phone, "blow") + 1);
    // Two steps that come after each other are still in the order.
    phone.act(own("a", Some("b")));
    phone.act(own("b", Some("a")));
    assert_eq!(place(&phone, "b"), place(&phone, "a") + 1);
}

#[test]
fn an_own_step_cannot_take_the_name_of_one_of_the_trades() {
    let mut phone = Phone::new(1);
    let before = ids(&phone);
    phone.act(own("blow", None));
    phone.act(own("hammer_friction", None));
    assert_eq!(ids(&phone), before);
    let blow = phone.state().measure("blow").unwrap();
    assert_eq!(blow.kind, Kind::Length);
}

#[test]
fn too_many_own_steps_are_kept_in_the_log_and_stand_in_no_order() {
    let mut phone = Phone::new(1);
    let trade = ids(&phone).len();
    for i in 0..State::MAX_OWN_STEPS + 5 {
        phone.act(own(&format!("own{i}"), None));
    }
    assert_eq!(ids(&phone).len(), trade + State::MAX_OWN_STEPS);
    assert_eq!(phone.job.log().len(), State::MAX_OWN_STEPS + 5);
}

#[test]
fn a_step_left_out_is_needed_by_no_other_and_comes_back() {
    let mut phone = Phone::new(1);
    let before = ids(&phone);
    let step = step_id("cauls_out");
    phone.act(EntryKind::LeftOut {
        step: step.clone(),
        out: true,
    });
    assert!(phone.state().is_left_out(&step));
    assert!(phone.state().step("cauls_out").is_none());
    assert!(!phone.progress("keys_eased").blocked_by.contains(&step));
    let back = phone.act(EntryKind::LeftOut { step, out: false });
    assert_eq!(ids(&phone), before);
    phone.undo(&back);
    assert!(phone.state().step("cauls_out").is_none());
}

#[test]
fn an_arrangement_within_the_prerequisites_holds_until_it_is_undone() {
    let mut phone = Phone::new(1);
    let before = ids(&phone);
    let mut steps: Vec<StepId> = before.iter().map(|id| step_id(id)).collect();
    let tops = place(&phone, "key_tops");
    let moved = steps.remove(tops);
    steps.insert(0, moved);
    assert!(phone.state().order().arranged(&steps).is_ok());
    let entry = phone.act(EntryKind::Arranged { steps });
    assert_eq!(place(&phone, "key_tops"), 0);
    phone.undo(&entry);
    assert_eq!(ids(&phone), before);
}

#[test]
fn a_refused_arrangement_says_which_prerequisite_it_breaks_and_changes_nothing() {
    let mut phone = Phone::new(1);
    let before = ids(&phone);
    let mut steps: Vec<StepId> = before.iter().map(|id| step_id(id)).collect();
    let (blow, stand_in) = (place(&phone, "blow"), place(&phone, "stand_in"));
    let moved = steps.remove(blow);
    steps.insert(stand_in, moved);
    let refused = phone
        .state()
        .order()
        .arranged(&steps)
        .unwrap_err()
        .to_string();
    assert!(
        refused.contains("“Blow” cannot stand before “Stand-in strings set”"),
        "{refused}"
    );
    assert_eq!(ids(&phone), before);
    // A merge can still bring the arrangements of two phones into one log: only the blow is moved.
    phone.act(EntryKind::Arranged { steps });
    assert_eq!(place(&phone, "blow"), place(&phone, "stand_in") + 1);
    let others = |ids: Vec<String>| {
        ids.into_iter()
            .filter(|id| id != "blow")
            .collect::<Vec<_>>()
    };
    assert_eq!(others(ids(&phone)), others(before));
}

/// An arrangement of an earlier version, in which string heights were taken before the action was out and parts
/// were travelled after the screws alone.
#[test]
fn an_old_arrangement_keeps_its_order_but_for_the_step_that_a_new_need_breaks() {
    let mut phone = Phone::new(1);
    let old = [
        "climate",
        "string_height",
        "key_tops",
        "found_sample",
        "action_out",
        "cauls_in",
        "key_pin",
        "dust",
    ];
    let steps = old.map(step_id).to_vec();
    phone.act(EntryKind::Arranged { steps });
    let now = ids(&phone);
    let now: Vec<&str> = now
        .iter()
        .map(String::as_str)
        .filter(|id| old.contains(id))
        .collect();
    let repaired = [
        "climate",
        "key_tops",
        "found_sample",
        "action_out",
        "string_height",
        "key_pin",
        "cauls_in",
        "dust",
    ];
    assert_eq!(now, repaired);
    let usual = Phone::new(8).state().order().steps().len();
    assert_eq!(phone.state().order().steps().len(), usual);
}

#[test]
fn the_dip_that_follows_stands_last_and_an_arrangement_stands_over_it() {
    let mut phone = Phone::new(1);
    assert!(place(&phone, "natural_dip") < place(&phone, "blow"));
    phone.setup(Setup {
        following: Some(FollowingLength::Dip),
        ..Setup::default()
    });
    assert_eq!(
        place(&phone, "natural_dip") + 1,
        place(&phone, "aftertouch")
    );
    let steps = ["natural_dip", "blow"].map(step_id).to_vec();
    phone.act(EntryKind::Arranged { steps });
    assert!(place(&phone, "natural_dip") < place(&phone, "blow"));
}

#[test]
fn string_heights_of_an_earlier_version_count_in_the_step_that_moved() {
    let mut phone = Phone::new(1);
    for end in phone.state().sections().all_ends() {
        phone.act(EntryKind::Reading {
            measure: MeasureId::of("string_height"),
            on: Subject::Note(end),
            place: PIANO,
            occasion: Occasion::AsFound,
            value: Value::from_base(Kind::Length, 195_000_000),
            typed: "195".to_owned(),
        });
    }
    assert!(phone.progress("string_height").is_read());
}

#[test]
fn a_job_begun_before_the_order_changed_is_told_of_the_new_steps_that_it_passed() {
    let new = |phone: &Phone| {
        phone
            .state()
            .new_steps(&phone.state().progress(phone.at_ms))
    };
    let mut phone = Phone::new(1);
    phone.pass("climate");
    assert_eq!(new(&phone), Vec::<String>::new(), "nothing was passed");
    phone.pass("dust");
    let key_bed = "Key bed, frame studs and glides cleaned".to_owned();
    assert_eq!(new(&phone), [key_bed]);
    let mut done = phone.copy(2);
    done.pass("key_bed");
    assert_eq!(new(&done), Vec::<String>::new());
    phone.pass("left_sample");
    assert_eq!(
        new(&phone),
        Vec::<String>::new(),
        "a finished job is silent"
    );
    let mut later = Phone::new(1);
    later.at_ms += 200 * 24 * 60 * MINUTE_MS;
    later.pass("dust");
    assert_eq!(new(&later), Vec::<String>::new());
}

#[test]
fn the_damper_steps_end_where_the_dampers_end() {
    let mut phone = Phone::new(1);
    for step in ["damper_key", "damper_tray"] {
        assert_eq!(phone.progress(step).expected, 88);
    }
    phone.read("damper_tray", on(80), PIANO, 1);
    phone.read("damper_end", Subject::Whole, PIANO, 67);
    for step in ["damper_key", "damper_tray"] {
        assert_eq!(phone.progress(step).expected, 67);
    }
    // What was recorded beyond it is kept.
    let kept = phone.state().measure_state("damper_tray", on(80), PIANO);
    assert!(kept.is_some_and(|s| s.in_effect().is_some()));
    phone.read("damper_end", Subject::Whole, PIANO, 200);
    assert_eq!(phone.progress("damper_key").expected, 88);
}

#[test]
fn an_arrangement_made_without_a_left_out_step_is_not_broken_by_it() {
    let mut phone = Phone::new(1);
    phone.act(EntryKind::LeftOut {
        step: step_id("stand_in"),
        out: true,
    });
    phone.act(EntryKind::LeftOut {
        step: step_id("play_in"),
        out: true,
    });
    let mut steps: Vec<StepId> = ids(&phone).iter().map(|id| step_id(id)).collect();
    let blow = steps.iter().position(|s| s.as_str() == "blow").unwrap();
    let level = steps
        .iter()
        .position(|s| s.as_str() == "natural_level")
        .unwrap();
    let moved = steps.remove(blow);
    steps.insert(level, moved);
    assert!(phone.state().order().arranged(&steps).is_ok());
    phone.act(EntryKind::Arranged { steps });
    assert_eq!(place(&phone, "blow") + 1, place(&phone, "natural_level"));
}

#[test]
fn details_and_setup_replace_what_they_give_and_undo_restores_the_rest() {
    let mut phone = Phone::new(1);
    let named = |name: &str| Details {
        name: Some(name.to_owned()),
        ..Details::default()
    };
    let details = |set: Details| EntryKind::Details { set: Box::new(set) };
    phone.act(details(Details {
        client: Some("Invented Hall".to_owned()),
        ..named("First name")
    }));
    let second = phone.act(details(named("Second name")));
    let now = phone.state().details();
    assert_eq!(now.name.as_deref(), Some("Second name"));
    assert_eq!(now.client.as_deref(), Some("Invented Hall"));
    phone.undo(&second);
    assert_eq!(phone.state().details().name.as_deref(), Some("First name"));
    let vertical = phone.act(details(Details {
        instrument: Some(Instrument::Upright),
        ..Details::default()
    }));
    assert!(phone.state().step("lost_motion").is_some());
    phone.undo(&vertical);
    assert!(phone.state().step("lost_motion").is_none());
}

#[test]
fn chosen_samples_count_once_each_in_rising_order() {
    let mut phone = Phone::new(1);
    let samples = [60, 4, 60, 33].map(n).to_vec();
    phone.setup(Setup {
        samples: Some(samples),
        ..Setup::default()
    });
    assert_eq!(phone.state().samples(), [4, 33, 60].map(n));
    // Of a sharp, as 60 is, no key height is taken: the straight edge lies on naturals.
    assert_eq!(phone.progress("key_height").expected, 2);
    // An empty choice means the trade's sample plan.
    phone.setup(Setup {
        samples: Some(Vec::new()),
        ..Setup::default()
    });
    assert_eq!(phone.state().samples(), Phone::new(1).state().samples());
}

#[test]
fn undo_takes_back_the_latest_of_this_device_that_is_not_a_note_of_time() {
    let mut phone = Phone::new(1);
    let mut other = phone.copy(2);
    let first = phone.read("drop", on(1), BENCH, 2_000_000);
    let second = phone.read("drop", on(2), BENCH, 2_000_000);
    phone.act(EntryKind::PassClosed {
        step: step_id("drop"),
    });
    let foreign = other.read("drop", on(3), BENCH, 2_000_000);
    phone.job.merge([foreign]);
    let undoable = |phone: &Phone| phone.job.undoable(&[phone.replica]).map(|e| e.id);
    assert_eq!(undoable(&phone), Some(second.id));
    phone.undo(&second);
    assert_eq!(undoable(&phone), Some(first.id));
    phone.undo(&first);
    assert_eq!(undoable(&phone), None);
}

#[test]
fn a_step_on_the_sample_takes_in_the_other_notes_that_were_measured() {
    let mut phone = Phone::new(1);
    let samples = phone.state().samples().to_vec();
    let other = Note::all().find(|n| !samples.contains(n)).unwrap();
    let other = Subject::Note(other);
    let step = phone.state().step("hammer_swings").unwrap().clone();
    let has_other = |phone: &Phone| phone.state().items(&step).iter().any(|i| i.on == other);
    assert_eq!(phone.progress("hammer_swings").expected, samples.len());
    assert!(!has_other(&phone));
    phone.read("hammer_swings", other, BENCH, 12);
    let progress = phone.progress("hammer_swings");
    assert_eq!(progress.expected, samples.len() + 1);
    assert_eq!((progress.read, progress.out), (1, 1));
    assert!(has_other(&phone));
    // Only what was measured joins: the as-found sample has none of it.
    let found = phone.state().step("found_sample").unwrap();
    assert!(phone.state().items(found).iter().all(|i| i.on != other));
}
