//! The job file as it is written.

use super::super::verdict::Looked;
use super::super::{Act, Correction, Entry, Item, Job, Progress, Scope, State, Subject};
use super::parts::{Fields, RecordPart};
use super::{Checksum, FORMAT, VERSION};
use crate::json::{InJson, Json, Object};
use crate::note::Note;
use crate::trade::{Band, Measure, MeasureId, Occasion, Place, Step, Target};
use crate::unit::{Kind, Length, Value};

/// The job file of a job, written at a wall time in milliseconds since 1970 (UTC).
///
/// The log stands one entry a line, as it is stored.
pub fn export(job: &Job, now_ms: i64) -> String {
    let (log, log_sha256) = log(job);
    derived(job, now_ms, log, log_sha256).laid_out()
}

/// The readable parts of the job file alone.
pub(super) fn readable(job: &Job, now_ms: i64) -> String {
    derived(job, now_ms, Vec::new(), String::new()).laid_out()
}

/// The file with this log.
fn derived(job: &Job, now_ms: i64, log: Vec<Json>, log_sha256: String) -> Json {
    let state = job.state();
    let all = state.progress(now_ms);
    let measures = measures(state, all.iter().flat_map(|(step, _)| step.takes.clone()));
    // What is reckoned from readings has targets too, as the balance weight has.
    let aimed = self::measures(state, all.iter().flat_map(|(step, _)| step.yields()));
    let head = Fields::default()
        .with("id", state.id())
        .all_of(state.details());
    let targets = aimed.iter().flat_map(|m| targets(state, m)).collect();
    let steps = all.iter().map(|(s, p)| step_part(s, p)).collect();
    let whole = records(state, &measures, Subject::Whole);
    let by_section = (0..state.scale().count()).map(|section| {
        let of_section = Fields::default().with("section", section);
        records(state, &measures, Subject::Section(section as u8)).after(of_section)
    });
    let notes = Note::all().map(|note| {
        let of_note = Fields::default()
            .with("note", note)
            .with("name", note.name())
            .with("colour", note.colour());
        records(state, &measures, Subject::Note(note)).after(of_note)
    });
    Fields::default()
        .with("format", FORMAT.to_owned())
        .with("version", VERSION)
        .with("program", super::PROGRAM.to_owned())
        .with("exported_at_ms", now_ms.clamp(0, Entry::LAST_MS))
        .part("job", head.done())
        .part("sections", Json::Array(sections(state)))
        .part("targets", Json::Array(targets))
        .part("steps", Json::Array(steps))
        .part("whole", whole.after(Fields::default()))
        .part("by_section", Json::Array(by_section.collect()))
        .part("notes", Json::Array(notes.collect()))
        .part("materials", Json::Array(materials(job)))
        .part("summary", summary(job, &all))
        .with("open_points", open_points(state, &all))
        .part("log", Json::Array(log))
        .with("log_sha256", log_sha256)
        .done()
}

/// The lines of the log, with their checksum.
fn log(job: &Job) -> (Vec<Json>, String) {
    let mut checksum = Checksum::default();
    let lines = job.log().entries().iter().map(|entry| {
        let line = entry.to_line();
        checksum.add(&line);
        Json::Raw(line)
    });
    let lines = lines.collect();
    (lines, checksum.finish())
}

fn sections(state: &State) -> Vec<Json> {
    let sections = state.scale();
    (0..sections.count())
        .filter_map(|section| {
            let (first, last) = sections.ends(section)?;
            let fields = Fields::default().with("section", section);
            Some(
                fields
                    .with("first_note", first)
                    .with("last_note", last)
                    .done(),
            )
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

/// The key of a value. A mark of the user's own whose name ends as a unit does is told from a number.
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

/// A number of small units in the unit of its key.
fn number(kind: Kind, base: i64) -> Json {
    let per = kind.per_shown();
    if base % per == 0 {
        return (base / per).into();
    }
    let sign = if base < 0 { "-" } else { "" };
    let (whole, rest) = (
        base.unsigned_abs() / per.unsigned_abs(),
        base.unsigned_abs() % per.unsigned_abs(),
    );
    let digits = per.ilog10() as usize;
    let number = format!("{sign}{whole}.{rest:0digits$}");
    Json::Raw(number.trim_end_matches('0').to_owned())
}

fn shown(measure: &Measure, value: Value) -> Json {
    match value {
        Value::Good(good) => Json::from(if good { "good" } else { "needs work" }),
        Value::Done(done) => Json::from(if done { "done" } else { "not done" }),
        Value::Grade(grade) => {
            let word = measure.grades.get(usize::from(grade));
            word.map_or(Json::from(grade), |w| Json::from(w.as_ref()))
        }
        value => number(value.kind(), value.base()),
    }
}

/// A measure of the job, looked up once.
struct Looker<'a> {
    id: MeasureId,
    measure: &'a Measure,
    looked: Looked<'a>,
}

/// The measures of the steps, each once, in order, and after them those that something was
/// recorded of though no step takes them now.
fn measures(state: &State, of_steps: impl Iterator<Item = MeasureId>) -> Vec<Looker<'_>> {
    let mut measures: Vec<Looker<'_>> = Vec::new();
    for id in of_steps.chain(state.recorded().cloned()) {
        let looked = state.looked(id.as_str());
        if let Some(measure) = looked.measure
            && measures.iter().all(|m| m.id != id)
        {
            measures.push(Looker {
                id,
                measure,
                looked,
            });
        }
    }
    measures
}

/// The targets of a measure: that of the whole job, and those of sections and notes.
fn targets(state: &State, of: &Looker<'_>) -> Vec<Json> {
    let mut scopes: Vec<Scope> = vec![Scope::Job];
    let history = state.target_history(of.id.as_str());
    scopes.extend(history.iter().map(|c| c.scope));
    scopes.sort();
    scopes.dedup();
    let mut parts = Vec::new();
    for scope in scopes {
        if let Some(target) = of.looked.own_target(scope) {
            for (at, numbers) in bands(of.measure, target) {
                let mut part = Fields::default()
                    .with("measure", of.id.clone())
                    .with("name", of.measure.name.clone())
                    .with("scope", scope);
                if let Some((key, place)) = at {
                    part = part.with(key, place);
                }
                parts.push(part.numbers(numbers).done());
            }
        }
    }
    parts
}

/// The note or section that a band is for, where it is not for all of the target's scope.
type At = Option<(&'static str, usize)>;

/// What a target says, band by band.
fn bands(measure: &Measure, target: &Target) -> Vec<(At, Object)> {
    match target {
        Target::Flat(band) => vec![(None, band_part(measure, band))],
        Target::BySection(bands) => bands
            .iter()
            .enumerate()
            .map(|(section, band)| (Some(("at_section", section)), band_part(measure, band)))
            .collect(),
        Target::Tapered(points) => points
            .iter()
            .map(|(note, band)| {
                let number = usize::from(note.number());
                (Some(("at_note", number)), band_part(measure, band))
            })
            .collect(),
        Target::ShareOf {
            of,
            percent,
            within,
            accept,
        } => {
            let unit = unit_key(measure.kind);
            let mut numbers = Object::default();
            numbers.put("share_of", of.to_json());
            numbers.put("share_percent", percent.to_json());
            for (key, base) in [("within", *within), ("accept", *accept)] {
                numbers.put(format!("{key}{unit}"), number(measure.kind, base));
            }
            vec![(None, numbers)]
        }
    }
}

fn band_part(measure: &Measure, band: &Band) -> Object {
    if !measure.kind.is_number() {
        let aim = Value::from_base(measure.kind, band.aim);
        let mut numbers = Object::default();
        numbers.put("aim", shown(measure, aim));
        return numbers;
    }
    let unit = unit_key(measure.kind);
    let mut numbers = Object::default();
    for (key, base) in [
        ("aim", Some(band.aim)),
        ("within_low", band.within.0),
        ("within_high", band.within.1),
        ("accept_low", band.accept.0),
        ("accept_high", band.accept.1),
    ] {
        if let Some(base) = base {
            numbers.put(format!("{key}{unit}"), number(measure.kind, base));
        }
    }
    numbers
}

fn step_part(step: &Step, progress: &Progress) -> Json {
    Fields::default()
        .with("step", step.id.clone())
        .with("name", step.name.clone())
        .with("stage", step.stage.name().to_owned())
        .with("expected", progress.expected)
        .with("read", progress.read)
        .with("on_aim", progress.on_aim)
        .with("out", progress.out)
        .with("read_again", progress.again)
        .with("minutes", (progress.spent_ms + 30_000) / 60_000)
        .with("minutes_stated", progress.time_stated)
        .done()
}

fn records(state: &State, measures: &[Looker<'_>], on: Subject) -> RecordPart {
    let mut part = RecordPart::default();
    for of in measures {
        for place in [Place::Bench, Place::Piano] {
            record(&mut part, of, on, place);
        }
    }
    part.remarks = state
        .remarks()
        .filter(|r| r.on == on)
        .map(|r| r.text.clone())
        .collect();
    part
}

fn record(part: &mut RecordPart, of: &Looker<'_>, on: Subject, place: Place) {
    let Some(slot) = of.looked.slot(on, place) else {
        return;
    };
    let put = |to: &mut Object, value: Value| {
        let key = value_key(&of.id, value.kind());
        to.put(key, shown(of.measure, value));
    };
    if let Some(found) = slot.of(Occasion::AsFound) {
        put(&mut part.as_found, found.value);
    }
    if let Some(left) = slot.of(Occasion::AsLeft) {
        put(&mut part.as_left, left.value);
    }
    let Some(now) = slot.in_force() else { return };
    match place {
        Place::Bench => put(&mut part.bench, now.value),
        Place::Piano => put(&mut part.piano, now.value),
    }
    if let Some(judged) = of.looked.judge(on, now.value) {
        part.verdicts.put(of.id.0.clone(), judged.verdict.to_json());
    }
    let disturbed = of.looked.disturbed_since(now.stamp, on, place).is_some();
    if disturbed
        && part
            .read_again
            .last()
            .is_none_or(|last| *last != of.id.as_str())
    {
        part.read_again.push(of.id.to_string());
    }
}

/// The papers put in less those taken out, in nanometres of thickness, thinnest first.
pub fn papers_used(job: &Job) -> Vec<(Length, i64)> {
    let mut papers: Vec<i64> = Vec::new();
    for entry in job.log().entries() {
        if let Act::Correction {
            made: Correction::Papers(put),
            ..
        } = &entry.act
            && job.state().is_alive(entry.id)
        {
            papers.extend(put.iter().map(|paper| paper.nm()));
        }
    }
    papers.sort_by_key(|nm| nm.unsigned_abs());
    let kinds = papers.chunk_by(|a, b| a.unsigned_abs() == b.unsigned_abs());
    kinds
        .map(|of| {
            (
                Length::from_nm(of[0]).abs(),
                of.iter().map(|nm| nm.signum()).sum(),
            )
        })
        .filter(|(_, count)| *count != 0)
        .collect()
}

fn materials(job: &Job) -> Vec<Json> {
    let papers = papers_used(job).into_iter();
    papers
        .map(|(thickness, count)| {
            let paper = Fields::default().with("paper_mm", number(Kind::Length, thickness.nm()));
            paper.with("count", count).done()
        })
        .collect()
}

fn summary(job: &Job, all: &[(Step, Progress)]) -> Json {
    let whole = State::stage_progress(all, None);
    let entries = job.log().entries();
    Fields::default()
        .with("entries", entries.len())
        .with("steps", whole.steps)
        .with("steps_done", whole.done)
        .with(
            "hours",
            number(Kind::Mass, (whole.spent_ms + 1_800) / 3_600),
        )
        .with("out", out_of_tolerance(job.state(), all))
        .with(
            "read_again",
            all.iter().map(|(_, p)| p.again).sum::<usize>(),
        )
        .with("first_entry_at_ms", entries.iter().map(|e| e.at_ms).min())
        .with("last_entry_at_ms", entries.iter().map(|e| e.at_ms).max())
        .done()
}

/// How many readings are out of tolerance as things stand, over all steps.
pub fn out_of_tolerance(state: &State, all: &[(Step, Progress)]) -> usize {
    all.iter().map(|(s, p)| out_now(state, s, p)).sum()
}

/// How many of one step are. What was found out was found
/// out, whatever was done about it since; and what was out on the bench has been settled by a later
/// reading in the piano, which is judged by itself.
fn out_now(state: &State, step: &Step, progress: &Progress) -> usize {
    if progress.out == 0 || step.occasion() == Occasion::AsFound {
        return 0;
    }
    let place = step.place_or(state.place());
    let stands = |item: &Item| {
        let piano = || {
            state
                .slot(item.measure.as_str(), item.on, Place::Piano)?
                .in_force()
        };
        state.item_state(step, item).is_out() && (place == Place::Piano || piano().is_none())
    };
    state.items(step).iter().filter(|item| stands(item)).count()
}

/// What is not as it should be, in sentences.
pub fn open_points(state: &State, all: &[(Step, Progress)]) -> Vec<String> {
    let mut points: Vec<String> = Vec::new();
    for (step, p) in all {
        let out = out_now(state, step, p);
        if out > 0 {
            points.push(format!(
                "{}: {out} of {} out of tolerance.",
                step.name, p.expected
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
    for fault in state.open_faults() {
        points.push(format!("{}: {}", fault.on.words(), fault.text));
    }
    points
}
