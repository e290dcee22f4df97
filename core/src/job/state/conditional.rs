//! Which steps grades call for, as the state has them.

use super::super::called_for::concerned;
use super::State;
use crate::trade::{MeasureId, StepId};

impl State {
    /// Returns the steps that grades call for, or that were begun when they did.
    pub(super) fn steps_called_for(&self) -> Vec<StepId> {
        let steps = self.instrument().conditional_steps().iter();
        let called = steps.filter(|s| self.is_called_for(s));
        called.map(|s| s.id.clone()).collect()
    }

    /// Returns `true` if an entry on a measure changed which steps are called for: by its grade, or because something of
    /// such a step was recorded or taken back.
    pub(super) fn changes_called_for(&self, measure: &MeasureId) -> bool {
        let steps = concerned(self.instrument()).get(measure.as_str());
        let mut steps = steps.into_iter().flatten();
        steps.any(|s| self.is_called_for(s) != self.workflow.called_for.contains(&s.id))
    }
}
