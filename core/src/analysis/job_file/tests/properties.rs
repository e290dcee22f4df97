//! What must hold for every log and every file, tried on many.

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::sample::select;
use proptest::test_runner::{Config, RngAlgorithm, RngSeed};
use serde_json::Value as Json;

use super::*;
use crate::trade::{Band, Per, Stage, Target};
use crate::unit::{Length, Turns};

/// The same cases every time.
fn tried(cases: u32) -> Config {
    Config {
        cases,
        rng_seed: RngSeed::Fixed(88),
        // The fast one where nothing is optimised.
        rng_algorithm: RngAlgorithm::XorShift,
        failure_persistence: None,
        ..Config::default()
    }
}

fn an_id() -> impl Strategy<Value = EntryId> {
    (1..4u64, 1..9u64).prop_map(|(device, seq)| EntryId {
        device: DeviceId::new(device),
        seq,
    })
}

fn a_measure() -> impl Strategy<Value = MeasureId> {
    const NAMES: [&str; 12] = [
        "blow",
        "aftertouch",
        "let_off",
        "natural_level",
        "sharp_level",
        "damper_key",
        "capstans_polished",
        "bedding",
        "action_out",
        "action_in",
        "own",
        "unheard_of",
    ];
    select(&NAMES[..]).prop_map(MeasureId::from)
}

fn a_subject() -> impl Strategy<Value = Subject> {
    prop_oneof![
        6 => (41..44i64).prop_map(on),
        1 => (0..3u8).prop_map(Subject::Section),
        1 => Just(Subject::Whole),
    ]
}

fn a_step() -> impl Strategy<Value = StepId> {
    select(&["cauls_in", "blow", "let_off", "own", "unheard_of"][..]).prop_map(step_id)
}

fn a_value() -> impl Strategy<Value = Value> {
    prop_oneof![
        4 => (44..47i64).prop_map(|mm| Value::from_base(Kind::Length, mm * 1_000_000)),
        1 => any::<bool>().prop_map(Value::Good),
        2 => any::<bool>().prop_map(Value::Done),
        1 => any::<u8>().prop_map(Value::Grade),
        1 => any::<i64>().prop_map(Value::Count),
    ]
}

fn a_place() -> impl Strategy<Value = Place> {
    select(&[BENCH, PIANO][..])
}

fn a_record() -> impl Strategy<Value = Act> {
    let occasion = select(
        &[
            Occasion::AsFound,
            Occasion::Working,
            Occasion::Working,
            Occasion::AsLeft,
        ][..],
    );
    let over = vec(an_id(), 0..3);
    prop_oneof![
        3 => (a_measure(), a_subject(), a_place(), occasion, a_value(), over).prop_map(
            |(measure, on, place, occasion, value, over)| Act::Reading {
                measure, on, place, occasion, value, typed: "45".to_owned(), over,
            },
        ),
        1 => (a_measure(), a_subject(), a_place()).prop_map(|(measure, on, place)| {
            Act::Correction { measure, on, place, made: Correction::Turned(Turns::from_64ths(8)) }
        }),
        1 => (a_measure(), a_subject(), a_place()).prop_map(|(measure, on, place)| {
            let papers = vec![Length::from_nm(76_200), Length::from_nm(i64::MIN)];
            Act::Correction { measure, on, place, made: Correction::Papers(papers) }
        }),
    ]
}

fn a_target() -> impl Strategy<Value = Act> {
    let target = prop_oneof![
        Just(None),
        (40..50i64).prop_map(|mm| Some(Target::Flat(Band::mm(mm * 100, 50, 100)))),
        Just(Some(Target::Flat(Band {
            aim: 9,
            within: (Some(0), Some(1)),
            accept: (None, None)
        }))),
        Just(Some(Target::ShareOf {
            of: MeasureId::of("blow"),
            percent: i64::MAX,
            within: 0,
            accept: 0
        })),
    ];
    let scope = prop_oneof![
        Just(Scope::Job),
        (0..3u8).prop_map(Scope::Section),
        (41..44i64).prop_map(|note| Scope::Note(n(note))),
    ];
    (a_measure(), scope, target).prop_map(|(measure, scope, target)| Act::Target {
        measure,
        scope,
        target,
    })
}

fn a_frame() -> impl Strategy<Value = Act> {
    let breaks = vec(1..88i64, 0..3);
    let own = (
        select(&["own", "own2", "blow"][..]),
        a_step(),
        any::<bool>(),
    );
    prop_oneof![
        breaks.prop_map(|mut breaks| {
            breaks.sort_unstable();
            let sections = crate::note::Sections::new(breaks.into_iter().map(n)).ok();
            Act::Setup {
                set: Box::new(Setup {
                    sections,
                    ..Setup::default()
                }),
            }
        }),
        any::<bool>().prop_map(|grand| {
            let instrument = Some(if grand {
                Instrument::Grand
            } else {
                Instrument::Vertical
            });
            Act::Details {
                set: Box::new(Details {
                    instrument,
                    ..Details::default()
                }),
            }
        }),
        own.prop_map(|(id, after, named)| Act::OwnStep {
            step: Box::new(OwnStep {
                id: step_id(id),
                name: id.to_owned(),
                stage: Stage::Bench,
                after: named.then_some(after),
                per: Per::Section,
                kind: Kind::Good,
                minutes: u32::MAX,
                how: String::new(),
            }),
        }),
        (a_step(), any::<bool>()).prop_map(|(step, out)| Act::LeftOut { step, out }),
        vec(a_step(), 0..4).prop_map(|steps| Act::Arranged { steps }),
    ]
}

fn an_act() -> impl Strategy<Value = Act> {
    prop_oneof![
        8 => a_record(),
        5 => an_id().prop_map(|entry| Act::Undo { entry }),
        1 => a_target(),
        1 => a_frame(),
        1 => a_step().prop_map(|step| Act::PassOpened { step }),
        1 => a_step().prop_map(|step| Act::PassClosed { step }),
        1 => (a_step(), any::<u32>()).prop_map(|(step, minutes)| Act::WaitStarted { step, minutes }),
        1 => a_step().prop_map(|step| Act::WaitEnded { step, reason: "dry".to_owned() }),
        1 => (a_subject(), any::<bool>(), ".{0,4}").prop_map(|(on, fault, text)| {
            Act::Remark { on, step: None, fault, text }
        }),
        1 => (an_id(), any::<bool>()).prop_map(|(fault, said)| {
            Act::FaultMended { fault, how: if said { "pinned" } else { "" }.to_owned() }
        }),
        2 => (a_step(), 0..300u32).prop_map(|(step, minutes)| Act::MinutesStated { step, minutes }),
        1 => (1..3u64).prop_map(|job| Act::Made { job: JobId::new(job) }),
    ]
}

/// Entries of three devices, each name once, clocks as they fall.
fn a_log(most: usize) -> impl Strategy<Value = Vec<Entry>> {
    vec((1..4u64, 1..12u64, 0..400_000i64, an_act()), 0..most).prop_map(|all| {
        let mut seq = [0u64; 4];
        let entry = |(device, clock, at_ms, act): (u64, u64, i64, Act)| {
            seq[device as usize] += 1;
            let id = EntryId {
                device: DeviceId::new(device),
                seq: seq[device as usize],
            };
            Entry {
                id,
                clock,
                at_ms: NINE_MS + at_ms,
                act,
            }
        };
        all.into_iter().map(entry).collect()
    })
}

/// What can be seen of a state: what a file says of it, and each reading's cause.
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
        let mut sorted = log;
        sorted.sort_by_key(Entry::stamp);
        let mut job = Job::new();
        for entry in sorted {
            prop_assert!(job.apply(entry));
            prop_assert!(job.state() == &State::folded(job.log()));
        }
    }

}

proptest! {
    #![proptest_config(tried(500))]

    /// As one technician works: undo, undo of undo, readings over readings.
    #[test]
    fn work_on_one_phone_keeps_the_state_folded(acts in vec(an_act(), 0..24)) {
        let mut phone = Phone::new(1);
        for act in acts {
            match act {
                Act::Reading { measure, on, place, occasion, value, .. } => {
                    let entry = phone.job.reading(
                        phone.device, phone.at_ms, measure, on, place, occasion, value, "",
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

/// Puts something new where a path of whole numbers leads, each taken round the children there are.
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

/// What was stored stays as it was, and whatever is opened can be shown, written and opened.
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
    let job = Job::from_entries(opened.entries);
    seen(&job);
    let all = job.state().progress(i64::MAX);
    suggest_next(job.state(), &all, i64::MIN);
    let again = open(export(&job, i64::MIN).as_bytes());
    prop_assert_eq!(again.map(|o| o.entries), Ok(job.log().entries().to_vec()));
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
        let job = Job::from_entries(log);
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
