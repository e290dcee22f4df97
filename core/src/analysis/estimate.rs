//! The estimate from the survey, before the work: hours, parts and days.

use super::decisions::{Graded, graded};
use super::hours::Total;
use super::schedule::{self, OpeningHours};
use super::survey::{Share, Wear, WearWork, Work, Z_95, hours, share_out, wear_work};
use crate::job::{Job, State, Subject};
use crate::note::Note;
use crate::trade::{Decision, Part, Stage, Step, Strength, Verdict, causes_of};
use crate::unit::Kind;

/// The working day used if none is set: eight hours from 8:00 (C), in minutes after midnight.
pub const DAY: (u32, u32) = (8 * 60, 16 * 60);

/// The evidence for the hours of one step: at most 88 notes. There is no default.
///
/// ```
/// use evenhand_core::analysis::estimate::{Basis, estimate};
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let mut job = Job::new();
/// let basis = |job: &Job| {
///     let lines = estimate(job).lines;
///     lines.iter().find(|line| line.step.id.as_str() == "let_off").unwrap().basis
/// };
/// assert_eq!(basis(&job), Basis::Whole);
/// let (let_off, on) = (MeasureId::of("let_off"), Subject::Note(Note::FIRST));
/// let read = Value::Nm(Length::from_mm_hundredths(400));
/// job.apply(job.reading(ReplicaId::new(7), 0, let_off, on, Place::Piano, Occasion::AsFound, read, "4"));
/// // The sample would count, but the hammers are shaped in this job.
/// assert_eq!(basis(&job), Basis::Disturbed { by: "hammers_shaped", notes: 88 });
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// The sample notes.
    Sampled {
        /// Notes out of tolerance in one of the readings of the step.
        out: u32,
        /// Notes measured.
        read: u32,
    },
    /// The wear grades.
    Graded {
        /// Notes in sections graded worn or worn out.
        notes: u32,
    },
    /// What is decided for the part.
    Decided {
        /// Notes in sections for which the work is decided, or graded so where nothing is decided.
        notes: u32,
    },
    /// Other work of this job, which moves it whatever the sample found.
    Disturbed {
        /// The measure that is worked on.
        by: &'static str,
        /// Notes worked on.
        notes: u32,
    },
    /// All notes: the survey does not limit it.
    Whole,
}

impl Basis {
    /// Returns the evidence in a few words: `4 of 10 out`.
    pub fn words(self, state: &State) -> String {
        match self {
            Basis::Sampled { out, read } => format!("{out} of {read} out"),
            Basis::Graded { notes } => format!("wear on {notes} notes"),
            Basis::Decided { notes } => format!("decided for {notes} notes"),
            Basis::Disturbed { by, notes } => {
                let work = state.measure(by).map_or(by, |m| m.name.as_ref());
                let on = match notes as usize {
                    Note::COUNT => "all".to_owned(),
                    _ => format!("{notes} notes"),
                };
                format!("{on}, after {}", work.to_lowercase())
            }
            Basis::Whole => "all of it".to_owned(),
        }
    }
}

/// The estimate of one step, with low ≤ likely ≤ high. Part of [`Estimate`]; it has no default.
///
/// ```
/// use evenhand_core::analysis::estimate::estimate;
/// use evenhand_core::job::Job;
///
/// // Without a survey every step takes its usual minutes.
/// for line in estimate(&Job::new()).lines {
///     assert_eq!(line.minutes, [i64::from(line.step.minutes); 3]);
///     assert!(line.minutes[0] > 0);
/// }
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct EstimateLine {
    /// The step.
    pub step: Step,
    /// The share of its notes that need it.
    pub share: Share,
    /// The evidence for the share.
    pub basis: Basis,
    /// Working minutes: low, likely, high.
    pub minutes: [i64; 3],
}

/// The estimate of a job. [`estimate`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::estimate::estimate;
/// use evenhand_core::job::Job;
///
/// // Without sample notes every step counts in full, so there is no interval.
/// let unsampled = estimate(&Job::new());
/// let [low, likely, high] = unsampled.totals.map(|total| total.minutes);
/// assert_eq!(unsampled.sample, 0);
/// assert!(likely > 0 && low == likely && likely == high);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The steps to come, in the order of the job, without those that take no time.
    pub lines: Vec<EstimateLine>,
    /// Low, likely and high of each stage, in minutes, rounded to a quarter of an hour.
    pub stages: Vec<(Stage, [i64; 3])>,
    /// Low, likely and high in all, as the sum of the rounded stages, with their price.
    pub totals: [Total; 3],
    /// How many sample notes were measured before the work.
    pub sample: usize,
    /// What the wear grades call for.
    pub parts: Vec<WearWork>,
    /// The steps that need drying time, and its minutes.
    pub drying: Vec<(String, u32)>,
    /// The number of working days of eight hours: low, likely, high.
    pub days: [usize; 3],
    /// How many steps use the minutes that this instrument took before.
    pub from_earlier: usize,
}

/// Rounds minutes to the nearest quarter of an hour, and up to one quarter if there are any, so
/// that the lines written for a client add up to the total.
fn quarters(minutes: i64) -> i64 {
    match (minutes + 7) / 15 * 15 {
        0 if minutes > 0 => 15,
        rounded => rounded,
    }
}

/// Returns the estimate of the work that the survey calls for.
///
/// **Rule** (C, the calculations of the survey): for each regulating step the share of sample notes
/// out of tolerance with its Wilson interval; for each treatment the share of notes in sections
/// graded worn or worn out, or as decided; for a renewal the share of notes for which it is decided; for everything else
/// all notes. A regulating step has at least the share of
/// the earlier work in this job that voids its readings ([`Strength::Voids`]). Minutes are those of the step (M), or
/// those that this instrument took in the earlier job that the job carries. The survey itself and
/// the steps left out of the job do not count. Only readings as found are used, so the estimate
/// does not change while the work goes on.
/// **Error**: fitting new parts is in the hours only where it is decided. The steps to repeat because another step
/// disturbed them are not.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, JobId};
/// use evenhand_core::analysis::estimate::estimate;
///
/// let now_ms = 1_790_000_000_000;
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), now_ms);
/// let estimate = estimate(&Job::from_entries(entries));
/// let [low, likely, high] = estimate.totals.map(|t| t.minutes);
/// assert!(low < likely && likely < high);
/// assert!(estimate.sample > 10 && estimate.days[1] >= 1);
/// ```
pub fn estimate(job: &Job) -> Estimate {
    let state = job.state();
    let order = state.order();
    let graded = graded(state);
    let earlier = state.setup().earlier.as_deref();
    let mut from_earlier = 0;
    let steps = order.steps().iter().filter(|s| s.stage != Stage::Survey);
    let shared: Vec<(&Step, (Share, Basis))> = steps
        .map(|step| (step, share_of(state, step, &graded)))
        .collect();
    let mut lines: Vec<EstimateLine> = Vec::new();
    for &(step, shared_here) in &shared {
        let (share, basis) = raised(state, shared_here, step, &shared);
        let took = earlier.and_then(|e| e.minutes.iter().find(|(id, _)| *id == step.id));
        from_earlier += usize::from(took.is_some());
        let minutes = took.map_or(step.minutes, |(_, minutes)| *minutes);
        let h = hours(&[Work { minutes, share }]);
        lines.push(EstimateLine {
            step: step.clone(),
            share,
            basis,
            minutes: [h.low, h.likely, h.high].map(|h| (h * 60.0).round() as i64),
        });
    }
    let in_stage = |stage: Stage, end: usize| -> i64 {
        let of = lines.iter().filter(|l| stage == l.step.stage);
        quarters(of.map(|l| l.minutes[end]).sum())
    };
    let stages = Stage::ALL.map(|s| (s, [0, 1, 2].map(|end| in_stage(s, end))));
    let totals = [0, 1, 2].map(|end| {
        let minutes = stages.iter().map(|(_, m)| m[end]).sum();
        Total::of(state.details(), minutes)
    });
    let days = [0, 1, 2].map(|end| days(&lines, end));
    lines.retain(|l| l.minutes[2] > 0);
    Estimate {
        stages: stages.into_iter().filter(|(_, m)| m[2] > 0).collect(),
        totals,
        sample: sample(state),
        parts: wear_work(state.instrument(), state.sections(), &called_for(&graded)),
        drying: lines
            .iter()
            .filter(|l| l.step.drying_minutes > 0 && l.minutes[1] > 0)
            .map(|l| (l.step.name.to_string(), l.step.drying_minutes))
            .collect(),
        days,
        from_earlier,
        lines,
    }
}

/// Returns the wear that the work of each part and section treats: as decided, otherwise as graded.
fn called_for(graded: &[Graded]) -> Vec<(Part, usize, Wear)> {
    let called = graded.iter().filter_map(|g| {
        let wear = match g.work()? {
            Decision::Leave => Wear::Sound,
            Decision::Recondition => Wear::Worn,
            Decision::Renew => Wear::WornOut,
        };
        Some((g.part, g.section, wear))
    });
    called.collect()
}

fn sample(state: &State) -> usize {
    let order = state.order();
    let takes = order.step("found_sample").map(|s| s.takes.clone());
    let takes = takes.unwrap_or_default();
    let read = |note: &Note| {
        let on = Subject::Note(*note);
        takes
            .iter()
            .any(|m| state.surveyed(m.as_str(), on).is_some())
    };
    Note::all().filter(read).count()
}

/// Returns the share of notes that a step renews or treats a part on, or `None` if it does neither, or the survey has not
/// graded every section.
fn of_part(state: &State, step: &Step, graded: &[Graded]) -> Option<(Share, Basis)> {
    let takes = |id: &str| step.takes.iter().any(|m| m.as_str() == id);
    let renews = |part: &Part| takes(part.renewal());
    let treats = |part: &Part| part.treatments().iter().any(|id| takes(id));
    let part = Part::ALL.into_iter().find(|p| renews(p) || treats(p))?;
    let of: Vec<&Graded> = graded.iter().filter(|g| g.part == part).collect();
    let renews = renews(&part);
    // Pins are measured and cauls drawn for new bushings too.
    let also_renewed = || {
        let mut measures = step
            .takes
            .iter()
            .filter_map(|id| state.measure(id.as_str()));
        measures.all(|m| m.taken.is_none())
    };
    let is_called = |g: &Graded| match (renews, g.decision) {
        (true, decision) => decision == Some(Decision::Renew),
        (false, Some(Decision::Recondition)) => true,
        (false, Some(Decision::Renew)) => also_renewed(),
        (false, Some(Decision::Leave)) => false,
        (false, None) => g.wear.is_some_and(|wear| wear != Wear::Sound),
    };
    // A section without a grade is not known to be sound.
    if !renews && of.len() < state.sections().count() {
        return None;
    }
    let sections = state.sections();
    let called = |n: &Note| {
        of.iter()
            .any(|g| g.section == sections.of(*n) && is_called(g))
    };
    let notes = Note::all().filter(called).count() as u32;
    let part = f64::from(notes) / Note::COUNT as f64;
    let share = Share {
        low: part,
        likely: part,
        high: part,
    };
    let basis = match of.iter().any(|g| g.decision.is_some()) {
        true => Basis::Decided { notes },
        false => Basis::Graded { notes },
    };
    Some((share, basis))
}

fn share_of(state: &State, step: &Step, graded: &[Graded]) -> (Share, Basis) {
    if let Some(of_part) = of_part(state, step, graded) {
        return of_part;
    }
    if step.stage == Stage::Regulate {
        let items = state.items(step);
        let mut notes: Vec<Note> = items.iter().filter_map(|i| i.on.note()).collect();
        notes.sort_unstable();
        notes.dedup();
        let (mut out, mut read) = (0, 0);
        for note in &notes {
            let verdicts = step.takes.iter().filter_map(|m| {
                let value = state.surveyed(m.as_str(), Subject::Note(*note))?.value;
                Some(
                    state
                        .judge(m.as_str(), Subject::Note(*note), value)?
                        .verdict,
                )
            });
            let verdicts: Vec<Verdict> = verdicts.collect();
            read += u32::from(!verdicts.is_empty());
            out += u32::from(verdicts.contains(&Verdict::Out));
        }
        if let Ok(share) = share_out(out, read, notes.len() as u32, Z_95) {
            return (share, Basis::Sampled { out, read });
        }
    }
    (Share::WHOLE, Basis::Whole)
}

/// Returns the share of a sampled step, raised to that of the work before regulation that voids what
/// the step takes: after it, what the sample found no longer tells which notes are out.
fn raised(
    state: &State,
    (share, basis): (Share, Basis),
    step: &Step,
    all: &[(&Step, (Share, Basis))],
) -> (Share, Basis) {
    if !matches!(basis, Basis::Sampled { .. }) {
        return (share, basis);
    }
    let rows = step.takes.iter().flat_map(|m| causes_of(m.as_str()));
    let works = rows
        .filter(|row| row.strength == Strength::Voids)
        .filter_map(|row| {
            let is_it = |s: &Step| {
                s.stage < Stage::Regulate && s.takes.iter().any(|m| m.as_str() == row.work)
            };
            let (_, (share, basis)) = all.iter().find(|(s, _)| is_it(s))?;
            let kind = state.measure(row.work)?.kind;
            let is_work = matches!(kind, Kind::Tick | Kind::Good);
            let graded = matches!(basis, Basis::Graded { .. } | Basis::Decided { .. });
            (is_work || graded).then_some((share.likely, row.work))
        });
    // Of equal shares the first in the table.
    match works.min_by(|a, b| b.0.total_cmp(&a.0)) {
        Some((worked, by)) if worked > share.low => (
            Share {
                low: worked,
                likely: worked.max(share.likely),
                high: worked.max(share.high),
            },
            Basis::Disturbed {
                by,
                notes: (worked * Note::COUNT as f64).round() as u32,
            },
        ),
        _ => (share, basis),
    }
}

/// Returns the number of days with work if it begins in the morning.
fn days(lines: &[EstimateLine], end: usize) -> usize {
    let place = |id: &crate::trade::StepId| lines.iter().position(|l| l.step.id == *id);
    let steps: Vec<schedule::Task> = lines
        .iter()
        .map(|l| {
            let minutes = u32::try_from(l.minutes[end]).unwrap_or(0);
            schedule::Task {
                minutes,
                // What is not treated needs no drying time.
                wait: if minutes > 0 {
                    l.step.drying_minutes
                } else {
                    0
                },
                after: l.step.needs.iter().filter_map(place).collect(),
                done: None,
            }
        })
        .collect();
    let Ok(hours) = OpeningHours::new(DAY.0, DAY.1) else {
        return 0;
    };
    let plan = schedule::schedule(&steps, i64::from(DAY.0), hours);
    plan.map_or(0, |p| p.days(hours).len())
}
