//! The job file against its published JSON Schema (draft 2020-12), by a validator that knows
//! nothing of Evenhand. The schema is written by hand: it reads as a document, with units and
//! descriptions, and these tests hold it and the types together in both directions.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use evenhand_core::analysis::job_file::{export, open};
use evenhand_core::job::{
    ControlNote, Correction, Details, Earlier, Entry, EntryKind, Floats, Job, JobId, KeyLever,
    Left, OwnStep, ReplicaId, Responded, Scope, Setup, Subject, Trial,
};
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{
    Band, Instrument, MeasureId, Occasion, Per, Place, Stage, StepId, Target, let_off_taper,
};
use evenhand_core::unit::{Kind, Length, LengthUnit, Turns, Value};
use jsonschema::Validator;
use serde_json::{Value as Json, json};

const PHONE: ReplicaId = ReplicaId::new(0xabc);
const NINE_MS: i64 = 1_790_000_000_000;

static SCHEMA: LazyLock<Json> = LazyLock::new(|| {
    let text = include_str!("../../public/evenhand-job.schema.json");
    serde_json::from_str(text).expect("the schema is JSON")
});

static VALIDATOR: LazyLock<Validator> =
    LazyLock::new(|| jsonschema::draft202012::new(&SCHEMA).expect("the schema is one"));

/// What the validator has against a file; nothing where it is valid.
fn faults(file: &Json) -> Vec<String> {
    let told = |e: jsonschema::ValidationError<'_>| format!("{}: {e}", e.instance_path());
    VALIDATOR.iter_errors(file).map(told).collect()
}

fn file(job: &Job) -> Json {
    serde_json::from_str(&export(job, NINE_MS)).expect("a job file is JSON")
}

fn note(number: i64) -> Note {
    Note::new(number).expect("one of the 88")
}

fn length(nm: i64) -> Length {
    Length::from_nm(nm)
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
        natural_key: Some(key),
        sharp_key: Some(key),
        papers_nm: Some(vec![length(76_200)]),
        trials: Some(vec![Trial {
            measure: MeasureId::of("let_off"),
            turned_64ths: Turns::from_64ths(64),
            before_nm: length(3_000_000),
            after_nm: length(2_000_000),
        }]),
        earlier: Some(Box::new(earlier())),
        floats: Some(Floats::Blow),
        control_notes: Some(vec![ControlNote {
            note: note(1),
            bench_nm: length(161_000_000),
            key_bed_nm: length(145_500_000),
        }]),
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
        client: text("Client 17"),
        instrument: Some(Instrument::Grand),
        described: text("180 cm"),
        serial: text("0000"),
        scope: text("Bench regulation"),
        technician: text("T."),
        rate_per_hour_cents: Some(7_250),
        currency: text("euros"),
        invented: Some(true),
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
fn readings(earlier: &Entry) -> Vec<EntryKind> {
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
        supersedes: vec![earlier.id; i % 2],
    };
    values.into_iter().enumerate().map(reading).collect()
}

fn corrections() -> Vec<EntryKind> {
    let made = [
        Correction::Turned(Turns::from_64ths(-8)),
        Correction::Papers(vec![length(76_200), length(-254_000)]),
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

fn acts(earlier: &Entry) -> Vec<EntryKind> {
    let step = || StepId::of("cauls_in");
    let text = |t: &str| t.to_owned();
    let own = OwnStep {
        id: StepId::of("own"),
        name: text("Own step"),
        stage: Stage::Bench,
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
    let (set, setup) = (Box::new(details()), Box::new(setup()));
    let mut acts = vec![
        EntryKind::Details { set },
        EntryKind::Setup { set: setup },
        EntryKind::WaitStarted {
            step: step(),
            minutes: 720,
        },
        EntryKind::WaitEnded {
            step: step(),
            reason: text("dry"),
        },
        remark(Subject::Note(note(33)), Some(step()), text("loose")),
        remark(Subject::Whole, None, text("")),
        EntryKind::FaultFixed {
            fault: earlier.id,
            how: text("new centre pin"),
        },
        EntryKind::MinutesStated {
            step: step(),
            minutes: 90,
        },
        EntryKind::PassOpened { step: step() },
        EntryKind::PassClosed { step: step() },
        EntryKind::LeftOut {
            step: step(),
            out: true,
        },
        EntryKind::OwnStep {
            step: Box::new(own),
        },
        EntryKind::Arranged {
            steps: vec![StepId::of("blow")],
        },
    ];
    acts.extend(targets());
    acts.extend(readings(earlier));
    acts.extend(corrections());
    acts.push(EntryKind::Undo { entry: earlier.id });
    acts
}

/// A job with every kind of act, every field filled in.
fn everything() -> Job {
    let mut job = Job::new();
    let made = job.draft(PHONE, NINE_MS, EntryKind::Made { job: JobId::new(9) });
    job.apply(made.clone());
    for act in acts(&made) {
        job.apply(job.draft(PHONE, NINE_MS, act));
    }
    job
}

/// A new variant of [`EntryKind`] does not compile here until it has its name, and does not pass
/// until the schema and [`everything`] have it.
fn name(act: &EntryKind) -> &'static str {
    match act {
        EntryKind::Made { .. } => "made",
        EntryKind::Details { .. } => "details",
        EntryKind::Setup { .. } => "setup",
        EntryKind::Reading { .. } => "reading",
        EntryKind::Correction { .. } => "correction",
        EntryKind::Target { .. } => "target",
        EntryKind::WaitStarted { .. } => "wait_started",
        EntryKind::WaitEnded { .. } => "wait_ended",
        EntryKind::Remark { .. } => "remark",
        EntryKind::FaultFixed { .. } => "fault_mended",
        EntryKind::MinutesStated { .. } => "minutes_stated",
        EntryKind::Undo { .. } => "undo",
        EntryKind::PassOpened { .. } => "pass_opened",
        EntryKind::PassClosed { .. } => "pass_closed",
        EntryKind::LeftOut { .. } => "left_out",
        EntryKind::OwnStep { .. } => "own_step",
        EntryKind::Arranged { .. } => "arranged",
        EntryKind::Unknown(_) => "unknown",
    }
}

/// The names of the fields of a JSON object.
fn keys(json: &Json) -> BTreeSet<String> {
    let fields = json.as_object().into_iter().flatten();
    fields.map(|(key, _)| key.clone()).collect()
}

/// The fields that the schema has for each act, by its name.
fn schemas_fields() -> BTreeMap<String, BTreeSet<String>> {
    let branches = SCHEMA["$defs"]["entry"]["allOf"].as_array();
    let of = |branch: &Json| {
        let act = branch["if"]["properties"]["act"]["const"].as_str();
        let act = act.expect("a branch of one act").to_owned();
        (act, keys(&branch["then"]["properties"]))
    };
    branches.expect("branches").iter().map(of).collect()
}

#[test]
fn the_schema_is_a_valid_one_of_draft_2020_12() {
    assert!(jsonschema::meta::is_valid(&SCHEMA));
    assert_eq!(
        SCHEMA["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    assert_eq!(SCHEMA["$id"], "urn:evenhand:job:1");
}

#[test]
fn an_empty_job_a_demo_job_and_one_with_everything_are_valid() {
    let demo = evenhand_core::demo::entries(JobId::new(1), PHONE, NINE_MS);
    for job in [Job::new(), Job::from_entries(demo), everything()] {
        assert_eq!(faults(&file(&job)), Vec::<String>::new());
    }
}

#[test]
fn the_schema_has_every_act_and_every_field_that_is_written_and_no_other() {
    let mut written: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
    for entry in everything().log().entries() {
        let json: Json = serde_json::from_str(&entry.to_line()).expect("a line is JSON");
        assert_eq!(json["act"], name(&entry.kind));
        let fields = written.entry(name(&entry.kind).to_owned()).or_default();
        fields.extend(keys(&json));
    }
    assert_eq!(written, schemas_fields());
}

#[test]
fn the_schema_has_every_field_of_details_and_setup_and_own_steps() {
    let job = everything();
    for (act, field) in [("details", "set"), ("setup", "set"), ("own_step", "step")] {
        let entry = job.log().entries().iter().find(|e| name(&e.kind) == act);
        let line = entry.expect("one of each").to_line();
        let json: Json = serde_json::from_str(&line).expect("a line is JSON");
        let branches = SCHEMA["$defs"]["entry"]["allOf"].as_array();
        let branch = branches
            .expect("branches")
            .iter()
            .find(|b| b["if"]["properties"]["act"]["const"] == act)
            .expect("a branch");
        let schema = &branch["then"]["properties"][field];
        assert_eq!(keys(&json[field]), keys(&schema["properties"]), "{act}");
        assert_eq!(schema["additionalProperties"], false, "{act}");
    }
}

#[test]
fn the_schema_has_every_readable_part_that_is_written_and_no_other() {
    let file = file(&everything());
    assert_eq!(keys(&file), keys(&SCHEMA["properties"]));
    assert_eq!(
        keys(&file["job"]),
        keys(&SCHEMA["properties"]["job"]["properties"])
    );
    let summary = &SCHEMA["properties"]["summary"]["properties"];
    assert_eq!(keys(&file["summary"]), keys(summary));
    for part in ["sections", "steps", "by_section", "notes", "materials"] {
        let items = &SCHEMA["properties"][part]["items"]["properties"];
        assert_eq!(keys(&file[part][0]), keys(items), "{part}");
    }
}

#[test]
fn the_examples_are_valid_and_understood() {
    let mut file = file(&Job::new());
    let examples = &SCHEMA["$defs"]["entry"]["examples"];
    assert_eq!(examples.as_array().map(Vec::len), Some(4));
    file["log"] = examples.clone();
    assert_eq!(faults(&file), Vec::<String>::new());
    let opened = open(file.to_string().as_bytes()).expect("it opens");
    let known = |e: &&Entry| !matches!(e.kind, EntryKind::Unknown(_));
    assert_eq!(opened.entries.iter().filter(known).count(), 4);
}

#[test]
fn an_act_of_a_later_version_is_valid_and_kept() {
    let mut file = file(&everything());
    let later = json!({
        "act": "later", "anything": [1, {"at": "all"}],
        "device": "00000000000000ff", "seq": 1, "clock": 99, "at_ms": NINE_MS
    });
    file["log"].as_array_mut().expect("a log").push(later);
    assert_eq!(faults(&file), Vec::<String>::new());
    let opened = open(file.to_string().as_bytes()).expect("it opens");
    let unknown = |e: &&Entry| matches!(e.kind, EntryKind::Unknown(_));
    assert_eq!(opened.entries.iter().filter(unknown).count(), 1);
}

/// The place of the first entry of an act in the log of [`everything`].
fn entry_of(file: &Json, act: &str) -> usize {
    let log = file["log"].as_array().expect("a log");
    log.iter()
        .position(|e| e["act"] == act)
        .expect("one of each")
}

#[test]
fn a_broken_file_is_not_valid() {
    let whole = file(&everything());
    let at = |act: &str, field: &str| format!("/log/{}/{field}", entry_of(&whole, act));
    for (pointer, wrong) in [
        ("/format".to_owned(), json!("other")),
        ("/version".to_owned(), json!(2)),
        ("/notes/0/note".to_owned(), json!(0)),
        ("/notes/87/note".to_owned(), json!(89)),
        ("/notes/3/colour".to_owned(), json!("white")),
        ("/notes/39/bench".to_owned(), json!({"let_off_mm": "2.0"})),
        ("/log_sha256".to_owned(), json!("00")),
        ("/log".to_owned(), json!({})),
        ("/job/id".to_owned(), json!("9")),
        ("/steps/0/read".to_owned(), json!(-1)),
        ("/targets/0/scope".to_owned(), json!("everywhere")),
        (
            "/targets/0".to_owned(),
            json!({"measure": "x", "name": "X", "scope": "job", "aim_furlong": 1}),
        ),
        (at("made", "device"), json!("abc")),
        (at("made", "seq"), json!(-1)),
        (at("made", "clock"), json!(1.5)),
        (at("made", "clock"), json!(Entry::MAX + 1)),
        (at("made", "at_ms"), json!(-1)),
        (at("made", "act"), json!(7)),
        (at("reading", "value"), json!({"furlong": 1})),
        (at("reading", "value"), json!({"nm": 1.5})),
        (at("reading", "value"), json!({"nm": 1, "mgf": 1})),
        (at("reading", "on"), json!({"note": 89})),
        (at("reading", "on"), json!({"section": 8})),
        (at("reading", "occasion"), json!("later")),
        (at("reading", "place"), json!("attic")),
        (at("correction", "made"), json!({"turned_64ths": "1/8"})),
        (at("undo", "entry"), json!(4)),
        (at("wait_started", "minutes"), json!("720")),
        (at("setup", "set/sections"), json!([0])),
        (at("target", "target"), json!({"flat": {"aim": 1}})),
    ] {
        let mut broken = whole.clone();
        let place = broken.pointer_mut(&pointer);
        *place.unwrap_or_else(|| panic!("no {pointer}")) = wrong.clone();
        assert_ne!(faults(&broken), Vec::<String>::new(), "{pointer} = {wrong}");
    }
    // The first files did not name the release that wrote them.
    for part in keys(&whole).into_iter().filter(|part| part != "program") {
        let mut broken = whole.clone();
        broken.as_object_mut().expect("an object").remove(&part);
        assert_ne!(faults(&broken), Vec::<String>::new(), "without {part}");
    }
}

/// Wherever the schema has something against an entry, opening does not take it for what it says.
#[test]
fn an_entry_that_is_not_valid_is_not_understood() {
    let whole = file(&everything());
    for (act, field, wrong) in [
        ("reading", "value", json!({"furlong": 1})),
        ("reading", "on", json!({"note": 0})),
        ("reading", "extra", json!(1)),
        ("undo", "entry", json!({"device": "00000000000000ff"})),
        ("remark", "fault", json!("yes")),
        ("arranged", "steps", json!("blow")),
    ] {
        let mut broken = whole.clone();
        let at = entry_of(&whole, act);
        broken["log"][at][field] = wrong;
        assert_ne!(faults(&broken), Vec::<String>::new(), "{act} {field}");
        let opened = open(broken.to_string().as_bytes()).expect("it opens");
        let entry = &opened.entries[at];
        assert!(
            matches!(entry.kind, EntryKind::Unknown(_)),
            "{act} {field}: {entry:?}"
        );
    }
}
