//! Properties of every log and every file, tested on many.

mod strategies;

use strategies::{a_log, an_act};

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;
use proptest::test_runner::{Config, RngAlgorithm, RngSeed};
use serde_json::Value as Json;

use super::*;

/// Returns a configuration with the same cases at every run.
fn tried(cases: u32) -> Config {
    Config {
        cases,
        rng_seed: RngSeed::Fixed(88),
        // The fastest generator in a build without optimization.
        rng_algorithm: RngAlgorithm::XorShift,
        failure_persistence: None,
        ..Config::default()
    }
}

/// Returns what is observable of a state: its file, and the cause of each reading.
fn seen(job: &Job) -> (String, Vec<Option<Cause>>) {
    let state = job.state();
    let ids = ["blow", "aftertouch", "sharp_level", "action_out"];
    let causes = ids.iter().flat_map(|id| {
        [41, 42, 43]
            .into_iter()
            .flat_map(move |note| [BENCH, PIANO].map(|place| state.disturbed(id, on(note), place)))
    });
    (export(job, NINE_MS), causes.collect())
}

fn same(a: &Job, b: &Job) -> Result<(), TestCaseError> {
    prop_assert_eq!(a.log().entries(), b.log().entries());
    prop_assert!(a.state() == b.state());
    Ok(())
}

proptest! {
    #![proptest_config(tried(10_000))]

    #[test]
    fn the_same_entries_in_any_order_and_grouping_fold_to_the_same_state(
        (entries, shuffled) in a_log(24).prop_flat_map(|log| (Just(log.clone()), Just(log).prop_shuffle())),
        cuts in vec(1..8usize, 24),
    ) {
        let whole = Job::from_entries(entries);
        let mut pieces = Job::new();
        let mut rest = &shuffled[..];
        for cut in cuts {
            let (piece, further) = rest.split_at(cut.min(rest.len()));
            match piece {
                [one] => { pieces.apply(one.clone()); }
                many => { pieces.merge(many.to_vec()); }
            }
            rest = further;
        }
        same(&whole, &pieces)?;
    }
}

proptest! {
    #![proptest_config(tried(1_500))]

    #[test]
    fn merging_is_commutative_associative_and_idempotent(
        log in a_log(24), of_whom in vec(0..8u8, 24),
    ) {
        let part = |bit: u8| -> Vec<Entry> {
            log.iter().zip(&of_whom).filter(|(_, of)| *of & bit != 0).map(|(e, _)| e.clone()).collect()
        };
        let (a, b, c) = (part(1), part(2), part(4));
        let merged = |parts: &[&[Entry]]| {
            let mut job = Job::new();
            for part in parts { job.merge(part.to_vec()); }
            job
        };
        let ab = merged(&[&a, &b]);
        same(&ab, &merged(&[&b, &a]))?;
        let bc = merged(&[&b, &c]);
        same(&merged(&[&a, bc.log().entries()]), &merged(&[ab.log().entries(), &c]))?;
        let mut twice = ab.clone();
        let again = twice.merge(ab.log().entries().to_vec());
        prop_assert_eq!((again.new, again.known), (0, ab.log().len()));
        same(&twice, &ab)?;
    }

    #[test]
    fn after_every_entry_the_state_kept_up_is_the_state_folded(log in a_log(24)) {
        let sorted = Job::from_entries(log).into_log().into_entries();
        let mut job = Job::new();
        for entry in sorted {
            prop_assert!(job.apply(entry));
            prop_assert!(job.state() == &State::folded(job.log()));
        }
    }

}

proptest! {
    #![proptest_config(tried(500))]

    /// The work of one technician: undo, undo of undo, readings that replace readings.
    #[test]
    fn work_on_one_phone_keeps_the_state_folded(acts in vec(an_act(), 0..24)) {
        let mut phone = Phone::new(1);
        for act in acts {
            match act {
                EntryKind::Reading { measure, on, place, occasion, value, .. } => {
                    let entry = phone.job.reading(
                        phone.replica, phone.at_ms, measure, on, place, occasion, value, "",
                    );
                    phone.job.apply(entry);
                }
                act => { phone.act(act); }
            }
            phone.at_ms += 30_000;
            prop_assert!(phone.state() == &State::folded(phone.job.log()));
        }
    }

    #[test]
    fn every_entry_is_read_back_from_its_line(log in a_log(12)) {
        for entry in log {
            prop_assert_eq!(Entry::from_line(&entry.to_line()), Ok(entry));
        }
    }
}

/// JSON of any shape.
fn some_json() -> impl Strategy<Value = Json> {
    let leaf = prop_oneof![
        Just(Json::Null),
        any::<bool>().prop_map(Json::from),
        any::<i64>().prop_map(Json::from),
        any::<f64>().prop_map(Json::from),
        ".{0,6}".prop_map(Json::from),
        select(&[0i64, 89, -1, 1 << 52, i64::MAX][..]).prop_map(Json::from),
        select(&["bench", "note", "made", "undo", "{\"a\":1}", "=1+1"][..]).prop_map(Json::from),
    ];
    leaf.prop_recursive(3, 12, 4, |inner| {
        prop_oneof![
            vec(inner.clone(), 0..4).prop_map(Json::from),
            proptest::collection::hash_map("[a-z_]{1,8}", inner, 0..4)
                .prop_map(|m| Json::Object(m.into_iter().collect())),
        ]
    })
}

/// Inserts a value at a path of integers, each taken modulo the number of children.
fn put(json: &mut Json, path: &[usize], new: Json) {
    let child = match (path.first(), &mut *json) {
        (Some(at), Json::Array(items)) if !items.is_empty() => {
            let at = at % items.len();
            items.get_mut(at)
        }
        (Some(at), Json::Object(fields)) if !fields.is_empty() => {
            let at = at % fields.len();
            fields.values_mut().nth(at)
        }
        _ => None,
    };
    match child {
        Some(child) => put(child, &path[1..], new),
        None => *json = new,
    }
}

/// Stored entries do not change, and whatever is opened can be shown, written and opened again.
fn survives(bytes: &[u8]) -> Result<(), TestCaseError> {
    let Ok(opened) = open(bytes) else {
        return Ok(());
    };
    let mut stored = sample::phone().job;
    let before = stored.log().entries().to_vec();
    stored.merge(opened.entries.clone());
    for entry in &before {
        prop_assert_eq!(stored.log().get(entry.id), Some(entry));
    }
    let mut job = Job::from_entries(opened.entries);
    seen(&job);
    let all = job.state().progress(i64::MAX);
    suggest_next(job.state(), &all, i64::MIN);
    let again = open(export(&job, i64::MIN).as_bytes());
    prop_assert_eq!(again.map(|o| o.entries), Ok(job.log().entries().to_vec()));
    // Whatever the file names, what is noted now is the latest, and open.
    let fault = EntryKind::Remark {
        on: on(1),
        step: None,
        fault: true,
        text: String::new(),
    };
    let noted = job.draft(ReplicaId::new(0xabc), NINE_MS, fault);
    job.apply(noted.clone());
    prop_assert_eq!(job.log().last(), Some(&noted));
    let mut open_faults = job.state().open_faults();
    prop_assert!(open_faults.any(|f| f.position.id == noted.id));
    Ok(())
}

fn a_file() -> String {
    let phone = sample::phone();
    export(&phone.job, phone.at_ms)
}

proptest! {
    #![proptest_config(tried(150))]

    #[test]
    fn what_was_written_opens_with_the_same_entries(log in a_log(24)) {
        // A job is made once.
        let mut made = 0;
        let once = log.into_iter().filter(|entry| {
            made += usize::from(entry.made().is_some());
            entry.made().is_none() || made == 1
        });
        let job = Job::from_entries(once);
        let opened = open(export(&job, NINE_MS).as_bytes()).expect("its own file");
        prop_assert_eq!(&opened.notices, &Vec::<String>::new());
        let again = Job::from_entries(opened.entries);
        same(&again, &job)?;
        prop_assert_eq!(seen(&again), seen(&job));
    }

    #[test]
    fn a_file_changed_in_its_structure_never_panics(
        changes in vec((vec(any::<usize>(), 1..6), some_json(), any::<bool>()), 1..6),
        in_log in any::<bool>(),
    ) {
        let mut file: Json = serde_json::from_str(&a_file()).expect("JSON");
        for (path, new, remove) in changes {
            let start = if in_log { &mut file["log"] } else { &mut file };
            put(start, &path, if remove { Json::Null } else { new });
        }
        survives(file.to_string().as_bytes())?;
    }

}

proptest! {
    #![proptest_config(tried(600))]

    #[test]
    fn a_file_changed_in_its_bytes_never_panics(
        changes in vec((any::<prop::sample::Index>(), any::<u8>(), 0..40usize), 1..5),
    ) {
        let mut bytes = a_file().into_bytes();
        for (at, byte, cut) in changes {
            let at = at.index(bytes.len().max(1));
            let end = (at + cut).min(bytes.len());
            bytes.splice(at.min(end)..end, [byte]);
        }
        survives(&bytes)?;
    }

    #[test]
    fn any_bytes_never_panic(bytes in vec(any::<u8>(), 0..400)) {
        survives(&bytes)?;
        let text = String::from_utf8_lossy(&bytes);
        let _ = Entry::from_line(&text);
    }

    #[test]
    fn an_entry_of_any_fields_survives_to_the_byte(
        fields in proptest::collection::btree_map("[b-z_]{1,8}", some_json(), 0..5),
    ) {
        let mut json = Json::Object(fields.into_iter().collect());
        json["act"] = "of a later year".into();
        json["at_ms"] = 5.into();
        json["clock"] = 1.into();
        json["device"] = "00000000000000ab".into();
        json["seq"] = 1.into();
        json.sort_all_objects();
        let line = json.to_string();
        let entry = Entry::from_line(&line);
        prop_assert_eq!(entry.map(|e| e.to_line()), Ok(line));
    }
}
