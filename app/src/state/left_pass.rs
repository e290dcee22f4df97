//! A pass as it was left for a page about it, such as the targets.

use evenhand_core::job::{Item, JobId};
use evenhand_core::trade::StepId;

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
    /// The items; those out or to re-measure are those that were so when the order was chosen.
    pub items: Vec<Item>,
    /// The index of the current item; past the last at the end of the pass.
    pub at: usize,
    /// The items that were to re-measure then. If others are by now, those come first.
    pub again: Vec<Item>,
}
