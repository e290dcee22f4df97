//! The kinds of job: a named choice of steps, the place where they are done, and what the sample measures.

use serde::{Deserialize, Serialize};

use super::{Instrument, MeasureId, Order, Per, Place, Stage, Step, StepId};

/// A kind of job: which of the trade's steps are done, and where the regulating is done.
///
/// It has no default and no order. Steps of the user's own are not part of it: they are in the job by themselves. In
/// the job file, empty lists are omitted.
///
/// **Rule** (C): most regulations are not the whole order. In a job without a bench every measure is of the piano, and
/// is taken once.
///
/// ```
/// use evenhand_core::trade::{Instrument, JobKind, Order, Place};
///
/// let kinds = JobKind::built_in(Instrument::Grand);
/// let touch_up = &kinds[0];
/// assert_eq!((touch_up.name.as_str(), touch_up.place), ("Touch-up in the piano", Place::Piano));
/// let order = touch_up.order(&Order::of(Instrument::Grand));
/// assert_eq!(order.step("let_off").unwrap().place, Some(Place::Piano));
/// assert!(order.step("final_regulation").is_none());
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct JobKind {
    /// The name for people.
    pub name: String,
    /// The instrument whose steps it names; it has no effect on a job on the other.
    pub instrument: Instrument,
    /// Where the regulating is done.
    pub place: Place,
    /// The trade's steps that are done; all of them if empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub steps: Vec<StepId>,
    /// What the as-found and the as-left sample measure; all that they can if empty.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sample: Vec<MeasureId>,
}

/// Steps that belong to a bench, or take a second time in the piano what was regulated on the bench.
const ONLY_WITH_BENCH: [&str; 8] = [
    "string_height",
    "bedding_bench",
    "stack_on",
    "climate_bench",
    "climate_return",
    "stand_in",
    "keys_in_piano",
    "final_regulation",
];

const SURVEY: &[&str] = &["climate", "pitch_a4", "found_sample", "wear"];

/// What is set in half a day (C), and what its sample looks at.
const TOUCH_UP: &[&str] = &[
    "climate",
    "pitch_a4",
    "found_sample",
    "let_off",
    "drop",
    "aftertouch",
    "spring",
    "damper_end",
    "damper_key",
    "play_test",
    "left_sample",
];
const TOUCHED_UP: &[&str] = &["let_off", "drop", "aftertouch", "spring"];

/// Reconditioning, tuning and voicing, which a regulation leaves out (C).
const NOT_REGULATED: &[&str] = &[
    "key_pin",
    "cauls_in",
    "cauls_out",
    "pins_polished",
    "capstans_polished",
    "key_tops",
    "centre_pins",
    "hammer_swings",
    "hammers_shaped",
    "hammer_felt",
    "blown_out",
    "checks_brushed",
    "knuckles_brushed",
    "cloth_brushed",
    "buttons_brushed",
    "stack_lubricated",
    "tuning",
    "voicing",
];

const UPRIGHT_TOUCH_UP: &[&str] = &[
    "climate",
    "pitch_a4",
    "found_sample",
    "lost_motion",
    "let_off",
    "checking",
    "spring",
    "damper_end",
    "damper_key",
    "play_test",
    "left_sample",
];
const UPRIGHT_TOUCHED_UP: &[&str] = &["lost_motion", "let_off", "checking", "spring"];
/// The action of the upright is regulated where it stands.
const UPRIGHT_NOT_REGULATED: &[&str] = &["action_out", "dust", "action_in"];

const VOICING: &[&str] = &["pitch_a4", "mating", "voicing", "play_test", "left_sample"];

const ABOUT_GRAND: [&str; 5] = [
    "let-off, drop, aftertouch, springs",
    "all adjustments, action out",
    "everything, with drying overnight",
    "for an estimate",
    "mating, voicing, play test",
];
const ABOUT_UPRIGHT: [&str; 5] = [
    "lost motion, let-off, checks, springs",
    "all adjustments, action in place",
    "everything, with drying overnight",
    "for an estimate",
    "mating, voicing, play test",
];

impl JobKind {
    /// Returns the kinds to begin with: touch-up, regulation, full reconditioning, survey, voicing.
    pub fn built_in(instrument: Instrument) -> [JobKind; 5] {
        let is_grand = instrument == Instrument::Grand;
        let kind = |name: &str, place, steps: Vec<StepId>, sample: &[&'static str]| JobKind {
            name: name.to_owned(),
            instrument,
            place,
            steps,
            sample: sample.iter().map(|id| MeasureId::of(id)).collect(),
        };
        let these = |ids: &[&'static str]| ids.iter().map(|id| StepId::of(id)).collect();
        let (touch_up, touched_up, regulation, bench) = match is_grand {
            true => (
                TOUCH_UP,
                TOUCHED_UP,
                "Regulation on the bench",
                Place::Bench,
            ),
            false => (
                UPRIGHT_TOUCH_UP,
                UPRIGHT_TOUCHED_UP,
                "Regulation",
                Place::Piano,
            ),
        };
        let left = |id: &StepId| {
            let id = id.as_str();
            !NOT_REGULATED.contains(&id) && (is_grand || !UPRIGHT_NOT_REGULATED.contains(&id))
        };
        let steps = instrument.steps().iter().map(|s| s.id.clone());
        [
            kind(
                "Touch-up in the piano",
                Place::Piano,
                these(touch_up),
                touched_up,
            ),
            kind(regulation, bench, steps.filter(left).collect(), &[]),
            kind("Full reconditioning", bench, Vec::new(), &[]),
            kind("Survey only", Place::Piano, these(SURVEY), &[]),
            kind(
                "Voicing and final check",
                Place::Piano,
                these(VOICING),
                touched_up,
            ),
        ]
    }

    /// Returns in a few words what each of [`JobKind::built_in`] does.
    pub const fn about(instrument: Instrument) -> [&'static str; 5] {
        match instrument {
            Instrument::Grand => ABOUT_GRAND,
            Instrument::Upright => ABOUT_UPRIGHT,
        }
    }

    /// Returns the trade's steps that a job of this kind could have, each with its name and whether it has it.
    pub fn choices(&self) -> Vec<(StepId, String, bool)> {
        let order = self.placed(&self.usual());
        let steps = order.steps().iter();
        let choice = |s: &Step| (s.id.clone(), s.name.to_string(), self.includes(&s.id));
        steps.map(choice).collect()
    }

    /// Returns the usual order, without what a grade has to call for first.
    fn usual(&self) -> Order {
        let conditional = self.instrument.conditional_steps();
        Order::of(self.instrument).without(|id| conditional.iter().any(|s| s.id == *id))
    }

    /// Returns `true` if a step is done in it: one that it names, or one of the user's own. What a grade calls for is
    /// done where the grade is taken, renewals where the action is taken out.
    pub fn includes(&self, step: &StepId) -> bool {
        let is_trades = |id: &StepId| self.instrument.steps().iter().any(|s| s.id == *id);
        let conditional = self.instrument.conditional_steps();
        let goes_with = match step.as_str() {
            "decisions" => "wear",
            "hammers_filed" => "voicing",
            _ if conditional.iter().any(|s| s.id == *step) => "action_out",
            other => other,
        };
        let named = self.steps.iter().any(|id| id.as_str() == goes_with);
        self.steps.is_empty() || named || !is_trades(step)
    }

    /// Returns the usual order with the steps of this kind.
    pub fn order(&self, usual: &Order) -> Order {
        self.placed(usual).without(|id| !self.includes(id))
    }

    /// Returns an order as it is where this kind is done: without a bench every step is in the piano, what belongs to a
    /// bench is gone, and the frame is bedded before anything is read.
    pub fn placed(&self, usual: &Order) -> Order {
        // The upright is regulated where it stands; its usual order says so.
        if self.place == Place::Bench || self.instrument == Instrument::Upright {
            return usual.clone();
        }
        let is_left = |id: &StepId| ONLY_WITH_BENCH.contains(&id.as_str());
        let usual = usual.without(is_left);
        let mut steps: Vec<Step> = usual.steps().iter().cloned().map(in_piano).collect();
        let bedding = steps.iter().position(|s| s.id.as_str() == "bedding");
        let first = steps.iter().position(|s| s.stage == Stage::Regulate);
        if let (Some(bedding), Some(first)) = (bedding, first) {
            steps[bedding].stage = Stage::Align;
            steps[bedding].needs.clear();
            let bedding = steps.remove(bedding);
            steps.insert(first, bedding);
        }
        Order::new(steps).unwrap_or(usual)
    }

    /// Returns the working minutes of its steps, starting values (M).
    pub fn minutes(&self) -> u32 {
        let order = self.order(&self.usual());
        let steps = order.steps().iter().cloned();
        steps.map(|s| sampled(s, &self.sample).minutes).sum()
    }
}

/// Returns a step as it is done in the piano. Only what is out is set there, so a row takes half the time (M).
fn in_piano(mut step: Step) -> Step {
    if step.place == Some(Place::Bench) {
        step.place = Some(Place::Piano);
        if matches!(step.per, Per::Note | Per::Natural | Per::Sharp) {
            step.minutes = step.minutes.div_ceil(2);
        }
        if step.id.as_str() == "blow" {
            step.how = "Measure from the string to the crown of the hammer at rest. Turn the capstan up for less blow, down for more.".into();
        }
    }
    step
}

/// Returns a step whose sample is limited to these measures, with its share of the minutes. A step that is no sample
/// of the instrument as found or as left, or takes none of them, stays as it is.
pub(super) fn sampled(mut step: Step, measures: &[MeasureId]) -> Step {
    let all = step.takes.len();
    if matches!(step.id.as_str(), "found_sample" | "left_sample")
        && step.takes.iter().any(|m| measures.contains(m))
    {
        step.takes.retain(|m| measures.contains(m));
        step.minutes = (step.minutes * step.takes.len() as u32).div_ceil(all as u32);
    }
    step
}
