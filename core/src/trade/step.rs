use std::borrow::{Borrow, Cow};
use std::fmt;

use serde::{Deserialize, Serialize};

use super::{Caution, MeasureId};

/// The short name of a step in the log and the job file.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct StepId(pub Cow<'static, str>);

impl StepId {
    /// Of a name known when the program was made.
    pub const fn of(name: &'static str) -> StepId {
        StepId(Cow::Borrowed(name))
    }

    /// The name itself.
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

/// The stages of the whole job, in their order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// At the piano: what is there, what it needs.
    Survey,
    /// Action out, apart, numbered.
    Strip,
    /// Everything that rubs.
    Recondition,
    /// The foundation: easing, squaring, travel.
    Align,
    /// The regulation proper, against stand-in strings.
    Bench,
    /// Back into the piano, against the real strings.
    Return,
    /// Played and read again.
    Proof,
}

impl Stage {
    /// All stages in their order.
    pub const ALL: [Stage; 7] = [
        Stage::Survey,
        Stage::Strip,
        Stage::Recondition,
        Stage::Align,
        Stage::Bench,
        Stage::Return,
        Stage::Proof,
    ];

    /// The trade's word.
    pub const fn name(self) -> &'static str {
        match self {
            Stage::Survey => "Survey",
            Stage::Strip => "Strip",
            Stage::Recondition => "Recondition",
            Stage::Align => "Align",
            Stage::Bench => "Bench",
            Stage::Return => "Return",
            Stage::Proof => "Proof",
        }
    }
}

/// Where the action is while something is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// In the piano, against the strings.
    Piano,
    /// On the bench, against the stand-in strings.
    Bench,
}

/// When a reading was taken, in the course of the job; said with it, never guessed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Occasion {
    /// Before any work.
    AsFound,
    /// During the work.
    Working,
    /// At the end, as it is left.
    AsLeft,
}

/// What a measure is taken per.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Per {
    /// Once for the whole action.
    Whole,
    /// Once for each section.
    Section,
    /// On the first and last note of each section.
    SectionEnds,
    /// On every note.
    Note,
    /// On every natural.
    Natural,
    /// On every sharp.
    Sharp,
    /// On the sample notes.
    Sample,
}

/// One step of an order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// Its name in the log.
    pub id: StepId,
    /// Its name for people.
    pub name: Cow<'static, str>,
    /// The stage it belongs to.
    pub stage: Stage,
    /// Where it is done; nothing where it can be done at either.
    pub place: Option<Place>,
    /// What it is taken per.
    pub per: Per,
    /// The measures that it takes, in the order of the pad; one for most steps.
    pub takes: Vec<MeasureId>,
    /// The steps that must be done before it.
    pub needs: Vec<StepId>,
    /// Minutes that must pass after it before what needs it may begin (a cure).
    pub wait_minutes: u32,
    /// Working minutes for the whole instrument, a starting value (M).
    pub minutes: u32,
    /// What is needed at hand.
    pub tools: Cow<'static, str>,
    /// What to look for, what to do, what to watch: three sentences at most.
    pub how: Cow<'static, str>,
    /// Which way it goes wrong.
    pub wrong: Cow<'static, str>,
    /// Cautions to show with it.
    pub cautions: Vec<Caution>,
}

impl Step {
    /// A step that takes the measures named.
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
                Stage::Survey | Stage::Return | Stage::Proof => Some(Place::Piano),
                Stage::Bench => Some(Place::Bench),
                Stage::Strip | Stage::Recondition | Stage::Align => None,
            },
            per,
            takes: takes.iter().map(|id| MeasureId::of(id)).collect(),
            needs: Vec::new(),
            wait_minutes: 0,
            minutes: 0,
            tools: Cow::Borrowed(""),
            how: Cow::Borrowed(""),
            wrong: Cow::Borrowed(""),
            cautions: Vec::new(),
        }
    }

    /// After these steps.
    pub fn after(mut self, needs: &[&'static str]) -> Step {
        self.needs = needs.iter().map(|id| StepId::of(id)).collect();
        self
    }

    /// At this place; `None` for either.
    pub fn at(mut self, place: Option<Place>) -> Step {
        self.place = place;
        self
    }

    /// With its working minutes (M).
    pub fn takes_minutes(mut self, minutes: u32) -> Step {
        self.minutes = minutes;
        self
    }

    /// With a cure of so many minutes after it.
    pub fn cures(mut self, minutes: u32) -> Step {
        self.wait_minutes = minutes;
        self
    }

    /// With its tools, its how-to and the way it goes wrong.
    pub fn told(mut self, tools: &'static str, how: &'static str, wrong: &'static str) -> Step {
        self.tools = Cow::Borrowed(tools);
        self.how = Cow::Borrowed(how);
        self.wrong = Cow::Borrowed(wrong);
        self
    }

    /// With cautions.
    pub fn careful(mut self, cautions: &[Caution]) -> Step {
        self.cautions = cautions.to_vec();
        self
    }

    /// The occasion that a pass of this step is for: the survey finds, the proof leaves.
    pub fn occasion(&self) -> Occasion {
        match self.stage {
            Stage::Survey => Occasion::AsFound,
            Stage::Proof => Occasion::AsLeft,
            _ => Occasion::Working,
        }
    }

    /// The place where a pass of this step is read; a step for either place is read where the action is.
    pub fn place_or(&self, now: Place) -> Place {
        self.place.unwrap_or(now)
    }

    /// What it takes, and after that what is computed from it: from down and up weight the
    /// balance weight and the friction.
    pub fn yields(&self) -> impl Iterator<Item = MeasureId> {
        let weighs = self.is_weighing();
        let computed = ["balance_weight", "friction"].into_iter();
        let computed = computed.filter(move |_| weighs).map(MeasureId::of);
        self.takes.iter().cloned().chain(computed)
    }

    /// Whether it takes down and up weight.
    pub fn is_weighing(&self) -> bool {
        self.takes.iter().any(|m| m.as_str() == "up_weight")
    }

    /// Whether `note` is one that this step is taken on.
    pub fn includes(&self, note: crate::note::Note) -> bool {
        match self.per {
            Per::Natural => !note.is_sharp(),
            Per::Sharp => note.is_sharp(),
            _ => true,
        }
    }
}
