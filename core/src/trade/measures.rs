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
mod piano;
mod recondition;
pub(super) mod survey;
pub(super) mod targets;

use super::band::Band;
use super::measure::{Adjuster, Measure};
use super::step::Per;
use crate::unit::Kind;

/// Nanometers in a millimeter.
pub(super) const MM: i64 = 1_000_000;
/// Milligram-force in a gram-force.
pub(super) const GF: i64 = 1_000;

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

/// Returns a measure of a length.
pub(super) fn length(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Length, per)
}

/// Returns a measure that is good or needs work.
pub(super) fn good(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Good, per)
}

/// Returns a measure that is ticked off.
pub(super) fn tick(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Tick, per)
}

/// Returns a measure with ordered answers; `wanted` is the index of the one that is on target.
pub(super) fn grade(
    id: &'static str,
    name: &'static str,
    per: Per,
    grades: &[&'static str],
    wanted: i64,
) -> Measure {
    Measure::new(id, name, Kind::Grade, per)
        .graded(grades)
        .flat(Band::only(wanted))
}

/// Returns an adjuster that is bent, eased or set by eye, with the direction that makes the reading
/// larger and the one that makes it smaller.
pub(super) const fn by_eye(
    part: &'static str,
    larger: &'static str,
    smaller: &'static str,
) -> Adjuster {
    Adjuster::ByEye {
        part,
        directions: (larger, smaller),
    }
}
