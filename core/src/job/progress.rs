//! How far each step and stage has come.

use super::verdict::MeasureView;
use super::{Cause, Judged, MeasureState, Reading, State, Subject, Wait};
use crate::note::Note;
use crate::trade::{Measure, MeasureId, Occasion, Per, Place, Stage, Step, StepId, Verdict};
use crate::unit::Value;

/// One thing that a step takes: a measure on a note, section or whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// What is read.
    pub measure: MeasureId,
    /// On what.
    pub on: Subject,
}

/// How one item of a step stands.
#[derive(Clone, Debug, PartialEq)]
pub enum ItemState<'a> {
    /// Not read on this occasion.
    NotRead,
    /// Read, and it holds.
    Read(&'a Reading, Option<Judged>),
    /// Read, and disturbed since.
    Again(&'a Reading, Option<Judged>, Cause),
}

impl<'a> ItemState<'a> {
    /// The reading, where there is one.
    pub fn reading(&self) -> Option<&'a Reading> {
        match self {
            ItemState::NotRead => None,
            ItemState::Read(r, _) | ItemState::Again(r, ..) => Some(r),
        }
    }

    /// What was said of it.
    pub fn judged(&self) -> Option<Judged> {
        match self {
            ItemState::NotRead => None,
            ItemState::Read(_, j) | ItemState::Again(_, j, _) => *j,
        }
    }

    /// Whether it holds and lies outside the accept band.
    pub fn is_out(&self) -> bool {
        matches!(self, ItemState::Read(_, Some(j)) if j.verdict == Verdict::Out)
    }
}

/// How far a step has come.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Progress {
    /// How many items it takes.
    pub expected: usize,
    /// How many were read and hold.
    pub read: usize,
    /// How many of these lie in the aim band.
    pub on_aim: usize,
    /// How many of these lie outside the accept band.
    pub out: usize,
    /// How many were read and disturbed since.
    pub again: usize,
    /// The steps that it needs and that are not finished.
    pub blocked_by: Vec<StepId>,
    /// Its own cure, if one was begun.
    pub wait: Option<Wait>,
    /// Working time so far, in milliseconds.
    pub spent_ms: i64,
    /// Whether the technician stated it; else it was counted.
    pub time_stated: bool,
}

impl Progress {
    fn count(&mut self, item: &ItemState<'_>) {
        self.expected += 1;
        match item {
            ItemState::NotRead => {}
            ItemState::Again(..) => self.again += 1,
            ItemState::Read(_, judged) => {
                self.read += 1;
                match judged.map(|j| j.verdict) {
                    Some(Verdict::OnAim) => self.on_aim += 1,
                    Some(Verdict::Out) => self.out += 1,
                    Some(Verdict::Accepted) | None => {}
                }
            }
        }
    }

    /// Whether every item was read and holds.
    pub fn is_read(&self) -> bool {
        self.read == self.expected
    }

    /// Whether anything was read.
    pub fn is_begun(&self) -> bool {
        self.read + self.again > 0
    }

    /// How many are still to be read, for the first time or again.
    pub fn left(&self) -> usize {
        self.expected - self.read
    }
}

/// How far a stage, or the whole job, has come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StageProgress {
    /// How many steps there are.
    pub steps: usize,
    /// How many of them are wholly read, nothing disturbed.
    pub done: usize,
    /// Working time so far, in milliseconds.
    pub spent_ms: i64,
}

impl State {
    /// The subjects that a step is taken on, in order from the bass.
    pub fn subjects(&self, step: &Step) -> Vec<Subject> {
        self.subjects_per(step.per)
    }

    fn subjects_per(&self, per: Per) -> Vec<Subject> {
        let notes = |keep: fn(&Note) -> bool| Note::all().filter(keep).map(Subject::Note).collect();
        match per {
            Per::Whole => vec![Subject::Whole],
            Per::Section => (0..self.sections().count() as u8)
                .map(Subject::Section)
                .collect(),
            Per::SectionEnds => {
                let ends = self.sections().all_ends();
                ends.into_iter().map(Subject::Note).collect()
            }
            Per::Note => notes(|_| true),
            Per::Natural => notes(|n| !n.is_sharp()),
            Per::Sharp => notes(|n| n.is_sharp()),
            Per::Sample => self.samples().iter().copied().map(Subject::Note).collect(),
        }
    }

    /// Everything that a step takes, measure by measure, each from the bass up.
    pub fn items(&self, step: &Step) -> Vec<Item> {
        let subjects = self.subjects(step);
        let mut items = Vec::with_capacity(step.takes.len() * subjects.len());
        for id in &step.takes {
            let measure = self.measure(id.as_str());
            let on = subjects.iter().filter(|on| is_taken(measure, **on));
            items.extend(on.map(|on| Item {
                measure: id.clone(),
                on: *on,
            }));
        }
        items
    }

    /// How one item of a step stands.
    pub fn item_state(&self, step: &Step, item: &Item) -> ItemState<'_> {
        self.looked(item.measure.as_str()).item_state(step, item.on)
    }

    /// How far a step has come, without looking at the steps that it needs.
    fn own_progress(&self, step: &Step) -> Progress {
        let mut progress = Progress {
            wait: self.wait(step.id.as_str()),
            spent_ms: self.spent_ms(step.id.as_str()),
            time_stated: self.is_time_stated(step.id.as_str()),
            ..Progress::default()
        };
        let subjects = self.subjects(step);
        for id in &step.takes {
            let looked = self.looked(id.as_str());
            for on in subjects.iter().filter(|on| is_taken(looked.measure, **on)) {
                progress.count(&looked.item_state(step, *on));
            }
        }
        progress
    }

    /// How far each step of the order has come at a wall time (milliseconds since 1970, UTC).
    pub fn progress(&self, now_ms: i64) -> Vec<(Step, Progress)> {
        let order = self.order();
        let mut all: Vec<(Step, Progress)> = order
            .steps()
            .iter()
            .map(|step| (step.clone(), self.own_progress(step)))
            .collect();
        let finished: Vec<StepId> = all
            .iter()
            .filter(|(step, p)| self.is_finished(step, p, now_ms))
            .map(|(step, _)| step.id.clone())
            .collect();
        for (step, progress) in &mut all {
            let missing =
                |id: &&StepId| order.step(id.as_str()).is_some() && !finished.contains(id);
            progress.blocked_by = step.needs.iter().filter(missing).cloned().collect();
        }
        all
    }

    /// Whether what needs this step may begin: everything once recorded, and its cure over.
    /// A reading that was disturbed since does not hold up the next step; it is asked for by itself.
    fn is_finished(&self, step: &Step, progress: &Progress, now_ms: i64) -> bool {
        let recorded = progress.read + progress.again == progress.expected;
        // A cure that was begun holds, also after a step that has none by itself.
        let wait = progress.wait.as_ref();
        let cured = wait.map_or(step.wait_minutes == 0, |w| w.is_over(now_ms));
        recorded && cured
    }

    /// How far a stage has come; every stage together without one.
    pub fn stage_progress(all: &[(Step, Progress)], stage: Option<Stage>) -> StageProgress {
        let mut sum = StageProgress::default();
        for (_, progress) in all
            .iter()
            .filter(|(s, _)| stage.is_none_or(|stage| s.stage == stage))
        {
            sum.steps += 1;
            sum.done += usize::from(progress.is_read());
            sum.spent_ms += progress.spent_ms;
        }
        sum
    }
}

/// Whether a measure is taken on a subject of a step: dip of naturals is not taken on a sharp.
fn is_taken(measure: Option<&Measure>, on: Subject) -> bool {
    match (measure.map(|m| m.per), on) {
        (Some(Per::Natural), Subject::Note(n)) => !n.is_sharp(),
        (Some(Per::Sharp), Subject::Note(n)) => n.is_sharp(),
        _ => true,
    }
}

impl<'a> MeasureView<'a> {
    /// The reading that counts for a step: of its occasion, at its place (of either for a step without one).
    fn counted(&self, step: &Step, on: Subject) -> Option<(&'a Reading, Place)> {
        let of = |measure_state: &'a MeasureState| match step.occasion() {
            Occasion::Working => measure_state.in_effect(),
            occasion => measure_state.of(occasion),
        };
        let at = |place: Place| Some((of(self.measure_state(on, place)?)?, place));
        let reading = match step.place {
            Some(place) => at(place),
            None => [at(Place::Bench), at(Place::Piano)]
                .into_iter()
                .flatten()
                .max_by_key(|(r, _)| r.position),
        };
        // A tick taken away says that it is still to be done.
        reading.filter(|(r, _)| r.value != Value::Done(false))
    }

    /// How a measure of a step stands on a subject.
    pub fn item_state(&self, step: &Step, on: Subject) -> ItemState<'a> {
        let Some((reading, place)) = self.counted(step, on) else {
            return ItemState::NotRead;
        };
        let judged = self.judge(on, reading.value);
        let cause = match reading.occasion {
            // What was found was found, whatever happens later.
            Occasion::AsFound => None,
            _ => self.disturbed_since(reading.position, on, place),
        };
        match cause {
            Some(cause) => ItemState::Again(reading, judged, cause),
            None => ItemState::Read(reading, judged),
        }
    }
}
