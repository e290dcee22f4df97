//! When to check the instrument again.

use super::super::drift::Drift;
use crate::job::{Progress, State};
use crate::trade::Step;

/// When to check the instrument again, in 2 to 36 months, and why: one reason or more. Part of
/// [`Handover`](super::Handover); it has no default.
///
/// ```
/// use evenhand_core::analysis::handover::handover;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Subject};
///
/// let mut job = Job::new();
/// let next = handover(&job, 0).next;
/// assert_eq!((next.months, next.reasons.len()), (12, 1));
/// let fault = EntryKind::Remark { on: Subject::Whole, step: None, fault: true, text: "Loose.".to_owned() };
/// job.apply(job.draft(ReplicaId::new(7), 0, fault));
/// assert_eq!(handover(&job, 0).next.reasons[1], "1 open fault to be settled.");
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NextVisit {
    /// The suggested time in months.
    pub months: u32,
    /// The reasons, as sentences.
    pub reasons: Vec<String>,
}

/// The usual time until the next check: a year (C).
const USUAL_MONTHS: u32 = 12;
/// The time until a check after new cloth, felt or bushings, which settle with playing: a season
/// (M).
const SETTLING_MONTHS: u32 = 4;

/// Returns the time until the next check: from the measured drift, otherwise a year; sooner after
/// certain work or a change of climate.
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
            reasons: vec![interval.reason.clone()],
        },
        None => NextVisit {
            months: USUAL_MONTHS,
            reasons: vec![match drift.is_some_and(Drift::is_of_too_few) {
                true => "A yearly check is usual. Too few notes were measured both times to know how this instrument drifts: it takes 8 of a quantity.",
                false => "A yearly check is usual: how this instrument drifts is not known yet. Measure the same sample notes then.",
            }.to_owned()],
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
