use std::fmt;

use super::{Step, StepId};

/// The steps of one job in the order they are taken, every step after those it needs.
///
/// A step that was left out of the job is no longer needed by any other.
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
    /// The trade's order for an instrument.
    pub fn of(instrument: super::Instrument) -> Order {
        Order {
            steps: instrument.steps().to_vec(),
        }
    }

    /// These steps in this order.
    ///
    /// # Errors
    /// [`OrderRefused`] names the first step that stands before one it needs, or that stands twice.
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

    /// The same steps arranged by a list of ids; steps that it does not name keep
    /// their place after the step they follow now.
    ///
    /// # Errors
    /// [`OrderRefused`], with the prerequisite that the arrangement breaks.
    pub fn arranged(&self, ids: &[StepId]) -> Result<Order, OrderRefused> {
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
        Order::new(steps)
    }

    /// Without the steps named.
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

    /// With a step of the user's own after another (at the end where that is not here).
    ///
    /// # Errors
    /// [`OrderRefused`], where the id is taken or a prerequisite stands later.
    pub fn with(&self, step: Step, after: Option<&StepId>) -> Result<Order, OrderRefused> {
        let mut steps = self.steps.clone();
        let place = after
            .and_then(|id| steps.iter().position(|s| s.id == *id))
            .map_or(steps.len(), |p| p + 1);
        steps.insert(place, step);
        Order::new(steps)
    }

    /// The steps in order.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The step with this id.
    pub fn step(&self, id: &str) -> Option<&Step> {
        self.steps.iter().find(|s| s.id.as_str() == id)
    }
}

/// An order that breaks a prerequisite.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OrderRefused {
    /// A step would stand before one that it needs.
    Needs {
        /// The step that would come too early.
        step: String,
        /// The step that must come before it.
        needs: String,
    },
    /// A step would stand in the order twice.
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
