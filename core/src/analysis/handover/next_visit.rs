//! When to look at the instrument again.

use super::super::drift::Drift;
use crate::job::{Progress, State};
use crate::trade::Step;

/// When to look at the instrument again, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NextVisit {
    /// In so many months.
    pub months: u32,
    /// At the soonest and, where it can be said, at the latest.
    pub between: Option<(u32, Option<u32>)>,
    /// Why, in sentences.
    pub reasons: Vec<String>,
}

/// The usual time to the next look where nothing says otherwise: a year (C).
const USUAL_MONTHS: u32 = 12;
/// New cloth, felt and bushings settle with playing: a look after a season (M).
const SETTLING_MONTHS: u32 = 4;

/// Returns when to look again: by the drift that was measured, else in a year; sooner after certain work.
pub(super) fn next_visit(
    state: &State,
    all: &[(Step, Progress)],
    drift: Option<&Drift>,
    climate_moved: bool,
) -> NextVisit {
    let measured = drift.and_then(|d| d.interval.as_ref());
    let mut next = match measured {
        Some(interval) => NextVisit {
            months: interval.months,
            between: Some((interval.soonest, interval.latest)),
            reasons: vec![interval.reason.clone()],
        },
        None => NextVisit {
            months: USUAL_MONTHS,
            between: None,
            reasons: vec!["A yearly look is usual; this instrument’s own drift is not known yet. Read the same sample notes then.".to_owned()],
        },
    };
    let mut sooner = |months: u32, why: String| {
        next.months = next.months.min(months);
        next.reasons.push(why);
    };
    let worked = |ids: &[&str]| {
        let read = |(s, p): &&(Step, Progress)| ids.contains(&s.id.as_str()) && p.is_begun();
        all.iter().any(|row| read(&row))
    };
    if worked(&["cauls_in", "cloth_brushed", "knuckles_brushed"]) {
        sooner(
            SETTLING_MONTHS,
            "Treated bushings, cloth and leather settle with playing.".to_owned(),
        );
    }
    if climate_moved {
        sooner(
            SETTLING_MONTHS,
            "The climate moved during the job; heights and bushings follow it for weeks."
                .to_owned(),
        );
    }
    let faults = state.open_faults().count();
    if faults > 0 {
        let points = if faults == 1 { "fault" } else { "faults" };
        next.reasons
            .push(format!("{faults} open {points} to be settled."));
    }
    next
}
