//! Writing and opening the job file and its tables, with the conclusions from the job.

use super::conflicts::concluded;
use super::open_points::{conclusions, punchings_used};
use super::overview::check_on;
use crate::job::{self, Conclusions, FileError, Job, MAX_BYTES, Opened, Opening};

/// Returns what a job file says that follows from its log, at a wall time in milliseconds since 1970 (UTC).
pub fn file_conclusions(job: &Job, now_ms: i64) -> Conclusions {
    Conclusions {
        next_check_on: Some(check_on(job, now_ms, 0)),
        ..conclusions(job, now_ms)
    }
}

/// Returns the job file of a job, written at a wall time in milliseconds since 1970 (UTC).
///
/// The log is written as stored, one entry per line. If the file would be larger than [`MAX_BYTES`], it is written alone,
/// so that the file can be opened.
pub fn export(job: &Job, now_ms: i64) -> String {
    let file = job::write_file(job, now_ms, file_conclusions(job, now_ms));
    if file.len() <= MAX_BYTES {
        file
    } else {
        job::write_log(job)
    }
}

/// Returns the table of the punchings that a job used, as CSV.
pub fn materials_csv(job: &Job) -> String {
    job::materials_csv(job, &punchings_used(job))
}

/// Returns the table of the open conflicts, as CSV.
pub fn conflicts_csv(job: &Job) -> String {
    job::conflicts_csv(job, &concluded(job))
}

/// Returns the table of the values out of tolerance and of the open points of a job at a wall time in
/// milliseconds since 1970 (UTC), as CSV.
pub fn open_points_csv(job: &Job, now_ms: i64) -> String {
    job::open_points_csv(job, &conclusions(job, now_ms))
}

/// Opens a job file. Its bytes are not trusted.
///
/// Entries that cannot be read are named in the notices; the others are kept. Only the log is used:
/// the conclusions in the file are not.
///
/// # Errors
/// [`FileError`], a sentence that says what is wrong, where, and what to do.
///
/// ```
/// use evenhand_core::analysis::job_file::{export, open};
/// use evenhand_core::job::{EntryKind, ReplicaId, FileError, Job, JobId};
///
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 1_000, EntryKind::Made { job: JobId::new(1) }));
/// let file = export(&job, 2_000);
/// let opened = open(file.as_bytes())?;
/// assert_eq!(opened.entries, job.log().entries());
/// assert!(opened.notices.is_empty());
/// assert_eq!(open(&file.as_bytes()[..500]), Err(FileError::Truncated));
/// # Ok::<(), FileError>(())
/// ```
pub fn open(bytes: &[u8]) -> Result<Opened, FileError> {
    let mut opening = Opening::begin(bytes)?;
    while opening.read_on(bytes.len()) {}
    opening.finish(file_conclusions)
}

#[cfg(test)]
mod tests;
