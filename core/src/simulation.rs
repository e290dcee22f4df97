//! A simulated action and technician, to compare ways of working: passes, turns and readings needed.
//!
//! The action has 88 notes with random starting errors, responses that differ by instrument, section
//! and note, readings with noise, backlash, felt that settles, and adjustments that change other
//! readings. The same seed gives the same action on every machine, because it uses sums and products
//! only, and no function whose last digit depends on the platform. It describes no real piano. The
//! feature `simulation` enables it for the example, the benchmark and the tests; the app never
//! contains it.
//!
//! All its numbers are from memory (M) unless said otherwise. The file is long because its types carry their examples.

mod action;
mod honest;
mod workshop;

pub use action::{Action, BENCH, Random, TURNED, World, sections};
pub use honest::{Honest, Way, regulated};
pub use workshop::workshop_job;

use action::screw;

use crate::analysis::advice::{Movement, advice};
use crate::analysis::punchings::COMMON;
use crate::analysis::response::{NoiseModel, Prior, learn};
use crate::analysis::screw::{Correction as Turned, correction};
use crate::analysis::working_order::{Pending, working_order};
use crate::job::{
    Correction, EntryKind, FollowingLength, Job, KeyLever, ReplicaId, Setup, Subject,
};
use crate::note::Note;
use crate::trade::{MeasureId, Occasion, Place, Verdict};
use crate::unit::{Length, Turns, Value};

/// How the simulated technician decides how far to turn. There is no default.
///
/// ```
/// use evenhand_core::simulation::{Policy, alone};
///
/// // The same action, on target with fewer turns once the response is learned.
/// let turns = |policy| alone(7, "let_off", policy).aim.map(|effort| effort.turns);
/// assert!(turns(Policy::Learned).unwrap() < turns(Policy::ByEye).unwrap());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Policy {
    /// By the default response of the measure, unchanged during the job.
    Default,
    /// By the advice of the program, which learns the response from each turn.
    Learned,
    /// By eye: a quarter or an eighth of a turn, half as much each time the reading passes the target.
    ByEye,
}

/// The order in which the measures of a coupled bench regulation are worked on. There is no default.
///
/// ```
/// use evenhand_core::simulation::{Order, Policy, coupled};
///
/// // The same action, acceptable with fewer readings in the order that the program proposes.
/// let readings = |order| coupled(7, Policy::Learned, order).accept.map(|effort| effort.readings);
/// assert!(readings(Order::Proposed).unwrap() < readings(Order::Rounds).unwrap());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// As the program proposes: a measure comes before those that it disturbs, and only disturbed
    /// readings are taken again.
    Proposed,
    /// Only disturbed readings are taken again, but in a fixed order that ignores disturbance:
    /// aftertouch, checking, drop, let-off, blow, repeated.
    Heedless,
    /// In a fixed order, blow to aftertouch, with every note measured again in every round, because the
    /// technician does not know what was disturbed; ends after a round in which all are on target.
    Rounds,
}

/// The work done up to a point, in whole numbers from 0 up. The default is none.
///
/// ```
/// use evenhand_core::simulation::{Effort, Policy, alone};
///
/// let effort: Effort = alone(7, "drop", Policy::Learned).aim.unwrap();
/// // Every note is measured once, and again after each turn.
/// assert!(effort.turns > 0 && effort.readings >= 88 + effort.turns);
/// assert_eq!(Effort::default().readings, 0);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// The number of passes through the notes, one measure each.
    pub passes: u32,
    /// The number of corrections made.
    pub turns: u32,
    /// The number of readings taken.
    pub readings: u32,
}

/// The result of one simulated job.
///
/// ```
/// use evenhand_core::simulation::{Policy, alone};
///
/// let outcome = alone(7, "let_off", Policy::Learned);
/// assert!(outcome.accept.unwrap().readings >= 88);
/// assert!(outcome.aim.unwrap().turns >= outcome.accept.unwrap().turns);
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Outcome {
    /// The work until all readings were acceptable; `None` if not reached in [`MAX_PASSES`] passes.
    pub accept: Option<Effort>,
    /// The work until all readings were on target; `None` if not reached.
    pub aim: Option<Effort>,
    /// The number of true values that are out at the end, after the felt has settled.
    pub truly_out: u32,
}

/// The largest number of passes that is simulated.
pub const MAX_PASSES: u32 = 60;

/// Simulates one measure of an action until all 88 notes are on target or [`MAX_PASSES`] is reached.
pub fn alone(seed: u64, measure: &'static str, policy: Policy) -> Outcome {
    let mut run = Run::new(seed, policy);
    run.work(&[measure], Order::Heedless)
}

/// Simulates the bench regulation of an action, in which adjustments disturb other measures: blow,
/// let-off, drop, checking and aftertouch, which is set by the dip.
pub fn coupled(seed: u64, policy: Policy, order: Order) -> Outcome {
    let mut run = Run::new(seed, policy);
    match order {
        Order::Heedless => {
            let mut reversed = BENCH;
            reversed.reverse();
            run.work(&reversed, order)
        }
        _ => run.work(&BENCH, order),
    }
}

const PHONE: ReplicaId = ReplicaId::new(1);

/// Returns a job with the setup of the simulated instrument, with which [`alone`] and [`coupled`] begin.
pub fn job() -> Job {
    let mut job = Job::new();
    let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
    let key = KeyLever {
        front_nm: mm(220),
        back_nm: mm(130),
        front_pin_nm: mm(200),
    };
    let set = Box::new(Setup {
        sections: Some(sections()),
        natural_key: Some(key),
        sharp_key: Some(key),
        punchings_nm: Some(COMMON.to_vec()),
        following: Some(FollowingLength::Dip),
        ..Setup::default()
    });
    job.apply(job.draft(PHONE, 0, EntryKind::Setup { set }));
    job
}

/// One simulated job: an action, its record, and the work counted so far.
struct Run {
    action: Action,
    job: Job,
    policy: Policy,
    /// The last turn of each screw in 64ths, for [`Policy::ByEye`]; 0 before the first.
    last: Vec<[i64; 3]>,
    effort: Effort,
}

impl Run {
    fn new(seed: u64, policy: Policy) -> Run {
        Run {
            action: Action::new(seed),
            job: job(),
            policy,
            last: vec![[0; 3]; Note::COUNT],
            effort: Effort::default(),
        }
    }

    /// Works through these measures until all are on target, or [`MAX_PASSES`] is reached.
    fn work(&mut self, measures: &[&'static str], order: Order) -> Outcome {
        let mut outcome = Outcome::default();
        while outcome.aim.is_none() && self.effort.passes < MAX_PASSES {
            match order {
                Order::Rounds => {
                    let worst = measures.iter().map(|m| self.pass(m, true)).max();
                    // Without knowledge of what was disturbed, only a whole round shows that all are on target.
                    if outcome.accept.is_none() && worst < Some(Verdict::Out) {
                        outcome.accept = Some(self.effort);
                    }
                    if worst == Some(Verdict::OnTarget) {
                        outcome.aim = Some(self.effort);
                    }
                    continue;
                }
                Order::Proposed => match self.proposed(measures) {
                    Some(measure) => {
                        self.pass(measure, false);
                    }
                    None => break,
                },
                Order::Heedless => {
                    for measure in measures {
                        if Note::all().any(|note| self.is_open(measure, note)) {
                            self.pass(measure, false);
                        }
                    }
                }
            }
            let all = |least: Verdict| {
                let stands = |m: &&str| Note::all().all(|n| self.stands(m, n) <= Some(least));
                let read = |m: &&str| Note::all().all(|n| self.stands(m, n).is_some());
                measures.iter().all(|m| read(m) && stands(m))
            };
            if outcome.accept.is_none() && all(Verdict::Acceptable) {
                outcome.accept = Some(self.effort);
            }
            if all(Verdict::OnTarget) {
                outcome.aim = Some(self.effort);
            }
        }
        outcome.truly_out = self.truly_out(measures);
        outcome
    }

    /// Returns the measure to work on next, the first in the working order of all open ones, or `None` if
    /// none is open.
    fn proposed(&self, measures: &[&'static str]) -> Option<&'static str> {
        let mut pending = Vec::new();
        for note in Note::all() {
            for measure in measures.iter().filter(|m| self.is_open(m, note)) {
                pending.push(Pending {
                    moves: MeasureId::of(works_on(measure, note)),
                    measure: MeasureId::of(measure),
                    on: Subject::Note(note),
                });
            }
        }
        let order = working_order(self.job.state(), Place::Bench, &pending);
        let first = &pending[*order.order.first()?];
        measures
            .iter()
            .find(|m| **m == first.measure.as_str())
            .copied()
    }

    /// Makes one pass over the open notes, or over all: measures each, corrects it if it is not on target,
    /// and measures again. Returns the worst verdict met before a correction.
    fn pass(&mut self, measure: &'static str, all: bool) -> Verdict {
        self.effort.passes += 1;
        let mut worst = Verdict::OnTarget;
        for note in Note::all() {
            if all || self.is_open(measure, note) {
                worst = worst.max(self.visit(measure, note, all));
            }
        }
        self.action.settle();
        worst
    }

    /// Measures a note, corrects it if needed and measures again. Returns the verdict before the correction.
    fn visit(&mut self, measure: &'static str, note: Note, anew: bool) -> Verdict {
        if anew || self.stands(measure, note).is_none() {
            self.read(measure, note);
        }
        let stood = self.stands(measure, note).unwrap_or(Verdict::Out);
        if stood == Verdict::OnTarget {
            return stood;
        }
        let Some((moves, made)) = self.movement(measure, note) else {
            return stood;
        };
        self.action.make(&moves, note, &made);
        let (on, place) = (Subject::Note(note), Place::Bench);
        let act = EntryKind::Correction {
            measure: MeasureId::from(moves.as_str()),
            on,
            place,
            made,
        };
        self.job.apply(self.job.draft(PHONE, 0, act));
        self.effort.turns += 1;
        self.read(measure, note);
        stood
    }

    fn read(&mut self, measure: &'static str, note: Note) {
        let value = Value::Nm(self.action.read(measure, note));
        let (id, on) = (MeasureId::of(measure), Subject::Note(note));
        let (place, working) = (Place::Bench, Occasion::Working);
        let entry = self
            .job
            .reading(PHONE, 0, id, on, place, working, value, "");
        self.job.apply(entry);
        self.effort.readings += 1;
    }

    /// Returns the verdict on the current reading, or `None` if there is none or it was disturbed.
    fn stands(&self, measure: &str, note: Note) -> Option<Verdict> {
        let (state, on) = (self.job.state(), Subject::Note(note));
        let read = state
            .measure_state(measure, on, Place::Bench)?
            .in_effect()?;
        if state.disturbed(measure, on, Place::Bench).is_some() {
            return None;
        }
        Some(state.judge(measure, on, read.value)?.verdict)
    }

    fn is_open(&self, measure: &str, note: Note) -> bool {
        self.stands(measure, note) != Some(Verdict::OnTarget)
    }

    /// Returns the correction for a reading and the measure that it is made on, or `None` if there is none.
    fn movement(&mut self, measure: &'static str, note: Note) -> Option<(String, Correction)> {
        let on = Subject::Note(note);
        let state = self.job.state();
        let is_turned = TURNED.contains(&measure);
        if !is_turned || self.policy == Policy::Learned {
            let advice = advice(state, measure, on, Place::Bench)?;
            debug_assert!(!matches!(advice.movement, Movement::Missing(_)));
            let made = advice.made()?;
            return Some((advice.moves.as_str().to_owned(), made));
        }
        let band = state.band(measure, on)?;
        let read = state
            .measure_state(measure, on, Place::Bench)?
            .in_effect()?
            .value;
        let turns = match self.policy {
            Policy::ByEye => {
                let wide = band.accept.1? - band.aim;
                self.by_eye(measure, note, read.base() - band.aim, wide)
            }
            _ => by_default(measure, read.length()?, Length::from_nm(band.aim))?,
        };
        Some((measure.to_owned(), Correction::Turned(turns)))
    }

    /// Returns a turn by eye: at first a quarter if the reading is out, otherwise an eighth; then the same
    /// again in the same direction, or half of it after a change of direction, but at least the smallest
    /// turn by hand.
    fn by_eye(&mut self, measure: &str, note: Note, off: i64, wide: i64) -> Turns {
        let k = TURNED.iter().position(|id| *id == measure).unwrap_or(0);
        let last = &mut self.last[note.index()][k];
        let finest = screw(measure).resolution.in_64ths();
        let way = -off.signum();
        let size = match *last {
            0 if off.abs() > wide => 16,
            0 => 8,
            before if before.signum() == way => before.abs(),
            before => (before.abs() / 2).max(finest),
        };
        *last = way * size;
        Turns::from_64ths(*last)
    }

    /// Returns the number of true values that are out.
    fn truly_out(&self, measures: &[&str]) -> u32 {
        let mut out = 0;
        for measure in measures {
            for note in Note::all() {
                let value = Value::Nm(Length::from_mm(self.action.truth(measure, note)));
                let judged = self.job.state().judge(measure, Subject::Note(note), value);
                out += u32::from(judged.is_some_and(|j| j.verdict == Verdict::Out));
            }
        }
        out
    }
}

/// Returns the measure that is adjusted for another one: for the aftertouch the dip, which is left to follow.
fn works_on(measure: &'static str, note: Note) -> &'static str {
    match (measure, note.is_sharp()) {
        ("aftertouch", false) => "natural_dip",
        ("aftertouch", true) => "sharp_dip",
        _ => measure,
    }
}

/// Returns the turn by the default response, taken as certain.
fn by_default(measure: &str, reading: Length, aim: Length) -> Option<Turns> {
    let screw = screw(measure);
    let certain = Prior {
        mm_per_turn: screw.mm_per_turn,
        spread: 1e-6 * screw.mm_per_turn,
    };
    let response = learn(&[], certain, NoiseModel::default()).ok()?;
    match correction(reading, aim, &response, &screw) {
        Turned::Turn { turns, .. } => Some(turns),
        Turned::Leave | Turned::TryFirst => None,
    }
}

/// The difference of two policies over the same actions, of 30 pairs or more, with its interval of 95 %. It has no
/// default; [`PairedResult::of`] computes it.
///
/// ```
/// use evenhand_core::simulation::PairedResult;
///
/// let of = |pairs: u32| {
///     let these = (0..pairs).map(|n| Some(f64::from(90 + n % 2)));
///     PairedResult::of(these, (0..pairs).map(|_| Some(181.0)))
/// };
/// let half = of(40).unwrap();
/// assert_eq!((half.mean, half.part), (-90.5, -0.5));
/// assert!(half.low < half.mean && half.mean < half.high);
/// assert_eq!(of(29), None);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PairedResult {
    /// The mean difference, the first minus the second.
    pub mean: f64,
    /// The low end of its 95 % interval.
    pub low: f64,
    /// The high end.
    pub high: f64,
    /// The mean difference as a fraction of the second's mean.
    pub part: f64,
    /// The number of actions for which both have a value.
    pub pairs: usize,
}

impl PairedResult {
    /// Compares two lists of values of the same actions, paired by position. Returns `None` for fewer than
    /// 30 pairs; a pair with a missing value is left out.
    ///
    /// **Rule**: P: Student's paired t interval, mean ± t·s/√n. **Error**: the quantile of t is Fisher's
    /// expansion around the normal one, `z + (z³ + z)/4ν`, accurate to 0.005 from ν = 29.
    ///
    /// ```
    /// use evenhand_core::simulation::PairedResult;
    ///
    /// let these = (0..30).map(|n| Some(f64::from(n % 3)));
    /// let those = (0..30).map(|_| Some(4.0));
    /// let compared = PairedResult::of(these, those).unwrap();
    /// assert_eq!((compared.mean, compared.pairs), (-3.0, 30));
    /// assert!(compared.low < -3.0 && compared.high > -3.0);
    /// ```
    pub fn of(
        these: impl Iterator<Item = Option<f64>>,
        those: impl Iterator<Item = Option<f64>>,
    ) -> Option<PairedResult> {
        let pairs: Vec<(f64, f64)> = these.zip(those).filter_map(|(a, b)| a.zip(b)).collect();
        let n = pairs.len() as f64;
        if pairs.len() < 30 {
            return None;
        }
        let mean = pairs.iter().map(|(a, b)| a - b).sum::<f64>() / n;
        let squares: f64 = pairs.iter().map(|(a, b)| (a - b - mean).powi(2)).sum();
        let error = (squares / (n - 1.0) / n).sqrt();
        let z = crate::analysis::survey::Z_95;
        let t = z + (z.powi(3) + z) / (4.0 * (n - 1.0));
        let other = pairs.iter().map(|p| p.1).sum::<f64>() / n;
        Some(PairedResult {
            mean,
            low: mean - t * error,
            high: mean + t * error,
            part: mean / other,
            pairs: pairs.len(),
        })
    }
}
