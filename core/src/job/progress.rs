//! The progress of each step and stage.
//! The file is long because the items of a step, their states and their counts are one rule.

use std::collections::HashSet;

use super::measure_states::MeasureStates;
use super::verdict::MeasureView;
use super::{
    Cause, Drying, EntryId, Judged, LogPosition, Mark, MeasureState, Reading, State, Subject,
    Sweep, WorkTime,
};
use crate::note::Note;
use crate::trade::{Measure, MeasureId, Occasion, Per, Place, Stage, Step, StepId, Verdict};
use crate::unit::{Length, Value};

/// One item of a step: a measure on a note, section or the whole.
///
/// It has no default and no order; [`State::items`] lists the items of a step in working order.
///
/// ```
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let step = job.state().step("let_off").unwrap();
/// assert_eq!(job.state().items(step).len(), 88);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// The measure.
    pub measure: MeasureId,
    /// The note, section or whole.
    pub on: Subject,
}

/// The state of one item of a step.
///
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{ItemState, Job};
///
/// let job = Job::new();
/// let step = job.state().step("let_off").unwrap();
/// let items = job.state().items(step);
/// let state = job.state().item_state(step, &items[0]);
/// assert_eq!(state, ItemState::NotRead);
/// assert!(state.reading().is_none() && !state.is_out());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub enum ItemState<'a> {
    /// Not measured on the occasion of the step.
    NotRead,
    /// Measured, and still valid. The verdict is `None` if there is no target.
    Read(&'a Reading, Option<Judged>),
    /// Measured, and disturbed since by the cause: to re-measure.
    Remeasure(&'a Reading, Option<Judged>, Cause),
    /// Looked along or done in one stroke, not measured, and still valid: on target, good or done. Or turned and not
    /// measured again: [`Sweep::expected`] is what it should read.
    Swept(&'a Sweep),
    /// Swept, and disturbed since by the cause: to look along again, or to measure.
    SweepAgain(&'a Sweep, Cause),
    /// Found out and not measured: to come back to.
    MarkedOut(&'a Mark),
}

impl<'a> ItemState<'a> {
    /// Returns the reading, or `None` if the item is not measured.
    pub fn reading(&self) -> Option<&'a Reading> {
        match self {
            ItemState::Read(r, _) | ItemState::Remeasure(r, ..) => Some(r),
            _ => None,
        }
    }

    /// Returns how the reading was judged, or `None` if it is not measured or has no target.
    pub fn judged(&self) -> Option<Judged> {
        match self {
            ItemState::Read(_, j) | ItemState::Remeasure(_, j, _) => *j,
            _ => None,
        }
    }

    /// Returns why it is to be measured or looked along again, or `None` if it is not.
    pub fn cause(&self) -> Option<Cause> {
        match self {
            ItemState::Remeasure(.., cause) | ItemState::SweepAgain(_, cause) => {
                Some(cause.clone())
            }
            _ => None,
        }
    }

    /// Returns what it should read if it was turned and not measured again, or `None`.
    pub fn should_read(&self) -> Option<Length> {
        match self {
            ItemState::Swept(sweep) => sweep.expected,
            _ => None,
        }
    }

    /// Returns `true` if nothing is left to do: measured or swept, and still valid.
    pub fn is_valid(&self) -> bool {
        matches!(self, ItemState::Read(..) | ItemState::Swept(_))
    }

    /// Returns `true` if the reading is still valid and outside the accept band.
    pub fn is_out(&self) -> bool {
        matches!(self, ItemState::Read(_, Some(j)) if j.verdict == Verdict::Out)
    }
}

/// The progress of a step.
///
/// The default is that of a step without items. `swept <= read`, `on_target + out <= read` and
/// `read + to_remeasure + marked_out <= expected` always hold.
///
/// ```
/// use evenhand_core::job::Job;
///
/// let all = Job::new().state().progress(0);
/// let (_, progress) = all.iter().find(|(step, _)| step.id.as_str() == "let_off").unwrap();
/// assert_eq!((progress.expected, progress.read, progress.left()), (88, 0, 88));
/// assert!(!progress.is_begun());
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Progress {
    /// The number of items.
    pub expected: usize,
    /// The number of items with a valid reading, or swept and still valid.
    pub read: usize,
    /// How many of these are swept: looked along or done in one stroke, without a number, or turned and not measured
    /// again.
    pub swept: usize,
    /// How many of these are turned and not measured again, because what the turn does is known.
    pub turned: usize,
    /// The number of valid readings inside the aim band.
    pub on_target: usize,
    /// The number of valid readings outside the accept band.
    pub out: usize,
    /// The number of items to re-measure: measured, and disturbed since.
    pub to_remeasure: usize,
    /// The number of items found out and not measured, to come back to.
    pub marked_out: usize,
    /// The steps that it needs and that are not finished, drying included.
    pub blocked_by: Vec<StepId>,
    /// `true` if it is not finished and can no longer be done, because the step that it must come before is done.
    pub too_late: bool,
    /// Its own drying time, if one was started.
    pub drying: Option<Drying>,
    /// The working time so far, in milliseconds.
    pub spent_ms: i64,
    /// The working time in whole minutes, as every table shows it: the sum of [`WorkTime::minutes`].
    pub minutes: i64,
    /// `true` if any of the working time was stated, `false` if all of it was counted.
    pub time_stated: bool,
}

impl Progress {
    fn count(&mut self, item: &ItemState<'_>) {
        self.expected += 1;
        match item {
            ItemState::NotRead => {}
            ItemState::MarkedOut(_) => self.marked_out += 1,
            ItemState::Remeasure(..) | ItemState::SweepAgain(..) => self.to_remeasure += 1,
            ItemState::Swept(sweep) => {
                self.read += 1;
                self.swept += 1;
                self.turned += usize::from(sweep.expected.is_some());
                self.on_target += 1;
            }
            ItemState::Read(_, judged) => {
                self.read += 1;
                match judged.map(|j| j.verdict) {
                    Some(Verdict::OnTarget) => self.on_target += 1,
                    Some(Verdict::Out) => self.out += 1,
                    Some(Verdict::Acceptable) | None => {}
                }
            }
        }
    }

    /// Returns `true` if every item has a valid reading. A step without items is never done.
    pub fn is_read(&self) -> bool {
        self.read == self.expected && !self.is_empty()
    }

    /// Returns `true` if every item was measured once, also if later work disturbed it.
    pub fn is_recorded(&self) -> bool {
        self.read + self.to_remeasure == self.expected && !self.is_empty()
    }

    /// Returns `true` if the step has no items: a decision left nothing of it. It is then no step of the job, neither
    /// done nor to do, and what follows it waits for what it needs itself.
    pub fn is_empty(&self) -> bool {
        self.expected == 0
    }

    /// Returns `true` if any item was measured.
    pub fn is_begun(&self) -> bool {
        self.read + self.to_remeasure + self.marked_out > 0
    }

    /// Returns the number of items to measure or re-measure.
    pub fn left(&self) -> usize {
        self.expected - self.read
    }
}

/// The progress of a stage, or of the whole job. The default is zero.
///
/// ```
/// use evenhand_core::job::{Job, State};
///
/// let all = Job::new().state().progress(0);
/// let whole = State::stage_progress(&all, None);
/// assert_eq!((whole.steps, whole.done), (all.len(), 0));
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StageProgress {
    /// The number of steps; those that a decision left without items are not counted.
    pub steps: usize,
    /// The number of those in which every item has a valid reading.
    pub done: usize,
}

impl State {
    /// Returns the subjects of a step, from the bass up.
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
            Per::Damped => {
                let damped = Note::all().filter(|n| *n <= self.last_damped());
                damped.map(Subject::Note).collect()
            }
        }
    }

    /// Returns the last note with a damper; the last of all if it was not recorded.
    pub(crate) fn last_damped(&self) -> Note {
        let end = self.measure_state("damper_end", Subject::Whole, Place::Piano);
        let end = end
            .and_then(MeasureState::in_effect)
            .map(|r| r.value.base());
        end.and_then(|end| Note::new(end).ok())
            .unwrap_or(Note::LAST)
    }

    /// Returns the items of a step, measure by measure, each from the bass up; note by note for a sample that is set up
    /// so. A step on the sample has an item for every other note that was measured, too: sample first, then the
    /// exceptions.
    pub fn items(&self, step: &Step) -> Vec<Item> {
        let subjects = self.subjects(step);
        let mut items = Vec::with_capacity(step.takes.len() * subjects.len());
        for id in &step.takes {
            let on = self.taken(&self.looked(id.as_str()), step, &subjects);
            items.extend(on.into_iter().map(|on| Item {
                measure: id.clone(),
                on,
            }));
        }
        if step.per == Per::Sample && self.setup().sample_by_note == Some(true) {
            // Stable: the measures of a note stay in their order.
            items.sort_by_key(|item| item.on);
        }
        items
    }

    /// Returns the subjects on which a step takes a measure: of its own subjects those that the measure applies to,
    /// and for a step on the sample the other notes that were measured. Of a measure that is taken only with some grades
    /// of another one, also what was recorded before the grade changed.
    fn taken(&self, looked: &MeasureView<'_>, step: &Step, subjects: &[Subject]) -> Vec<Subject> {
        let is_recorded = |on: Subject| {
            let (occasion, place) = (step.occasion, step.place);
            looked.counted(occasion, place, on).is_some()
                || looked.swept(occasion, place, on).is_some()
                || looked.marked(occasion, place, on).is_some()
        };
        let condition = looked.measure.and_then(|m| m.taken);
        let applies = |on: &Subject| {
            let is_met = || {
                condition.is_none_or(|c| c.includes(self.grade(c.grade_of, *on)))
                    || is_recorded(*on)
            };
            is_taken(looked.measure, *on) && is_met()
        };
        if step.per != Per::Sample {
            return subjects.iter().copied().filter(applies).collect();
        }
        let is_item = |on: &Subject| subjects.contains(on) || is_recorded(*on);
        let notes = Note::all().map(Subject::Note).filter(applies);
        notes.filter(is_item).collect()
    }

    /// Returns the latest grade of a measure on a note or section, counted from 0; of a note without one, that of its
    /// section. `None` if neither is graded.
    pub(crate) fn grade(&self, measure: &str, on: Subject) -> Option<i64> {
        let of = |on: Subject| {
            let latest = self.latest_reading(measure, on)?;
            Some(latest.value.base())
        };
        of(on).or_else(|| {
            let section = self.sections().of(on.note()?);
            of(Subject::Section(section as u8))
        })
    }

    /// Returns the grade because of which a measure is taken of a subject, as a sentence: `Wear of hammers: worn.` Returns
    /// `None` for a measure that no grade calls for.
    ///
    /// ```
    /// use evenhand_core::job::{Job, ReplicaId, Subject};
    /// use evenhand_core::trade::{MeasureId, Occasion, Place};
    /// use evenhand_core::unit::Value;
    ///
    /// let mut job = Job::new();
    /// let (wear, on, worn) = (MeasureId::of("wear_hammers"), Subject::Section(0), Value::Grade(1));
    /// job.apply(job.reading(ReplicaId::new(7), 0, wear, on, Place::Piano, Occasion::AsFound, worn, ""));
    /// let decision = job.state().measure("decide_hammers").unwrap();
    /// assert_eq!(job.state().called_for_by(decision, on).unwrap(), "Wear of hammers: worn.");
    /// ```
    pub fn called_for_by(&self, measure: &Measure, on: Subject) -> Option<String> {
        let taken = measure.called_for()?;
        let grade = usize::try_from(self.grade(taken.grade_of, on)?).ok()?;
        let by = self.measure(taken.grade_of)?;
        Some(format!("{}: {}.", by.name, by.grades.get(grade)?))
    }

    /// Returns `true` if a step has anything to take: a renewal that is decided for some section.
    pub(super) fn is_called_for(&self, step: &Step) -> bool {
        let is_blank = |id: &str| self.known(id).is_none_or(MeasureStates::is_blank);
        step.takes.iter().any(|id| {
            let looked = self.looked(id.as_str());
            let condition = looked.measure.and_then(|m| m.taken);
            let grade_of = condition.map_or("", |c| c.grade_of);
            // In most jobs nothing of either is recorded, and every file that is opened asks.
            if is_blank(id.as_str()) && is_blank(grade_of) {
                return false;
            }
            !self.taken(&looked, step, &self.subjects(step)).is_empty()
        })
    }

    /// Returns the state of one item of a step.
    pub fn item_state(&self, step: &Step, item: &Item) -> ItemState<'_> {
        self.looked(item.measure.as_str()).item_state(step, item.on)
    }

    /// Returns `true` if a measure is taken of a subject: the dip of naturals is not taken of a sharp.
    pub(super) fn takes(&self, measure: &str, on: Subject) -> bool {
        is_taken(self.measure(measure), on)
    }

    /// Returns `true` if a sweep is what counts for a measure of a note, on its occasion.
    pub(super) fn counts_as_swept(
        &self,
        sweep: EntryId,
        occasion: Occasion,
        measure: &str,
        on: Subject,
    ) -> bool {
        let looked = self.looked(measure);
        let counts = match occasion {
            Occasion::AsFound => looked.swept_at(Occasion::AsFound, on),
            _ => looked.swept_now(on),
        };
        counts.is_some_and(|counts| counts.position.id == sweep)
    }

    /// Returns `true` if a mark is what counts for a measure of a note, on its occasion.
    pub(super) fn counts_as_marked(
        &self,
        mark: EntryId,
        occasion: Occasion,
        measure: &str,
        on: Subject,
    ) -> bool {
        let state = self.looked(measure).state_at(occasion, None, on);
        matches!(state, ItemState::MarkedOut(m) if m.position.id == mark)
    }

    /// Returns `true` if a note was swept after a position in the log, and the sweep is what counts now.
    pub(crate) fn swept_since(&self, measure: &str, on: Subject, since: LogPosition) -> bool {
        let swept = self.looked(measure).swept_now(on);
        swept.is_some_and(|sweep| since < sweep.position)
    }

    /// Returns `true` if a note was swept in the survey, and not measured there.
    pub(crate) fn is_swept_found(&self, measure: &str, on: Subject) -> bool {
        let looked = self.looked(measure);
        looked.swept_at(Occasion::AsFound, on).is_some()
    }

    /// Returns the sweep that is what counts now for a note, or `None` if there is none.
    pub(crate) fn swept_now(&self, measure: &str, on: Subject) -> Option<&Sweep> {
        self.looked(measure).swept_now(on)
    }

    /// Returns the progress of a step by itself: `blocked_by` is left empty, and `too_late` is `false`.
    pub fn progress_of(&self, step: &Step) -> Progress {
        let times = self.work_times_of(step.id.as_str());
        let sum = |of: fn(&WorkTime) -> i64| times.iter().map(of).fold(0, i64::saturating_add);
        let mut progress = Progress {
            drying: self.drying(step.id.as_str()),
            spent_ms: sum(|t| t.ms),
            minutes: sum(WorkTime::minutes),
            time_stated: times.iter().any(WorkTime::is_stated),
            ..Progress::default()
        };
        let subjects = self.subjects(step);
        for id in &step.takes {
            let looked = self.looked(id.as_str());
            for on in self.taken(&looked, step, &subjects) {
                progress.count(&looked.item_state(step, on));
            }
        }
        progress
    }

    /// Returns the progress of each step of the order at a wall time (milliseconds since 1970, UTC).
    pub fn progress(&self, now_ms: i64) -> Vec<(Step, Progress)> {
        let order = self.order();
        let mut all: Vec<(Step, Progress)> = order
            .steps()
            .iter()
            .map(|step| (step.clone(), self.progress_of(step)))
            .collect();
        let finished: Vec<StepId> = all
            .iter()
            .filter(|(step, p)| self.is_finished(step, p, now_ms))
            .map(|(step, _)| step.id.clone())
            .collect();
        let needs: Vec<Vec<StepId>> = all.iter().map(|(s, _)| needed_by(&all, s)).collect();
        for ((step, progress), needs) in all.iter_mut().zip(needs) {
            let missing = |id: &StepId| !finished.contains(id);
            progress.blocked_by = needs.into_iter().filter(missing).collect();
            let gone = step
                .only_before
                .as_ref()
                .is_some_and(|id| finished.contains(id));
            progress.too_late = gone && !progress.is_read() && !progress.is_empty();
        }
        all
    }

    /// Returns `true` if steps that need this one may begin: everything is measured once, and the drying time
    /// is over. A reading to re-measure does not block the next step; it is listed by itself.
    fn is_finished(&self, step: &Step, progress: &Progress, now_ms: i64) -> bool {
        // A drying time that was started counts, also for a step that has none by default.
        let wait = progress.drying.as_ref();
        let dry = wait.map_or(step.drying_minutes == 0, |w| w.is_over(now_ms));
        progress.is_recorded() && dry
    }

    /// Returns a step that is still drying at a wall time (milliseconds since 1970, UTC) and that this step
    /// needs dry, and when it is dry.
    ///
    /// Needs are followed through steps that are not measured yet. Returns `None` if nothing dries, and
    /// also if something of this step was recorded since the drying time was started: it was asked about then.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, ReplicaId};
    /// use evenhand_core::trade::StepId;
    ///
    /// let mut job = Job::new();
    /// let step = StepId::of("cauls_in");
    /// job.apply(job.draft(ReplicaId::new(7), 0, EntryKind::DryingStarted { step: step.clone(), minutes: 720 }));
    /// let cauls_out = job.state().step("cauls_out").unwrap();
    /// assert_eq!(job.state().drying_before(cauls_out, 60_000), Some((step, 43_200_000)));
    /// assert_eq!(job.state().drying_before(cauls_out, 43_200_000), None);
    /// ```
    pub fn drying_before(&self, step: &Step, now_ms: i64) -> Option<(StepId, i64)> {
        if !self.is_drying(now_ms) {
            return None;
        }
        let recorded_since = |from_ms: i64| {
            let items = self.items(step);
            items.iter().any(|item| {
                let at_ms = match self.item_state(step, item) {
                    ItemState::Swept(sweep) | ItemState::SweepAgain(sweep, _) => sweep.at_ms,
                    ItemState::MarkedOut(mark) => mark.at_ms,
                    other => other.reading().map_or(i64::MIN, |r| r.at_ms),
                };
                at_ms >= from_ms
            })
        };
        let mut seen: HashSet<&StepId> = HashSet::new();
        let mut needs: Vec<&StepId> = step.needs.iter().collect();
        while let Some(id) = needs.pop() {
            let Some(needed) = self.step(id.as_str()).filter(|_| seen.insert(id)) else {
                continue;
            };
            let drying = self.drying(id.as_str()).filter(|w| !w.is_over(now_ms));
            match drying {
                Some(wait) if !recorded_since(wait.from_ms) => {
                    return Some((id.clone(), wait.until_ms));
                }
                Some(_) => {}
                None if !self.progress_of(needed).is_read() => needs.extend(&needed.needs),
                None => {}
            }
        }
        None
    }

    /// Returns the progress of a stage, or of all stages together for `None`.
    pub fn stage_progress(all: &[(Step, Progress)], stage: Option<Stage>) -> StageProgress {
        let mut sum = StageProgress::default();
        for (_, progress) in all
            .iter()
            .filter(|(s, p)| !p.is_empty() && stage.is_none_or(|stage| s.stage == stage))
        {
            sum.steps += 1;
            sum.done += usize::from(progress.is_read());
        }
        sum
    }
}

/// Returns the steps of a list that a step needs; in place of one that has no items, those that it needs itself.
pub(crate) fn needed_by(all: &[(Step, Progress)], step: &Step) -> Vec<StepId> {
    let mut needed = Vec::new();
    let mut seen: HashSet<&StepId> = HashSet::new();
    let mut ids: Vec<&StepId> = step.needs.iter().rev().collect();
    while let Some(id) = ids.pop() {
        let Some((of, progress)) = all.iter().find(|(s, _)| s.id == *id) else {
            continue;
        };
        match progress.is_empty() {
            _ if !seen.insert(id) => {}
            true => ids.extend(of.needs.iter().rev()),
            false => needed.push(id.clone()),
        }
    }
    needed
}

/// Returns `true` if a measure applies to a subject of a step: the dip of naturals does not apply to a sharp.
fn is_taken(measure: Option<&Measure>, on: Subject) -> bool {
    measure
        .zip(on.note())
        .is_none_or(|(measure, note)| measure.per.includes(note))
}

impl<'a> MeasureView<'a> {
    /// Returns the reading that counts: of an occasion, at a place or, without one, the later one of both. A tick that was
    /// removed means that the work is still to be done.
    fn counted(
        &self,
        occasion: Occasion,
        place: Option<Place>,
        on: Subject,
    ) -> Option<(&'a Reading, Place)> {
        let reading = self.latest_at(occasion, place, on);
        reading.filter(|(r, _)| r.value != Value::Done(false))
    }

    /// Returns the latest reading of an occasion, at a place or, without one, the later one of both.
    fn latest_at(
        &self,
        occasion: Occasion,
        place: Option<Place>,
        on: Subject,
    ) -> Option<(&'a Reading, Place)> {
        let of = |measure_state: &'a MeasureState| match occasion {
            Occasion::Working => measure_state.in_effect(),
            occasion => measure_state.of(occasion),
        };
        let at = |place: Place| Some((of(self.measure_state(on, place)?)?, place));
        match place {
            Some(place) => at(place),
            None => [at(Place::Bench), at(Place::Piano)]
                .into_iter()
                .flatten()
                .max_by_key(|(r, _)| r.position),
        }
    }

    /// Returns the state of the measure of a step on a subject.
    pub fn item_state(&self, step: &Step, on: Subject) -> ItemState<'a> {
        self.state_at(step.occasion, step.place, on)
    }

    /// Returns the latest look along a row in which a subject was right, during the work or at its end, at a place.
    pub fn latest_look(&self, on: Subject, place: Place) -> Option<LogPosition> {
        self.known?.sweeps.latest_look(on, place)
    }

    /// Returns [`MeasureView::latest_look`] of each note; of none if there is no sweep.
    pub fn latest_looks(&self, place: Place) -> Vec<Option<LogPosition>> {
        let known = self.known.filter(|known| !known.sweeps.is_empty());
        known.map_or(Vec::new(), |known| known.sweeps.latest_looks(place))
    }

    /// Returns the sweep that counts for a note now, wherever the action was: it was looked along or done in one stroke
    /// during the work or at its end, has no valid number, and the look still holds. `None` if there is none.
    pub fn swept_now(&self, on: Subject) -> Option<&'a Sweep> {
        let is_blank = self.known?.sweeps.is_empty() || !is_taken(self.measure, on);
        if is_blank
            || matches!(
                self.measured(Occasion::Working, None, on),
                ItemState::Read(..)
            )
        {
            return None;
        }
        let both = [Occasion::Working, Occasion::AsLeft].into_iter();
        both.filter_map(|occasion| self.swept_at(occasion, on))
            .max_by_key(|sweep| sweep.position)
    }

    /// Returns `true` if a subject was found out during the work or at its end and not measured since, wherever the
    /// action was.
    pub fn is_marked_out(&self, on: Subject) -> bool {
        let mut both = [Occasion::Working, Occasion::AsLeft].into_iter();
        both.any(|of| matches!(self.state_at(of, None, on), ItemState::MarkedOut(_)))
    }

    /// Returns the sweep that counts for a note on an occasion, wherever the action was, or `None` if there is none.
    fn swept_at(&self, occasion: Occasion, on: Subject) -> Option<&'a Sweep> {
        match self.state_at(occasion, None, on) {
            ItemState::Swept(sweep) => Some(sweep),
            _ => None,
        }
    }

    /// Returns the state of the measure on a subject, of an occasion, at a place or at the later of both.
    fn state_at(&self, occasion: Occasion, place: Option<Place>, on: Subject) -> ItemState<'a> {
        let measured = self.measured(occasion, place, on);
        if let ItemState::Read(..) = measured {
            return measured;
        }
        // A measured note keeps its value; a later sweep says that it is right where work has spoiled the value.
        let latest = self.latest_at(occasion, place, on);
        let after = latest.map(|(r, _)| r.position);
        let swept = self
            .swept(occasion, place, on)
            .filter(|(s, _)| after < Some(s.position));
        let settled = after.max(swept.map(|(s, _)| s.position));
        let marked = self.marked(occasion, place, on);
        if let Some(mark) = marked.filter(|m| settled < Some(m.position)) {
            return ItemState::MarkedOut(mark);
        }
        let Some((sweep, place)) = swept else {
            return measured;
        };
        let cause = match sweep.occasion {
            Occasion::AsFound => None,
            _ => self.disturbed_since(sweep.position, on, place),
        };
        match (cause, &measured) {
            (None, _) => ItemState::Swept(sweep),
            (Some(cause), ItemState::NotRead) => ItemState::SweepAgain(sweep, cause),
            (Some(_), _) => measured,
        }
    }

    /// Returns the latest sweep of an occasion on a subject, at a place or at either.
    fn swept(
        &self,
        occasion: Occasion,
        place: Option<Place>,
        on: Subject,
    ) -> Option<(&'a Sweep, Place)> {
        let at = |place: Place| {
            let sweep = self.known?.sweeps.latest(on, place, occasion)?;
            Some((sweep, place))
        };
        match place {
            Some(place) => at(place),
            None => [at(Place::Bench), at(Place::Piano)]
                .into_iter()
                .flatten()
                .max_by_key(|(s, _)| s.position),
        }
    }

    /// Returns the latest mark of an occasion on a subject, at a place or at either.
    fn marked(&self, occasion: Occasion, place: Option<Place>, on: Subject) -> Option<&'a Mark> {
        let at = |p: Place| self.measure_state(on, p)?.marks.latest(occasion);
        let places = [Place::Bench, Place::Piano].into_iter();
        let meant = places.filter(|p| place.is_none_or(|only| only == *p));
        meant.filter_map(at).max_by_key(|mark| mark.position)
    }

    /// Returns the state of the measure on a subject by its readings alone.
    fn measured(&self, occasion: Occasion, place: Option<Place>, on: Subject) -> ItemState<'a> {
        let Some((reading, place)) = self.counted(occasion, place, on) else {
            return ItemState::NotRead;
        };
        let judged = self.judge(on, reading.value);
        let cause = match reading.occasion {
            // Later work does not change what was found in the survey.
            Occasion::AsFound => None,
            _ => self.disturbed_since(reading.position, on, place),
        };
        match cause {
            Some(cause) => ItemState::Remeasure(reading, judged, cause),
            None => ItemState::Read(reading, judged),
        }
    }
}
