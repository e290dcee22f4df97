//! The estimate from the survey, before the work: what it takes, in hours, parts and days.

use super::compare::found;
use super::handover::Total;
use super::schedule::{self, Hours as Day};
use super::survey::{Part, Share, Suggestion, Wear, Work, Z_95, hours, share_out, suggestions};
use crate::job::{Job, State, Subject};
use crate::note::Note;
use crate::trade::{Stage, Step, Verdict};
use crate::unit::Value;

/// The day that is planned with where nobody says another: eight hours from eight in the morning
/// (C), in minutes after midnight.
pub const DAY: (u32, u32) = (8 * 60, 16 * 60);

/// What the hours of one step rest on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// The sample notes: how many of those read are out.
    Sampled {
        /// Out of tolerance in one of the step's readings.
        out: u32,
        /// Read.
        read: u32,
    },
    /// The wear grades: how many notes lie in sections that are worn or past it.
    Graded {
        /// Notes in these sections.
        notes: u32,
    },
    /// All of it: nothing in the survey says less.
    Whole,
}

/// One step of the work to come.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// The step.
    pub step: Step,
    /// The share of its notes that need it.
    pub share: Share,
    /// What that rests on.
    pub basis: Basis,
    /// Working minutes at the low end, likely, and at the high end.
    pub minutes: [i64; 3],
}

/// The estimate of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The steps to come, in order; those that take no time left out.
    pub lines: Vec<Line>,
    /// Low, likely and high by stage, in minutes, to the quarter of an hour.
    pub stages: Vec<(Stage, [i64; 3])>,
    /// Low, likely and high in all, the stages as they are rounded, and their price.
    pub totals: [Total; 3],
    /// How many sample notes were read before the work.
    pub sample: usize,
    /// What the wear grades ask for.
    pub parts: Vec<Suggestion>,
    /// The steps that must cure, and for how many minutes.
    pub cures: Vec<(String, u32)>,
    /// Days with work on them, low, likely and high, at eight hours a day.
    pub days: [usize; 3],
    /// How many steps have the minutes that this instrument took before.
    pub from_earlier: usize,
}

/// Minutes to the nearest quarter of an hour, and a quarter at least where there are any: what is
/// written to a client adds up, and costs what its hours come to.
fn quarters(minutes: i64) -> i64 {
    match (minutes + 7) / 15 * 15 {
        0 if minutes > 0 => 15,
        rounded => rounded,
    }
}

/// The kinds of part that are graded, with their wear measure and the steps that treat them
/// (by the measure that the step takes).
const PARTS: [(Part, &str, &[&str]); 7] = [
    (Part::Hammers, "wear_hammers", &["hammer_felt"]),
    (Part::Knuckles, "wear_knuckles", &["knuckles_brushed"]),
    (
        Part::Bushings,
        "wear_bushings",
        &["key_pin", "cauls_in", "cauls_out"],
    ),
    (Part::Checks, "wear_checks", &["checks_brushed"]),
    (Part::Centres, "wear_centres", &["hammer_friction"]),
    (Part::Cloths, "wear_cloths", &["cloth_brushed"]),
    (Part::Capstans, "wear_capstans", &["capstans_polished"]),
];

/// The estimate of the work that a survey calls for.
///
/// **Rule** (C, the survey's sums): of each regulating step the share of sample notes out of
/// tolerance with its Wilson interval; of each treatment the share of notes in sections graded
/// worn or past it; of everything else the whole. Minutes are the step's own (M), or what this
/// instrument took in the earlier job that the job carries. The survey itself is not counted,
/// and what was left out of the job is not in it. Only what was found counts, so the
/// estimate stays as it was while the work goes on.
/// **Error**: fitting new parts is not in the hours; nor is what one step disturbs in the next.
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
    let grades = grades(state);
    let earlier = state.setup().earlier.as_deref();
    let mut from_earlier = 0;
    let mut lines: Vec<Line> = Vec::new();
    for step in order.steps().iter().filter(|s| s.stage != Stage::Survey) {
        let (share, basis) = share_of(state, step, &grades);
        let took = earlier.and_then(|e| e.minutes.iter().find(|(id, _)| *id == step.id));
        from_earlier += usize::from(took.is_some());
        let minutes = took.map_or(step.minutes, |(_, minutes)| *minutes);
        let h = hours(&[Work { minutes, share }]);
        lines.push(Line {
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
        parts: suggestions(state.sections(), &grades),
        cures: lines
            .iter()
            .filter(|l| l.step.wait_minutes > 0 && l.minutes[1] > 0)
            .map(|l| (l.step.name.to_string(), l.step.wait_minutes))
            .collect(),
        days,
        from_earlier,
        lines,
    }
}

/// The wear grades of the survey.
fn grades(state: &State) -> Vec<(Part, usize, Wear)> {
    let mut grades = Vec::new();
    for (part, measure, _) in PARTS {
        for section in 0..state.sections().count() {
            let read = found(state, measure, Subject::Section(section as u8));
            let wear = match read.map(|r| r.value) {
                Some(Value::Grade(0)) => Wear::Sound,
                Some(Value::Grade(1)) => Wear::Worn,
                Some(Value::Grade(_)) => Wear::PastIt,
                _ => continue,
            };
            grades.push((part, section, wear));
        }
    }
    grades
}

fn sample(state: &State) -> usize {
    let order = state.order();
    let takes = order.step("found_sample").map(|s| s.takes.clone());
    let takes = takes.unwrap_or_default();
    let read = |note: &Note| {
        let on = Subject::Note(*note);
        takes.iter().any(|m| found(state, m.as_str(), on).is_some())
    };
    Note::all().filter(read).count()
}

fn share_of(state: &State, step: &Step, grades: &[(Part, usize, Wear)]) -> (Share, Basis) {
    let takes = |id: &str| step.takes.iter().any(|m| m.as_str() == id);
    let part = PARTS
        .iter()
        .find(|(_, _, steps)| steps.iter().any(|s| takes(s)));
    if let Some((part, ..)) = part {
        let of: Vec<_> = grades.iter().filter(|(p, ..)| p == part).collect();
        // Where a section was not graded, nothing says that it is sound.
        if of.len() == state.sections().count() {
            let worn = |s: usize| of.iter().any(|(_, at, w)| *at == s && *w != Wear::Sound);
            let notes = Note::all()
                .filter(|n| worn(state.sections().of(*n)))
                .count();
            let part = notes as f64 / Note::COUNT as f64;
            let share = Share {
                low: part,
                likely: part,
                high: part,
            };
            return (
                share,
                Basis::Graded {
                    notes: notes as u32,
                },
            );
        }
    }
    if step.stage == Stage::Bench {
        let items = state.items(step);
        let mut notes: Vec<Note> = items.iter().filter_map(|i| i.on.note()).collect();
        notes.sort();
        notes.dedup();
        let (mut out, mut read) = (0, 0);
        for note in &notes {
            let verdicts = step.takes.iter().filter_map(|m| {
                let value = found(state, m.as_str(), Subject::Note(*note))?.value;
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

/// On how many days there is work, begun in the morning.
fn days(lines: &[Line], end: usize) -> usize {
    let place = |id: &crate::trade::StepId| lines.iter().position(|l| l.step.id == *id);
    let steps: Vec<schedule::Task> = lines
        .iter()
        .map(|l| {
            let minutes = u32::try_from(l.minutes[end]).unwrap_or(0);
            schedule::Task {
                minutes,
                // What is not treated need not cure.
                wait: if minutes > 0 { l.step.wait_minutes } else { 0 },
                after: l.step.needs.iter().filter_map(place).collect(),
                done: None,
            }
        })
        .collect();
    let Ok(hours) = Day::new(DAY.0, DAY.1) else {
        return 0;
    };
    let plan = schedule::schedule(&steps, i64::from(DAY.0), hours);
    plan.map_or(0, |p| p.days(hours).len())
}
