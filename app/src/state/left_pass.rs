//! The pass that was left for a page about it, such as the targets, and the way back to it.

use evenhand_core::job::{Item, JobId};
use evenhand_core::trade::StepId;
use leptos::prelude::*;

use super::app_state::AppState;
use crate::route::Route;
use crate::storage::preferences::NoteOrder;

/// A pass as it was left.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftPass {
    /// The job.
    pub job: JobId,
    /// The step.
    pub step: StepId,
    /// The order of the items.
    pub order: NoteOrder,
    /// The items; those out or disturbed are those that were so when the order was chosen.
    pub items: Vec<Item>,
    /// The index of the current item; past the last at the end of the pass.
    pub at: usize,
    /// The items that were disturbed then. If others are by now, those come first.
    pub again: Vec<Item>,
}

impl AppState {
    /// Stores the pass that is left.
    pub fn leave_pass(self, pass: LeftPass) {
        self.left_pass.set(Some(pass));
    }

    /// Returns the pass of a step as it was left for a page about it, and forgets it. `None` if another screen was
    /// shown meanwhile.
    pub fn take_left_pass(self, step: &StepId) -> Option<LeftPass> {
        let left = self.left_pass.get_untracked();
        self.left_pass.set(None);
        left.filter(|left| Some(left.job) == self.job_untracked() && left.step == *step)
    }

    /// Forgets the pass that was left: the way back leads through another screen.
    pub fn forget_left_pass(self) {
        self.left_pass.set(None);
    }

    /// Returns where the arrow of a page of the open job leads, and what that is called: to the pass that it was opened
    /// from, otherwise to the order.
    pub fn way_back(self) -> (String, &'static str) {
        let route = self.route.get_untracked();
        let left = self.left_pass.get_untracked();
        match left.filter(|left| Some(left.job) == route.job()) {
            Some(left) => (Route::Pass(left.job, left.step).href(), "Back to the pass"),
            None => (route.order_href(), "Back to the order"),
        }
    }
}
