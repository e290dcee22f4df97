//! The report for the office and the client: what was found, done and left, the hours, the
//! materials, and when to check again. Everything is computed from the job; nothing is stored.

mod next_visit;
mod steps;
mod technicians;

pub use super::hours::Total;
pub use next_visit::NextVisit;
pub use steps::capital;
pub use technicians::Who;

use next_visit::next_visit;
pub(super) use steps::in_sentence;
use technicians::technicians;

use super::climate::{Air, Moved, NOTABLE_CHANGE};
use super::compare::{Compared, compared};
use super::conflicts::{Conflict, conflicts};
use super::decisions::decided;
use super::drift::{Drift, drift};
use super::hours::hours;
use super::listed;
use super::open_points::{conclusions, punchings_used};
use crate::job::{Correction, Details, EntryKind, Job, PartToOrder, Progress, State, Subject};
use crate::trade::{Caution, Instrument, Occasion, Place, Stage, Step, Verdict};
use crate::unit::{Kind, Length, Value};

/// The report of a job. [`handover`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::handover::handover;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Subject};
///
/// let mut job = Job::new();
/// assert_eq!(handover(&job, 0).span_ms, None);
/// let text = "Key at the porter's lodge.".to_owned();
/// let remark = EntryKind::Remark { on: Subject::Whole, step: None, fault: false, text };
/// job.apply(job.draft(ReplicaId::new(7), 1_000, remark));
/// let report = handover(&job, 2_000);
/// assert_eq!(report.span_ms, Some((1_000, 1_000)));
/// // A remark for the technician is in no report.
/// assert!(report.remarks.is_empty());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Handover {
    /// The name of the job, the client, the work agreed, the rate, and whether it is the demo.
    pub details: Details,
    /// Grand or upright.
    pub instrument: Instrument,
    /// The times of the first and the last entry, in milliseconds since 1970 (UTC), or `None` if
    /// the job is empty.
    pub span_ms: Option<(i64, i64)>,
    /// What was found, as sentences.
    pub found: Vec<String>,
    /// What was decided on the wear, as sentences.
    pub decided: Vec<String>,
    /// The parts to order.
    pub parts: Vec<PartToOrder>,
    /// What was done, by stage.
    pub done: Vec<Done>,
    /// How many notes of a step were looked along or done in one stroke, and how many were measured, as sentences;
    /// nothing for what is ticked off.
    pub swept: Vec<String>,
    /// How many values are out of tolerance, by the rule of
    /// [`open_points`](super::open_points).
    pub out: usize,
    /// What was left as it is, and why, as sentences: the open points.
    pub left: Vec<String>,
    /// The steps left out of the job, as a sentence; `None` if there are none.
    pub left_out: Option<String>,
    /// The open conflicts.
    pub conflicts: Vec<Conflict>,
    /// The remark for the client, and the faults that are fixed, as sentences. Remarks for the technician are not among
    /// them.
    pub remarks: Vec<String>,
    /// Before and after, by measure.
    pub compared: Vec<Compared>,
    /// Working minutes by stage, without stages that took none.
    pub hours: Vec<(Stage, i64)>,
    /// The sum of the hours, and its price.
    pub total: Total,
    /// Sentences on steps that are done without working time, or with that of ticking alone.
    pub time_warnings: Vec<String>,
    /// Punchings put in minus those taken out, thinnest first.
    pub punchings: Vec<(Length, i64)>,
    /// The climate each time it was recorded.
    pub climate: Vec<Climate>,
    /// The effect of the change of climate on the wood, if it is notable.
    pub climate_warning: Option<String>,
    /// The cautions for this work.
    pub cautions: Vec<Caution>,
    /// When to check again.
    pub next: NextVisit,
    /// The comparison with an earlier job on the same instrument, if this job carries one.
    pub drift: Option<Drift>,
    /// Who did what.
    pub who: Vec<Who>,
}

/// What was done in one stage: one step or more. Part of [`Handover`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::handover::handover;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::trade::{MeasureId, Occasion, Place, Stage};
/// use evenhand_core::unit::Value;
///
/// let mut job = Job::new();
/// let (dust, done) = (MeasureId::of("dust"), Value::Done(true));
/// job.apply(job.reading(ReplicaId::new(7), 0, dust, Subject::Whole, Place::Bench, Occasion::Working, done, ""));
/// let done = handover(&job, 0).done;
/// assert_eq!((done.len(), done[0].stage), (1, Stage::Recondition));
/// assert_eq!(done[0].steps, ["dust and vacuum"]);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Done {
    /// The stage.
    pub stage: Stage,
    /// The names of the steps that were completely measured, worded for use within a sentence.
    pub steps: Vec<String>,
}

/// The air at one time of the job. It has no default.
///
/// ```
/// use evenhand_core::analysis::handover::handover;
/// use evenhand_core::job::{Job, JobId, ReplicaId};
/// use evenhand_core::trade::Occasion;
///
/// let now_ms = 1_790_000_000_000;
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms);
/// let job = Job::from_entries(entries);
/// let climate = handover(&job, now_ms).climate;
/// assert_eq!(climate[0].occasion, Occasion::AsFound);
/// assert!(climate[0].air.moisture_content().is_ok());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Climate {
    /// The place: at the piano or on the bench.
    pub place: Place,
    /// As found, working, or as left.
    pub occasion: Occasion,
    /// The time, in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// The air.
    pub air: Air,
    /// Humidity and temperature as they were recorded.
    pub read: (Value, Value),
}

/// Returns the report of a job at a wall time in milliseconds since 1970 (UTC).
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, JobId};
/// use evenhand_core::analysis::handover::handover;
///
/// let now_ms = 1_790_000_000_000;
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms);
/// let report = handover(&Job::from_entries(entries), now_ms);
/// assert_eq!(report.details.invented, Some(true));
/// assert!(report.left.iter().any(|l| l.contains("flange")));
/// let column: i64 = report.hours.iter().map(|(_, minutes)| minutes).sum();
/// assert_eq!(report.total.minutes, column);
/// ```
pub fn handover(job: &Job, now_ms: i64) -> Handover {
    let state = job.state();
    let all = state.progress(now_ms);
    let hours = hours(state);
    let compared = compared(job);
    let concluded = conclusions(job, now_ms);
    let (climate, climate_warning) = climate(state);
    let drift = drift(job);
    let entries = job.log().entries();
    let first = entries.iter().map(|e| e.at_ms).min();
    Handover {
        details: state.details().clone(),
        instrument: state.instrument(),
        span_ms: first.zip(entries.iter().map(|e| e.at_ms).max()),
        found: found_sentences(state, &compared),
        decided: decided(state),
        done: done(&all),
        swept: swept(state, &all),
        out: concluded.out(),
        left: concluded.open_points.into_iter().map(|p| p.text).collect(),
        left_out: left_out(state),
        parts: concluded.parts,
        conflicts: conflicts(job),
        remarks: remarks(state),
        total: Total::of(state.details(), hours.minutes()),
        hours: hours.by_stage(),
        time_warnings: hours.warnings(),
        punchings: punchings_used(job),
        climate,
        next: next_visit(state, &all, drift.as_ref(), climate_warning.is_some()),
        climate_warning,
        cautions: cautions(&all),
        drift,
        who: technicians(job, &hours),
        compared,
    }
}

/// Returns when to check the instrument of a job again, by the progress of its steps.
///
/// ```
/// use evenhand_core::analysis::handover::{handover, next_check};
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// assert_eq!(next_check(&job, &job.state().progress(0)), handover(&job, 0).next);
/// ```
pub fn next_check(job: &Job, all: &[(Step, Progress)]) -> NextVisit {
    let state = job.state();
    let (_, climate_warning) = climate(state);
    next_visit(state, all, drift(job).as_ref(), climate_warning.is_some())
}

fn remarks(state: &State) -> Vec<String> {
    let own = state.details().for_client.clone();
    let own = own.filter(|text| !text.trim().is_empty());
    let fixed = state.remarks().filter_map(|r| {
        let words = format!("{}: {}", r.on.words(), r.text);
        match state.fixed(r)? {
            _ if r.text.is_empty() => None,
            "" => Some(format!("{words} Fixed.")),
            how => Some(format!("{words} Fixed: {how}.")),
        }
    });
    own.into_iter().chain(fixed).collect()
}

fn found_sentences(state: &State, compared: &[Compared]) -> Vec<String> {
    let mut said = Vec::new();
    let pitch = state.found("pitch_a4", Subject::Whole);
    if let (Some(reading), Some(measure)) = (pitch, state.measure("pitch_a4")) {
        let shown = measure.shown(reading.value, state.length_unit());
        let judged = state.judge("pitch_a4", Subject::Whole, reading.value);
        let out = judged.is_some_and(|j| j.verdict == Verdict::Out);
        let words = if out { ", out of tolerance" } else { "" };
        said.push(format!("A4 stood at {shown} Hz{words}."));
    }
    let mut was_out: Vec<&Compared> = compared.iter().filter(|c| c.judged).collect();
    was_out.retain(|c| c.found.out() > 0);
    for c in was_out {
        let shown = |base| {
            let value = Value::from_base(c.measure.kind, base);
            c.measure.shown(value, state.length_unit())
        };
        let Some(figures) = c.found.whole else {
            continue;
        };
        let unit = c.measure.kind.symbol(state.length_unit());
        let space = if unit.is_empty() { "" } else { " " };
        said.push(format!(
            "{}: {} of {} out of tolerance, {} to {}{space}{unit}.",
            c.measure.name,
            c.found.out(),
            c.found.in_tolerance(None).map_or(0, |(_, all)| all),
            shown(figures.least),
            shown(figures.most),
        ));
    }
    said.extend(wear_sentences(state));
    said
}

/// Returns one sentence per measure of wear: “Wear of knuckles: worn in sections 1 and 2, worn out
/// in section 4.”
fn wear_sentences(state: &State) -> Vec<String> {
    let mut said = Vec::new();
    let order = state.order();
    let Some(step) = order.step("wear") else {
        return said;
    };
    for id in &step.takes {
        let Some(measure) = state.measure(id.as_str()) else {
            continue;
        };
        let mut parts = Vec::new();
        for grade in (1..measure.grades.len()).rev() {
            let graded = |s: &usize| {
                let read = state.found(id.as_str(), Subject::Section(*s as u8));
                read.is_some_and(|r| r.value == Value::Grade(grade as u8))
            };
            let mut sections = (0..state.sections().count()).filter(graded).peekable();
            if sections.peek().is_some() {
                let sections = listed::sections(sections);
                parts.push(format!("{} in {sections}", measure.grades[grade]));
            }
        }
        if !parts.is_empty() {
            said.push(format!("{}: {}.", measure.name, parts.join(", ")));
        }
    }
    said
}

fn done(all: &[(Step, Progress)]) -> Vec<Done> {
    let of = |stage: Stage| Done {
        stage,
        steps: all
            .iter()
            .filter(|(step, p)| step.stage == stage && p.is_read() && p.expected > 0)
            .map(|(step, _)| in_sentence(&step.name))
            .collect(),
    };
    let stages = Stage::ALL.into_iter().map(of);
    stages.filter(|d| !d.steps.is_empty()).collect()
}

fn swept(state: &State, all: &[(Step, Progress)]) -> Vec<String> {
    let is_looked_at = |step: &Step| {
        let mut measures = step
            .takes
            .iter()
            .filter_map(|id| state.measure(id.as_str()));
        measures.any(|m| m.kind != Kind::Tick)
    };
    let swept = all
        .iter()
        .filter(|(step, p)| p.swept > 0 && is_looked_at(step));
    swept
        .map(|(step, p)| {
            let measured = p.read - p.swept;
            let mut said = format!("{}:", step.name);
            if p.swept > p.turned {
                said += &format!(" {} swept,", p.swept - p.turned);
            }
            if p.turned > 0 {
                said += &format!(" {} turned and not measured again,", p.turned);
            }
            said + &format!(" {measured} measured.")
        })
        .collect()
}

/// Returns a sentence on the steps left out of the job.
fn left_out(state: &State) -> Option<String> {
    let steps = state.instrument().steps().iter();
    let left_out = steps.filter(|s| state.is_left_out(&s.id));
    let left_out: Vec<String> = left_out.map(|s| in_sentence(&s.name)).collect();
    (!left_out.is_empty()).then(|| format!("Left out of this job: {}.", left_out.join("; ")))
}

/// Returns the climate each time it was recorded, and the effect on the wood of its change between bench and
/// return if that is notable.
pub(super) fn climate(state: &State) -> (Vec<Climate>, Option<String>) {
    let mut all: Vec<Climate> = Vec::new();
    for place in [Place::Piano, Place::Bench] {
        let measure_state = |measure| state.measure_state(measure, Subject::Whole, place);
        let (Some(humidity), Some(temperature)) =
            (measure_state("humidity"), measure_state("temperature"))
        else {
            continue;
        };
        for occasion in [Occasion::AsFound, Occasion::Working, Occasion::AsLeft] {
            let both = humidity.of(occasion).zip(temperature.of(occasion));
            let Some((h, t)) = both else { continue };
            if let Some(air) = Air::from_values(t.value, h.value) {
                all.push(Climate {
                    place,
                    occasion,
                    at_ms: t.at_ms.max(h.at_ms),
                    air,
                    read: (h.value, t.value),
                });
            }
        }
    }
    all.sort_by_key(|c| c.at_ms);
    // Compares the bench with the latest record; without one on the bench, the first with the latest.
    let from = all.iter().find(|c| c.place == Place::Bench).or(all.first());
    let moved = from
        .zip(all.last())
        .and_then(|(a, b)| Moved::between(a.air, b.air).ok());
    let warning = moved.and_then(|m| m.warning(NOTABLE_CHANGE));
    (all, warning)
}

fn cautions(all: &[(Step, Progress)]) -> Vec<Caution> {
    let called = |c: &Caution| all.iter().any(|(s, _)| s.cautions.contains(c));
    Caution::ALL.into_iter().filter(called).collect()
}

/// Returns sentences that count the adjustments of each measure: turned, papered, set by eye.
///
/// ```
/// use evenhand_core::job::Job;
/// use evenhand_core::analysis::handover::adjustments;
///
/// assert_eq!(adjustments(&Job::new()), Vec::<String>::new());
/// ```
pub fn adjustments(job: &Job) -> Vec<String> {
    let state = job.state();
    let mut all: Vec<(String, u8)> = Vec::new();
    for entry in job.log().entries() {
        if let EntryKind::Correction { measure, made, .. } = &entry.kind
            && state.is_alive(entry.id)
        {
            let name = state
                .measure(measure.as_str())
                .map_or_else(|| measure.to_string(), |m| m.name.to_string());
            let how = match made {
                Correction::Turned(_) => 0,
                Correction::Punchings(_) => 1,
                Correction::ByEye => 2,
            };
            all.push((name, how));
        }
    }
    let words = ["turned", "papered", "set by eye"];
    all.sort_unstable();
    let said = all.chunk_by(|a, b| a == b).map(|of| {
        let (count, times) = (of.len(), if of.len() == 1 { "time" } else { "times" });
        let (name, how) = &of[0];
        format!("{name}: {} {count} {times}.", words[usize::from(*how)])
    });
    said.collect()
}
