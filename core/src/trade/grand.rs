//! The steps of a grand regulation, one file for each stage.
//!
//! Each step has a function, so that the upright can use those that it shares. The order is the usual
//! one (C); minutes are starting values (M).
//!
//! `needs` contains only steps without which the work is impossible or would have to be repeated.
//! The as-found sample should come first, but nothing needs it: a note that cannot be measured must
//! not block the job.

pub(super) mod align;
pub(super) mod bench;
pub(super) mod proof;
pub(super) mod recondition;
pub(super) mod renewal;
pub(super) mod returned;
pub(super) mod survey;

use super::step::Step;

/// Returns the steps of the grand, in their usual order.
pub(super) fn steps() -> Vec<Step> {
    [
        survey::steps(),
        recondition::steps(),
        align::steps(),
        bench::steps(),
        returned::steps(),
        proof::steps(),
    ]
    .concat()
}
