//! The job file against its published JSON Schema (draft 2020-12), by a validator that knows
//! nothing of Evenhand. The schema is written by hand: it reads as a document, with units and
//! descriptions, and these tests hold it and the types together in both directions.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::LazyLock;

use evenhand_core::analysis::job_file::{export, open};
use evenhand_core::job::every_kind::{kinds, name};
use evenhand_core::job::{
    Details, Entry, EntryKind, Job, JobId, Knew, PHOTOS_END, PhotoFormat, PhotoHash, ReplicaId,
    photo_line, with_photos, write_log,
};
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

/// A job with every kind of entry, every field filled in, and a record that could not be read.
fn everything() -> Job {
    let mut job = Job::new();
    let id = JobId::new(9);
    let made = job.draft(PHONE, NINE_MS, EntryKind::Made { job: id });
    let first = made.id;
    job.apply(made);
    for kind in kinds(first) {
        job.apply(job.draft(PHONE, NINE_MS, kind));
    }
    Job::stored(id, job.into_log().into_entries(), vec!["{torn".to_owned()])
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
        // Any entry can say what its writer knew of other clocks.
        let knew = Some(Box::new(Knew {
            ms: NINE_MS,
            ahead: vec![entry.id],
        }));
        let entry = Entry {
            knew,
            ..entry.clone()
        };
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
    let photo = photo_line(PhotoHash::of(b"invented"), PhotoFormat::Jpeg, b"invented");
    let file = with_photos(export(&everything(), NINE_MS)) + &photo + PHOTOS_END;
    let file: Json = serde_json::from_str(&file).expect("a job file is JSON");
    assert_eq!(keys(&file), keys(&SCHEMA["properties"]));
    assert_eq!(
        keys(&file["photos"][0]),
        keys(&SCHEMA["properties"]["photos"]["items"]["properties"])
    );
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
    let mut whole = file(&everything());
    let made = entry_of(&whole, "made");
    whole["log"][made]["knew"] = json!({"ms": NINE_MS});
    assert_eq!(faults(&whole), Vec::<String>::new());
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
        (at("made", "knew"), json!(7)),
        (at("made", "knew"), json!({"ms": -1})),
        (at("made", "knew"), json!({"ahead": [], "ms": 1, "more": 1})),
        (at("made", "knew"), json!({"ahead": [7], "ms": 1})),
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
    // Where the readable parts have no room, a file has these alone.
    for part in ["format", "version", "job", "log", "log_sha256"] {
        let mut broken = whole.clone();
        broken.as_object_mut().expect("an object").remove(part);
        assert_ne!(faults(&broken), Vec::<String>::new(), "without {part}");
    }
    let log: Json = serde_json::from_str(&write_log(&everything())).expect("JSON");
    assert_eq!(faults(&log), Vec::<String>::new());
    assert_eq!(keys(&log).len(), 6, "{:?}", keys(&log));
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
        ("remark", "text", json!("é".repeat(2_001))),
        ("fault_mended", "how", json!("é".repeat(2_001))),
        ("reading", "typed", json!("é".repeat(301))),
        (
            "opened",
            "entries",
            json!([{"device": "00000000000000ff", "first": -1, "last": 1}]),
        ),
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

/// Two devices that differ: the file lists both, and each entry says what it takes the place of.
#[test]
fn a_file_with_a_conflict_is_valid_and_so_is_one_without_the_list() {
    let mut job = Job::new();
    let serial = |serial: &str| EntryKind::Details {
        set: Box::new(Details {
            serial: Some(serial.to_owned()),
            ..Details::default()
        }),
    };
    let said = [(0xa, "1234"), (0xb, "1243")];
    let said = said.map(|(phone, number)| job.draft(ReplicaId::new(phone), 0, serial(number)));
    job.merge(said);
    let mut whole = file(&job);
    assert_eq!(faults(&whole), Vec::<String>::new());
    let conflict = &SCHEMA["properties"]["conflicts"]["items"]["properties"];
    assert_eq!(keys(&whole["conflicts"][0]), keys(conflict));
    let statement = &conflict["statements"]["items"]["properties"];
    let statements = &whole["conflicts"][0]["statements"];
    assert_eq!(statements.as_array().map(Vec::len), Some(2));
    assert_eq!(keys(&statements[0]), keys(statement));

    job.apply(job.draft(ReplicaId::new(0xc), 1, serial("1234")));
    let settled = file(&job);
    assert_eq!(faults(&settled), Vec::<String>::new());
    assert_eq!(settled["conflicts"], json!([]));
    assert_eq!(settled["log"][2]["over"].as_array().map(Vec::len), Some(2));

    whole["conflicts"][0]["statements"][0]["in_force"] = json!("yes");
    assert_ne!(faults(&whole), Vec::<String>::new());
    whole
        .as_object_mut()
        .expect("an object")
        .remove("conflicts");
    assert_eq!(faults(&whole), Vec::<String>::new());
}
