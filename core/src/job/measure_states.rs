//! The states of one measure over all subjects and places, and its targets.

use std::collections::{BTreeMap, HashMap};
use std::sync::LazyLock;

use super::measure_state::MeasureState;
use super::sweep::Sweeps;
use super::{EntryId, LogPosition, Scope, Subject};
use crate::trade::{
    Disturbance, Instrument, Measure, MeasureId, Occasion, Place, Strength, Target, causes_of,
};

/// Everything that a job has recorded of one measure.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct MeasureStates {
    pub id: MeasureId,
    trade: TradeMeasures,
    /// One plus the index into `states` for each subject and place; 0 if nothing was recorded there.
    at: Vec<u8>,
    states: Vec<MeasureState>,
    /// The position of the last reading or adjustment on any subject: in the piano, and on the bench.
    newest: [Option<LogPosition>; 2],
    pub sweeps: Sweeps,
    targets: Vec<TargetChange>,
    /// Index into `targets` of the change in effect for each scope.
    latest: BTreeMap<Scope, usize>,
    /// The rows of the disturbance table that disturb this measure.
    pub causes: Vec<CauseRow>,
}

/// The trade's measures of one id, by instrument.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct TradeMeasures {
    grand: Option<&'static Measure>,
    upright: Option<&'static Measure>,
}

/// The trade's measures by id, with the rows of the disturbance table that disturb them. Computed
/// once, because every measure of every job needs them.
static TRADE: LazyLock<HashMap<&str, (TradeMeasures, Vec<&Disturbance>)>> = LazyLock::new(|| {
    let mut all = HashMap::new();
    for instrument in [Instrument::Grand, Instrument::Upright] {
        for measure in instrument.measures() {
            let name = measure.id.as_str();
            let trade = TradeMeasures {
                grand: Instrument::Grand.measure(name),
                upright: Instrument::Upright.measure(name),
            };
            all.entry(name)
                .or_insert_with(|| (trade, causes_of(name).collect()));
        }
    }
    all
});

/// Returns the rows of the disturbance table that disturb a measure.
pub(super) fn causes(id: &MeasureId) -> &'static [&'static Disturbance] {
    TRADE.get(id.as_str()).map_or(&[], |(_, causes)| causes)
}

/// A row of the disturbance table, with the measure that disturbs as an index into the measures of the state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct CauseRow {
    pub work: usize,
    pub row: &'static Disturbance,
}

impl CauseRow {
    /// Returns `true` if it disturbs readings at a place.
    pub fn is_felt(&self, place: Place) -> bool {
        self.row.only.is_none_or(|only| only == place)
    }

    /// Returns `true` if readings that it disturbs no longer hold.
    pub fn voids(&self) -> bool {
        self.row.strength == Strength::Voids
    }
}

/// A change of a target: set for a scope, or withdrawn.
///
/// It has no default. [`State::target_history`](super::State::target_history) lists the changes in log order,
/// including those taken back.
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Scope};
/// use evenhand_core::trade::MeasureId;
///
/// let withdrawn = EntryKind::Target { measure: MeasureId::of("blow"), scope: Scope::Job, target: None };
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 1_000, withdrawn));
/// let history = job.state().target_history("blow");
/// assert_eq!(history.len(), 1);
/// assert!(history[0].is_alive() && history[0].target.is_none());
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct TargetChange {
    /// The position in the log.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// The job, a section or a note.
    pub scope: Scope,
    /// The new target; `None` returns to the target of the wider scope.
    pub target: Option<Target>,
    pub(super) alive: bool,
}

impl TargetChange {
    /// Returns `true` if it is not taken back.
    pub fn is_alive(&self) -> bool {
        self.alive
    }
}

/// Returns the index into `MeasureStates::at`.
const fn state_index(on: Subject, place: Place) -> usize {
    match place {
        Place::Bench => on.index(),
        Place::Piano => Subject::COUNT + on.index(),
    }
}

impl MeasureStates {
    /// Returns the position of the first adjustment, or reading that is not as found, at any place.
    pub fn first_work(&self) -> Option<LogPosition> {
        let first = |s: &MeasureState| {
            let mut readings = s.readings();
            let read = readings.find(|r| r.occasion != Occasion::AsFound);
            let changed = s.changes().next().map(|c| c.position);
            read.map(|r| r.position).into_iter().chain(changed).min()
        };
        let first = self.states.iter().filter_map(first);
        first.chain(self.sweeps.first()).min()
    }

    pub fn new(id: MeasureId) -> MeasureStates {
        let trade = TRADE.get(id.as_str());
        MeasureStates {
            trade: trade.map(|(trade, _)| *trade).unwrap_or_default(),
            id,
            at: Vec::new(),
            states: Vec::new(),
            newest: [None; 2],
            sweeps: Sweeps::default(),
            targets: Vec::new(),
            latest: BTreeMap::new(),
            causes: Vec::new(),
        }
    }

    /// Returns the trade's measure for an instrument, or `None` if it has none.
    pub fn trade(&self, instrument: Instrument) -> Option<&'static Measure> {
        match instrument {
            Instrument::Grand => self.trade.grand,
            Instrument::Upright => self.trade.upright,
        }
    }

    /// Returns the trade's measure of either instrument. Whether a reading implies work is the same for both.
    fn of_either(&self) -> Option<&'static Measure> {
        self.trade.grand.or(self.trade.upright)
    }

    /// Returns `true` if a record of this measure is itself the statement that work was done.
    pub fn records_work(&self) -> bool {
        self.of_either().is_some_and(|m| m.records_work)
    }

    /// Returns the state on a subject at a place, or `None` if nothing was recorded there.
    pub fn measure_state(&self, on: Subject, place: Place) -> Option<&MeasureState> {
        let at = usize::from(*self.at.get(state_index(on, place))?);
        self.states.get(at.checked_sub(1)?)
    }

    /// Changes the state on a subject at a place, added if it is new. The closure also gets the trade's measure.
    pub fn with_state(
        &mut self,
        on: Subject,
        place: Place,
        change: impl FnOnce(&mut MeasureState, Option<&'static Measure>),
    ) {
        let measure = self.of_either();
        if self.at.is_empty() {
            self.at.resize(2 * Subject::COUNT, 0);
        }
        let at = &mut self.at[state_index(on, place)];
        if *at == 0 {
            self.states.push(MeasureState::default());
            // There are 194 pairs of subject and place, so the count fits a `u8`.
            *at = self.states.len() as u8;
        }
        let state = &mut self.states[usize::from(*at) - 1];
        change(state, measure);
        let newest = &mut self.newest[usize::from(place == Place::Bench)];
        *newest = state.newest().max(*newest);
    }

    /// Returns `false` if no work on any subject that affects readings at a place is later than a position, so that no
    /// subject need be asked.
    pub fn may_be_newer(&self, than: LogPosition, place: Place) -> bool {
        let [piano, bench] = self.newest;
        let newest = match place {
            Place::Bench => bench,
            Place::Piano => bench.max(piano),
        };
        newest > Some(than) || (self.sweeps.newest() > Some(than) && self.records_work())
    }

    /// Returns `true` if it has no reading, no adjustment and no sweep.
    pub fn is_blank(&self) -> bool {
        self.states.is_empty() && self.sweeps.is_empty()
    }

    /// Returns the latest stroke over parts that are ticked off, which is work on each of them; before a position, or
    /// until now for `None`. Nothing for a measure that is looked at.
    pub fn latest_stroke(
        &self,
        on: Subject,
        place: Place,
        before: Option<LogPosition>,
    ) -> Option<LogPosition> {
        // Few measures have sweeps, and every tap asks.
        if self.sweeps.is_empty() || !self.records_work() {
            return None;
        }
        self.sweeps.latest_stroke(on, place, before)
    }

    /// Returns the target of exactly this scope, or `None` if none was set or it was withdrawn.
    pub fn target(&self, scope: Scope) -> Option<&Target> {
        let latest = *self.latest.get(&scope)?;
        self.targets[latest].target.as_ref()
    }

    /// Returns the scopes that have a target of their own.
    pub fn scopes_set(&self) -> impl Iterator<Item = Scope> {
        let scopes = self.latest.keys().copied();
        scopes.filter(|scope| self.target(*scope).is_some())
    }

    /// Returns every change of the target, including those taken back, in log order.
    pub fn targets(&self) -> &[TargetChange] {
        &self.targets
    }

    pub fn set_target(&mut self, change: TargetChange) {
        if change.alive {
            self.latest.insert(change.scope, self.targets.len());
        }
        self.targets.push(change);
    }

    pub fn set_target_alive(&mut self, id: EntryId, alive: bool) {
        let Some(at) = self.targets.iter().rposition(|t| t.position.id == id) else {
            return;
        };
        self.targets[at].alive = alive;
        let scope = self.targets[at].scope;
        let mut targets = self.targets.iter();
        match targets.rposition(|t| t.alive && t.scope == scope) {
            Some(latest) => self.latest.insert(scope, latest),
            None => self.latest.remove(&scope),
        };
    }
}
