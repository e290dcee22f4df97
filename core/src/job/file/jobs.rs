//! A file of many jobs: a list of job files, read and written one job at a time.
//!
//! The file is never in memory as a whole. Opening scans it in slices and notes where each job file lies; then
//! each is read and opened by itself, as if it had come alone.

use std::ops::Range;

use serde::Deserialize;
use serde::de::IgnoredAny;

use super::super::raw::Quotes;
use super::{FileError, MAX_JOBS, PROGRAM};
use crate::job::Entry;

/// The value of the field `format` of a file of many jobs.
pub const JOBS_FORMAT: &str = "evenhand-jobs";
/// The version of the format of many jobs that is written.
pub const JOBS_VERSION: u64 = 1;
/// The most bytes around the job files, beside a few for each job.
const MAX_AROUND: usize = 64 << 10;
/// What stands in place of each job file while the rest is parsed.
const PLACEHOLDER: &[u8] = b"0";

/// Returns what stands before the first job file of a file of many jobs, written at a wall time in milliseconds
/// since 1970 (UTC). Job files follow, with [`JOBS_SEPARATOR`] between them, and then [`JOBS_END`].
///
/// ```
/// use evenhand_core::job::{
///     Conclusions, JOBS_END, JOBS_SEPARATOR, Job, JobsScan, jobs_start, write_file,
/// };
///
/// let file = write_file(&Job::new(), 0, Conclusions::default());
/// let text = format!("{}{file}{JOBS_SEPARATOR}{file}{JOBS_END}", jobs_start(2, 0));
/// let mut scan = JobsScan::new();
/// for slice in text.as_bytes().chunks(1_000) {
///     assert!(scan.read_on(slice)?);
/// }
/// let index = scan.finish()?;
/// let first = &index.files[0];
/// assert_eq!(text[first.start as usize..first.end as usize], file);
/// # Ok::<(), evenhand_core::job::FileError>(())
/// ```
pub fn jobs_start(count: usize, now_ms: i64) -> String {
    let at_ms = now_ms.clamp(0, Entry::LAST_MS);
    format!(
        "{{\n\"format\": \"{JOBS_FORMAT}\",\n\"version\": {JOBS_VERSION},\n\"program\": \"{PROGRAM}\",\n\"exported_at_ms\": {at_ms},\n\"count\": {count},\n\"jobs\": [\n"
    )
}

/// What stands between two job files of a file of many jobs.
pub const JOBS_SEPARATOR: &str = ",\n";
/// What stands after the last job file of a file of many jobs.
pub const JOBS_END: &str = "\n]\n}\n";

/// Where the job files of a file of many jobs lie. The default is a file without jobs.
///
/// ```
/// use evenhand_core::job::{Conclusions, JOBS_END, Job, JobsScan, jobs_start, write_file};
///
/// let file = write_file(&Job::new(), 0, Conclusions::default());
/// let index = |text: String| {
///     let mut scan = JobsScan::new();
///     assert!(scan.read_on(text.as_bytes())?);
///     scan.finish()
/// };
/// let whole = index(format!("{}{file}{JOBS_END}", jobs_start(1, 0)))?;
/// let torn = index(format!("{}{file}", jobs_start(1, 0)))?;
/// assert_eq!(whole.files[0].end - whole.files[0].start, file.len() as u64);
/// assert_eq!((torn.files, whole.notice), (whole.files, None));
/// assert!(torn.notice.is_some());
/// # Ok::<(), evenhand_core::job::FileError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct JobsIndex {
    /// The bytes of each job file, in order.
    pub files: Vec<Range<u64>>,
    /// A sentence on what is missing, where the file breaks off or holds what is no job file.
    pub notice: Option<String>,
}

/// What surrounds the job files.
#[derive(Deserialize)]
struct Around {
    format: Option<String>,
    version: Option<u64>,
    count: Option<u64>,
    jobs: Option<Vec<IgnoredAny>>,
}

/// A scan for where the job files of a file of many jobs lie. It takes the file in slices of any size and keeps no
/// job file in memory.
///
/// ```
/// use evenhand_core::job::{FileError, JobsScan};
///
/// // A file of one job is none of many.
/// let mut scan = JobsScan::new();
/// scan.read_on(br#"{"format":"evenhand-job","version":1,"log":[]}"#)?;
/// assert_eq!(scan.finish(), Err(FileError::Foreign));
/// # Ok::<(), evenhand_core::job::FileError>(())
/// ```
#[derive(Default)]
pub struct JobsScan {
    /// What was read outside the job files, with a placeholder for each of them.
    around: Vec<u8>,
    quotes: Quotes,
    depth: usize,
    /// The number of bytes read.
    at: u64,
    /// Whether the list of jobs was reached.
    in_jobs: bool,
    /// Where the job file that is being read begins.
    begun: Option<u64>,
    files: Vec<Range<u64>>,
}

impl JobsScan {
    /// Begins a scan.
    pub fn new() -> JobsScan {
        JobsScan::default()
    }

    /// Scans the next bytes of the file. Returns `false` once it is known to be no file of many jobs; it may be a job
    /// file then.
    ///
    /// # Errors
    /// Returns a [`FileError`] if the file is of a newer version, or has more than [`MAX_JOBS`] jobs.
    pub fn read_on(&mut self, bytes: &[u8]) -> Result<bool, FileError> {
        for &byte in bytes {
            self.at += 1;
            let quoted = self.quotes.hold(byte);
            if self.begun.is_some() {
                match byte {
                    _ if quoted => {}
                    b'{' | b'[' => self.depth += 1,
                    b'}' | b']' => self.end_bracket(),
                    _ => {}
                }
                continue;
            }
            match byte {
                _ if quoted => {}
                b'{' if self.in_jobs && self.depth == 2 => {
                    self.begun = Some(self.at - 1);
                    self.depth += 1;
                    if self.files.len() == MAX_JOBS {
                        return Err(FileError::TooManyJobs);
                    }
                    self.around.extend_from_slice(PLACEHOLDER);
                    continue;
                }
                b'{' | b'[' => {
                    self.depth += 1;
                    if byte == b'[' && self.depth == 2 && self.follows_key_of_jobs() {
                        if !self.is_of_many()? {
                            return Ok(false);
                        }
                        self.in_jobs = true;
                    }
                }
                b'}' | b']' => {
                    self.depth = self.depth.saturating_sub(1);
                    self.in_jobs &= self.depth >= 2;
                }
                _ => {}
            }
            self.around.push(byte);
            if self.around.len() > MAX_AROUND + 8 * self.files.len() {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Leaves a bracket inside a job file, and the job file with its last one.
    fn end_bracket(&mut self) {
        self.depth -= 1;
        if self.depth == 2 {
            self.files
                .extend(self.begun.take().map(|begun| begun..self.at));
        }
    }

    /// Returns `true` if what was read ends with the key `jobs`, and not with another or a text.
    fn follows_key_of_jobs(&self) -> bool {
        let key = self.around.trim_ascii_end().strip_suffix(b":");
        key.is_some_and(|before| before.trim_ascii_end().ends_with(b"\"jobs\""))
    }

    /// Returns whether what was read up to the list of jobs is of a file of many.
    fn is_of_many(&self) -> Result<bool, FileError> {
        let head = [&self.around[..], b"[]}"].concat();
        let Some(head) = around(&head) else {
            return Ok(false);
        };
        match (head.format.as_deref(), head.version) {
            (Some(JOBS_FORMAT), None | Some(1..=JOBS_VERSION)) => Ok(true),
            (Some(JOBS_FORMAT), Some(newer @ 1..)) => Err(FileError::Newer(newer)),
            _ => Ok(false),
        }
    }

    /// Returns where the job files lie, once the whole file was scanned. Of a file that breaks off, those that are
    /// whole.
    ///
    /// # Errors
    /// Returns a [`FileError`] if it is no file of many jobs, or of a newer version.
    pub fn finish(self) -> Result<JobsIndex, FileError> {
        // What precedes the list was judged when the list was reached.
        let whole = around(&self.around);
        let whole = whole.filter(|w| w.format.as_deref() == Some(JOBS_FORMAT));
        let Some(whole) = whole else {
            return match (self.in_jobs || !self.files.is_empty(), self.depth) {
                (true, 0) => Err(FileError::Foreign),
                (true, _) => Ok(broken_off(self.files)),
                (false, _) => Err(FileError::Foreign),
            };
        };
        match whole.version {
            Some(1..=JOBS_VERSION) => {}
            Some(newer @ 1..) => return Err(FileError::Newer(newer)),
            _ => return Err(FileError::Foreign),
        }
        let listed = whole.jobs.map_or(0, |jobs| jobs.len());
        let notice = match (listed - self.files.len().min(listed), whole.count) {
            (0, Some(count)) if count != self.files.len() as u64 => Some(format!(
                "The file says that it holds {count} jobs; it holds {}.",
                self.files.len()
            )),
            (0, _) => None,
            (1, _) => Some("1 item in the list is not a job file. It was left out.".to_owned()),
            (n, _) => Some(format!(
                "{n} items in the list are not job files. They were left out."
            )),
        };
        Ok(JobsIndex {
            files: self.files,
            notice,
        })
    }
}

/// Returns the whole job files of a file that breaks off.
fn broken_off(files: Vec<Range<u64>>) -> JobsIndex {
    let whole = match files.len() {
        0 => "No job in it is complete".to_owned(),
        1 => "1 job in it is complete".to_owned(),
        n => format!("{n} jobs in it are complete"),
    };
    JobsIndex {
        files,
        notice: Some(format!(
            "The file breaks off before its end. {whole}. Ask for it again, or copy it once more."
        )),
    }
}

/// Parses what surrounds the job files. Returns `None` if it is no JSON object, or has a field twice.
fn around(bytes: &[u8]) -> Option<Around> {
    let bytes = bytes.strip_prefix("\u{feff}".as_bytes()).unwrap_or(bytes);
    serde_json::from_slice(bytes).ok()
}
