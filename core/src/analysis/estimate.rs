//! The estimate from the survey, before the work: hours, parts and days.

mod shares;

pub use shares::Basis;

use super::decisions::graded;
use super::hours::Total;
use super::schedule::{self, OpeningHours};
use super::survey::{Share, WearWork, variance_out, wear_work};
use crate::job::{Job, State, Subject};
use crate::note::Note;
use crate::trade::{Stage, Step, StepId};
use shares::{found, notes_of, raised, share_of};

/// The working day used if none is set: eight hours from 8:00 (C), in minutes after midnight.
pub const DAY: (u32, u32) = (8 * 60, 16 * 60);

/// The part of the minutes of a regulating step that goes into measuring each note, where every note needs the
/// work (M). Where three in four do, as usual, it is 57 %.
const LOOK: f64 = 0.5;
/// The part of the notes that usually need the work (M), for an earlier job that does not tell.
const USUAL_PERCENT: u8 = 75;
/// The variation of a technician's pace from job to job, a standard deviation on the log scale (M).
const PACE: f64 = 0.2;
/// How much the default minutes count beside those of one earlier job: they are twice as uncertain (M).
const DEFAULT_WEIGHT: f64 = 0.25;
/// The normal quantile of 0.8.
const EIGHT_IN_TEN: f64 = 0.841_621_233_572_914_4;

/// Returns the part of the minutes of a whole step that is spent if this share of the notes needs the work.
fn part_spent(basis: Basis, share: f64) -> f64 {
    match basis {
        // Each note is measured, whether it needs the work or not.
        Basis::Sampled { .. } | Basis::Disturbed { .. } => LOOK + (1.0 - LOOK) * share,
        Basis::Graded { .. } | Basis::Decided { .. } | Basis::Whole => share,
    }
}

/// Returns the minutes of a step if every note needs it, from its default and those that an earlier job spent on it.
///
/// **Rule**: `exp[(k0·ln default + ln m)/(k0 + 1)]`, m what the earlier job would have spent with every note to
/// work on: its minutes less its own share.
///
/// ```
/// use evenhand_core::analysis::estimate::learned_minutes;
///
/// // As expected with half of the notes to work on: three quarters of the default.
/// assert!((learned_minutes(60, 45, 50) - 60.0).abs() < 1e-9);
/// // The same 45 minutes for looking alone are a slow pace.
/// assert!(learned_minutes(60, 45, 0) > 80.0);
/// ```
pub fn learned_minutes(default: u32, spent: u32, fixed_percent: u8) -> f64 {
    let share = f64::from(fixed_percent.min(100)) / 100.0;
    let whole = f64::from(spent.max(1)) / (LOOK + (1.0 - LOOK) * share);
    let logs = DEFAULT_WEIGHT * f64::from(default.max(1)).ln() + whole.ln();
    (logs / (DEFAULT_WEIGHT + 1.0)).exp()
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
/// // Without sample notes every step counts in full, and only the pace is uncertain.
/// let unsampled = estimate(&Job::new());
/// let [low, likely, high] = unsampled.totals.map(|total| total.minutes as f64);
/// assert_eq!(unsampled.sample, 0);
/// assert!((high / likely - 1.18).abs() < 0.01 && (likely / low - 1.18).abs() < 0.01);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Estimate {
    /// The steps to come, in the order of the job, without those that take no time.
    pub lines: Vec<EstimateLine>,
    /// The likely minutes of each stage, rounded to a quarter of an hour.
    pub stages: Vec<(Stage, i64)>,
    /// Low, likely and high in all, with their price: likely is the sum of the rounded stages; 2 in 10 jobs stay under
    /// the low end, 8 in 10 under the high end, both rounded to a quarter of an hour.
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
/// out of tolerance ([`share_out`]); for each treatment the share of notes in sections
/// graded worn or worn out, or as decided; for a renewal the share of notes for which it is decided; for everything else
/// all notes. A regulating step has at least the share of
/// the earlier work in this job that voids its readings ([`Strength::Voids`]). Minutes are those of the step (M),
/// corrected by those that this instrument took in the earlier job that the job carries ([`learned_minutes`]). Half
/// of a regulating step's minutes are for measuring each note, the other half for the share that is out. The survey
/// counts with its usual minutes, before and after it is done; the steps left out of the job do not count.
/// The plan counts with the same minutes ([`expected_minutes`]).
///
/// The uncertainty of the total T: the work on sample note i takes `y_i` minutes over all steps, so
/// `SE = N·√((1 − n/N)·s_y²/n)` holds how steps go together (P: any text on survey sampling), at
/// least that of the counts alone; and the pace varies by 20 % (M). Both on the log scale:
/// `T·exp(±0.84·√(ln(1 + (SE/T)²) + 0.2²))`. Only readings as found are used, so the estimate
/// does not change while the work goes on.
/// **Error**: fitting new parts is in the hours only where it is decided. The steps to repeat because another step
/// disturbed them are not. The mean of many jobs is 2 % above the likely hours.
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
    let graded = graded(state);
    let treated = graded.iter();
    let treated: Vec<_> = treated
        .filter_map(|g| Some((g.part, g.section, g.treated()?)))
        .collect();
    let (mut lines, sampled, from_earlier) = lines(state);
    let in_stage = |stage: Stage| -> i64 {
        let of = lines.iter().filter(|l| stage == l.step.stage);
        quarters(of.map(|l| l.minutes[1]).sum())
    };
    let stages = Stage::ALL.map(|s| (s, in_stage(s)));
    let likely: i64 = stages.iter().map(|(_, m)| m).sum();
    let factors = sampled.factors(likely);
    let ends = factors.map(|factor| quarters((likely as f64 * factor).round() as i64));
    let totals = ends.map(|minutes| Total::of(state.details(), minutes));
    let days = factors.map(|factor| days(&lines, factor));
    lines.retain(|l| l.minutes[2] > 0);
    Estimate {
        stages: stages.into_iter().filter(|(_, m)| *m > 0).collect(),
        totals,
        sample: sample(state),
        parts: wear_work(state.instrument(), state.sections(), &treated),
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

/// Returns the likely minutes of each step of the order, as the estimate and the plan count them.
///
/// ```
/// use evenhand_core::analysis::estimate::expected_minutes;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let all = expected_minutes(job.state());
/// let let_off = job.state().step("let_off").unwrap();
/// assert!(all.contains(&(let_off.id.clone(), let_off.minutes)));
/// ```
pub fn expected_minutes(state: &State) -> Vec<(StepId, u32)> {
    let (lines, ..) = lines(state);
    let likely = lines.into_iter().map(|l| {
        let minutes = u32::try_from(l.minutes[1]).unwrap_or(0);
        (l.step.id, minutes)
    });
    likely.collect()
}

/// Returns the line of each step of the order, the minutes on the sample notes, and how many steps use the minutes
/// that this instrument took before.
fn lines(state: &State) -> (Vec<EstimateLine>, Sampled, usize) {
    let graded = graded(state);
    let earlier = state.setup().earlier.as_deref();
    let mut from_earlier = 0;
    let steps = state.order().steps().iter();
    let shared: Vec<(&Step, (Share, Basis))> = steps
        .map(|step| (step, share_of(state, step, &graded)))
        .collect();
    let mut lines: Vec<EstimateLine> = Vec::new();
    let mut sampled = Sampled::default();
    for &(step, shared_here) in &shared {
        let (share, basis) = raised(state, shared_here, step, &shared);
        let took = earlier.and_then(|e| e.minutes.iter().find(|(id, _)| *id == step.id));
        from_earlier += usize::from(took.is_some());
        let fixed = state.setup().earlier_fixed.iter().flatten();
        let minutes = match (took, step.stage) {
            (Some((_, spent)), Stage::Regulate) => {
                let percent = fixed.clone().find(|(id, _)| *id == step.id);
                let percent = percent.map_or(USUAL_PERCENT, |(_, percent)| *percent);
                learned_minutes(step.minutes, *spent, percent)
            }
            (Some((_, spent)), _) => f64::from(*spent),
            (None, _) => f64::from(step.minutes),
        };
        sampled.add(state, step, basis, minutes);
        lines.push(EstimateLine {
            step: step.clone(),
            share,
            basis,
            minutes: [share.low, share.likely, share.high]
                .map(|share| (minutes * part_spent(basis, share)).round() as i64),
        });
    }
    (lines, sampled, from_earlier)
}

/// The minutes of work on each sample note, over all steps that rest on the sample.
#[derive(Default)]
struct Sampled {
    /// Of each note the minutes of the work that it needs; `None` if it was not measured.
    notes: Vec<Option<f64>>,
    /// The variance of the minutes if the steps had nothing to do with each other.
    apart: f64,
}

impl Sampled {
    fn add(&mut self, state: &State, step: &Step, basis: Basis, minutes: f64) {
        let Basis::Sampled { out, read } = basis else {
            return;
        };
        let notes = notes_of(state, step);
        let each = (1.0 - LOOK) * minutes / notes.len().max(1) as f64;
        self.apart += each * each * variance_out(out, read, notes.len() as u32);
        self.notes.resize(Note::COUNT, None);
        // A note that another step measured counts here as the mean of those measured.
        let mean = each * f64::from(out) / f64::from(read.max(1));
        for note in Note::all() {
            let (read, is_out) = found(state, step, note);
            let work = match (read, notes.contains(&note)) {
                (true, _) => each * f64::from(u8::from(is_out)),
                (false, true) => mean,
                (false, false) => 0.0,
            };
            let sum = &mut self.notes[note.index()];
            if read || sum.is_some() {
                *sum = Some(sum.unwrap_or(0.0) + work);
            }
        }
    }

    /// Returns low, likely and high as factors of the likely minutes.
    fn factors(&self, likely: i64) -> [f64; 3] {
        let work: Vec<f64> = self.notes.iter().flatten().copied().collect();
        let (n, all) = (work.len() as f64, Note::COUNT as f64);
        let mut variance = self.apart;
        if work.len() > 1 {
            let mean = work.iter().sum::<f64>() / n;
            let squares = work.iter().map(|y| (y - mean) * (y - mean)).sum::<f64>();
            let of_mean = (1.0 - n / all) * squares / (n - 1.0) / n;
            variance = variance.max(all * all * of_mean);
        }
        let likely = likely.max(1) as f64;
        let sd = (variance / (likely * likely)).ln_1p() + PACE * PACE;
        let high = (EIGHT_IN_TEN * sd.sqrt()).exp();
        [high.recip(), 1.0, high]
    }
}

fn sample(state: &State) -> usize {
    let order = state.order();
    let takes = order.step("found_sample").map(|s| s.takes.clone());
    let takes = takes.unwrap_or_default();
    let read = |note: &Note| {
        let on = Subject::Note(*note);
        takes.iter().any(|m| {
            state.surveyed(m.as_str(), on).is_some() || state.is_swept_found(m.as_str(), on)
        })
    };
    Note::all().filter(read).count()
}

/// Returns the number of days with work if it begins in the morning and takes its likely minutes times `factor`.
fn days(lines: &[EstimateLine], factor: f64) -> usize {
    let place = |id: &crate::trade::StepId| lines.iter().position(|l| l.step.id == *id);
    let steps: Vec<schedule::Task> = lines
        .iter()
        .map(|l| {
            let minutes = (l.minutes[1] as f64 * factor).round() as u32;
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
