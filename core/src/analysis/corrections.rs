//! What to do about all readings of a step, or of several steps, in working order.

use super::advice::{Advice, Adviser, Missing, Movement};
use super::punchings::Pick;
use super::working_order::{Pending, working_order};
use crate::job::State;
use crate::trade::{MeasureId, Occasion, Step};

/// The corrections for all readings of one or several steps. The default is none.
///
/// ```
/// use evenhand_core::analysis::corrections::{Corrections, corrections};
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let step = job.state().step("let_off").unwrap();
/// // Nothing is measured yet, so there is nothing to correct.
/// assert_eq!(corrections(job.state(), &step), Corrections::default());
/// ```
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Corrections {
    /// The corrections in the order that takes the fewest readings; at the end those that cannot be
    /// computed yet and those that must be re-measured first.
    pub rows: Vec<Advice>,
    /// How many readings are left as they are: on target, or in tolerance and within 1/32 of a turn of it.
    pub left: usize,
    /// The punchings to put in, over all rows.
    pub picks: Vec<Pick>,
    /// How many readings are to be taken after and between the corrections.
    pub readings: usize,
    /// The facts to ask for, each once.
    pub missing: Vec<Missing>,
}

/// Returns the corrections of one step at its place.
pub fn corrections(state: &State, step: &Step) -> Corrections {
    corrections_of(state, std::slice::from_ref(step))
}

/// Returns the corrections of several steps together, all at the place of the first.
pub fn corrections_of(state: &State, steps: &[Step]) -> Corrections {
    let mut found = Corrections::default();
    let Some(first) = steps.first() else {
        return found;
    };
    let place = first.place_or(state.place());
    let mut todo: Vec<Advice> = Vec::new();
    let mut wait: Vec<Advice> = Vec::new();
    let mut taken: Vec<MeasureId> = Vec::new();
    let mut put_in = Vec::new();
    let mut stock = None;
    for step in steps {
        let items = state.items(step);
        for measure in &step.takes {
            if taken.contains(measure) {
                continue;
            }
            taken.push(measure.clone());
            let Some(adviser) = Adviser::new(state, measure.as_str()) else {
                continue;
            };
            for item in items.iter().filter(|i| i.measure == *measure) {
                let Some(advice) = adviser.advice(item.on, place) else {
                    continue;
                };
                match &advice.movement {
                    _ if advice.is_fine_tuning() => found.left += 1,
                    Movement::Leave(_) => found.left += 1,
                    Movement::Remeasure { .. } => wait.push(advice),
                    Movement::Missing(what) => {
                        if !found.missing.contains(what) {
                            found.missing.push(*what);
                        }
                        wait.push(advice);
                    }
                    movement => {
                        if let Movement::Punchings { exchange, .. } = movement {
                            put_in.push(exchange.put_in.clone());
                        }
                        todo.push(advice);
                    }
                }
            }
            stock = stock.or_else(|| adviser.into_stock());
        }
    }
    // Of measures that do not disturb each other, the one that is given first comes first.
    todo.sort_by_key(|a| a.on);
    let pending: Vec<Pending> = todo
        .iter()
        .map(|a| Pending {
            moves: a.moves.clone(),
            measure: a.measure.clone(),
            on: a.on,
        })
        .collect();
    let order = working_order(state, place, &pending);
    found.readings = order.readings;
    let mut todo: Vec<Option<Advice>> = todo.into_iter().map(Some).collect();
    found.rows = order.order.iter().filter_map(|i| todo[*i].take()).collect();
    found.rows.extend(wait);
    found.picks = stock.map_or_else(Vec::new, |stock| stock.pick_list(&put_in));
    found
}

/// Returns the steps of the work whose readings an adjuster moves, in the order of the job.
///
/// ```
/// use evenhand_core::job::Job;
/// use evenhand_core::analysis::corrections::corrected;
///
/// let steps = corrected(Job::new().state());
/// let has = |id: &str| steps.iter().any(|s| s.id.as_str() == id);
/// assert!(has("let_off") && !has("tuning"));
/// ```
pub fn corrected(state: &State) -> Vec<Step> {
    let moved = |id: &MeasureId| {
        let measure = state.measure(id.as_str());
        id.as_str() == "aftertouch" || measure.is_some_and(|m| m.adjuster.is_some())
    };
    let order = state.order();
    let steps = order.steps().iter();
    steps
        .filter(|s| s.occasion == Occasion::Working && s.takes.iter().any(moved))
        .cloned()
        .collect()
}
