//! The state of a job, computed from its log, and the questions it answers.

mod conditional;
mod fold;
mod history;
mod kind;
mod photo;
mod photos;
mod remark;

use std::borrow::Cow;
use std::collections::HashMap;

use super::called_for;
use super::details::{Details, OwnStep, Setup};
use super::drying::{Drying, DryingTimes};
use super::measure_states::MeasureStates;
use super::technicians::Technicians;
use super::times::Times;
use super::{EntryId, JobId, LogPosition, ReplicaId, Subject, Topic};
use crate::note::{Note, Sections};
use crate::trade::{
    Instrument, JobKind, Measure, MeasureId, Occasion, Order, Place, Step, StepId, drawn_sample,
    sample_plan,
};

use history::{History, set_alive};
pub use photo::Photo;
pub use remark::{FaultOrigin, Remark};

/// The state of a job, computed from its log and updated entry by entry.
///
/// The default is the state of an empty log. Applying the newest entry touches one subject; which readings it
/// disturbs is computed on demand. Folding the whole log again gives an equal state.
///
/// ```
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::trade::{Instrument, Place};
///
/// let job = Job::new();
/// assert_eq!(job.state().instrument(), Instrument::Grand);
/// assert_eq!(job.state().sections().count(), 1);
/// assert!(job.state().measure_state("blow", Subject::Whole, Place::Bench).is_none());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct State {
    /// The measures, in the order of their first entry.
    pub(super) measures: Vec<MeasureStates>,
    /// Index into `measures` by id.
    measure_at: HashMap<MeasureId, usize>,
    /// Active undos per entry; zero is omitted.
    active_undos: HashMap<EntryId, usize>,
    id: Option<JobId>,
    details: Replaced<Details>,
    setup: Replaced<Setup>,
    drying: HashMap<StepId, DryingTimes>,
    remarks: Vec<Remark>,
    /// Index into `remarks` by the entry that noted it.
    remark_at: HashMap<EntryId, usize>,
    pub(super) photos: Vec<Photo>,
    archived: History<bool>,
    /// Each fault that was fixed, and how.
    fixed: History<(EntryId, String)>,
    /// Index into `fixed` of the latest record in effect for each fault.
    fixed_at: HashMap<EntryId, usize>,
    kinds: History<JobKind>,
    left_out: HashMap<StepId, History<bool>>,
    own_steps: History<OwnStep>,
    arranged: History<Vec<StepId>>,
    pub(super) technicians: Technicians,
    pub(super) times: Times,
    /// Cached, because every screen asks for it.
    workflow: Workflow,
}

/// A value whose fields later entries replace. The history lets undo restore the earlier value.
#[derive(Clone, Debug, Default, PartialEq)]
struct Replaced<T> {
    history: History<T>,
    now: T,
}

/// What is computed from setup, own steps and arrangement; rebuilt when one of them changes.
#[derive(Clone, Debug, PartialEq)]
struct Workflow {
    order: Cow<'static, Order>,
    /// The steps that are in the order because a grade calls for them.
    called_for: Vec<StepId>,
    own_measures: Vec<Measure>,
    sections: Sections,
    samples: Vec<Note>,
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

impl Default for State {
    fn default() -> State {
        State {
            measures: Vec::new(),
            measure_at: HashMap::new(),
            active_undos: HashMap::new(),
            id: None,
            details: Replaced::default(),
            setup: Replaced::default(),
            drying: HashMap::new(),
            remarks: Vec::new(),
            remark_at: HashMap::new(),
            photos: Vec::new(),
            archived: Vec::new(),
            fixed: Vec::new(),
            fixed_at: HashMap::new(),
            kinds: Vec::new(),
            left_out: HashMap::new(),
            own_steps: Vec::new(),
            arranged: Vec::new(),
            technicians: Technicians::default(),
            times: Times::default(),
            workflow: Workflow {
                order: called_for::order(Instrument::default(), None, &[]),
                called_for: Vec::new(),
                own_measures: Vec::new(),
                sections: Sections::default(),
                samples: samples(None, None, &Sections::default()),
            },
        }
    }
}

/// Returns the sample notes, rising: those chosen, otherwise those drawn with the seed, without one the trade's
/// sample plan.
fn samples(chosen: Option<&[Note]>, seed: Option<u32>, sections: &Sections) -> Vec<Note> {
    let mut notes = match (chosen, seed) {
        (Some(chosen), _) if !chosen.is_empty() => chosen.to_vec(),
        (_, Some(seed)) => drawn_sample(sections, seed),
        _ => sample_plan(sections).iter().map(|s| s.note).collect(),
    };
    notes.sort_unstable();
    notes.dedup();
    notes
}

impl State {
    /// The largest number of the user's own steps in an order. It bounds the time that a file can take.
    pub const MAX_OWN_STEPS: usize = 100;

    /// Rebuilds the workflow after an entry changed it.
    fn rebuild_workflow(&mut self) {
        let setup = &self.setup.now;
        let sections = setup.sections.clone().unwrap_or_default();
        let mut samples = samples(setup.samples.as_deref(), setup.sample_seed, &sections);
        // A kind that measures little on its sample needs no estimate: every second of the notes drawn is enough.
        let is_drawn =
            setup.samples.as_ref().is_none_or(Vec::is_empty) && setup.sample_seed.is_some();
        if is_drawn && self.kind().is_some_and(|kind| !kind.sample.is_empty()) {
            samples = samples.into_iter().step_by(2).collect();
        }
        self.workflow.samples = samples;
        self.workflow.sections = sections;
        let own = self.own_steps_in_effect().into_iter();
        self.workflow.own_measures = own.map(OwnStep::measure).collect();
        self.workflow.called_for = self.steps_called_for();
        self.workflow.order = self.ordered(&self.own_steps_in_effect());
    }

    /// Returns the user's own steps in log order, the latest of each id.
    fn own_steps_in_effect(&self) -> Vec<&OwnStep> {
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
        let (kind, sample) = (self.kind(), self.sample_measures());
        let is_usual = self.left_out.is_empty() && self.arranged.is_empty() && sample.is_empty();
        let trades = self.trades_order();
        if own.is_empty() && kind.is_none() && is_usual {
            return trades;
        }
        let mut order = trades.into_owned();
        let mut waiting: Vec<&OwnStep> = own.to_vec();
        while !waiting.is_empty() {
            let is_waiting = |id: &StepId| waiting.iter().any(|s| s.id == *id);
            let next = waiting
                .iter()
                .position(|s| !s.after.as_ref().is_some_and(is_waiting));
            // Two steps that come after each other have no order: both go to the end, without a need.
            let own = waiting.remove(next.unwrap_or(0));
            let mut step = own.step();
            if kind.is_some_and(|kind| kind.place == Place::Piano) {
                step.place = step.place.and(Some(Place::Piano));
            }
            if next.is_none() {
                step.needs.clear();
            }
            order = order.with(step, own.after.as_ref()).unwrap_or(order);
        }
        order = order.without(|id| !self.is_done(id)).sampling(sample);
        let latest = self.arranged.iter().rfind(|(.., alive)| *alive);
        // Bounds the time that a file can take; a list this long is no arrangement.
        Cow::Owned(
            match latest.filter(|(_, ids, _)| ids.len() <= 4 * order.steps().len()) {
                Some((_, ids, _)) => order.repaired(ids),
                None => order,
            },
        )
    }

    /// Returns the states of a measure, or `None` if no entry named it.
    pub(super) fn known(&self, id: &str) -> Option<&MeasureStates> {
        self.measure_at.get(id).map(|&at| &self.measures[at])
    }

    /// Returns `true` if an entry is not taken back, also if the log has no such entry.
    pub fn is_alive(&self, id: EntryId) -> bool {
        !self.active_undos.contains_key(&id)
    }

    /// Returns the id of the job, or `None` if the log has no [`EntryKind::Made`](super::EntryKind::Made).
    pub fn id(&self) -> Option<JobId> {
        self.id
    }

    /// Returns the details in effect.
    pub fn details(&self) -> &Details {
        &self.details.now
    }

    /// Returns the latest technician's name that a replica recorded, or `None` if it recorded none.
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
        self.technicians.of(self.technicians.spell(replica))
    }

    /// Returns who made an entry: the name that its replica stated before, or its first one if it stated it
    /// later. Returns `None` if it states none.
    ///
    /// ```
    /// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId, Subject};
    ///
    /// // Two technicians share a phone.
    /// let (mut job, phone) = (Job::new(), ReplicaId::new(1));
    /// for name in ["R. Sample", "S. Pattern"] {
    ///     let technician = Some(name.to_owned());
    ///     let set = Box::new(Details { technician, ..Details::default() });
    ///     job.apply(job.draft(phone, 1_000, EntryKind::Details { set }));
    ///     let text = format!("Noted by {name}");
    ///     let remark = EntryKind::Remark { on: Subject::Whole, step: None, fault: false, text };
    ///     job.apply(job.draft(phone, 2_000, remark));
    /// }
    /// for remark in job.state().remarks() {
    ///     let name = job.state().technician_at(remark.position).unwrap();
    ///     assert_eq!(remark.text, format!("Noted by {name}"));
    /// }
    /// ```
    pub fn technician_at(&self, position: LogPosition) -> Option<&str> {
        self.technicians.of(self.technicians.spell_at(position))
    }

    /// Returns the setup in effect.
    pub fn setup(&self) -> &Setup {
        &self.setup.now
    }

    /// Returns the kind of instrument; a grand if it is not set.
    pub fn instrument(&self) -> Instrument {
        self.details().instrument.unwrap_or_default()
    }

    /// Returns the unit in which lengths are typed and shown; millimeters if it is not set.
    pub fn length_unit(&self) -> crate::unit::LengthUnit {
        self.setup().length_unit.unwrap_or_default()
    }

    /// Returns the sections of the scale; a single one if they are not set.
    pub fn sections(&self) -> &Sections {
        &self.workflow.sections
    }

    /// Returns the sample notes, which stand for all 88, rising: those chosen, otherwise those drawn
    /// ([`drawn_sample`]), in a job without a seed those of [`sample_plan`].
    pub fn samples(&self) -> &[Note] {
        &self.workflow.samples
    }

    /// Returns each measure of a subject at a place with concurrent readings, and their entries in log order.
    pub(super) fn concurrent_readings(&self) -> Vec<(Topic, Vec<EntryId>)> {
        let mut concurrent = Vec::new();
        for on in Subject::all() {
            for known in &self.measures {
                for place in [Place::Bench, Place::Piano] {
                    let Some(measure_state) = known.measure_state(on, place) else {
                        continue;
                    };
                    if measure_state.readings().nth(1).is_none() {
                        continue;
                    }
                    for occasion in [Occasion::AsFound, Occasion::Working] {
                        let ids = measure_state.unsuperseded(occasion);
                        if ids.len() > 1 {
                            let topic = Topic::Reading {
                                measure: known.id.clone(),
                                on,
                                place,
                                as_found: occasion == Occasion::AsFound,
                            };
                            concurrent.push((topic, ids));
                        }
                    }
                }
            }
        }
        concurrent
    }

    /// Returns the measure with this id, of the instrument or else the user's own; `None` if there is none.
    pub fn measure(&self, id: &str) -> Option<&Measure> {
        let trade = match self.known(id) {
            Some(known) => known.trade(self.instrument()),
            None => self.instrument().measure(id),
        };
        trade.or_else(|| {
            let own = &self.workflow.own_measures;
            own.iter().find(|m| m.id.as_str() == id)
        })
    }

    /// Returns the steps of this job in order: the trade's, without those left out, with the
    /// user's own, as arranged.
    ///
    /// Where an arrangement puts a step before one that it needs, since a merge or a later version of this
    /// program added the need, only that step is moved. Ignored are an own step with the id of one of the
    /// trade's, and own steps beyond [`State::MAX_OWN_STEPS`].
    pub fn order(&self) -> &Order {
        &self.workflow.order
    }

    /// Returns the step with this id, or `None` if it is not in the order.
    pub fn step(&self, id: &str) -> Option<&Step> {
        self.workflow.order.step(id)
    }

    /// Returns the latest drying time of a step, or `None` if none was started.
    pub fn drying(&self, step: &str) -> Option<Drying> {
        self.drying.get(step)?.current()
    }

    /// Returns `true` if any step is drying at a wall time (milliseconds since 1970, UTC).
    pub fn is_drying(&self, now_ms: i64) -> bool {
        let mut current = self.drying.values().filter_map(DryingTimes::current);
        current.any(|wait| !wait.is_over(now_ms))
    }

    /// Returns the remarks and faults that are neither taken back nor withdrawn, in log order.
    pub fn remarks(&self) -> impl DoubleEndedIterator<Item = &Remark> {
        let is_in_effect = |r: &&Remark| r.alive && !r.is_withdrawn();
        self.remarks.iter().filter(is_in_effect)
    }

    /// Returns the remark or fault that an entry noted, also one that was withdrawn. `None` if the entry was taken back,
    /// or noted none.
    pub fn remark(&self, id: EntryId) -> Option<&Remark> {
        let remark = &self.remarks[*self.remark_at.get(&id)?];
        remark.alive.then_some(remark)
    }

    /// Returns `true` if an entry noted a remark or a fault, whether or not it was taken back.
    pub(super) fn is_noted(&self, id: EntryId) -> bool {
        self.remark_at.contains_key(&id)
    }

    /// Returns `true` if the job is archived.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, ReplicaId};
    ///
    /// let mut job = Job::new();
    /// assert!(!job.state().is_archived());
    /// job.apply(job.draft(ReplicaId::new(7), 1_000, EntryKind::Archived { archived: true }));
    /// assert!(job.state().is_archived());
    /// ```
    pub fn is_archived(&self) -> bool {
        let latest = self.archived.iter().rfind(|(.., alive)| *alive);
        latest.is_some_and(|(_, archived, _)| *archived)
    }

    /// Returns the faults that are neither taken back nor fixed, in log order.
    pub fn open_faults(&self) -> impl DoubleEndedIterator<Item = &Remark> {
        let open = |r: &&Remark| r.fault && self.fixed(r).is_none();
        self.remarks().filter(open)
    }

    /// Returns how a fault was fixed, as typed, or `None` if it is still open.
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
        let at = self.fixed_at.get(&fault.position.id)?;
        Some(self.fixed[*at].1.1.as_str())
    }
}
