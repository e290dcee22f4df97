//! The order of a job's steps, checked against their prerequisites.

use std::fmt;

use super::{Step, StepId};

/// The steps of one job in their order: no step stands before one that it needs, and none twice.
///
/// A prerequisite that is not in the order is not enforced, so a step can be left out of a job.
/// It has no default; [`Order::of`] returns the usual order of an instrument.
///
/// ```
/// use evenhand_core::trade::{Instrument, Order};
///
/// let order = Order::of(Instrument::Grand);
/// let mut ids: Vec<_> = order.steps().iter().map(|s| s.id.clone()).collect();
/// let blow = ids.iter().position(|id| id.as_str() == "blow").unwrap();
/// ids.swap(0, blow);
/// let refused = order.arranged(&ids).unwrap_err();
/// assert!(refused.to_string().contains("before"));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Order {
    steps: Vec<Step>,
}

impl Order {
    /// Returns the usual order of an instrument, the dip first: key level, dip, blow, let-off.
    pub fn of(instrument: super::Instrument) -> Order {
        Order {
            steps: instrument.steps().to_vec(),
        }
    }

    /// Returns the usual order with the blow first: the dip is set last, from the aftertouch. It is that of a
    /// job on which the dip is the length left to follow; published lists have both orders.
    ///
    /// ```
    /// use evenhand_core::trade::{Instrument, Order};
    ///
    /// let order = Order::blow_first(Instrument::Grand);
    /// let ids: Vec<&str> = order.steps().iter().map(|s| s.id.as_str()).collect();
    /// assert!(ids.windows(3).any(|w| w == ["drop", "natural_dip", "aftertouch"]));
    /// ```
    pub fn blow_first(instrument: super::Instrument) -> Order {
        let mut steps = instrument.steps().to_vec();
        let at = |steps: &[Step], id| steps.iter().position(|s| s.id.as_str() == id);
        if let Some(dip) = at(&steps, "natural_dip") {
            let dip = steps.remove(dip);
            let place = at(&steps, "aftertouch").unwrap_or(steps.len());
            steps.insert(place, dip);
        }
        Order { steps }
    }

    /// Creates an order of these steps.
    ///
    /// # Errors
    /// Returns [`OrderRefused`] for the first step that stands before one that it needs, or that
    /// stands in the list twice.
    pub fn new(steps: Vec<Step>) -> Result<Order, OrderRefused> {
        for (place, step) in steps.iter().enumerate() {
            if steps[..place].iter().any(|s| s.id == step.id) {
                return Err(OrderRefused::Twice(step.name.to_string()));
            }
            let later = &steps[place + 1..];
            if let Some(needed) = later.iter().find(|s| step.needs.contains(&s.id)) {
                return Err(OrderRefused::Needs {
                    step: step.name.to_string(),
                    needs: needed.name.to_string(),
                });
            }
        }
        Ok(Order { steps })
    }

    /// Returns the same steps in the order of a list of ids. Steps that are not in the list stay
    /// directly after the step that they follow now; ids of other steps are ignored.
    ///
    /// # Errors
    /// Returns [`OrderRefused`] for the prerequisite that the new order breaks.
    pub fn arranged(&self, ids: &[StepId]) -> Result<Order, OrderRefused> {
        Order::new(self.in_order_of(ids))
    }

    /// Returns the same steps in the order of a list of ids as [`Order::arranged`] does, but a step that
    /// stands before one that it needs is moved directly after it. An arrangement made before a
    /// prerequisite was added is so kept in all else.
    pub fn repaired(&self, ids: &[StepId]) -> Order {
        let mut steps = self.in_order_of(ids);
        let mut place = 0;
        // Bounds a circle of needs, which the trade's steps do not have.
        let mut moves = steps.len() * steps.len();
        while place < steps.len() && moves > 0 {
            let needs = |s: &Step| steps[place].needs.contains(&s.id);
            match steps.iter().rposition(needs).filter(|last| *last > place) {
                // The steps between move up by one, so the same place is looked at again.
                Some(last) => steps[place..=last].rotate_left(1),
                None => place += 1,
            }
            moves -= 1;
        }
        Order::new(steps).unwrap_or_else(|_| self.clone())
    }

    /// Returns the steps in the order of a list of ids, whether or not it breaks a prerequisite.
    fn in_order_of(&self, ids: &[StepId]) -> Vec<Step> {
        let mut steps: Vec<Step> = ids
            .iter()
            .filter_map(|id| self.step(id.as_str()))
            .cloned()
            .collect();
        let mut before: Option<&Step> = None;
        for step in &self.steps {
            if !ids.contains(&step.id) {
                let place = before
                    .and_then(|b| steps.iter().position(|s| s.id == b.id))
                    .map_or(0, |p| p + 1);
                steps.insert(place, step.clone());
            }
            before = Some(step);
        }
        steps
    }

    /// Returns the order without the steps for which `left_out` returns `true`.
    pub fn without(&self, left_out: impl Fn(&StepId) -> bool) -> Order {
        Order {
            steps: self
                .steps
                .iter()
                .filter(|s| !left_out(&s.id))
                .cloned()
                .collect(),
        }
    }

    /// Returns the order with the samples as found and as left limited to these measures; all if empty.
    pub fn sampling(self, measures: &[super::MeasureId]) -> Order {
        let steps = self.steps.into_iter();
        Order {
            steps: steps.map(|s| super::kinds::sampled(s, measures)).collect(),
        }
    }

    /// Returns the order with one more step directly after another one, or at the end if `after` is
    /// `None` or not in the order.
    ///
    /// # Errors
    /// Returns [`OrderRefused`] if the id is already in the order or a prerequisite stands later.
    pub fn with(&self, step: Step, after: Option<&StepId>) -> Result<Order, OrderRefused> {
        let mut steps = self.steps.clone();
        let place = after
            .and_then(|id| steps.iter().position(|s| s.id == *id))
            .map_or(steps.len(), |p| p + 1);
        steps.insert(place, step);
        Order::new(steps)
    }

    /// Returns the steps in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Returns the step with this id, or `None` if it is not in the order.
    pub fn step(&self, id: &str) -> Option<&Step> {
        self.steps.iter().find(|s| s.id.as_str() == id)
    }
}

/// The error for an order that breaks a prerequisite or repeats a step.
///
/// It holds the names of the steps and displays as a sentence that says which must be done first.
///
/// ```
/// use evenhand_core::trade::{Instrument, Order, OrderRefused};
///
/// let first = &Instrument::Grand.steps()[0];
/// let twice = Order::new(vec![first.clone(), first.clone()]);
/// assert_eq!(twice, Err(OrderRefused::Twice(first.name.to_string())));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OrderRefused {
    /// A step stands before one that it needs.
    Needs {
        /// The step that stands too early.
        step: String,
        /// The step that must come before it.
        needs: String,
    },
    /// A step stands in the order twice; holds its name.
    Twice(String),
}

impl fmt::Display for OrderRefused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            OrderRefused::Needs { step, needs } => write!(
                f,
                "“{step}” cannot stand before “{needs}”, which must be done first. The order was left as it was."
            ),
            OrderRefused::Twice(step) => write!(
                f,
                "“{step}” is in the order already. The order was left as it was."
            ),
        }
    }
}

impl std::error::Error for OrderRefused {}
