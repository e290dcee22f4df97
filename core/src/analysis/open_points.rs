//! What was used and what is left to do, by one rule for every screen, letter and file: the punchings,
//! the values out of tolerance, and the open points.
//!
//! **Rule** (C). Of a measure on a note, a section or the whole, the latest reading counts, wherever
//! the action was ([`State::latest`](crate::job::State::latest)): of the work or as left, otherwise of the survey.
//! - It is **out** if it still holds and is outside its tolerance. That includes the as-found
//!   sample, the pitch, the climate where it has a target, wear grades, and balance weight and
//!   friction where both weights were taken together. It is counted once, in the step in which it
//!   was measured.
//! - What was **found** is the survey's reading, otherwise the first of the job ([`State::found`](crate::job::State::found)).
//! - **Open** are: values out; notes found out and not measured; parts graded worn and not treated since; readings spoiled by later
//!   work; what was found out and changed since without a new reading; weights that contradict each
//!   other; steps begun and not ended, and steps not begun; faults that are not fixed.
//!
//! Two things settle what the survey found without a new reading: the tuning settles the pitch, and
//! the steps that treat a kind of part settle its grade "worn". A part that is worn out is
//! open until it is renewed or graded again.

mod sentences;
mod values;

pub use sentences::open_points;
pub use values::{measures_out, values_out};

use super::conflicts::concluded;
use super::decisions::parts_to_order;
use crate::job::{Conclusions, Correction, EntryKind, Job};
use crate::unit::Length;

/// Returns the conclusions from a job at a wall time in milliseconds since 1970 (UTC).
pub fn conclusions(job: &Job, now_ms: i64) -> Conclusions {
    let all = job.state().progress(now_ms);
    let values_out = values_out(job.state());
    Conclusions {
        punchings: punchings_used(job),
        open_points: open_points(job.state(), &all, &values_out),
        values_out,
        conflicts: concluded(job),
        parts: parts_to_order(job.state()),
        next_check_on: None,
    }
}

/// Returns the punchings put in minus those taken out, by thickness, thinnest first. Thicknesses
/// that cancel out are omitted.
pub fn punchings_used(job: &Job) -> Vec<(Length, i64)> {
    let mut punchings: Vec<i64> = Vec::new();
    for entry in job.log().entries() {
        if let EntryKind::Correction {
            made: Correction::Punchings(put),
            ..
        } = &entry.kind
            && job.state().is_alive(entry.id)
        {
            punchings.extend(put.iter().map(|punching| punching.nm()));
        }
    }
    punchings.sort_unstable_by_key(|nm| nm.unsigned_abs());
    let kinds = punchings.chunk_by(|a, b| a.unsigned_abs() == b.unsigned_abs());
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
