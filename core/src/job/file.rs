//! The job file: its format, limits and errors; writing and opening it.
//!
//! UTF-8 JSON with readable derived parts around the log. Opening trusts only
//! the log: derived parts are computed again, and a difference is reported.

mod changed;
mod jobs;
mod open;
mod parts;
mod photos;
mod tables;
mod top_level;
mod write;

pub use jobs::{
    JOBS_END, JOBS_FORMAT, JOBS_SEPARATOR, JOBS_VERSION, JobsIndex, JobsScan, jobs_start,
};
pub use open::{Opened, Opening, unknown};
pub use photos::{JobParts, PHOTOS_END, PHOTOS_SEPARATOR, PhotosScan, missing_photos, with_photos};
pub(crate) use tables::Table;
pub use tables::{conflicts_csv, materials_csv, open_points_csv, readings_csv, without_mark};
pub use write::{leaves_room, write_file, write_log};

use std::fmt;

use serde::Serialize;
use sha2::{Digest, Sha256};

use super::{Day, EntryId, Judged, Subject};
use crate::trade::{MeasureId, Part, StepId};
use crate::unit::{Length, Value};

/// The value of the field `format`.
pub const FORMAT: &str = "evenhand-job";
/// The version of the format that is written.
pub const VERSION: u64 = 1;
/// The revision of the version that is written: 1 since the log is ordered by time. A file of an earlier revision
/// names none, and opens like any other; so does a later one, whatever it adds being kept.
pub const REVISION: u64 = 1;
/// What a release that does not know this revision makes of a file, for whoever reads it.
pub const OLDER_RELEASES: &str = "Evenhand 0.1 opens this file and keeps all of it. It goes by the clocks alone, so where two devices changed one thing it can show the earlier change. Records that it does not know, such as those with the field knew, it passes on but does not show. A file that was opened and taken back still counts there; notes that were swept are not done there; notes found out and not measured are not shown. Releases before 0.4 show all steps of the trade, whatever the kind of the job, and measure the whole sample. They do not read the records not_remeasured, sample_seed, measure_all and earlier_fixed: there a note that was turned and not measured again is to re-measure, and the sample is that of the release. Releases before 0.5 pass on photos, prices and the remark for the client, and do not show them.";

/// The release that writes the readable parts. It increases when a default, a word or a computation
/// changes.
pub const PROGRAM: &str = env!("CARGO_PKG_VERSION");
/// The largest file that is opened, in bytes (14 MiB): room for [`MAX_ENTRIES`], each with its line and
/// its indent. Callers check the size before they read a file into memory.
pub const MAX_BYTES: usize = 14 << 20;
/// The largest file of one job with its photos, in bytes. The job alone has at most [`MAX_BYTES`].
pub const MAX_BYTES_WITH_PHOTOS: u64 =
    MAX_BYTES as u64 + (super::MAX_PHOTOS * (super::MAX_PHOTO_LINE + 2)) as u64;
/// The largest number of entries in a file that is opened: more than twice those of the largest job, and
/// within the memory of a small phone.
pub const MAX_ENTRIES: usize = 50_000;

/// The largest number of jobs in a file that is opened.
pub const MAX_JOBS: usize = 5_000;
/// The largest file of many jobs that is opened, in bytes (4 GiB); each job in it has at most
/// [`MAX_BYTES`].
pub const MAX_JOBS_BYTES: u64 = 4 << 30;

/// The results of analysis that are written into a job file.
///
/// The module [`analysis`](crate::analysis) computes them, so that this module need not depend on it. The default
/// has no results.
///
/// ```
/// use evenhand_core::job::{Conclusions, Job, OpenPoint, PointKind, write_file};
///
/// let point = OpenPoint { kind: PointKind::Remeasure, step: None, text: "Check the blow.".to_owned() };
/// let concluded = Conclusions { open_points: vec![point], ..Conclusions::default() };
/// let file = write_file(&Job::new(), 0, concluded);
/// assert!(file.contains(r#""Check the blow.""#));
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Conclusions {
    /// The number of punchings put in minus those taken out, by thickness.
    pub punchings: Vec<(Length, i64)>,
    /// The values that are out of tolerance now.
    pub values_out: Vec<ValueOut>,
    /// The open points.
    pub open_points: Vec<OpenPoint>,
    /// The open conflicts.
    pub conflicts: Vec<ConcludedConflict>,
    /// The parts to order.
    pub parts: Vec<PartToOrder>,
    /// The day on which the instrument is to be checked again, counted from the latest work in UTC.
    pub next_check_on: Option<Day>,
}

impl Conclusions {
    /// Returns how many values are out of tolerance.
    pub fn out(&self) -> usize {
        self.values_out.len()
    }
}

/// A part to order. It has no default and no order.
///
/// ```
/// use evenhand_core::job::PartToOrder;
/// use evenhand_core::trade::Part;
///
/// let part = Part::Knuckles;
/// let (size, measured, on) = (Some("9 mm".to_owned()), String::new(), "section 2".to_owned());
/// let line = PartToOrder { part, name: "knuckles", size, measured, count: 22, each_cents: None, on };
/// assert!(serde_json::to_string(&line)?.starts_with(r#"{"part":"knuckles""#));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartToOrder {
    /// The kind of part.
    pub part: Part,
    /// Its name for people.
    pub name: &'static str,
    /// Its size as typed; `None` if it is not known yet.
    pub size: Option<String>,
    /// What was measured that the size follows from, or an empty text.
    pub measured: String,
    /// The number of pieces; for the back-rail cloth the number of keys that it lies under.
    pub count: usize,
    /// The price of one piece, or of the cloth for one key, in hundredths of the currency; `None` if it is not known yet.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub each_cents: Option<u32>,
    /// The sections that it is for, in words.
    pub on: String,
}

/// A value that is out of tolerance now: a reading, a wear grade, or a value computed from readings.
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Job, Subject, ValueOut, out_of_step};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, StepId, Verdict};
/// use evenhand_core::unit::{Length, Value};
///
/// let (on, value) = (Subject::Note(Note::FIRST), Value::Nm(Length::from_mm_hundredths(400)));
/// let judged = Job::new().state().judge("let_off", on, value).unwrap();
/// assert_eq!((judged.verdict, judged.off), (Verdict::Out, 2_000_000));
/// let (measure, step) = (MeasureId::of("let_off"), StepId::of("let_off"));
/// let out = ValueOut { step: Some(step.clone()), measure, on, value, judged };
/// assert_eq!(out_of_step(&[out], &step), 1);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct ValueOut {
    /// The step of the job in which it was measured, or `None` if no step of the job takes it.
    pub step: Option<StepId>,
    /// The measure.
    pub measure: MeasureId,
    /// The note, section or whole.
    pub on: Subject,
    /// The value.
    pub value: Value,
    /// The value against the target in effect.
    pub judged: Judged,
}

/// Returns how many of the values out of tolerance were measured in a step.
///
/// The job file, the end of its pass and its line in the order show this number, so that the lines of all steps add up
/// to the number in Handover.
///
/// ```
/// use evenhand_core::job::out_of_step;
/// use evenhand_core::trade::StepId;
///
/// assert_eq!(out_of_step(&[], &StepId::of("let_off")), 0);
/// ```
pub fn out_of_step(out: &[ValueOut], step: &StepId) -> usize {
    out.iter().filter(|v| v.step.as_ref() == Some(step)).count()
}

/// Something that is not as it should be, as one sentence. It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Conclusions, Job, OpenPoint, PointKind, write_file};
///
/// let text = "Note 33 (F3): loose".to_owned();
/// let point = OpenPoint { kind: PointKind::Fault, step: None, text };
/// let concluded = Conclusions { open_points: vec![point], ..Conclusions::default() };
/// // The job file has its sentence.
/// assert!(write_file(&Job::new(), 0, concluded).contains(r#""Note 33 (F3): loose""#));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenPoint {
    /// What it is.
    pub kind: PointKind,
    /// The step of the job where it can be settled, or `None` if there is none.
    pub step: Option<StepId>,
    /// The sentence.
    pub text: String,
}

/// The kinds of open points, in the order in which they are listed: those of a step up to
/// [`PointKind::NotMeasured`], step by step, then the others. There is no default.
///
/// ```
/// use evenhand_core::job::{Conclusions, Job, OpenPoint, PointKind, open_points_csv};
///
/// let point = OpenPoint { kind: PointKind::NotBegun, step: None, text: "Not begun: tuning".to_owned() };
/// let concluded = Conclusions { open_points: vec![point], ..Conclusions::default() };
/// assert_eq!(PointKind::NotBegun.word(), "not_begun");
/// assert!(open_points_csv(&Job::new(), &concluded).contains(r#""not_begun""#));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum PointKind {
    /// Values out of tolerance.
    Out,
    /// A kind of part graded worn, and not treated since.
    Worn,
    /// Found out of tolerance, changed since, and not measured after that.
    Changed,
    /// Readings that cannot both be right.
    Contradiction,
    /// Readings that later work spoiled.
    Remeasure,
    /// Notes found out and not measured, to come back to.
    MarkedOut,
    /// A step that was begun and not ended.
    NotMeasured,
    /// Steps of the job that were not begun.
    NotBegun,
    /// A fault that is not fixed.
    Fault,
}

impl PointKind {
    /// Returns the word for it in a table.
    pub const fn word(self) -> &'static str {
        match self {
            PointKind::Out => "out",
            PointKind::Worn => "worn",
            PointKind::Changed => "changed",
            PointKind::Contradiction => "contradiction",
            PointKind::Remeasure => "remeasure",
            PointKind::MarkedOut => "marked_out",
            PointKind::NotMeasured => "not_measured",
            PointKind::NotBegun => "not_begun",
            PointKind::Fault => "fault",
        }
    }
}

/// An open conflict, as it is written into a job file, with two or more statements. It has no default.
///
/// ```
/// use evenhand_core::job::{ConcludedConflict, ConcludedStatement, EntryId, Job, ReplicaId, conflicts_csv};
///
/// let statements = [("132", 2, true), ("123", 1, false)].map(|(value, replica, in_force)| ConcludedStatement {
///     value: value.to_owned(),
///     technician: None,
///     at_ms: 1_000,
///     entry: EntryId { replica: ReplicaId::new(replica), seq: 1 },
///     in_force,
/// });
/// let conflict = ConcludedConflict { about: "Serial number".to_owned(), statements: statements.into() };
/// // One row of the table for each statement of conflict 1, after the header.
/// let table = conflicts_csv(&Job::new(), &[conflict]);
/// assert_eq!(table.lines().filter(|row| row.contains(r#"1,"Serial number",1"#)).count(), 2);
/// assert_eq!(table.lines().count(), 3);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ConcludedConflict {
    /// What it is about, in words.
    pub about: String,
    /// The statement in effect, then the others, the latest first.
    pub statements: Vec<ConcludedStatement>,
}

/// One statement of an open conflict, as it is written into a job file. It has no default.
///
/// ```
/// use evenhand_core::job::{ConcludedStatement, EntryId, ReplicaId};
///
/// let statement = ConcludedStatement {
///     value: "132".to_owned(),
///     technician: None,
///     at_ms: 2_000,
///     entry: EntryId { replica: ReplicaId::new(2), seq: 1 },
///     in_force: true,
/// };
/// // The id of the entry stands beside the rest.
/// let line = r#"{"value":"132","technician":null,"at_ms":2000,"device":"0000000000000002","seq":1,"in_force":true}"#;
/// assert_eq!(serde_json::to_string(&statement)?, line);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ConcludedStatement {
    /// The value in words.
    pub value: String,
    /// The technician's name, or `None` if the device states none.
    pub technician: Option<String>,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// Its entry.
    #[serde(flatten)]
    pub entry: EntryId,
    /// `true` for the statement in effect.
    pub in_force: bool,
}

/// The SHA-256 of the lines of the log, joined by newlines.
#[derive(Default)]
struct Checksum {
    hasher: Sha256,
    begun: bool,
}

impl Checksum {
    fn add(&mut self, line: &str) {
        if self.begun {
            self.hasher.update(b"\n");
        }
        self.begun = true;
        self.hasher.update(line.as_bytes());
    }

    /// Returns the checksum as 64 hexadecimal digits.
    fn finish(self) -> String {
        let bytes = self.hasher.finalize();
        bytes.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

/// Why a file was not opened.
///
/// It prints as sentences for the technician: what is wrong, what to do, and that nothing was changed.
///
/// ```
/// use evenhand_core::job::{FileError, Opening};
///
/// let error = Opening::begin(b"").err();
/// assert_eq!(error, Some(FileError::Empty));
/// assert_eq!(
///     FileError::Empty.to_string(),
///     "The file is empty. Nothing was opened, and nothing stored here was changed."
/// );
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileError {
    /// The file is empty.
    Empty,
    /// The file has more than [`MAX_BYTES`]; its size in bytes.
    TooLarge(usize),
    /// The log has more than [`MAX_ENTRIES`].
    TooMany,
    /// The list has more than [`MAX_JOBS`] jobs.
    TooManyJobs,
    /// The nesting is deeper than in any job file.
    TooDeep,
    /// The file is not UTF-8 from this byte on, counted from 1.
    NotText(usize),
    /// The file is cut off before its end.
    Truncated,
    /// The file is not JSON at this line and column.
    NotJson {
        /// The line, from 1.
        line: usize,
        /// The column, from 1.
        column: usize,
    },
    /// The file is not a job file.
    Foreign,
    /// The entries of the file belong to another job than the file says, or to more than one.
    OtherJob,
    /// A job file of a newer version of the format, which is given.
    Newer(u64),
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            FileError::Empty => write!(f, "The file is empty.")?,
            FileError::TooLarge(bytes) => write!(
                f,
                "The file has {} MB; a job file has at most {} MB.",
                bytes >> 20,
                MAX_BYTES >> 20
            )?,
            FileError::TooMany => write!(
                f,
                "The file has more than {MAX_ENTRIES} records, more than a job can hold."
            )?,
            FileError::TooManyJobs => write!(f, "The file has more than {MAX_JOBS} jobs.")?,
            FileError::TooDeep => write!(f, "The file is nested far deeper than a job file.")?,
            FileError::NotText(at) => write!(f, "The file is not text: byte {at} cannot be read.")?,
            FileError::Truncated => write!(
                f,
                "The file breaks off before its end. Ask for it again, or copy it once more."
            )?,
            FileError::NotJson { line, column } => write!(
                f,
                "The file cannot be read at line {line}, column {column}. It may have been changed by another program."
            )?,
            FileError::Foreign => write!(
                f,
                "This is not a job file of Evenhand. Its name ends in .job.json or .jobs.json."
            )?,
            FileError::OtherJob => write!(
                f,
                "The file mixes two jobs. It was edited outside Evenhand; ask for it again."
            )?,
            FileError::Newer(version) => write!(
                f,
                "The file is of version {version}; this Evenhand reads up to version {VERSION}. Update Evenhand and open it again."
            )?,
        }
        write!(
            f,
            " Nothing was opened, and nothing stored here was changed."
        )
    }
}

impl std::error::Error for FileError {}
