//! What is left to do and what was used, for the job file and the handover: readings out of
//! tolerance, open points, punchings.

use super::conflicts::concluded;
use crate::job::{Conclusions, Correction, EntryKind, Item, Job, Progress, State};
use crate::trade::{Occasion, Place, Step};
use crate::unit::Length;

/// Returns the conclusions from a job at a wall time in milliseconds since 1970 (UTC).
pub fn conclusions(job: &Job, now_ms: i64) -> Conclusions {
    let all = job.state().progress(now_ms);
    Conclusions {
        papers: papers_used(job),
        out: out_of_tolerance(job.state(), &all),
        open_points: open_points(job.state(), &all),
        conflicts: concluded(job),
    }
}

/// Returns the punchings put in minus those taken out, by thickness, thinnest first. Thicknesses
/// that cancel out are omitted.
pub fn papers_used(job: &Job) -> Vec<(Length, i64)> {
    let mut papers: Vec<i64> = Vec::new();
    for entry in job.log().entries() {
        if let EntryKind::Correction {
            made: Correction::Papers(put),
            ..
        } = &entry.kind
            && job.state().is_alive(entry.id)
        {
            papers.extend(put.iter().map(|paper| paper.nm()));
        }
    }
    papers.sort_by_key(|nm| nm.unsigned_abs());
    let kinds = papers.chunk_by(|a, b| a.unsigned_abs() == b.unsigned_abs());
    kinds
        .map(|of| {
            (
                Length::from_nm(of[0]).abs(),
                of.iter().map(|nm| nm.signum()).sum(),
            )
        })
        .filter(|(_, count)| *count != 0)
        .collect()
}

/// Returns how many readings are out of tolerance now, over all steps.
pub fn out_of_tolerance(state: &State, all: &[(Step, Progress)]) -> usize {
    all.iter().map(|(s, p)| out_now(state, s, p)).sum()
}

/// Returns how many readings of one step are out now. Steps that record what was found do not
/// count, since nothing changes that; a reading out on the bench does not count once there is a
/// later one in the piano, which is judged on its own.
fn out_now(state: &State, step: &Step, progress: &Progress) -> usize {
    if progress.out == 0 || step.occasion() == Occasion::AsFound {
        return 0;
    }
    let place = step.place_or(state.place());
    let stands = |item: &Item| {
        let piano = || {
            state
                .measure_state(item.measure.as_str(), item.on, Place::Piano)?
                .in_effect()
        };
        state.item_state(step, item).is_out() && (place == Place::Piano || piano().is_none())
    };
    state.items(step).iter().filter(|item| stands(item)).count()
}

/// Returns what is not as it should be, as sentences.
pub fn open_points(state: &State, all: &[(Step, Progress)]) -> Vec<String> {
    let mut points: Vec<String> = Vec::new();
    for (step, p) in all {
        let out = out_now(state, step, p);
        if out > 0 {
            points.push(format!(
                "{}: {out} of {} out of tolerance.",
                step.name, p.expected
            ));
        }
        if p.again > 0 {
            points.push(format!("{}: {} to read again.", step.name, p.again));
        }
        if p.is_begun() && p.left() > p.again {
            let left = p.left() - p.again;
            points.push(format!("{}: {left} of {} not read.", step.name, p.expected));
        }
    }
    for fault in state.open_faults() {
        points.push(format!("{}: {}", fault.on.words(), fault.text));
    }
    points
}
