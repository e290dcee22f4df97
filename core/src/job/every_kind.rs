//! One entry of each kind, for the tests of core and of the published schema. All of it is invented.

use super::{
    ControlNote, Correction, Details, Earlier, EntryId, EntryKind, FollowingLength, JobId,
    KeyLever, Left, OwnStep, PhotoHash, Responded, Run, Scope, Setup, Subject, SweptNotes, Taken,
    Trial, WorkDay,
};
use crate::note::{Note, Sections};
use crate::trade::{
    Band, Instrument, JobKind, MeasureId, Occasion, Per, Place, Stage, StepId, Target,
    let_off_taper,
};
use crate::unit::{Kind, Length, LengthUnit, Turns, Value};

fn note(number: i64) -> Note {
    Note::new(number).expect("one of the 88")
}

fn length(nm: i64) -> Length {
    Length::from_nm(nm)
}

fn worked(day: &str, technician: Option<&str>) -> WorkDay {
    WorkDay {
        day: day.parse().expect("a day"),
        technician: technician.map(str::to_owned),
    }
}

fn setup() -> Setup {
    let key = KeyLever {
        front_nm: length(228_000_000),
        back_nm: length(150_000_000),
        front_pin_nm: length(200_000_000),
    };
    Setup {
        sections: Sections::new([20, 52].map(note)).ok(),
        length_unit: Some(LengthUnit::Inch),
        samples: Some([1, 40, 88].map(note).to_vec()),
        sample_measures: Some(vec![MeasureId::of("let_off")]),
        sample_by_note: Some(true),
        natural_key: Some(key),
        sharp_key: Some(key),
        punchings_nm: Some(vec![length(76_200)]),
        trials: Some(vec![Trial {
            measure: MeasureId::of("let_off"),
            turned_64ths: Turns::from_64ths(64),
            before_nm: length(3_000_000),
            after_nm: length(2_000_000),
        }]),
        earlier: Some(Box::new(earlier())),
        following: Some(FollowingLength::Blow),
        control_notes: Some(vec![ControlNote {
            note: note(1),
            bench_nm: length(161_000_000),
            key_bed_nm: length(145_500_000),
        }]),
        part_sizes: Some([("hammers".to_owned(), "as the old ones".to_owned())].into()),
        part_prices_cents: Some([("hammers".to_owned(), 950)].into()),
        sample_seed: Some(4_000_000_000),
        measure_all: Some(true),
        earlier_fixed: Some(vec![(StepId::of("let_off"), 60)]),
    }
}

fn earlier() -> Earlier {
    Earlier {
        job: JobId::new(8),
        left_at_ms: 1_760_000_000_000,
        left: vec![Left {
            measure: MeasureId::of("let_off"),
            place: Place::Piano,
            readings: vec![
                (
                    Subject::Note(note(40)),
                    Value::from_base(Kind::Length, 2_000_000),
                ),
                (Subject::Whole, Value::Good(true)),
            ],
        }],
        responses: vec![Responded {
            measure: MeasureId::of("let_off"),
            section: Some(0),
            per_turn_nm: length(5_100_000),
            give_or_take_nm: length(200_000),
            trials: 12,
        }],
        minutes: vec![(StepId::of("let_off"), 45)],
    }
}

fn details() -> Details {
    let text = |t: &str| Some(t.to_owned());
    Details {
        name: text("Invented grand"),
        client: text("Client 17, <script>alert(1)</script>"),
        instrument: Some(Instrument::Grand),
        described: text("180 cm, “invented”\n=1+1"),
        serial: text("0000"),
        scope: text("Bench regulation"),
        technician: text("T. 🎹"),
        rate_per_hour_cents: Some(7_250),
        currency: text("euros"),
        invented: Some(true),
        for_client: text("The piano holds its tune well."),
        travel_cents: Some(2_500),
        tax_percent_hundredths: Some(1_900),
        valid_days: Some(14),
        price_cents: Some(22_000),
    }
}

fn targets() -> Vec<EntryKind> {
    let band = Band::mm(200, 30, 50);
    let share = Target::ShareOf {
        of: MeasureId::of("blow"),
        percent: 50,
        within: 2_000_000,
        accept: 5_000_000,
    };
    let target = |measure: &'static str, scope, target| EntryKind::Target {
        measure: MeasureId::of(measure),
        scope,
        target,
    };
    vec![
        target("let_off", Scope::Job, Some(let_off_taper())),
        target(
            "let_off",
            Scope::Section(2),
            Some(Target::BySection(vec![band])),
        ),
        target("let_off", Scope::Note(note(88)), Some(Target::Flat(band))),
        target(
            "up_weight",
            Scope::Job,
            Some(Target::Flat(Band::at_least(20, 20))),
        ),
        target("drop", Scope::Job, Some(share)),
        target("blow", Scope::Job, None),
    ]
}

/// One reading of each kind of value, as found, working and as left.
fn readings() -> Vec<EntryKind> {
    let values = [
        ("let_off", Value::from_base(Kind::Length, 1_587_500)),
        ("down_weight", Value::from_base(Kind::Force, 52_500)),
        ("lead", Value::from_base(Kind::Mass, 14_000)),
        ("hammer_swings", Value::from_base(Kind::Count, 7)),
        ("pitch_a4", Value::from_base(Kind::Frequency, 440_500)),
        ("humidity", Value::from_base(Kind::Humidity, 425)),
        ("temperature", Value::from_base(Kind::Temperature, 21_500)),
        ("spring", Value::Grade(2)),
        ("spring", Value::Grade(200)),
        ("keys_eased", Value::Good(false)),
        ("cauls_in", Value::Done(true)),
    ];
    let subjects = [Subject::Whole, Subject::Section(1), Subject::Note(note(40))];
    let occasions = [Occasion::Working, Occasion::AsFound, Occasion::AsLeft];
    let reading = |(i, (measure, value)): (usize, (&'static str, Value))| EntryKind::Reading {
        measure: MeasureId::of(measure),
        on: subjects[i % 3],
        place: [Place::Bench, Place::Piano][i % 2],
        occasion: occasions[(i / 2) % 3],
        value,
        typed: "2".to_owned(),
    };
    values.into_iter().enumerate().map(reading).collect()
}

fn corrections() -> Vec<EntryKind> {
    let made = [
        Correction::Turned(Turns::from_64ths(-8)),
        Correction::Punchings(vec![length(76_200), length(-254_000)]),
        Correction::ByEye,
    ];
    let correction = |made| EntryKind::Correction {
        measure: MeasureId::of("let_off"),
        on: Subject::Note(note(40)),
        place: Place::Bench,
        made,
    };
    made.into_iter().map(correction).collect()
}

/// Returns one of each kind of entry that this version writes, but for [`EntryKind::Made`], every field filled in.
///
/// `earlier` is the entry that undo and fixed faults refer to.
pub fn kinds(earlier: EntryId) -> Vec<EntryKind> {
    let step = || StepId::of("cauls_in");
    let text = |t: &str| t.to_owned();
    let own = OwnStep {
        id: StepId::of("own"),
        name: text("Own step"),
        stage: Stage::Regulate,
        after: Some(StepId::of("blow")),
        per: Per::SectionEnds,
        kind: Kind::Good,
        minutes: 15,
        how: text("Look."),
    };
    let remark = |on, step, text| EntryKind::Remark {
        on,
        step,
        fault: true,
        text,
    };
    let swept = |except| EntryKind::Swept {
        measure: MeasureId::of("blow"),
        notes: SweptNotes {
            from: note(21),
            to: note(52),
            except,
        },
        place: Place::Bench,
        occasion: Occasion::Working,
    };
    let (set, setup) = (Box::new(details()), Box::new(setup()));
    let mut kinds = vec![
        EntryKind::Details { set },
        EntryKind::Setup { set: setup },
        swept(vec![note(33), note(40)]),
        swept(Vec::new()),
        EntryKind::MarkedOut {
            measure: MeasureId::of("let_off"),
            on: Subject::Note(note(33)),
            place: Place::Bench,
            occasion: Occasion::Working,
            out: true,
        },
        EntryKind::NotRemeasured {
            measure: MeasureId::of("blow"),
            note: note(34),
            place: Place::Bench,
            expected_nm: length(45_200_000),
        },
        EntryKind::DryingStarted {
            step: step(),
            minutes: 720,
        },
        EntryKind::DryingEnded {
            step: step(),
            reason: text("dry"),
        },
        remark(Subject::Note(note(33)), Some(step()), text("loose")),
        remark(Subject::Whole, None, text("")),
        EntryKind::FaultCarried {
            on: Subject::Note(note(33)),
            text: "Flange loose.".to_owned(),
            from: JobId::new(8),
            from_name: Some("Assembly room".to_owned()),
            noted_at_ms: 1_760_000_000_000,
        },
        EntryKind::RemarkChanged {
            remark: earlier,
            text: text("loose, and clicks"),
        },
        EntryKind::FaultFixed {
            fault: earlier,
            how: text("new center pin"),
        },
        EntryKind::Photographed {
            sha256: PhotoHash::of(b"invented"),
            bytes: 8,
            on: Subject::Note(note(33)),
            step: Some(step()),
            fault: Some(earlier),
            taken: Taken::Before,
            caption: text("flange, before"),
            instead_of: Some(earlier),
        },
        EntryKind::MinutesStated {
            step: step(),
            minutes: 90,
            worked: Some(worked("2026-11-25", Some("T. 🎹"))),
            instead_of: Some(worked("2026-11-24", None)),
        },
        EntryKind::PassOpened {
            step: step(),
            utc_offset_minutes: Some(-300),
        },
        EntryKind::PassClosed { step: step() },
        EntryKind::KindChosen {
            kind: Box::new(JobKind {
                name: text("Hall check"),
                instrument: Instrument::Grand,
                place: Place::Piano,
                steps: vec![StepId::of("let_off")],
                sample: vec![MeasureId::of("let_off")],
            }),
        },
        EntryKind::LeftOut {
            step: step(),
            out: true,
        },
        EntryKind::OwnStep {
            step: Box::new(own),
        },
        EntryKind::Archived { archived: true },
        EntryKind::Opened {
            entries: Run::of(vec![(earlier.replica, earlier.seq)]),
        },
        EntryKind::Arranged {
            steps: vec![StepId::of("blow")],
        },
    ];
    kinds.extend(targets());
    kinds.extend(readings());
    kinds.extend(corrections());
    kinds.push(EntryKind::Undo { entry: earlier });
    kinds
}

/// Returns the word of a kind in the job file.
///
/// A new variant of [`EntryKind`] does not compile here until it has its word, and the tests do not pass until
/// the schema and [`kinds`] have it.
pub fn name(kind: &EntryKind) -> &'static str {
    match kind {
        EntryKind::Made { .. } => "made",
        EntryKind::Details { .. } => "details",
        EntryKind::Setup { .. } => "setup",
        EntryKind::Reading { .. } => "reading",
        EntryKind::Correction { .. } => "correction",
        EntryKind::Target { .. } => "target",
        EntryKind::Swept { .. } => "swept",
        EntryKind::MarkedOut { .. } => "marked_out",
        EntryKind::NotRemeasured { .. } => "not_remeasured",
        EntryKind::DryingStarted { .. } => "wait_started",
        EntryKind::DryingEnded { .. } => "wait_ended",
        EntryKind::Remark { .. } => "remark",
        EntryKind::FaultCarried { .. } => "fault_carried",
        EntryKind::RemarkChanged { .. } => "remark_changed",
        EntryKind::FaultFixed { .. } => "fault_mended",
        EntryKind::Photographed { .. } => "photographed",
        EntryKind::MinutesStated { .. } => "minutes_stated",
        EntryKind::Undo { .. } => "undo",
        EntryKind::PassOpened { .. } => "pass_opened",
        EntryKind::PassClosed { .. } => "pass_closed",
        EntryKind::KindChosen { .. } => "kind_chosen",
        EntryKind::LeftOut { .. } => "left_out",
        EntryKind::OwnStep { .. } => "own_step",
        EntryKind::Arranged { .. } => "arranged",
        EntryKind::Archived { .. } => "archived",
        EntryKind::Opened { .. } => "opened",
        EntryKind::Unknown(_) => "unknown",
    }
}
