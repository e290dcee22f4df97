//! The order of a vertical's regulation.

use super::measure::Measure;
use super::step::Step;

/// What the vertical measures in its own way.
pub(super) fn measures() -> Vec<Measure> {
    Vec::new()
}

/// The steps of the vertical, in the order of the trade.
pub(super) fn steps() -> Vec<Step> {
    Vec::new()
}
