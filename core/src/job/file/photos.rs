//! The photos at the end of a job file: written and found without having the file in memory.
//!
//! They stand after the log, one a line, so that a file that breaks off loses photos and no reading. Opening
//! scans the file in slices for where the job ends and where each photo lies; then each is read by itself.

use std::ops::Range;

use super::super::photo::MAX_PHOTO_LINE;
use super::super::{MAX_PHOTOS, PhotoHash};

/// What stands between the job and its first photo. Nothing inside the job can look like it, since a text in JSON
/// has no line break.
const START: &str = ",\n  \"photos\": [\n";
/// What stands between two photos.
pub const PHOTOS_SEPARATOR: &str = ",\n";
/// What stands after the last photo.
pub const PHOTOS_END: &str = "\n  ]\n}";
/// What ends a job file without photos.
const JOB_END: &str = "\n}";

/// Returns the beginning of a job file with photos, from one without: lines of photos follow, with
/// [`PHOTOS_SEPARATOR`] between them, and then [`PHOTOS_END`].
///
/// ```
/// use evenhand_core::job::{Conclusions, Job, PHOTOS_END, PhotosScan, with_photos, write_file};
///
/// let file = write_file(&Job::new(), 0, Conclusions::default());
/// let text = format!("{}{{\"sha256\":\"…\"}}{PHOTOS_END}", with_photos(file.clone()));
/// let mut scan = PhotosScan::new();
/// text.as_bytes().chunks(100).for_each(|slice| scan.read_on(slice));
/// let found = scan.finish();
/// // The job, and what closes it.
/// assert_eq!(text[..found.job as usize].to_owned() + "\n}", file);
/// assert_eq!(&text[found.lines[0].start as usize..found.lines[0].end as usize], "{\"sha256\":\"…\"}");
/// ```
pub fn with_photos(mut file: String) -> String {
    file.truncate(file.trim_end().len());
    if file.ends_with(JOB_END) {
        file.truncate(file.len() - JOB_END.len());
    }
    file + START
}

/// Where the parts of a job file lie. The default is an empty file.
///
/// See [`with_photos`] for an example.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct JobParts {
    /// How many bytes the job has, from the beginning of the file. If the file has photos, `"\n}"` closes it.
    pub job: u64,
    /// Whether it has a list of photos, be it empty or torn.
    pub has_photos: bool,
    /// The bytes of each line of a photo, in order; at most [`MAX_PHOTOS`].
    pub lines: Vec<Range<u64>>,
    /// Whether the file breaks off in its photos, or holds something else there.
    pub is_torn: bool,
}

/// A scan for where the photos of a job file lie. It takes the file in slices of any size and keeps none of it.
///
/// ```
/// use evenhand_core::job::PhotosScan;
///
/// let mut scan = PhotosScan::new();
/// scan.read_on(b"{}");
/// let parts = scan.finish();
/// assert_eq!((parts.job, parts.has_photos), (2, false));
/// ```
#[derive(Default)]
pub struct PhotosScan {
    /// The number of bytes read.
    at: u64,
    /// How many bytes of [`START`] the last bytes are.
    matched: usize,
    /// Where the line that is being read begins, once the list was reached.
    line: Option<u64>,
    parts: JobParts,
    /// The first and the last byte of the line that is being read.
    ends: (u8, u8),
    has_ended: bool,
}

impl PhotosScan {
    /// Begins a scan.
    pub fn new() -> PhotosScan {
        PhotosScan::default()
    }

    /// Scans the next bytes of the file.
    pub fn read_on(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.at += 1;
            match self.line {
                None => self.seek(byte),
                Some(begun) if byte == b'\n' => self.end_line(begun),
                Some(begun) => {
                    if self.at - 1 == begun {
                        self.ends.0 = byte;
                    }
                    self.ends.1 = byte;
                }
            }
        }
    }

    /// Returns `true` once the list of photos was reached: what follows is no part of the job.
    pub fn is_past_job(&self) -> bool {
        self.parts.has_photos
    }

    /// Follows the bytes before the list.
    fn seek(&mut self, byte: u8) {
        let start = START.as_bytes();
        // Its first byte stands nowhere else in it, so a mismatch begins anew at most with this byte.
        self.matched = match byte {
            byte if byte == start[self.matched] => self.matched + 1,
            byte if byte == start[0] => 1,
            _ => 0,
        };
        if self.matched == start.len() {
            self.parts.job = self.at - start.len() as u64;
            self.parts.has_photos = true;
            self.line = Some(self.at);
        }
    }

    /// Takes the line that ends before the last byte.
    fn end_line(&mut self, begun: u64) {
        let (first, last) = std::mem::take(&mut self.ends);
        let end = self.at - 1;
        self.line = Some(self.at);
        match (first, last) {
            // Before the bracket that ends the list there is a line break of its own.
            _ if self.has_ended => {}
            (b'{', b'}' | b',') => {
                let line = begun..end - u64::from(last == b',');
                let is_short = line.end - line.start <= MAX_PHOTO_LINE as u64;
                if is_short && self.parts.lines.len() < MAX_PHOTOS {
                    self.parts.lines.push(line);
                } else {
                    self.parts.is_torn = true;
                }
            }
            (b' ', b']') => self.has_ended = true,
            (0, 0) => {}
            _ => self.parts.is_torn = true,
        }
    }

    /// Returns where the parts lie, once the whole file was scanned.
    pub fn finish(mut self) -> JobParts {
        if let Some(begun) = self.line {
            let is_last_bracket = self.has_ended && self.ends == (b'}', b'}');
            if !is_last_bracket {
                // The last line of a file that breaks off may still be whole.
                if self.ends == (b'{', b'}') {
                    self.at += 1;
                    self.end_line(begun);
                }
                self.parts.is_torn = true;
            }
        } else {
            self.parts.job = self.at;
        }
        self.parts
    }
}

/// Returns which photos a file lacks, of those that its job names.
///
/// ```
/// use evenhand_core::job::{PhotoHash, missing_photos};
///
/// let (a, b) = (PhotoHash::of(b"a"), PhotoHash::of(b"b"));
/// assert_eq!(missing_photos([a, b, a], &[b]), [a]);
/// ```
pub fn missing_photos(
    named: impl IntoIterator<Item = PhotoHash>,
    there: &[PhotoHash],
) -> Vec<PhotoHash> {
    let mut missing: Vec<PhotoHash> = named.into_iter().collect();
    missing.sort_unstable();
    missing.dedup();
    missing.retain(|hash| !there.contains(hash));
    missing
}
