//! The order of a grand regulation.

use super::step::Step;

/// The steps of the grand, in the order of the trade.
pub(super) fn steps() -> Vec<Step> {
    Vec::new()
}
