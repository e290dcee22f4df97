//! The steps of a job, with their stages, places and texts.

use std::borrow::{Borrow, Cow};
use std::fmt;

use serde::{Deserialize, Serialize};

use super::{Caution, MeasureId};

/// The id of a step in the log and the job file, such as `key_height`.
///
/// Any text is an id: a job has steps of the user's own, and a job file may contain steps that this
/// version does not know. It has no default. Ids compare as texts.
///
/// ```
/// use evenhand_core::trade::{Instrument, Order, StepId};
///
/// let order = Order::of(Instrument::Grand);
/// let id = StepId::from("key_height");
/// assert_eq!(id, StepId::of("key_height"));
/// assert_eq!(order.step(id.as_str()).unwrap().id, id);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StepId(pub Cow<'static, str>);

impl StepId {
    /// Creates an id from a literal, without allocating.
    pub const fn of(name: &'static str) -> StepId {
        StepId(Cow::Borrowed(name))
    }

    /// Returns the id as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<&str> for StepId {
    fn from(name: &str) -> StepId {
        StepId(Cow::Owned(name.to_owned()))
    }
}

impl Borrow<str> for StepId {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for StepId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// A stage of the job. Stages compare by their order in the job.
///
/// ```
/// use evenhand_core::trade::Stage;
///
/// assert!(Stage::ALL.is_sorted());
/// assert!(Stage::Survey < Stage::FinalCheck);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// At the piano: measuring what is there and deciding what it needs.
    Survey,
    /// Taking the action out and apart.
    #[serde(rename = "strip")]
    TakeApart,
    /// Cleaning, bushing, polishing and pinning: all surfaces that rub.
    Recondition,
    /// Easing and squaring the keys, making the parts travel straight.
    Align,
    /// Regulating against stand-in strings on the bench.
    #[serde(rename = "bench")]
    Regulate,
    /// Regulating in the piano, against the real strings.
    Return,
    /// Playing and measuring again.
    #[serde(rename = "proof")]
    FinalCheck,
}

impl Stage {
    /// All stages in their order.
    pub const ALL: [Stage; 7] = [
        Stage::Survey,
        Stage::TakeApart,
        Stage::Recondition,
        Stage::Align,
        Stage::Regulate,
        Stage::Return,
        Stage::FinalCheck,
    ];

    /// Returns the name for people.
    pub const fn name(self) -> &'static str {
        match self {
            Stage::Survey => "Survey",
            Stage::TakeApart => "Take apart",
            Stage::Recondition => "Recondition",
            Stage::Align => "Align",
            Stage::Regulate => "Regulate",
            Stage::Return => "Return",
            Stage::FinalCheck => "Final check",
        }
    }
}

/// Where the action is while something is measured; readings of the two places are kept apart.
///
/// There is no default. In the job file it is `"piano"` or `"bench"`.
///
/// ```
/// use evenhand_core::trade::{Instrument, Order, Place};
///
/// let order = Order::of(Instrument::Grand);
/// let place = |step| order.step(step).unwrap().place;
/// assert_eq!([place("let_off"), place("tuning")], [Some(Place::Bench), Some(Place::Piano)]);
/// assert_eq!(serde_json::to_string(&Place::Bench)?, r#""bench""#);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// In the piano, against the strings.
    Piano,
    /// On the bench, against the stand-in strings.
    Bench,
}

/// When in the job a reading was taken. It is recorded with the reading; see [`Step::occasion`].
///
/// Occasions compare by time; there is no default. In the job file it is `"as_found"`, `"working"` or `"as_left"`.
///
/// ```
/// use evenhand_core::trade::{Instrument, Occasion, Order};
///
/// let order = Order::of(Instrument::Grand);
/// let occasion = |step| order.step(step).unwrap().occasion;
/// assert_eq!([occasion("wear"), occasion("let_off")], [Occasion::AsFound, Occasion::Working]);
/// assert!(order.steps().last().unwrap().occasion == Occasion::AsLeft);
/// assert_eq!(serde_json::to_string(&Occasion::AsLeft)?, r#""as_left""#);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Occasion {
    /// Before any work.
    AsFound,
    /// During the work.
    Working,
    /// After the work, as the instrument is left.
    AsLeft,
}

/// The subjects that a step or measure is taken on.
///
/// ```
/// use evenhand_core::trade::{Instrument, Per};
///
/// let measure = |id| Instrument::Grand.measure(id).unwrap();
/// assert_eq!(measure("humidity").per, Per::Whole);
/// assert_eq!(measure("natural_dip").per, Per::Natural);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Per {
    /// The whole action, once.
    Whole,
    /// Each section.
    Section,
    /// The first and the last note of each section.
    SectionEnds,
    /// Every note.
    Note,
    /// Every natural.
    Natural,
    /// Every sharp.
    Sharp,
    /// The notes of the sample ([`super::sample_plan`]).
    Sample,
    /// Every note that has a damper; every note as long as the last one is not known.
    Damped,
}

impl Per {
    /// Returns `false` for a sharp of what is taken on naturals and for a natural of what is taken on sharps, otherwise
    /// `true`; sections and the sample are not considered.
    ///
    /// ```
    /// use evenhand_core::note::Note;
    /// use evenhand_core::trade::Per;
    ///
    /// // A0 is a natural.
    /// assert!(Per::Natural.includes(Note::FIRST) && !Per::Sharp.includes(Note::FIRST));
    /// assert!(Per::Note.includes(Note::FIRST));
    /// ```
    pub fn includes(self, note: crate::note::Note) -> bool {
        match self {
            Per::Natural => !note.is_sharp(),
            Per::Sharp => note.is_sharp(),
            _ => true,
        }
    }
}

/// One step of a job: what it takes, what must be done before it, and its texts.
///
/// [`super::Instrument::steps`] returns those of an instrument.
///
/// ```
/// use evenhand_core::trade::{Instrument, Order, Place, StepId};
///
/// let order = Order::of(Instrument::Grand);
/// let blow = order.step("blow").unwrap();
/// assert_eq!(blow.place, Some(Place::Bench));
/// assert!(blow.needs.contains(&StepId::of("play_in")));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The id in the log and the job file.
    pub id: StepId,
    /// The name for people.
    pub name: Cow<'static, str>,
    /// The stage that it belongs to.
    pub stage: Stage,
    /// Where it is done; `None` if in the piano or on the bench.
    pub place: Option<Place>,
    /// When in the job its readings are taken.
    pub occasion: Occasion,
    /// The subjects that it is taken on.
    pub per: Per,
    /// The measures that it takes, in the order in which they are asked for; most steps take one.
    pub takes: Vec<MeasureId>,
    /// The steps that must be done before it.
    pub needs: Vec<StepId>,
    /// The step after which it can no longer be done: what is measured as found is gone once the action is out.
    pub only_before: Option<StepId>,
    /// Drying time in minutes: how long the steps that need this one must wait after it.
    pub drying_minutes: u32,
    /// Working time in minutes for the whole instrument, a starting value (M).
    pub minutes: u32,
    /// The tools and materials needed.
    pub tools: Cow<'static, str>,
    /// What to look for and what to do, in at most three sentences.
    pub how: Cow<'static, str>,
    /// How it goes wrong, in at most three sentences.
    pub wrong: Cow<'static, str>,
    /// The cautions shown with it.
    pub cautions: Vec<Caution>,
}

impl Step {
    /// Creates a step that takes these measures, without prerequisites, times, texts or cautions; the
    /// methods below set them.
    ///
    /// Its place follows from the stage: the piano for survey, return and final check, the bench for
    /// regulating, otherwise either. So does the occasion of its readings: as found in the survey, as left
    /// in the final check, otherwise working.
    pub fn new(
        id: &'static str,
        name: &'static str,
        stage: Stage,
        per: Per,
        takes: &[&'static str],
    ) -> Step {
        Step {
            id: StepId::of(id),
            name: Cow::Borrowed(name),
            stage,
            place: match stage {
                Stage::Survey | Stage::Return | Stage::FinalCheck => Some(Place::Piano),
                Stage::Regulate => Some(Place::Bench),
                Stage::TakeApart | Stage::Recondition | Stage::Align => None,
            },
            occasion: match stage {
                Stage::Survey => Occasion::AsFound,
                Stage::FinalCheck => Occasion::AsLeft,
                _ => Occasion::Working,
            },
            per,
            takes: takes.iter().map(|id| MeasureId::of(id)).collect(),
            needs: Vec::new(),
            only_before: None,
            drying_minutes: 0,
            minutes: 0,
            tools: Cow::Borrowed(""),
            how: Cow::Borrowed(""),
            wrong: Cow::Borrowed(""),
            cautions: Vec::new(),
        }
    }

    /// Sets the steps that must be done before it.
    pub fn after(mut self, needs: &[&'static str]) -> Step {
        self.needs = needs.iter().map(|id| StepId::of(id)).collect();
        self
    }

    /// Sets the step after which it can no longer be done.
    pub fn only_before(mut self, step: &'static str) -> Step {
        self.only_before = Some(StepId::of(step));
        self
    }

    /// Sets where it is done; `None` for either place.
    pub fn at(mut self, place: Option<Place>) -> Step {
        self.place = place;
        self
    }

    /// Sets that its readings are of the instrument as found, in whatever stage it is.
    pub fn as_found(mut self) -> Step {
        self.occasion = Occasion::AsFound;
        self
    }

    /// Sets the working time in minutes (M).
    pub fn takes_minutes(mut self, minutes: u32) -> Step {
        self.minutes = minutes;
        self
    }

    /// Sets the drying time after it, in minutes.
    pub fn dries(mut self, minutes: u32) -> Step {
        self.drying_minutes = minutes;
        self
    }

    /// Sets the texts: the tools, what to do and how it goes wrong.
    pub fn instructions(
        mut self,
        tools: &'static str,
        how: &'static str,
        wrong: &'static str,
    ) -> Step {
        self.tools = Cow::Borrowed(tools);
        self.how = Cow::Borrowed(how);
        self.wrong = Cow::Borrowed(wrong);
        self
    }

    /// Sets the cautions.
    pub fn cautions(mut self, cautions: &[Caution]) -> Step {
        self.cautions = cautions.to_vec();
        self
    }

    /// Returns where this step is done: its place, or `now`, where the action is, if it can be done in both.
    pub fn place_or(&self, now: Place) -> Place {
        self.place.unwrap_or(now)
    }

    /// Returns the measures that it takes, then those that are computed from them: balance weight
    /// and friction from down weight and up weight.
    pub fn yields(&self) -> impl Iterator<Item = MeasureId> {
        let weighs = self.is_weighing();
        let computed = ["balance_weight", "friction"].into_iter();
        let computed = computed.filter(move |_| weighs).map(MeasureId::of);
        self.takes.iter().cloned().chain(computed)
    }

    /// Returns `true` if it takes down weight and up weight.
    pub fn is_weighing(&self) -> bool {
        self.takes.iter().any(|m| m.as_str() == "up_weight")
    }

    /// Returns `false` for a sharp in a step on naturals and for a natural in a step on sharps,
    /// otherwise `true`; sections and the sample are not considered.
    pub fn includes(&self, note: crate::note::Note) -> bool {
        self.per.includes(note)
    }
}
