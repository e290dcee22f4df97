//! What is known of one measure: its records and its targets.

use std::collections::{BTreeMap, HashMap};
use std::sync::LazyLock;

use super::measure_state::MeasureState;
use super::{EntryId, LogPosition, Scope, Subject};
use crate::trade::{Disturbance, Instrument, Measure, MeasureId, Place, Reach, Target, causes_of};

/// One measure as far as this job knows it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct MeasureStates {
    pub id: MeasureId,
    trade: OfTrade,
    /// Where each subject's slot lies in `slots`, counted from 1; 0 where nothing was recorded.
    at: Vec<u8>,
    states: Vec<MeasureState>,
    targets: Vec<TargetChange>,
    /// The latest change in force of each scope that has one.
    latest: BTreeMap<Scope, usize>,
    pub causes: Vec<CauseRow>,
}

/// What the trade says of a name.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct OfTrade {
    grand: Option<&'static Measure>,
    vertical: Option<&'static Measure>,
}

/// The trade's measures by name, with the rows of the disturbance table that name them:
/// looked up for every measure of every job, so gathered once.
static TRADE: LazyLock<HashMap<&str, (OfTrade, Vec<&Disturbance>)>> = LazyLock::new(|| {
    let mut all = HashMap::new();
    for instrument in [Instrument::Grand, Instrument::Upright] {
        for measure in instrument.measures() {
            let name = measure.id.as_str();
            let trade = OfTrade {
                grand: Instrument::Grand.measure(name),
                vertical: Instrument::Upright.measure(name),
            };
            all.entry(name)
                .or_insert_with(|| (trade, causes_of(name).collect()));
        }
    }
    all
});

/// The rows of the disturbance table that name a measure.
pub(super) fn causes(id: &MeasureId) -> &'static [&'static Disturbance] {
    TRADE.get(id.as_str()).map_or(&[], |(_, causes)| causes)
}

/// A row of the disturbance table that names this measure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct CauseRow {
    pub work: usize,
    pub reach: Reach,
    pub piano_only: bool,
}

/// A change of a target, kept in the history of it.
#[derive(Clone, Debug, PartialEq)]
pub struct TargetChange {
    /// Its place in the order.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// How far it reaches.
    pub scope: Scope,
    /// The target, or nothing to return to the wider one.
    pub target: Option<Target>,
    pub(super) alive: bool,
}

impl TargetChange {
    /// Whether it was not taken back.
    pub fn is_alive(&self) -> bool {
        self.alive
    }
}

const fn state_index(on: Subject, place: Place) -> usize {
    match place {
        Place::Bench => on.index(),
        Place::Piano => Subject::COUNT + on.index(),
    }
}

impl MeasureStates {
    pub fn new(id: MeasureId) -> MeasureStates {
        let trade = TRADE.get(id.as_str());
        MeasureStates {
            trade: trade.map(|(trade, _)| *trade).unwrap_or_default(),
            id,
            at: Vec::new(),
            states: Vec::new(),
            targets: Vec::new(),
            latest: BTreeMap::new(),
            causes: Vec::new(),
        }
    }

    /// The trade's measure for an instrument.
    pub fn trade(&self, instrument: Instrument) -> Option<&'static Measure> {
        match instrument {
            Instrument::Grand => self.trade.grand,
            Instrument::Upright => self.trade.vertical,
        }
    }

    /// The trade's measure of either: what decides whether a reading tells of work is the same for both.
    fn of_either(&self) -> Option<&'static Measure> {
        self.trade.grand.or(self.trade.vertical)
    }

    /// Whether to record it is to say that its work was done.
    pub fn records_work(&self) -> bool {
        self.of_either().is_some_and(|m| m.records_work)
    }

    /// What happened on a subject at a place; nothing where nothing did.
    pub fn measure_state(&self, on: Subject, place: Place) -> Option<&MeasureState> {
        let at = usize::from(*self.at.get(state_index(on, place))?);
        self.states.get(at.checked_sub(1)?)
    }

    /// Changes the slot of a subject at a place, by what the trade says of the measure.
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
            // There are 194 places, so that a byte counts them.
            *at = self.states.len() as u8;
        }
        change(&mut self.states[usize::from(*at) - 1], measure);
    }

    /// Whether nothing was recorded of it at all.
    pub fn is_blank(&self) -> bool {
        self.states.is_empty()
    }

    /// The target last set for a scope; nothing where none was, or where it was withdrawn.
    pub fn target(&self, scope: Scope) -> Option<&Target> {
        let latest = *self.latest.get(&scope)?;
        self.targets[latest].target.as_ref()
    }

    /// The scopes that a target is set for.
    pub fn scopes_set(&self) -> impl Iterator<Item = Scope> {
        let scopes = self.latest.keys().copied();
        scopes.filter(|scope| self.target(*scope).is_some())
    }

    /// Every change of the target.
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
