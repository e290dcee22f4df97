//! One constructor for each form of measure, and the small units that numbers are written in.

use super::super::band::Band;
use super::super::measure::{Adjuster, Measure};
use super::super::step::Per;
use crate::unit::Kind;

/// Nanometers in a millimeter.
pub(in crate::trade) const MM: i64 = 1_000_000;
/// Milligram-force in a gram-force.
pub(in crate::trade) const GF: i64 = 1_000;

/// Returns a measure of a length.
pub(in crate::trade) fn length(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Length, per)
}

/// Returns a measure that is good or needs work.
pub(in crate::trade) fn good(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Good, per)
}

/// Returns a measure that is ticked off.
pub(in crate::trade) fn tick(id: &'static str, name: &'static str, per: Per) -> Measure {
    Measure::new(id, name, Kind::Tick, per)
}

/// Returns a measure with ordered answers; `wanted` is the index of the one that is on target.
pub(in crate::trade) fn grade(
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
pub(in crate::trade) const fn by_eye(
    part: &'static str,
    larger: &'static str,
    smaller: &'static str,
) -> Adjuster {
    Adjuster::ByEye {
        part,
        directions: (larger, smaller),
    }
}
