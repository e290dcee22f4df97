//! What follows from the entries of a job, and what can be asked of it.

mod fold;

use std::borrow::Cow;
use std::collections::HashMap;
use std::sync::LazyLock;

use super::details::{Details, OwnStep, Setup};
use super::measure_states::MeasureStates;
use super::times::Times;
use super::waits::{Wait, Waits};
use super::{EntryId, JobId, LogPosition, ReplicaId, Subject};
use crate::note::{Note, Sections};
use crate::trade::{Instrument, Measure, MeasureId, Order, Place, Step, StepId, sample_plan};

/// What follows from the entries of a job, kept up entry by entry.
///
/// Taking in the newest entry touches one note; what it disturbs is worked out
/// when it is looked at. Folding all entries anew gives the same state.
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// The measures, in the order in which the entries named them.
    pub(super) measures: Vec<MeasureStates>,
    /// Where each lies in `measures`.
    measure_at: HashMap<MeasureId, usize>,
    /// How many undos in force hold an entry; none is not kept.
    taken_back: HashMap<EntryId, usize>,
    id: Option<JobId>,
    details: Replaced<Details>,
    setup: Replaced<Setup>,
    waits: HashMap<StepId, Waits>,
    remarks: Vec<Remark>,
    /// Which faults were mended, and how.
    fixed: History<(EntryId, String)>,
    /// Where the latest mending in force of each fault lies in `mended`.
    mended_at: HashMap<EntryId, usize>,
    left_out: HashMap<StepId, History<bool>>,
    own_steps: History<OwnStep>,
    arranged: History<Vec<StepId>>,
    times: Times,
    /// What follows from setup, own steps and arrangement, and is looked at all the time.
    plan: Plan,
}

/// What happened to one thing that later entries replace, each with whether it was taken back.
type History<T> = Vec<(LogPosition, T, bool)>;

/// A value whose fields later entries replace, with its history so that undo restores it.
#[derive(Clone, Debug, Default, PartialEq)]
struct Replaced<T> {
    history: History<T>,
    now: T,
}

/// The frame of the work, worked out anew when an entry changes it.
#[derive(Clone, Debug, PartialEq)]
struct Plan {
    order: Cow<'static, Order>,
    own_measures: Vec<Measure>,
    sections: Sections,
    samples: Vec<Note>,
}

/// A remark or fault.
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// The entry that it came in.
    pub position: LogPosition,
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

impl<T: Default> Replaced<T> {
    fn add(&mut self, position: LogPosition, set: T, alive: bool, take: fn(&mut T, &T)) {
        if alive {
            take(&mut self.now, &set);
        }
        self.history.push((position, set, alive));
    }

    fn set_alive(&mut self, position: LogPosition, alive: bool, take: fn(&mut T, &T)) {
        set_alive(&mut self.history, position, alive);
        self.now = T::default();
        for (_, set, _) in self.history.iter().filter(|h| h.2) {
            take(&mut self.now, set);
        }
    }
}

fn set_alive<T>(history: &mut History<T>, position: LogPosition, alive: bool) {
    if let Some(found) = history.iter_mut().rfind(|h| h.0 == position) {
        found.2 = alive;
    }
}

impl Default for State {
    fn default() -> State {
        State {
            measures: Vec::new(),
            measure_at: HashMap::new(),
            taken_back: HashMap::new(),
            id: None,
            details: Replaced::default(),
            setup: Replaced::default(),
            waits: HashMap::new(),
            remarks: Vec::new(),
            fixed: Vec::new(),
            mended_at: HashMap::new(),
            left_out: HashMap::new(),
            own_steps: Vec::new(),
            arranged: Vec::new(),
            times: Times::default(),
            plan: Plan {
                order: Cow::Borrowed(trades_order(Instrument::default())),
                own_measures: Vec::new(),
                sections: Sections::default(),
                samples: samples(None, &Sections::default()),
            },
        }
    }
}

fn trades_order(instrument: Instrument) -> &'static Order {
    static GRAND: LazyLock<Order> = LazyLock::new(|| Order::of(Instrument::Grand));
    static VERTICAL: LazyLock<Order> = LazyLock::new(|| Order::of(Instrument::Upright));
    match instrument {
        Instrument::Grand => &GRAND,
        Instrument::Upright => &VERTICAL,
    }
}

/// The notes that stand for all 88: those chosen, else the trade's sample plan.
fn samples(chosen: Option<&[Note]>, sections: &Sections) -> Vec<Note> {
    let mut notes = match chosen {
        Some(chosen) if !chosen.is_empty() => chosen.to_vec(),
        _ => sample_plan(sections).iter().map(|s| s.note).collect(),
    };
    notes.sort();
    notes.dedup();
    notes
}

// The frame of the work.
impl State {
    /// The most steps of the user's own that stand in an order.
    pub const MAX_OWN_STEPS: usize = 100;

    /// Works out the frame anew.
    fn settle(&mut self) {
        let setup = &self.setup.now;
        let sections = setup.sections.clone().unwrap_or_default();
        let own = self.own_steps_in_force();
        self.plan = Plan {
            samples: samples(setup.samples.as_deref(), &sections),
            sections,
            own_measures: own.iter().map(|s| s.measure()).collect(),
            order: self.ordered(&own),
        };
    }

    /// The user's own steps in the order they were last written, the latest of each name.
    fn own_steps_in_force(&self) -> Vec<&OwnStep> {
        let trade = self.instrument();
        let mut own: Vec<&OwnStep> = Vec::new();
        for (_, step, alive) in self.own_steps.iter().rev() {
            let id = step.id.as_str();
            let taken = trade.measure(id).is_some()
                || trade.steps().iter().any(|s| s.id.as_str() == id)
                || own.iter().any(|o| o.id == step.id);
            if *alive && !taken && own.len() < State::MAX_OWN_STEPS {
                own.push(step);
            }
        }
        own.reverse();
        own
    }

    fn ordered(&self, own: &[&OwnStep]) -> Cow<'static, Order> {
        let trades = trades_order(self.instrument());
        if own.is_empty() && self.left_out.is_empty() && self.arranged.is_empty() {
            return Cow::Borrowed(trades);
        }
        let mut order = trades.clone();
        let mut waiting: Vec<&OwnStep> = own.to_vec();
        while !waiting.is_empty() {
            let is_waiting = |id: &StepId| waiting.iter().any(|s| s.id == *id);
            let next = waiting
                .iter()
                .position(|s| !s.after.as_ref().is_some_and(is_waiting));
            // Two that name each other stand at the end, without a need.
            let own = waiting.remove(next.unwrap_or(0));
            let mut step = own.step();
            if next.is_none() {
                step.needs.clear();
            }
            order = order.with(step, own.after.as_ref()).unwrap_or(order);
        }
        order = order.without(|id| self.is_left_out(id));
        let latest = self.arranged.iter().rfind(|(.., alive)| *alive);
        // More names than there are steps is no arrangement.
        Cow::Owned(
            match latest.filter(|(_, ids, _)| ids.len() <= 4 * order.steps().len()) {
                Some((_, ids, _)) => order.arranged(ids).unwrap_or(order),
                None => order,
            },
        )
    }

    /// What is known of a measure that an entry named.
    pub(super) fn known(&self, id: &str) -> Option<&MeasureStates> {
        self.measure_at.get(id).map(|&at| &self.measures[at])
    }

    /// Whether an entry has not been taken back.
    pub fn is_alive(&self, id: EntryId) -> bool {
        !self.taken_back.contains_key(&id)
    }

    /// The job's random number, once it was made.
    pub fn id(&self) -> Option<JobId> {
        self.id
    }

    /// What the job is called and for whom.
    pub fn details(&self) -> &Details {
        &self.details.now
    }

    /// Who works on a device, as it said itself last.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Details, ReplicaId, Job};
    ///
    /// let (stack, keys) = (ReplicaId::new(1), ReplicaId::new(2));
    /// let mut job = Job::new();
    /// let technician = Some("R. Sample".to_owned());
    /// let set = Box::new(Details { technician, ..Details::default() });
    /// job.apply(job.draft(stack, 1_000, EntryKind::Details { set }));
    /// assert_eq!(job.state().technician(stack), Some("R. Sample"));
    /// assert_eq!(job.state().technician(keys), None);
    /// ```
    pub fn technician(&self, replica: ReplicaId) -> Option<&str> {
        let said = self.details.history.iter().rev();
        let mut said = said.filter(|(position, _, alive)| *alive && position.id.replica == replica);
        said.find_map(|(_, set, _)| set.technician.as_deref())
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
    pub fn length_unit(&self) -> crate::unit::LengthUnit {
        self.setup().length_unit.unwrap_or_default()
    }

    /// The sections of the scale; one where nobody said.
    pub fn sections(&self) -> &Sections {
        &self.plan.sections
    }

    /// The notes that stand for all 88, rising: those chosen, else those of
    /// [`sample_plan`].
    pub fn samples(&self) -> &[Note] {
        &self.plan.samples
    }

    /// What two devices read differently without knowing of each other, until it is read again.
    pub fn concurrent_readings(&self) -> Vec<(&MeasureId, Subject)> {
        let sections = (0..Sections::MAX as u8).map(Subject::Section);
        let notes = Note::all().map(Subject::Note);
        let all: Vec<Subject> = std::iter::once(Subject::Whole)
            .chain(sections)
            .chain(notes)
            .collect();
        let mut apart = Vec::new();
        for known in &self.measures {
            for &on in &all {
                let differs = |place| {
                    known
                        .measure_state(on, place)
                        .is_some_and(|s| !s.others().is_empty())
                };
                if [Place::Bench, Place::Piano].into_iter().any(differs) {
                    apart.push((&known.id, on));
                }
            }
        }
        apart
    }

    /// The measure with this id: the instrument's, else the user's own.
    pub fn measure(&self, id: &str) -> Option<&Measure> {
        let trade = match self.known(id) {
            Some(known) => known.trade(self.instrument()),
            None => self.instrument().measure(id),
        };
        trade.or_else(|| {
            let own = &self.plan.own_measures;
            own.iter().find(|m| m.id.as_str() == id)
        })
    }

    /// The steps of this job in order: the trade's, without those left out, with the
    /// user's own, as arranged. An arrangement that a merge made impossible is passed over,
    /// and so is an own step that has the name of one of the trade's, and what goes
    /// beyond [`State::MAX_OWN_STEPS`].
    pub fn order(&self) -> &Order {
        &self.plan.order
    }

    /// Whether a step was left out of this job.
    pub fn is_left_out(&self, step: &StepId) -> bool {
        let history = self.left_out.get(step);
        let latest = history.and_then(|h| h.iter().rfind(|(.., alive)| *alive));
        latest.is_some_and(|(_, out, _)| *out)
    }

    /// The step with this id, where it is in the order.
    pub fn step(&self, id: &str) -> Option<&Step> {
        self.plan.order.step(id)
    }

    /// The cure of a step, if one was begun.
    pub fn wait(&self, step: &str) -> Option<Wait> {
        self.waits.get(step)?.current()
    }

    /// The remarks and faults that were not taken back, in order.
    pub fn remarks(&self) -> impl DoubleEndedIterator<Item = &Remark> {
        self.remarks.iter().filter(|r| r.alive)
    }

    /// The faults that were not taken back and not mended, in order.
    pub fn open_faults(&self) -> impl DoubleEndedIterator<Item = &Remark> {
        let open = |r: &&Remark| r.fault && self.fixed(r).is_none();
        self.remarks().filter(open)
    }

    /// How a fault was mended, where it was.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, ReplicaId, Job, Subject};
    ///
    /// let phone = ReplicaId::new(7);
    /// let mut job = Job::new();
    /// let text = "Hammer flange loose.".to_owned();
    /// let fault = job.draft(phone, 1_000, EntryKind::Remark { on: Subject::Whole, step: None, fault: true, text });
    /// job.apply(fault.clone());
    /// assert_eq!(job.state().open_faults().count(), 1);
    /// let how = "new center pin".to_owned();
    /// job.apply(job.draft(phone, 2_000, EntryKind::FaultFixed { fault: fault.id, how }));
    /// assert_eq!(job.state().open_faults().count(), 0);
    /// assert_eq!(job.state().remarks().find_map(|r| job.state().fixed(r)), Some("new center pin"));
    /// ```
    pub fn fixed(&self, fault: &Remark) -> Option<&str> {
        let at = self.mended_at.get(&fault.position.id)?;
        Some(self.fixed[*at].1.1.as_str())
    }

    /// Whether the working time of a step was stated; else it was counted.
    pub fn is_time_stated(&self, step: &str) -> bool {
        self.times.is_stated(step)
    }

    /// Working time spent on a step, in milliseconds: as it was stated last
    /// ([`EntryKind::MinutesStated`]), with what was counted since; where nobody stated it, what was counted
    /// between the entries of its open passes, pauses over three minutes not counted.
    pub fn spent_ms(&self, step: &str) -> i64 {
        self.times.spent_ms(step)
    }
}
