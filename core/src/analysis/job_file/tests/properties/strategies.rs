//! Random entries and logs.

use proptest::collection::vec;
use proptest::option;
use proptest::prelude::*;
use proptest::sample::select;

use super::super::*;
use crate::job::{Day, Knew, PhotoHash, SweptNotes, Taken, WorkDay};
use crate::trade::{Band, JobKind, Per, Stage, Target};
use crate::unit::{Length, Turns};

pub fn an_id() -> impl Strategy<Value = EntryId> {
    (1..4u64, 1..9u64).prop_map(|(replica, seq)| EntryId {
        replica: ReplicaId::new(replica),
        seq,
    })
}

pub fn a_measure() -> impl Strategy<Value = MeasureId> {
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

pub fn a_subject() -> impl Strategy<Value = Subject> {
    prop_oneof![
        6 => (41..44i64).prop_map(on),
        1 => (0..3u8).prop_map(Subject::Section),
        1 => Just(Subject::Whole),
    ]
}

pub fn a_step() -> impl Strategy<Value = StepId> {
    select(&["cauls_in", "blow", "let_off", "own", "unheard_of"][..]).prop_map(step_id)
}

pub fn a_value() -> impl Strategy<Value = Value> {
    prop_oneof![
        4 => (44..47i64).prop_map(|mm| Value::from_base(Kind::Length, mm * 1_000_000)),
        1 => any::<bool>().prop_map(Value::Good),
        2 => any::<bool>().prop_map(Value::Done),
        1 => any::<u8>().prop_map(Value::Grade),
        1 => any::<i64>().prop_map(Value::Count),
    ]
}

pub fn a_place() -> impl Strategy<Value = Place> {
    select(&[BENCH, PIANO][..])
}

pub fn a_record() -> impl Strategy<Value = EntryKind> {
    let occasion = select(
        &[
            Occasion::AsFound,
            Occasion::Working,
            Occasion::Working,
            Occasion::AsLeft,
        ][..],
    );
    prop_oneof![
        3 => (a_measure(), a_subject(), a_place(), occasion, a_value()).prop_map(
            |(measure, on, place, occasion, value)| EntryKind::Reading {
                measure, on, place, occasion, value, typed: "45".to_owned(),
            },
        ),
        1 => (a_measure(), a_subject(), a_place()).prop_map(|(measure, on, place)| {
            EntryKind::Correction { measure, on, place, made: Correction::Turned(Turns::from_64ths(8)) }
        }),
        1 => (a_measure(), a_subject(), a_place()).prop_map(|(measure, on, place)| {
            let punchings = vec![Length::from_nm(76_200), Length::from_nm(i64::MIN)];
            EntryKind::Correction { measure, on, place, made: Correction::Punchings(punchings) }
        }),
    ]
}

pub fn a_target() -> impl Strategy<Value = EntryKind> {
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
    (a_measure(), scope, target).prop_map(|(measure, scope, target)| EntryKind::Target {
        measure,
        scope,
        target,
    })
}

pub fn a_frame() -> impl Strategy<Value = EntryKind> {
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
            EntryKind::Setup {
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
                Instrument::Upright
            });
            EntryKind::Details {
                set: Box::new(Details {
                    instrument,
                    ..Details::default()
                }),
            }
        }),
        own.prop_map(|(id, after, named)| EntryKind::OwnStep {
            step: Box::new(OwnStep {
                id: step_id(id),
                name: id.to_owned(),
                stage: Stage::Regulate,
                after: named.then_some(after),
                per: Per::Section,
                kind: Kind::Good,
                minutes: u32::MAX,
                how: String::new(),
            }),
        }),
        (vec(a_step(), 0..3), any::<bool>()).prop_map(|(steps, bench)| EntryKind::KindChosen {
            kind: Box::new(JobKind {
                name: "A kind".to_owned(),
                instrument: Instrument::Grand,
                place: if bench { Place::Bench } else { Place::Piano },
                steps,
                sample: vec![MeasureId::of("blow")],
            }),
        }),
        (a_step(), any::<bool>()).prop_map(|(step, out)| EntryKind::LeftOut { step, out }),
        vec(a_step(), 0..4).prop_map(|steps| EntryKind::Arranged { steps }),
    ]
}

fn a_name() -> impl Strategy<Value = String> {
    select(&["R. Sample", " S. Pattern", ""][..]).prop_map(str::to_owned)
}

fn an_offset() -> impl Strategy<Value = Option<i16>> {
    select(&[None, Some(0), Some(-720), Some(840), Some(i16::MAX)][..])
}

fn a_work_day() -> impl Strategy<Value = WorkDay> {
    let day = (-1..2i64).prop_map(|days| Day::at(NINE_MS + days * 86_400_000, 0));
    (day, option::of(a_name())).prop_map(|(day, technician)| WorkDay { day, technician })
}

pub fn an_act() -> impl Strategy<Value = EntryKind> {
    prop_oneof![
        8 => a_record(),
        5 => an_id().prop_map(|entry| EntryKind::Undo { entry }),
        1 => a_target(),
        2 => (a_measure(), 39..45i64, 39..45i64, a_place(), 40..43i64).prop_map(|(measure, from, to, place, except)| {
            let notes = SweptNotes { from: n(from), to: n(to), except: vec![n(except)] };
            EntryKind::Swept { measure, notes, place, occasion: Occasion::Working }
        }),
        2 => (a_measure(), a_subject(), a_place(), any::<bool>()).prop_map(|(measure, on, place, out)| {
            EntryKind::MarkedOut { measure, on, place, occasion: Occasion::Working, out }
        }),
        1 => (a_measure(), 39..45i64, a_place(), any::<i32>()).prop_map(|(measure, note, place, nm)| {
            let expected_nm = crate::unit::Length::from_nm(i64::from(nm));
            EntryKind::NotRemeasured { measure, note: n(note), place, expected_nm }
        }),
        1 => a_frame(),
        1 => (a_step(), an_offset()).prop_map(|(step, utc_offset_minutes)| {
            EntryKind::PassOpened { step, utc_offset_minutes }
        }),
        1 => a_step().prop_map(|step| EntryKind::PassClosed { step }),
        1 => (a_step(), any::<u32>()).prop_map(|(step, minutes)| EntryKind::DryingStarted { step, minutes }),
        1 => a_step().prop_map(|step| EntryKind::DryingEnded { step, reason: "dry".to_owned() }),
        1 => (a_subject(), any::<bool>(), ".{0,4}").prop_map(|(on, fault, text)| {
            EntryKind::Remark { on, step: None, fault, text }
        }),
        1 => (a_subject(), any::<i64>()).prop_map(|(on, noted_at_ms)| EntryKind::FaultCarried {
            on,
            text: "loose".to_owned(),
            from: JobId::new(3),
            from_name: None,
            noted_at_ms,
        }),
        1 => (a_subject(), an_id(), option::of(an_id())).prop_map(|(on, fault, instead_of)| EntryKind::Photographed {
            sha256: PhotoHash::of(b"invented"),
            bytes: 8,
            on,
            step: None,
            fault: Some(fault),
            taken: Taken::AsItIs,
            caption: "rail".to_owned(),
            instead_of,
        }),
        1 => (an_id(), any::<bool>()).prop_map(|(fault, said)| {
            EntryKind::FaultFixed { fault, how: if said { "pinned" } else { "" }.to_owned() }
        }),
        2 => (a_step(), 0..300u32, option::of(a_work_day()), option::of(a_work_day())).prop_map(
            |(step, minutes, worked, instead_of)| EntryKind::MinutesStated {
                step,
                minutes,
                worked,
                instead_of,
            }
        ),
        1 => a_name().prop_map(|technician| EntryKind::Details {
            set: Box::new(Details {
                technician: Some(technician),
                ..Details::default()
            }),
        }),
        1 => (an_id(), ".{0,4}").prop_map(|(remark, text)| EntryKind::RemarkChanged { remark, text }),
        1 => any::<bool>().prop_map(|archived| EntryKind::Archived { archived }),
        2 => vec((1..4u64, 1..12u64), 0..6).prop_map(|ids| EntryKind::Opened {
            entries: Run::of(ids.into_iter().map(|(r, seq)| (ReplicaId::new(r), seq)).collect()),
        }),
        1 => (1..3u64).prop_map(|job| EntryKind::Made { job: JobId::new(job) }),
    ]
}

/// What an entry supersedes: said or not.
fn what_is_known() -> impl Strategy<Value = Option<Vec<EntryId>>> {
    proptest::option::of(vec(an_id(), 0..3))
}

/// A wall time: of one morning, an hour back, or a day and more ahead.
fn a_time() -> impl Strategy<Value = i64> {
    const HOUR_MS: i64 = 60 * 60 * 1_000;
    let apart = select(&[0, 0, 0, -HOUR_MS, 24 * HOUR_MS, 100 * HOUR_MS][..]);
    (0..400_000i64, apart).prop_map(|(at_ms, apart)| NINE_MS + at_ms + apart)
}

/// What an entry says of other clocks: mostly nothing, now and then that some are ahead.
fn what_of_clocks() -> impl Strategy<Value = Option<Box<Knew>>> {
    let knew = (a_time(), vec(an_id(), 0..3)).prop_map(|(ms, ahead)| Box::new(Knew { ms, ahead }));
    prop_oneof![3 => Just(None), 1 => knew.prop_map(Some)]
}

/// Entries of three devices, each name once, clocks as they fall.
pub fn a_log(most: usize) -> impl Strategy<Value = Vec<Entry>> {
    vec(
        (
            1..4u64,
            1..12u64,
            a_time(),
            (what_is_known(), what_of_clocks()),
            an_act(),
        ),
        0..most,
    )
    .prop_map(|all| {
        let mut seq = [0u64; 4];
        type Said = (Option<Vec<EntryId>>, Option<Box<Knew>>);
        type Drawn = (u64, u64, i64, Said, EntryKind);
        let entry = |(replica, clock, at_ms, (supersedes, knew), act): Drawn| {
            seq[replica as usize] += 1;
            let id = EntryId {
                replica: ReplicaId::new(replica),
                seq: seq[replica as usize],
            };
            Entry {
                id,
                clock,
                at_ms,
                supersedes,
                knew,
                kind: act,
            }
        };
        all.into_iter().map(entry).collect()
    })
}
