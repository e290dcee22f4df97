//! The measures of the grand, with their default targets; the vertical shares
//! those that it does not state its own way.
//!
//! Beside each number stands its source: P published, with its name; C common
//! practice, no source; M from memory, to be changed by whoever knows better.
//! The plausible ranges are all M unless said otherwise: narrow enough that a slip of
//! the finger is asked about, wide enough that a worn instrument is not. They also
//! put the point into digits typed without one, so a range ends below ten
//! where two digits mean a decimal.

pub(super) mod bench;
mod piano;
mod recondition;
pub(super) mod survey;
pub(super) mod targets;

use super::band::Band;
use super::measure::{Adjuster, Measure};
use super::step::Per;
use crate::unit::Kind;

/// Nanometres in a millimetre.
pub(super) const MM: i64 = 1_000_000;
/// Milligram-force in a gram-force.
pub(super) const GF: i64 = 1_000;

/// Every measure of the grand, in the order in which the job meets them.
pub(super) fn measures() -> Vec<Measure> {
    [
        survey::measures(),
        recondition::measures(),
        bench::measures(),
        piano::measures(),
    ]
    .concat()
}

/// A length.
pub(super) fn length(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Length, per)
}

/// Good, or needs work.
pub(super) fn good(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Good, per)
}

/// Done.
pub(super) fn tick(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Tick, per)
}

/// An ordered observation of which one answer is wanted.
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

/// Bent, eased or set by eye; the way to a larger reading, and to a smaller.
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
