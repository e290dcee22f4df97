//! Writing the job file.

use serde::Serialize;
use serde_json::value::RawValue;

use super::super::verdict::MeasureView;
use super::super::{Day, Entry, Job, JobId, LogPosition, Progress, Scope, State, Subject};
use super::parts::{
    At, File, Head, MaterialPart, NotePart, Numbers, RecordPart, SectionPart, SectionRecords,
    Shown, StepPart, Summary, TargetPart,
};
use super::{Checksum, Conclusions, FORMAT, OLDER_RELEASES, REVISION, VERSION, out_of_step};
use crate::note::Note;
use crate::trade::{Band, Measure, MeasureId, Occasion, Place, Step, Target};
use crate::unit::{DecimalFormat, Kind, Length, Value};

/// Returns the job file of a job, exported at a wall time in milliseconds since 1970 (UTC), with the
/// results of analysis.
///
/// It is UTF-8 JSON: the readable parts, the entries of the log, and the SHA-256 of their
/// lines ([`Entry::to_line`]). The wall time is clamped to 0 to [`Entry::LAST_MS`].
///
/// ```
/// use evenhand_core::job::{Conclusions, Job, write_file};
///
/// let file = write_file(&Job::new(), 0, Conclusions::default());
/// assert!(file.contains(r#""format": "evenhand-job""#));
/// ```
pub fn write_file(job: &Job, now_ms: i64, concluded: Conclusions) -> String {
    let (log, log_sha256) = log(job);
    written(&File {
        log,
        log_sha256,
        set_aside: &job.set_aside,
        ..derived(job, now_ms, concluded)
    })
}

/// Returns the job file of the log alone, for a job whose readable parts have no room: which job, the entries, their
/// SHA-256, and the stored records that could not be read.
///
/// ```
/// use evenhand_core::job::{Job, write_log};
///
/// let file = write_log(&Job::new());
/// assert!(file.contains(r#""log""#) && !file.contains(r#""notes""#));
/// ```
pub fn write_log(job: &Job) -> String {
    #[derive(Serialize)]
    struct Of {
        id: Option<JobId>,
    }
    #[derive(Serialize)]
    struct LogFile<'a> {
        format: &'static str,
        version: u64,
        job: Of,
        #[serde(skip_serializing_if = "<[String]>::is_empty")]
        set_aside: &'a [String],
        log: Vec<Box<RawValue>>,
        log_sha256: String,
    }
    let (log, log_sha256) = log(job);
    // Without spaces, as the file may be that was opened. Serializing strings, numbers and lists cannot fail.
    serde_json::to_string(&LogFile {
        format: FORMAT,
        version: VERSION,
        job: Of { id: job.id() },
        set_aside: &job.set_aside,
        log,
        log_sha256,
    })
    .unwrap_or_default()
}

/// The most entries of a job after a file was merged into it.
const MAX_MERGED: usize = 45_000;
/// The most bytes of its lines, and of what could not be read (12 MiB).
const MAX_MERGED_BYTES: usize = 12 << 20;

/// Returns `true` if a job has room for the entries of much further work: files may be merged into it up to 45,000
/// entries and 12 MiB, so that what is typed afterwards can be exported and opened again.
///
/// ```
/// use evenhand_core::job::{Job, leaves_room};
///
/// assert!(leaves_room(&Job::new()));
/// ```
pub fn leaves_room(job: &Job) -> bool {
    let entries = job.log().entries();
    let of_log = entries.iter().map(|e| e.to_line().len());
    // In the file a record is a text, with its quotes escaped.
    let of_rest = job.set_aside.iter().map(|record| 2 * record.len());
    entries.len() + job.set_aside.len() <= MAX_MERGED
        && of_log.chain(of_rest).sum::<usize>() <= MAX_MERGED_BYTES
}

/// Returns the job file with an empty log, to compare the readable parts.
pub(super) fn readable(job: &Job, now_ms: i64, concluded: Conclusions) -> String {
    written(&derived(job, now_ms, concluded))
}

fn written(file: &File<'_>) -> String {
    // Serializing strings, numbers and lists cannot fail.
    serde_json::to_string_pretty(file).unwrap_or_default()
}

/// Returns the file with an empty log.
fn derived(job: &Job, now_ms: i64, concluded: Conclusions) -> File<'_> {
    let state = job.state();
    let all = state.progress(now_ms);
    let out = concluded.out();
    let measures = measures(state, all.iter().flat_map(|(step, _)| step.takes.clone()));
    // Measures computed from readings, such as the balance weight, have targets too.
    let aimed = self::measures(state, all.iter().flat_map(|(step, _)| step.yields()));
    let first_work = state.first_work();
    let records = |on| records(state, &measures, first_work, on);
    let by_section = (0..state.sections().count()).map(|section| SectionRecords {
        section,
        records: records(Subject::Section(section as u8)),
    });
    let notes = Note::all().map(|note| NotePart {
        note,
        name: note.name(),
        color: note.color(),
        records: records(Subject::Note(note)),
    });
    File {
        format: FORMAT,
        version: VERSION,
        revision: REVISION,
        program: super::PROGRAM,
        older_releases: OLDER_RELEASES,
        exported_at_ms: now_ms.clamp(0, Entry::LAST_MS),
        job: Head {
            id: job.id(),
            kind: state.kind().map(|kind| kind.name.as_str()),
            details: state.details(),
        },
        sections: sections(state),
        targets: aimed.iter().flat_map(|m| targets(state, m)).collect(),
        steps: all
            .iter()
            .map(|(s, p)| step_part(s, p, out_of_step(&concluded.values_out, &s.id)))
            .collect(),
        whole: records(Subject::Whole),
        by_section: by_section.collect(),
        notes: notes.collect(),
        materials: materials(&concluded.punchings),
        parts_to_order: concluded.parts,
        summary: summary(job, &all, out, concluded.next_check_on),
        open_points: concluded.open_points.into_iter().map(|p| p.text).collect(),
        conflicts: concluded.conflicts,
        set_aside: &[],
        log: Vec::new(),
        log_sha256: String::new(),
    }
}

/// Returns the lines of the log and their checksum.
fn log(job: &Job) -> (Vec<Box<RawValue>>, String) {
    let mut checksum = Checksum::default();
    let lines = job.log().entries().iter().map(|entry| {
        let line = entry.to_raw();
        checksum.add(line.get());
        line
    });
    let lines = lines.collect();
    (lines, checksum.finish())
}

/// Embeds text that is already JSON.
fn raw(json: String) -> Box<RawValue> {
    RawValue::from_string(json).unwrap_or_default()
}

fn sections(state: &State) -> Vec<SectionPart> {
    let sections = state.sections();
    let part = |section| {
        let (first_note, last_note) = sections.ends(section)?;
        Some(SectionPart {
            section,
            first_note,
            last_note,
        })
    };
    (0..sections.count()).filter_map(part).collect()
}

/// Returns the unit at the end of a key, such as `_mm`; empty for marks.
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

/// Returns the key of a value. `_mark` tells a mark whose name ends like a unit from a number.
fn value_key(id: &MeasureId, kind: Kind) -> String {
    const UNITS: [Kind; 7] = [
        Kind::Length,
        Kind::Force,
        Kind::Mass,
        Kind::Count,
        Kind::Frequency,
        Kind::Humidity,
        Kind::Temperature,
    ];
    let seems = |kind: Kind| id.as_str().ends_with(unit_key(kind));
    match unit_key(kind) {
        "" if UNITS.into_iter().any(seems) => format!("{id}_mark"),
        unit => format!("{id}{unit}"),
    }
}

/// Returns a number of small units, converted to the unit of its key, exact.
fn number(kind: Kind, base: i64) -> Box<RawValue> {
    raw(DecimalFormat::EXACT.print(base, kind.per_shown()))
}

fn shown(measure: &Measure, value: Value) -> Shown<'_> {
    match value {
        Value::Good(good) => Shown::Word(if good { "good" } else { "needs work" }),
        Value::Done(done) => Shown::Word(if done { "done" } else { "not done" }),
        Value::Grade(grade) => match measure.grades.get(usize::from(grade)) {
            Some(word) => Shown::Word(word),
            None => Shown::Number(raw(grade.to_string())),
        },
        value => Shown::Number(number(value.kind(), value.base())),
    }
}

/// A measure of the job, looked up once.
struct MeasureLookup<'a> {
    id: MeasureId,
    measure: &'a Measure,
    looked: MeasureView<'a>,
}

/// Returns the measures of the steps in order, each once, followed by those that have a record but that no step
/// takes now.
fn measures(state: &State, of_steps: impl Iterator<Item = MeasureId>) -> Vec<MeasureLookup<'_>> {
    let mut measures: Vec<MeasureLookup<'_>> = Vec::new();
    for id in of_steps.chain(state.recorded().cloned()) {
        let looked = state.looked(id.as_str());
        if let Some(measure) = looked.measure
            && measures.iter().all(|m| m.id != id)
        {
            measures.push(MeasureLookup {
                id,
                measure,
                looked,
            });
        }
    }
    measures
}

/// Returns the targets of a measure: of the job, of sections and of notes.
fn targets<'a>(state: &'a State, of: &MeasureLookup<'a>) -> Vec<TargetPart<'a>> {
    let mut scopes: Vec<Scope> = vec![Scope::Job];
    let history = state.target_history(of.id.as_str());
    scopes.extend(history.iter().map(|c| c.scope));
    scopes.sort_unstable();
    scopes.dedup();
    let mut parts = Vec::new();
    for scope in scopes {
        if let Some(target) = of.looked.own_target(scope) {
            let part = |(at, numbers)| TargetPart {
                measure: of.id.clone(),
                name: &of.measure.name,
                scope,
                at,
                numbers,
            };
            parts.extend(bands(of.measure, target).into_iter().map(part));
        }
    }
    parts
}

/// Returns the bands of a target, each with the section or note that it is for.
fn bands<'a>(measure: &'a Measure, target: &'a Target) -> Vec<(Option<At>, Numbers<'a>)> {
    match target {
        Target::Flat(band) => vec![(None, band_part(measure, band))],
        Target::BySection(bands) => bands
            .iter()
            .enumerate()
            .map(|(section, band)| (Some(At::AtSection(section)), band_part(measure, band)))
            .collect(),
        Target::Tapered(points) => points
            .iter()
            .map(|(note, band)| (Some(At::AtNote(*note)), band_part(measure, band)))
            .collect(),
        Target::ShareOf {
            of,
            percent,
            within,
            accept,
        } => {
            let unit = unit_key(measure.kind);
            let number = |base: i64| Shown::Number(number(measure.kind, base));
            let percent = raw(percent.to_string());
            vec![(
                None,
                [
                    ("share_of".to_owned(), Shown::Word(of.as_str())),
                    ("share_percent".to_owned(), Shown::Number(percent)),
                    (format!("within{unit}"), number(*within)),
                    (format!("accept{unit}"), number(*accept)),
                ]
                .into(),
            )]
        }
    }
}

fn band_part<'a>(measure: &'a Measure, band: &Band) -> Numbers<'a> {
    if !measure.kind.is_number() {
        let aim = Value::from_base(measure.kind, band.aim);
        return [("aim".to_owned(), shown(measure, aim))].into();
    }
    let unit = unit_key(measure.kind);
    let number = |(key, base): (&str, Option<i64>)| {
        let number = number(measure.kind, base?);
        Some((format!("{key}{unit}"), Shown::Number(number)))
    };
    [
        ("aim", Some(band.aim)),
        ("within_low", band.within.0),
        ("within_high", band.within.1),
        ("accept_low", band.accept.0),
        ("accept_high", band.accept.1),
    ]
    .into_iter()
    .filter_map(number)
    .collect()
}

fn step_part(step: &Step, progress: &Progress, out: usize) -> StepPart {
    StepPart {
        step: step.id.clone(),
        name: step.name.clone(),
        stage: step.stage.name(),
        expected: progress.expected,
        read: progress.read,
        swept: progress.swept,
        marked_out: progress.marked_out,
        not_remeasured: progress.turned,
        on_aim: progress.on_target,
        out,
        read_again: progress.to_remeasure,
        minutes: progress.minutes,
        minutes_stated: progress.time_stated,
    }
}

/// Returns what is recorded on a subject; `first_work` is [`State::first_work`].
fn records<'a>(
    state: &State,
    measures: &[MeasureLookup<'a>],
    first_work: Option<LogPosition>,
    on: Subject,
) -> RecordPart<'a> {
    let mut part = RecordPart::default();
    for of in measures {
        for place in [Place::Bench, Place::Piano] {
            record(&mut part, of, on, place);
        }
        // One rule for what was found and what is known now, over both places.
        let id = of.id.as_str();
        if let Some((found, _)) = state.found_before(id, on, || first_work) {
            put(&mut part.as_found, of, found.value);
        }
        if of.looked.is_marked_out(on) {
            part.marked_out.push(id.to_owned());
        }
        if let Some(sweep) = of.looked.swept_now(on) {
            match sweep.expected {
                Some(_) => part.not_remeasured.push(id.to_owned()),
                None => part.swept.push(id.to_owned()),
            }
        } else if let Some(judged) = state.latest(id, on).and_then(|l| l.judged) {
            part.verdicts.insert(of.id.clone(), judged.verdict);
        }
    }
    part.remarks = state
        .remarks()
        .filter(|r| r.on == on)
        .map(|r| r.text.clone())
        .collect();
    part
}

fn put<'a>(to: &mut Numbers<'a>, of: &MeasureLookup<'a>, value: Value) {
    let key = value_key(&of.id, value.kind());
    to.insert(key, shown(of.measure, value));
}

fn record<'a>(part: &mut RecordPart<'a>, of: &MeasureLookup<'a>, on: Subject, place: Place) {
    let Some(measure_state) = of.looked.measure_state(on, place) else {
        return;
    };
    if let Some(left) = measure_state.of(Occasion::AsLeft) {
        put(&mut part.as_left, of, left.value);
    }
    let Some(now) = measure_state.in_effect() else {
        return;
    };
    match place {
        Place::Bench => put(&mut part.bench, of, now.value),
        Place::Piano => put(&mut part.piano, of, now.value),
    }
    let disturbed = of.looked.disturbed_since(now.position, on, place).is_some();
    if disturbed
        && of.looked.swept_now(on).is_none()
        && part
            .read_again
            .last()
            .is_none_or(|last| *last != of.id.as_str())
    {
        part.read_again.push(of.id.to_string());
    }
}

fn materials(punchings: &[(Length, i64)]) -> Vec<MaterialPart> {
    punchings
        .iter()
        .map(|(thickness, count)| MaterialPart {
            paper_mm: number(Kind::Length, thickness.nm()),
            count: *count,
        })
        .collect()
}

fn summary(job: &Job, all: &[(Step, Progress)], out: usize, next_check_on: Option<Day>) -> Summary {
    let whole = State::stage_progress(all, None);
    let minutes = job.state().work_times().into_iter().map(|t| t.minutes());
    let minutes: i64 = minutes.fold(0, i64::saturating_add);
    let entries = job.log().entries();
    Summary {
        entries: entries.len(),
        steps: whole.steps,
        steps_done: whole.done,
        // In thousandths, rounded.
        hours: number(Kind::Mass, (minutes.saturating_mul(1_000) + 30) / 60),
        out,
        read_again: all.iter().map(|(_, p)| p.to_remeasure).sum(),
        first_entry_at_ms: entries.iter().map(|e| e.at_ms).min(),
        last_entry_at_ms: entries.iter().map(|e| e.at_ms).max(),
        next_check_on,
    }
}
