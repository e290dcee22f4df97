//! The order of a grand regulation.
//!
//! One file a stage, one function a step, so that the vertical can take those that
//! it shares. Steps are taken from the trade's usual order (C); minutes are starting values (M).
//!
//! `needs` names only what cannot be done otherwise or would have to be done twice. The
//! as-found sample is not among them: it should come first, but a note that cannot be
//! read must not hold up the job.

pub(super) mod align;
pub(super) mod bench;
pub(super) mod proof;
pub(super) mod recondition;
pub(super) mod returned;
pub(super) mod survey;

use super::step::Step;

/// The steps of the grand, in the order of the trade.
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
