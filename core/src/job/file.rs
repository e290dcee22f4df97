//! The job file, out and in.
//!
//! UTF-8 JSON with readable derived parts around the log. Opening trusts only
//! the log: derived parts are computed again, and a difference is reported.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};
use serde_json::Value as Json;
use serde_json::value::RawValue;
use sha2::{Digest, Sha256};

use super::{Act, Details, Entry, Job, JobId, Progress, Scope, State, Subject};
use crate::note::{Colour, Note};
use crate::trade::{Occasion, Place, Step};
use crate::unit::{Kind, Value};

/// What the `format` field says.
pub const FORMAT: &str = "evenhand-job";
/// The version of the format that is written.
pub const VERSION: u64 = 1;
/// The largest file that is opened, in bytes: some twenty jobs' worth of a 20 000-entry job.
pub const MOST_BYTES: usize = 64 << 20;
/// The deepest nesting that is read; a job file needs nine.
const DEEPEST: usize = 32;

/// The file as it is written, in reading order.
#[derive(Serialize)]
struct File<'a> {
    format: &'static str,
    version: u64,
    exported_at_ms: i64,
    job: Head<'a>,
    sections: Vec<SectionPart>,
    targets: Vec<TargetPart>,
    steps: Vec<StepPart>,
    whole: RecordPart,
    by_section: Vec<SectionRecords>,
    notes: Vec<NotePart>,
    materials: Vec<MaterialPart>,
    summary: Summary,
    open_points: Vec<String>,
    log: Vec<Json>,
    log_sha256: String,
}

#[derive(Serialize)]
struct Head<'a> {
    id: Option<JobId>,
    #[serde(flatten)]
    details: &'a Details,
}

#[derive(Serialize)]
struct SectionPart {
    section: usize,
    first_note: Note,
    last_note: Note,
}

#[derive(Serialize)]
struct TargetPart {
    measure: String,
    name: String,
    scope: Scope,
    #[serde(flatten)]
    numbers: BTreeMap<String, Json>,
}

#[derive(Serialize)]
struct StepPart {
    step: String,
    name: String,
    stage: &'static str,
    expected: usize,
    read: usize,
    on_aim: usize,
    out: usize,
    read_again: usize,
    minutes: i64,
}

/// The records of one subject: numbers with their unit in the key, marks without.
#[derive(Serialize, Default)]
struct RecordPart {
    as_found: BTreeMap<String, Json>,
    bench: BTreeMap<String, Json>,
    piano: BTreeMap<String, Json>,
    as_left: BTreeMap<String, Json>,
    verdicts: BTreeMap<String, Json>,
    read_again: Vec<String>,
    remarks: Vec<String>,
}

#[derive(Serialize)]
struct SectionRecords {
    section: usize,
    #[serde(flatten)]
    records: RecordPart,
}

#[derive(Serialize)]
struct NotePart {
    note: Note,
    name: String,
    colour: Colour,
    #[serde(flatten)]
    records: RecordPart,
}

#[derive(Serialize)]
struct MaterialPart {
    paper_mm: Json,
    count: i64,
}

#[derive(Serialize)]
struct Summary {
    entries: usize,
    steps: usize,
    steps_done: usize,
    hours: Json,
    out: usize,
    read_again: usize,
    first_entry_at_ms: Option<i64>,
    last_entry_at_ms: Option<i64>,
}

/// The job file of a job, written at a wall time in milliseconds since 1970 (UTC).
pub fn export(job: &Job, now_ms: i64) -> String {
    let state = job.state();
    let all = state.progress(now_ms);
    let file = File {
        format: FORMAT,
        version: VERSION,
        exported_at_ms: now_ms,
        job: Head {
            id: state.id(),
            details: state.details(),
        },
        sections: sections(state),
        targets: targets(state, &all),
        steps: all.iter().map(|(s, p)| step_part(s, p)).collect(),
        whole: records(state, &all, Subject::Whole),
        by_section: (0..state.sections().count())
            .map(|section| SectionRecords {
                section,
                records: records(state, &all, Subject::Section(section as u8)),
            })
            .collect(),
        notes: Note::all()
            .map(|note| NotePart {
                note,
                name: note.name(),
                colour: note.colour(),
                records: records(state, &all, Subject::Note(note)),
            })
            .collect(),
        materials: materials(job),
        summary: summary(job, &all),
        open_points: open_points(state, &all),
        log: job.log().entries().iter().map(Entry::to_json).collect(),
        log_sha256: checksum(job.log().entries()),
    };
    // Strings, numbers and lists cannot fail to be written.
    serde_json::to_string_pretty(&file).unwrap_or_default()
}

/// SHA-256, in hexadecimal, over the entries' lines ([`Entry::to_line`]) joined by newlines.
fn checksum(entries: &[Entry]) -> String {
    let mut hasher = Sha256::new();
    for (i, entry) in entries.iter().enumerate() {
        if i > 0 {
            hasher.update(b"\n");
        }
        hasher.update(entry.to_line().as_bytes());
    }
    hasher
        .finalize()
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}

fn sections(state: &State) -> Vec<SectionPart> {
    let sections = state.sections();
    (0..sections.count())
        .filter_map(|section| {
            let (first_note, last_note) = sections.ends(section)?;
            Some(SectionPart {
                section,
                first_note,
                last_note,
            })
        })
        .collect()
}

/// The unit at the end of a key, such as `_mm`; empty for marks.
const fn unit_key(kind: Kind) -> &'static str {
    match kind {
        Kind::Length => "_mm",
        Kind::Force => "_gf",
        Kind::Mass => "_g",
        Kind::Count => "_count",
        Kind::Frequency => "_hz",
        Kind::Humidity => "_percent",
        Kind::Temperature => "_celsius",
        Kind::Grade | Kind::Good | Kind::Tick => "",
    }
}

/// A number of small units in the unit of its key.
fn number(kind: Kind, base: i64) -> Json {
    let (whole, per) = (base, kind.per_shown());
    if whole % per == 0 {
        return (whole / per).into();
    }
    serde_json::Number::from_f64(whole as f64 / per as f64).map_or(Json::Null, Json::Number)
}

fn shown(state: &State, measure: &str, value: Value) -> Json {
    match value {
        Value::Good(good) => Json::from(if good { "good" } else { "needs work" }),
        Value::Done(done) => Json::from(if done { "done" } else { "not done" }),
        Value::Grade(grade) => {
            let grades = state.measure(measure).map(|m| m.grades).unwrap_or_default();
            let word = grades.get(usize::from(grade));
            word.map_or(Json::from(grade), |w| Json::from(w.as_ref()))
        }
        value => number(value.kind(), value.base()),
    }
}

fn targets(state: &State, all: &[(Step, Progress)]) -> Vec<TargetPart> {
    let mut parts = Vec::new();
    for measure in measures(all) {
        let mut scopes: Vec<Scope> = vec![Scope::Job];
        scopes.extend(state.target_history(&measure).iter().map(|c| c.scope));
        scopes.sort();
        scopes.dedup();
        parts.extend(
            scopes
                .into_iter()
                .filter_map(|scope| target(state, &measure, scope)),
        );
    }
    parts
}

fn target(state: &State, id: &str, scope: Scope) -> Option<TargetPart> {
    let measure = state.measure(id)?;
    let on = match scope {
        Scope::Job => Subject::Whole,
        Scope::Section(s) => Subject::Note(state.sections().ends(usize::from(s))?.0),
        Scope::Note(n) => Subject::Note(n),
    };
    let band = state
        .band(id, on)
        .or_else(|| state.band(id, Subject::Note(Note::FIRST)))?;
    let unit = unit_key(measure.kind);
    let mut numbers = BTreeMap::new();
    let mut put = |key: &str, base: Option<i64>| {
        if let Some(base) = base.filter(|_| measure.kind.is_number()) {
            numbers.insert(format!("{key}{unit}"), number(measure.kind, base));
        }
    };
    put("aim", Some(band.aim));
    put("within_low", band.within.0);
    put("within_high", band.within.1);
    put("accept_low", band.accept.0);
    put("accept_high", band.accept.1);
    if !measure.kind.is_number() {
        let aim = Value::from_base(measure.kind, band.aim);
        numbers.insert("aim".into(), shown(state, id, aim));
    }
    Some(TargetPart {
        measure: id.to_owned(),
        name: measure.name.into_owned(),
        scope,
        numbers,
    })
}

/// The measures of the steps, each once, in order.
fn measures(all: &[(Step, Progress)]) -> Vec<String> {
    let mut names: Vec<String> = Vec::new();
    for id in all.iter().flat_map(|(step, _)| &step.takes) {
        if !names.iter().any(|n| n == id.as_str()) {
            names.push(id.to_string());
        }
    }
    names
}

fn step_part(step: &Step, progress: &Progress) -> StepPart {
    StepPart {
        step: step.id.to_string(),
        name: step.name.to_string(),
        stage: step.stage.name(),
        expected: progress.expected,
        read: progress.read,
        on_aim: progress.on_aim,
        out: progress.out,
        read_again: progress.again,
        minutes: (progress.spent_ms + 30_000) / 60_000,
    }
}

fn records(state: &State, all: &[(Step, Progress)], on: Subject) -> RecordPart {
    let mut part = RecordPart::default();
    for measure in measures(all) {
        for place in [Place::Bench, Place::Piano] {
            let Some(slot) = state.slot(&measure, on, place) else {
                continue;
            };
            let put = |to: &mut BTreeMap<String, Json>, value: Value| {
                let key = format!("{measure}{}", unit_key(value.kind()));
                to.insert(key, shown(state, &measure, value));
            };
            if let Some(found) = slot.of(Occasion::AsFound) {
                put(&mut part.as_found, found.value);
            }
            if let Some(left) = slot.of(Occasion::AsLeft) {
                put(&mut part.as_left, left.value);
            }
            let Some(now) = slot.in_force() else { continue };
            let at = if place == Place::Bench {
                &mut part.bench
            } else {
                &mut part.piano
            };
            put(at, now.value);
            if let Some(judged) = state.judge(&measure, on, now.value) {
                let verdict = serde_json::to_value(judged.verdict).unwrap_or_default();
                part.verdicts.insert(measure.clone(), verdict);
            }
            if state.disturbed(&measure, on, place).is_some() && !part.read_again.contains(&measure)
            {
                part.read_again.push(measure.clone());
            }
        }
    }
    part.remarks = state
        .remarks()
        .filter(|r| r.on == on)
        .map(|r| r.text.clone())
        .collect();
    part
}

/// The papers put in less those taken out, by thickness.
fn materials(job: &Job) -> Vec<MaterialPart> {
    let mut papers: BTreeMap<i64, i64> = BTreeMap::new();
    for entry in job.log().entries() {
        if let Act::Correction {
            made: super::Correction::Papers(put),
            ..
        } = &entry.act
        {
            if job.state().is_alive(entry.id) {
                for paper in put {
                    *papers.entry(paper.abs().nm()).or_default() += paper.nm().signum();
                }
            }
        }
    }
    papers
        .into_iter()
        .filter(|(nm, count)| *nm > 0 && *count != 0)
        .map(|(nm, count)| MaterialPart {
            paper_mm: number(Kind::Length, nm),
            count,
        })
        .collect()
}

fn summary(job: &Job, all: &[(Step, Progress)]) -> Summary {
    let whole = State::stage_progress(all, None);
    let entries = job.log().entries();
    Summary {
        entries: entries.len(),
        steps: whole.steps,
        steps_done: whole.done,
        hours: number(Kind::Mass, (whole.spent_ms + 1_800) / 3_600),
        out: all.iter().map(|(_, p)| p.out).sum(),
        read_again: all.iter().map(|(_, p)| p.again).sum(),
        first_entry_at_ms: entries.iter().map(|e| e.at_ms).min(),
        last_entry_at_ms: entries.iter().map(|e| e.at_ms).max(),
    }
}

/// What is not as it should be, in sentences.
fn open_points(state: &State, all: &[(Step, Progress)]) -> Vec<String> {
    let mut points: Vec<String> = Vec::new();
    for (step, p) in all {
        if p.is_begun() && p.out > 0 {
            points.push(format!(
                "{}: {} of {} out of tolerance.",
                step.name, p.out, p.expected
            ));
        }
        if p.again > 0 {
            points.push(format!("{}: {} to read again.", step.name, p.again));
        }
        if p.is_begun() && p.left() > p.again {
            let left = p.left() - p.again;
            points.push(format!("{}: {left} of {} not read.", step.name, p.expected));
        }
    }
    for fault in state.remarks().filter(|r| r.fault) {
        let on = match fault.on {
            Subject::Whole => "Whole action".to_owned(),
            Subject::Section(s) => format!("Section {}", s + 1),
            Subject::Note(n) => format!("Note {} ({n})", n.number()),
        };
        points.push(format!("{on}: {}", fault.text));
    }
    points
}

/// What opening a file found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Opened {
    /// The job's random number, where the log has it.
    pub id: Option<JobId>,
    /// The entries that can be read.
    pub entries: Vec<Entry>,
    /// What to tell the technician, a sentence each: entries that cannot be read,
    /// entries of a newer kind, a checksum that does not fit, parts changed outside Evenhand.
    pub notices: Vec<String>,
}

/// Why a file was not opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileError {
    /// The file is empty.
    Empty,
    /// Larger than [`MOST_BYTES`].
    TooLarge(usize),
    /// Brackets within brackets beyond any job file.
    TooDeep,
    /// Not UTF-8 from this byte on.
    NotText(usize),
    /// Cut off before its end.
    Truncated,
    /// Not JSON at this line and column.
    NotJson {
        /// The line, from 1.
        line: usize,
        /// The column, from 1.
        column: usize,
    },
    /// JSON, but not a job file.
    Foreign,
    /// A job file of a newer version.
    Newer(u64),
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            FileError::Empty => write!(f, "The file is empty.")?,
            FileError::TooLarge(bytes) => write!(
                f,
                "The file has {} MB; a job file has at most {} MB.",
                bytes >> 20,
                MOST_BYTES >> 20
            )?,
            FileError::TooDeep => write!(f, "The file is nested far deeper than a job file.")?,
            FileError::NotText(at) => write!(f, "The file is not text: byte {at} cannot be read.")?,
            FileError::Truncated => write!(
                f,
                "The file breaks off before its end. Ask for it again, or copy it once more."
            )?,
            FileError::NotJson { line, column } => write!(
                f,
                "The file cannot be read at line {line}, column {column}. It may have been changed by another program."
            )?,
            FileError::Foreign => write!(
                f,
                "This is not a job file of Evenhand. Its name ends in .job.json."
            )?,
            FileError::Newer(version) => write!(
                f,
                "The file is of version {version}; this Evenhand reads up to version {VERSION}. Update Evenhand and open it again."
            )?,
        }
        write!(
            f,
            " Nothing was opened, and nothing stored here was changed."
        )
    }
}

impl std::error::Error for FileError {}

/// What is read of a file before its entries.
#[derive(Deserialize)]
struct Shell {
    format: String,
    version: u64,
    log: Vec<Box<RawValue>>,
    #[serde(default)]
    log_sha256: String,
}

/// Opens a job file: somebody else's bytes.
///
/// Entries that cannot be read are named in the notices; the others are kept.
/// Nothing is trusted but the log.
///
/// # Errors
/// [`FileError`], a sentence that says what is wrong, where, and what to do.
pub fn open(bytes: &[u8]) -> Result<Opened, FileError> {
    let text = text_of(bytes)?;
    let shell: Shell = serde_json::from_str(text).map_err(|e| foreign_or_broken(text, &e))?;
    if shell.format != FORMAT {
        return Err(FileError::Foreign);
    }
    if shell.version > VERSION {
        return Err(FileError::Newer(shell.version));
    }
    let mut opened = Opened::default();
    for (at, raw) in shell.log.iter().enumerate() {
        match Entry::from_line(raw.get()) {
            Ok(entry) => opened.entries.push(entry),
            Err(error) => opened.notices.push(format!(
                "Entry {} of the file was left out: {error}. The others were kept.",
                at + 1
            )),
        }
    }
    let unknown = opened
        .entries
        .iter()
        .filter(|e| matches!(e.act, Act::Unknown(_)))
        .count();
    if unknown > 0 {
        opened.notices.push(format!(
            "{unknown} entries are of a kind that this Evenhand does not know. They are kept and passed on, but not shown."
        ));
    }
    if shell.log_sha256 != checksum(&opened.entries) {
        opened.notices.push(
            "The checksum does not fit the entries: the file was changed outside Evenhand. Look the readings over."
                .to_owned(),
        );
    }
    let job = Job::from_entries(opened.entries.iter().cloned());
    opened.id = job.state().id();
    opened.notices.extend(changed_outside(text, &job));
    Ok(opened)
}

/// The file as text, within the limits.
fn text_of(bytes: &[u8]) -> Result<&str, FileError> {
    if bytes.len() > MOST_BYTES {
        return Err(FileError::TooLarge(bytes.len()));
    }
    let text = std::str::from_utf8(bytes).map_err(|e| FileError::NotText(e.valid_up_to() + 1))?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(FileError::Empty);
    }
    if depth(text) > DEEPEST {
        return Err(FileError::TooDeep);
    }
    Ok(text)
}

/// How deep brackets nest, strings aside.
fn depth(text: &str) -> usize {
    let (mut depth, mut deepest, mut quoted, mut escaped) = (0usize, 0, false, false);
    for byte in text.bytes() {
        match (quoted, byte) {
            (true, _) if escaped => escaped = false,
            (true, b'\\') => escaped = true,
            (_, b'"') => quoted = !quoted,
            (false, b'[' | b'{') => {
                depth += 1;
                deepest = deepest.max(depth);
            }
            (false, b']' | b'}') => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    deepest
}

fn foreign_or_broken(text: &str, error: &serde_json::Error) -> FileError {
    match error.classify() {
        serde_json::error::Category::Eof => FileError::Truncated,
        serde_json::error::Category::Data => match serde_json::from_str::<Newer>(text) {
            Ok(newer) if newer.format == FORMAT && newer.version > VERSION => {
                FileError::Newer(newer.version)
            }
            _ => FileError::Foreign,
        },
        _ if !text.trim_start().starts_with('{') => FileError::Foreign,
        _ => FileError::NotJson {
            line: error.line(),
            column: error.column(),
        },
    }
}

/// The least that tells a newer file from a foreign one.
#[derive(Deserialize)]
struct Newer {
    format: String,
    version: u64,
}

/// The derived parts whose change outside is reported.
#[derive(Deserialize)]
struct Derived {
    #[serde(default)]
    exported_at_ms: i64,
    #[serde(default)]
    job: Json,
    #[serde(default)]
    targets: Json,
    #[serde(default)]
    whole: Json,
    #[serde(default)]
    by_section: Json,
    #[serde(default)]
    notes: Json,
}

/// The most changes outside that are named one by one.
const MOST_NAMED: usize = 12;

fn changed_outside(text: &str, job: &Job) -> Vec<String> {
    let read = |text: &str| serde_json::from_str::<Derived>(text);
    let Ok(given) = read(text) else {
        return vec!["The readable parts of the file cannot be read. The entries were read, and they are what counts.".to_owned()];
    };
    let Ok(own) = read(&export(job, given.exported_at_ms)) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    differences("job", &given.job, &own.job, &mut found);
    differences("target", &given.targets, &own.targets, &mut found);
    differences("whole action", &given.whole, &own.whole, &mut found);
    differences("section", &given.by_section, &own.by_section, &mut found);
    differences("note", &given.notes, &own.notes, &mut found);
    let rest = found.len().saturating_sub(MOST_NAMED);
    found.truncate(MOST_NAMED);
    let mut notices: Vec<String> = found
        .iter()
        .map(|what| format!("Changed outside Evenhand, and not taken over: {what}."))
        .collect();
    if rest > 0 {
        notices.push(format!(
            "And {rest} more changes outside Evenhand, not taken over."
        ));
    }
    notices
}

/// Names each place where two derived parts differ; a part that is missing is no change.
fn differences(name: &str, given: &Json, own: &Json, found: &mut Vec<String>) {
    match (given, own) {
        (Json::Null, _) => {}
        (Json::Object(a), Json::Object(b)) => {
            let keys: std::collections::BTreeSet<&String> = a.keys().chain(b.keys()).collect();
            for key in keys {
                let missing = Json::Null;
                let (x, y) = (
                    a.get(key).unwrap_or(&missing),
                    b.get(key).unwrap_or(&missing),
                );
                if x.is_null() && !y.is_null() {
                    found.push(format!("{name} {key}"));
                } else {
                    differences(&format!("{name} {key}"), x, y, found);
                }
            }
        }
        (Json::Array(a), Json::Array(b)) if a.len() == b.len() => {
            for (at, (x, y)) in a.iter().zip(b).enumerate() {
                differences(&format!("{name} {}", at + 1), x, y, found);
            }
        }
        (a, b) if a == b => {}
        _ => found.push(name.to_owned()),
    }
}
