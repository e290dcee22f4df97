//! The measures of the grand with their default targets; the upright uses those that it does not
//! define itself.
//!
//! Each number has its source beside it: P (published, with its name), C (common practice, no
//! source) or M (from memory, to be changed by a technician who knows better).
//!
//! The plausible ranges are M unless said otherwise: narrow enough that a typing error is asked
//! about, wide enough that a worn instrument is not. They also decide where the decimal point goes in
//! digits typed without one, so a range ends below 10 if two digits mean a decimal.

pub(super) mod bench;
pub(super) mod constructors;
mod piano;
mod recondition;
pub(super) mod survey;
pub(super) mod targets;

use super::measure::Measure;

/// Returns all measures of the grand, in the order of the job.
pub(super) fn measures() -> Vec<Measure> {
    [
        survey::measures(),
        recondition::measures(),
        bench::measures(),
        piano::measures(),
    ]
    .concat()
}
