use std::collections::HashMap;

use super::details::{Details, OwnStep, Setup};
use super::slot::{Reading, Slot};
use super::times::Times;
use super::waits::{Wait, WaitEvent, Waits};
use super::{Act, Correction, Entry, EntryId, JobId, Log, Scope, Stamp, Subject};
use crate::note::{Note, Sections};
use crate::trade::{
    Band, Instrument, Measure, MeasureId, Order, Place, Reach, Step, StepId, Target, Verdict,
    causes_of,
};
use crate::unit::LengthUnit;

/// What follows from the entries of a job, kept up entry by entry.
///
/// Taking in the newest entry touches one note; what it disturbs is worked out
/// when it is looked at. Folding all entries anew gives the same state.
#[derive(Clone, Debug, Default)]
pub struct State {
    measures: Vec<Known>,
    by_name: HashMap<MeasureId, usize>,
    taken_back: HashMap<EntryId, u32>,
    id: Option<JobId>,
    details: Replaced<Details>,
    setup: Replaced<Setup>,
    waits: HashMap<StepId, Waits>,
    remarks: Vec<Remark>,
    left_out: HashMap<StepId, Vec<(Stamp, bool, bool)>>,
    own_steps: Vec<(Stamp, OwnStep, bool)>,
    arranged: Vec<(Stamp, Vec<StepId>, bool)>,
    times: Times,
}

/// One measure as far as this job knows it.
#[derive(Clone, Debug)]
struct Known {
    id: MeasureId,
    /// Bench and piano apart, then by subject; empty until something is recorded.
    slots: Vec<Slot>,
    targets: Vec<TargetChange>,
    causes: Vec<CauseRow>,
}

#[derive(Clone, Copy, Debug)]
struct CauseRow {
    work: usize,
    reach: Reach,
    piano_only: bool,
}

/// A value whose fields later entries replace, with its history so that undo restores it.
#[derive(Clone, Debug, Default)]
struct Replaced<T> {
    history: Vec<(Stamp, T, bool)>,
    now: T,
}

/// A change of a target, kept in the history of it.
#[derive(Clone, Debug, PartialEq)]
pub struct TargetChange {
    /// Its place in the order.
    pub stamp: Stamp,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// How far it reaches.
    pub scope: Scope,
    /// The target, or nothing to return to the wider one.
    pub target: Option<Target>,
    alive: bool,
}

/// A remark or fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// The entry that it came in.
    pub stamp: Stamp,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// On what.
    pub on: Subject,
    /// At which step.
    pub step: Option<StepId>,
    /// Whether it is a fault that stays open.
    pub fault: bool,
    /// The words.
    pub text: String,
    alive: bool,
}

/// Why a reading no longer holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The measure whose work disturbed it; its own where it was adjusted and not read since.
    pub work: MeasureId,
    /// On what the work was done.
    pub on: Subject,
    /// When, in the order of entries.
    pub stamp: Stamp,
}

/// A reading against the target in force.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// What to say of it.
    pub verdict: Verdict,
    /// Reading less aim, in whole small units.
    pub off: i64,
    /// The band it was judged by.
    pub band: Band,
}

impl<T: Default> Replaced<T> {
    fn add(&mut self, stamp: Stamp, set: T, take: fn(&mut T, &T)) {
        take(&mut self.now, &set);
        self.history.push((stamp, set, true));
    }

    fn set_alive(&mut self, stamp: Stamp, alive: bool, take: fn(&mut T, &T)) {
        set_alive(&mut self.history, stamp, alive);
        self.now = T::default();
        for (_, set, _) in self.history.iter().filter(|h| h.2) {
            take(&mut self.now, set);
        }
    }
}

fn set_alive<T>(history: &mut [(Stamp, T, bool)], stamp: Stamp, alive: bool) {
    if let Some(found) = history.iter_mut().rfind(|h| h.0 == stamp) {
        found.2 = alive;
    }
}

const fn slot_index(on: Subject, place: Place) -> usize {
    on.index()
        + if matches!(place, Place::Piano) {
            Subject::COUNT
        } else {
            0
        }
}

// Taking entries in.
impl State {
    /// The state that a log folds to.
    pub fn folded(log: &Log) -> State {
        let mut state = State::default();
        for at in 0..log.len() {
            state.apply(log, at);
        }
        state
    }

    /// Takes in the entry at a place of the log, which follows all taken in before.
    pub(super) fn apply(&mut self, log: &Log, at: usize) {
        let entry = &log.entries()[at];
        self.times.count(entry);
        self.put(entry);
        if let Act::Undo { entry: target } = entry.act {
            // Only what came before can be taken back, so that no two undos can hold each other.
            if log.get(target).is_some_and(|t| t.stamp() < entry.stamp()) {
                self.take_back(log, target, true);
            }
        }
    }

    fn put(&mut self, entry: &Entry) {
        let stamp = entry.stamp();
        match &entry.act {
            Act::Made { job } => self.id = self.id.or(Some(*job)),
            Act::Details { set } => self.details.add(stamp, (**set).clone(), Details::take),
            Act::Setup { set } => self.setup.add(stamp, (**set).clone(), Setup::take),
            Act::Reading {
                measure,
                on,
                place,
                occasion,
                value,
                over,
                ..
            } => {
                let reading = Reading::new(stamp, entry.at_ms, *occasion, *value, over.clone());
                let known = self.known_measure(measure);
                self.slot_mut(measure, *on, *place).read(reading, known);
            }
            Act::Correction {
                measure,
                on,
                place,
                made,
            } => {
                let turned = match made {
                    Correction::Turned(turns) => Some(*turns),
                    Correction::Papers(_) | Correction::ByEye => None,
                };
                self.slot_mut(measure, *on, *place).change(stamp, turned);
            }
            Act::Target {
                measure,
                scope,
                target,
            } => {
                let change = TargetChange {
                    stamp,
                    at_ms: entry.at_ms,
                    scope: *scope,
                    target: target.clone().filter(Target::is_sound),
                    alive: true,
                };
                let index = self.intern(measure);
                self.measures[index].targets.push(change);
            }
            Act::WaitStarted { step, minutes } => {
                let at_ms = entry.at_ms;
                let minutes = *minutes;
                self.waits_mut(step)
                    .add(stamp, WaitEvent::Started { at_ms, minutes });
            }
            Act::WaitEnded { step, reason } => {
                self.waits_mut(step)
                    .add(stamp, WaitEvent::Ended(reason.clone()));
            }
            Act::Remark {
                on,
                step,
                fault,
                text,
            } => self.remarks.push(Remark {
                stamp,
                at_ms: entry.at_ms,
                on: *on,
                step: step.clone(),
                fault: *fault,
                text: text.clone(),
                alive: true,
            }),
            Act::PassOpened { step } => self.times.open(entry.id.device, step.clone(), entry.at_ms),
            Act::PassClosed { .. } => self.times.close(entry.id.device),
            Act::LeftOut { step, out } => {
                self.left_out
                    .entry(step.clone())
                    .or_default()
                    .push((stamp, *out, true));
            }
            Act::OwnStep { step } => self.own_steps.push((stamp, (**step).clone(), true)),
            Act::Arranged { steps } => self.arranged.push((stamp, steps.clone(), true)),
            Act::Undo { .. } | Act::Unknown(_) => {}
        }
    }

    /// Counts one more, or one less, undo of an entry, and follows where that leads.
    fn take_back(&mut self, log: &Log, mut target: EntryId, mut back: bool) {
        loop {
            let count = self.taken_back.entry(target).or_default();
            let was = *count;
            *count = if back { was + 1 } else { was.saturating_sub(1) };
            let alive = *count == 0;
            if (was == 0) == alive {
                return;
            }
            let Some(entry) = log.get(target) else { return };
            match entry.act {
                Act::Undo { entry: further } => {
                    // An undo of an undo brings the entry back.
                    if log.get(further).is_none_or(|f| f.stamp() >= entry.stamp()) {
                        return;
                    }
                    (target, back) = (further, alive);
                }
                _ => return self.set_alive(entry, alive),
            }
        }
    }

    fn set_alive(&mut self, entry: &Entry, alive: bool) {
        let stamp = entry.stamp();
        match &entry.act {
            Act::Details { .. } => self.details.set_alive(stamp, alive, Details::take),
            Act::Setup { .. } => self.setup.set_alive(stamp, alive, Setup::take),
            Act::Reading {
                measure, on, place, ..
            }
            | Act::Correction {
                measure, on, place, ..
            } => {
                let known = self.known_measure(measure);
                self.slot_mut(measure, *on, *place)
                    .set_alive(entry.id, alive, known);
            }
            Act::Target { measure, .. } => {
                let index = self.intern(measure);
                let targets = &mut self.measures[index].targets;
                if let Some(t) = targets.iter_mut().rfind(|t| t.stamp == stamp) {
                    t.alive = alive;
                }
            }
            Act::WaitStarted { step, .. } | Act::WaitEnded { step, .. } => {
                self.waits_mut(step).set_alive(stamp, alive);
            }
            Act::Remark { .. } => {
                if let Some(r) = self.remarks.iter_mut().rfind(|r| r.stamp == stamp) {
                    r.alive = alive;
                }
            }
            Act::LeftOut { step, .. } => {
                if let Some(history) = self.left_out.get_mut(step) {
                    set_alive(history, stamp, alive);
                }
            }
            Act::OwnStep { .. } => set_alive(&mut self.own_steps, stamp, alive),
            Act::Arranged { .. } => set_alive(&mut self.arranged, stamp, alive),
            Act::Made { .. }
            | Act::PassOpened { .. }
            | Act::PassClosed { .. }
            | Act::Undo { .. }
            | Act::Unknown(_) => {}
        }
    }

    /// The table's measure: what decides whether a reading tells of work is the same for both instruments.
    fn known_measure(&self, id: &MeasureId) -> Option<&'static Measure> {
        Instrument::Grand
            .measure(id.as_str())
            .or_else(|| Instrument::Vertical.measure(id.as_str()))
    }

    fn intern(&mut self, id: &MeasureId) -> usize {
        if let Some(&index) = self.by_name.get(id) {
            return index;
        }
        let index = self.measures.len();
        self.by_name.insert(id.clone(), index);
        self.measures.push(Known {
            id: id.clone(),
            slots: Vec::new(),
            targets: Vec::new(),
            causes: Vec::new(),
        });
        let causes = causes_of(id.as_str())
            .map(|row| CauseRow {
                work: self.intern(&MeasureId::of(row.work)),
                reach: row.reach,
                piano_only: row.piano_only,
            })
            .collect();
        self.measures[index].causes = causes;
        index
    }

    fn slot_mut(&mut self, measure: &MeasureId, on: Subject, place: Place) -> &mut Slot {
        let index = self.intern(measure);
        let slots = &mut self.measures[index].slots;
        if slots.is_empty() {
            slots.resize_with(2 * Subject::COUNT, Slot::default);
        }
        &mut slots[slot_index(on, place)]
    }

    fn waits_mut(&mut self, step: &StepId) -> &mut Waits {
        self.waits.entry(step.clone()).or_default()
    }
}

// Looking at it.
impl State {
    /// Whether an entry has not been taken back.
    pub fn is_alive(&self, id: EntryId) -> bool {
        self.taken_back.get(&id).is_none_or(|&count| count == 0)
    }

    /// The job's random number, once it was made.
    pub fn id(&self) -> Option<JobId> {
        self.id
    }

    /// What the job is called and for whom.
    pub fn details(&self) -> &Details {
        &self.details.now
    }

    /// What the instrument is like.
    pub fn setup(&self) -> &Setup {
        &self.setup.now
    }

    /// Grand or vertical.
    pub fn instrument(&self) -> Instrument {
        self.details().instrument.unwrap_or_default()
    }

    /// The unit that lengths are typed and shown in.
    pub fn length_unit(&self) -> LengthUnit {
        self.setup().length_unit.unwrap_or_default()
    }

    /// The sections of the scale; one where nobody said.
    pub fn sections(&self) -> Sections {
        self.setup().sections.clone().unwrap_or_default()
    }

    /// The notes that stand for all 88: those chosen, else the ends of each section
    /// and every eleventh note between (M).
    pub fn samples(&self) -> Vec<Note> {
        if let Some(chosen) = &self.setup().samples {
            return chosen.clone();
        }
        let mut notes = self.sections().all_ends();
        notes.extend(Note::all().skip(4).step_by(11));
        notes.sort();
        notes.dedup();
        notes
    }

    /// The measure with this id: the user's own, else the instrument's.
    pub fn measure(&self, id: &str) -> Option<Measure> {
        self.instrument().measure(id).cloned().or_else(|| {
            let own = self
                .own_steps
                .iter()
                .rfind(|(_, s, alive)| *alive && s.id.as_str() == id);
            own.map(|(_, step, _)| step.measure())
        })
    }

    /// The steps of this job in order: the trade's, without those left out, with the
    /// user's own, as arranged. An arrangement that a merge made impossible is passed over.
    pub fn order(&self) -> Order {
        let mut order = Order::of(self.instrument());
        for (_, own, _) in self.own_steps.iter().filter(|(.., alive)| *alive) {
            let step = own.step();
            if order.step(step.id.as_str()).is_none() {
                order = order.with(step, own.after.as_ref()).unwrap_or(order);
            }
        }
        let latest = self.arranged.iter().rfind(|(.., alive)| *alive);
        if let Some((_, ids, _)) = latest {
            order = order.arranged(ids).unwrap_or(order);
        }
        order.without(|id| self.is_left_out(id))
    }

    /// Whether a step was left out of this job.
    pub fn is_left_out(&self, step: &StepId) -> bool {
        let history = self.left_out.get(step);
        let latest = history.and_then(|h| h.iter().rfind(|(.., alive)| *alive));
        latest.is_some_and(|(_, out, _)| *out)
    }

    /// The step with this id, where it is in the order.
    pub fn step(&self, id: &str) -> Option<Step> {
        self.order().step(id).cloned()
    }

    /// What happened to a measure on a subject at a place; nothing where nothing did.
    pub fn slot(&self, measure: &str, on: Subject, place: Place) -> Option<&Slot> {
        let index = *self.by_name.get(measure)?;
        self.measures[index].slots.get(slot_index(on, place))
    }

    /// Where the action is: on the bench from its coming out until its going in.
    pub fn place(&self) -> Place {
        let worked = |measure: &str| {
            let at = |place| self.slot(measure, Subject::Whole, place)?.worked();
            at(Place::Piano).max(at(Place::Bench))
        };
        if worked("action_out") > worked("action_in") {
            Place::Bench
        } else {
            Place::Piano
        }
    }

    /// Why the reading in force no longer holds, if it does not: the latest cause.
    ///
    /// Work on the bench disturbs readings of both places, work in the piano those in
    /// the piano: bench readings stand as bench readings.
    pub fn disturbed(&self, measure: &str, on: Subject, place: Place) -> Option<Cause> {
        let known = &self.measures[*self.by_name.get(measure)?];
        let slot = known.slots.get(slot_index(on, place))?;
        let read = slot.in_force()?.stamp;
        if let Some(change) = slot.changed_since_read() {
            return Some(Cause {
                work: MeasureId::from(measure),
                on,
                stamp: change.stamp,
            });
        }
        let mut latest: Option<(Stamp, usize, Subject)> = None;
        for row in &known.causes {
            if row.piano_only && place == Place::Bench {
                continue;
            }
            let work = &self.measures[row.work];
            if work.slots.is_empty() {
                continue;
            }
            for from in self.reaching(on, row.reach).into_iter().flatten() {
                for at in [Place::Bench, Place::Piano] {
                    if at == Place::Piano && place == Place::Bench {
                        continue;
                    }
                    let worked = work.slots[slot_index(from, at)].worked();
                    if let Some(stamp) = worked.filter(|w| *w > read) {
                        if latest.is_none_or(|l| l.0 < stamp) {
                            latest = Some((stamp, row.work, from));
                        }
                    }
                }
            }
        }
        let (stamp, work, from) = latest?;
        Some(Cause {
            work: self.measures[work].id.clone(),
            on: from,
            stamp,
        })
    }

    /// The subjects whose work reaches this one: itself, its section, the whole;
    /// or the naturals beside a sharp.
    fn reaching(&self, on: Subject, reach: Reach) -> [Option<Subject>; 3] {
        match (reach, on) {
            (Reach::Note, Subject::Note(note)) => {
                let section = self.setup().sections.as_ref().map_or(0, |s| s.of(note));
                [
                    Some(on),
                    Some(Subject::Section(section as u8)),
                    Some(Subject::Whole),
                ]
            }
            (Reach::Note, _) => [Some(on), Some(Subject::Whole), None],
            (Reach::NeighbouringSharps, Subject::Note(note)) if note.is_sharp() => [
                note.down().map(Subject::Note),
                note.up().map(Subject::Note),
                None,
            ],
            (Reach::NeighbouringSharps, _) => [None; 3],
        }
    }

    /// The target in force for a subject: of its note, else its section, else the job, else the trade's.
    pub fn target(&self, measure: &str, on: Subject) -> Option<Target> {
        let section = on.note().map(|n| self.sections().of(n) as u8);
        let scopes = [
            on.note().map(Scope::Note),
            section.map(Scope::Section),
            Some(Scope::Job),
        ];
        let changes = self.target_history(measure);
        let of_scope = |scope: Scope| {
            let latest = changes.iter().rfind(|c| c.alive && c.scope == scope)?;
            latest.target.clone()
        };
        scopes
            .into_iter()
            .flatten()
            .find_map(of_scope)
            .or_else(|| self.measure(measure)?.target)
    }

    /// Every change of a measure's target, those taken back among them.
    pub fn target_history(&self, measure: &str) -> &[TargetChange] {
        self.by_name
            .get(measure)
            .map_or(&[], |&i| self.measures[i].targets.as_slice())
    }

    /// The band in force for a subject.
    pub fn band(&self, measure: &str, on: Subject) -> Option<Band> {
        let target = self.target(measure, on)?;
        let section = on.note().map_or(0, |n| self.sections().of(n));
        target.band(on.note(), section, |other| {
            let read = |place| Some(self.slot(other.as_str(), on, place)?.latest()?.value.base());
            let own_aim = || match self.target(other.as_str(), on)? {
                Target::ShareOf { .. } => None,
                plain => Some(plain.band(on.note(), section, |_| None)?.aim),
            };
            read(Place::Piano)
                .or_else(|| read(Place::Bench))
                .or_else(own_aim)
        })
    }

    /// A value against the target in force when it is looked at.
    pub fn judge(&self, measure: &str, on: Subject, value: crate::unit::Value) -> Option<Judged> {
        let band = self.band(measure, on)?;
        Some(Judged {
            verdict: band.judge(value.base()),
            off: value.base().saturating_sub(band.aim),
            band,
        })
    }

    /// The cure of a step, if one was begun.
    pub fn wait(&self, step: &str) -> Option<Wait> {
        self.waits.get(step)?.current()
    }

    /// The remarks and faults that were not taken back, in order.
    pub fn remarks(&self) -> impl DoubleEndedIterator<Item = &Remark> {
        self.remarks.iter().filter(|r| r.alive)
    }

    /// Working time spent on a step, in milliseconds: between the entries of its open
    /// passes, pauses over three minutes not counted.
    pub fn spent_ms(&self, step: &str) -> i64 {
        self.times.spent_ms(step)
    }
}
