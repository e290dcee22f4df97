//! The job file, out and in.
//!
//! UTF-8 JSON with readable derived parts around the log. Opening trusts only
//! the log: derived parts are computed again, and a difference is reported.

mod changed;
mod open;
mod parts;
mod shell;
mod tables;
mod write;

pub use open::{Opened, Opening};
pub use tables::{materials_csv, readings_csv};
pub use write::write_file;

use std::fmt;

use sha2::{Digest, Sha256};

use crate::unit::Length;

/// What the `format` field says.
pub const FORMAT: &str = "evenhand-job";
/// The version of the format that is written.
pub const VERSION: u64 = 1;

/// The release that writes the readable parts; it rises when a default, a word or a sum changes.
pub const PROGRAM: &str = env!("CARGO_PKG_VERSION");
/// The largest file that is opened, in bytes: what [`MAX_ENTRIES`] need, each with its line and
/// its indent. Whoever reads a file asks its size first, so that no larger one comes into memory.
pub const MAX_BYTES: usize = 14 << 20;
/// The most entries of a file that is opened: more than twice those of the largest job, and what a
/// small phone has the memory for.
pub const MAX_ENTRIES: usize = 50_000;

/// What is concluded from the entries of a job and stands in its file. Another module computes it: the
/// file is only a record.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Conclusions {
    /// The papers put in less those taken out, by thickness.
    pub papers: Vec<(Length, i64)>,
    /// How many readings are out of tolerance now.
    pub out: usize,
    /// What is not as it should be, in sentences.
    pub open_points: Vec<String>,
}

/// SHA-256 over the lines of the log, joined by newlines.
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

    /// In hexadecimal.
    fn finish(self) -> String {
        let bytes = self.hasher.finalize();
        bytes.iter().map(|byte| format!("{byte:02x}")).collect()
    }
}

/// Why a file was not opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileError {
    /// The file is empty.
    Empty,
    /// Larger than [`MAX_BYTES`].
    TooLarge(usize),
    /// More entries than [`MAX_ENTRIES`].
    TooMany,
    /// Brackets within brackets beyond any job file.
    TooDeep,
    /// Not UTF-8 from this byte on.
    NotText(usize),
    /// Cut off before its end.
    Truncated,
    /// Not JSON at this line and column.
    NotJson {
        /// The line, from 1.
        line: usize,
        /// The column, from 1.
        column: usize,
    },
    /// JSON, but not a job file.
    Foreign,
    /// A job file of a newer version.
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
                "The file has more than {MAX_ENTRIES} entries, and no job file has."
            )?,
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
                "This is not a job file of Evenhand. Its name ends in .job.json."
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
