//! Opening a job file, whose bytes are not trusted.

use std::collections::HashMap;

use serde_json::error::Category;
use serde_json::value::RawValue;

use super::super::raw::{Quotes, compact};
use super::super::{Entry, EntryError, EntryKind, Job, JobId, ReplicaId};
use super::changed::changed_outside;
use super::top_level::TopLevel;
use super::{Checksum, Conclusions, FORMAT, FileError, MAX_BYTES, MAX_ENTRIES, VERSION};

/// The deepest nesting that is parsed; a job file needs nine.
const MAX_DEPTH: usize = 32;
/// The longest entry that is parsed, in bytes; a long remark has a few hundred.
const MAX_ENTRY_BYTES: usize = 1 << 20;
/// After this many unreadable entries the rest of the log is only counted.
const MAX_UNREADABLE: usize = 10_000;
/// The largest number of entries with a notice of their own.
const MAX_NAMED: usize = 5;
/// The largest accepted gap between consecutive clocks or sequence numbers.
const MAX_GAP: u64 = 1 << 32;

/// The content of an opened job file, with notices for the technician.
///
/// The default is an empty log without notices. The example shows a file without
/// problems; see [`Opening`] for the steps.
///
/// ```
/// use evenhand_core::job::{Conclusions, EntryKind, Job, JobId, Opening, ReplicaId, write_file};
///
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 1_000, EntryKind::Made { job: JobId::new(1) }));
/// let file = write_file(&job, 2_000, Conclusions::default());
///
/// let mut opening = Opening::begin(file.as_bytes())?;
/// while opening.read_on(64 << 10) {}
/// let opened = opening.finish(|_, _| Conclusions::default())?;
/// assert_eq!(opened.id, Some(JobId::new(1)));
/// assert_eq!(opened.entries, job.log().entries());
/// assert!(opened.notices.is_empty());
/// # Ok::<(), evenhand_core::job::FileError>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Opened {
    /// The id of the job: the one that the file names, otherwise that of its [`EntryKind::Made`]. `None` if it has neither.
    pub id: Option<JobId>,
    /// The readable entries in log order, each id once.
    pub entries: Vec<Entry>,
    /// Records that could not be read where the file was written, as they were.
    pub set_aside: Vec<String>,
    /// Notices for the technician, a sentence each: unreadable entries, entries of a newer
    /// kind, a checksum mismatch, parts changed outside Evenhand.
    pub notices: Vec<String>,
}

/// The log parsed so far. Parsing entry by entry keeps memory in proportion to the bytes of the file.
#[derive(Default)]
struct LogIn {
    entries: Vec<Entry>,
    checksum: Checksum,
    unreadable: usize,
    named: Vec<(usize, EntryError)>,
    /// The number of entries seen, readable or not.
    count: usize,
}

/// A job file that is being opened, a part at a time, so that the screen can update in between.
///
/// [`Opening::begin`] scans the file, [`Opening::read_on`] parses some entries, and
/// [`Opening::finish`] merges them and checks the readable parts.
///
/// ```
/// use evenhand_core::job::{Conclusions, Job, Opening, write_file};
///
/// let file = write_file(&Job::new(), 0, Conclusions::default());
/// let mut opening = Opening::begin(file.as_bytes())?;
/// assert!(!opening.read_on(1_000));
/// let opened = opening.finish(|_, _| Conclusions::default())?;
/// assert!(opened.entries.is_empty());
/// # Ok::<(), evenhand_core::job::FileError>(())
/// ```
pub struct Opening<'a> {
    top_level: TopLevel<'a>,
    log: LogIn,
    /// The text of the log from its first bracket.
    text: &'a str,
    /// The number of bytes of `text` parsed so far.
    at: usize,
}

impl<'a> Opening<'a> {
    /// Begins to open a file.
    ///
    /// # Errors
    /// Returns a [`FileError`] if it is over [`MAX_BYTES`], empty, cut off, not UTF-8, not JSON, nested too
    /// deep, not a job file, or one of a newer version.
    pub fn begin(bytes: &'a [u8]) -> Result<Opening<'a>, FileError> {
        let text = text_of(bytes)?;
        if !text.trim_start().starts_with('{') {
            return Err(FileError::Foreign);
        }
        let top_level: TopLevel<'_> =
            serde_json::from_str(text).map_err(|e| foreign_or_broken(text, &e))?;
        match (top_level.format.as_deref(), top_level.version) {
            (Some(FORMAT), Some(1..=VERSION)) => {}
            (Some(FORMAT), Some(newer @ 1..)) => return Err(FileError::Newer(newer)),
            _ => return Err(FileError::Foreign),
        }
        Ok(Opening {
            text: top_level.log().ok_or(FileError::Foreign)?,
            at: 1,
            log: LogIn::default(),
            top_level,
        })
    }

    /// Parses entries until about `bytes` more are consumed. Returns `false` at the end of the log, or once it
    /// has more than [`MAX_ENTRIES`].
    pub fn read_on(&mut self, bytes: usize) -> bool {
        let until = self.at + bytes;
        while self.at < until {
            if self.log.count > MAX_ENTRIES {
                return false;
            }
            let Some((raw, end)) = next_item(self.text, self.at) else {
                return false;
            };
            self.at = end;
            self.log.take(raw);
        }
        true
    }

    /// Returns how much of the log was parsed, 0 to 100 percent.
    pub fn percent(&self) -> usize {
        self.at * 100 / self.text.len()
    }

    /// Returns the content of the file. Call it once [`Opening::read_on`] has returned `false`.
    ///
    /// `conclude` computes the results of analysis for the job at a wall time (milliseconds
    /// since 1970, UTC); they are compared with the readable parts of the file.
    ///
    /// # Errors
    /// Returns [`FileError::TooMany`] if the log or what could not be read has more than [`MAX_ENTRIES`], and [`FileError::OtherJob`] if
    /// it has more than one [`EntryKind::Made`], or one of another job than the file names.
    pub fn finish(
        self,
        conclude: impl FnOnce(&Job, i64) -> Conclusions,
    ) -> Result<Opened, FileError> {
        let Opening { top_level, log, .. } = self;
        let records = top_level.set_aside();
        if log.count.max(records.len()) > MAX_ENTRIES {
            return Err(FileError::TooMany);
        }
        let fits = top_level.log_sha256() == Some(log.checksum.finish());
        let mut notices = unreadable(log.unreadable, &log.named);
        notices.extend(set_aside(records.len()));
        let read = without_gaps(log.entries, &mut notices);
        notices.extend(unknown(&read));
        if !fits {
            notices.push("This file was edited outside Evenhand. Check the readings.".to_owned());
        }
        let mut job = Job::new();
        let merged = job.merge(read);
        if !merged.differing.is_empty() {
            notices.push(match merged.differing.len() {
                1 => "1 record is in the file twice with different content. The first was kept.".to_owned(),
                n => format!("{n} records are in the file twice with different content. The first of each was kept."),
            });
        }
        let named = top_level.id().or(job.state().id());
        if let Some(id) = named {
            job = job.with_id(id);
        }
        let mut made = job.log().entries().iter().filter_map(Entry::made);
        if made.next().is_some_and(|of| Some(of) != named) || made.next().is_some() {
            return Err(FileError::OtherJob);
        }
        notices.extend(changed_outside(&top_level, &job, conclude));
        Ok(Opened {
            id: named,
            entries: job.into_log().into_entries(),
            set_aside: records,
            notices,
        })
    }
}

/// Returns the next item of a JSON list, searched from byte `from`, and the byte after it; `None` at the
/// end. The list must be valid JSON.
fn next_item(list: &str, from: usize) -> Option<(&str, usize)> {
    let rest = list.get(from..)?;
    let rest = rest.trim_start_matches([' ', '\t', '\r', '\n', ',']);
    let mut items = serde_json::Deserializer::from_str(rest).into_iter::<&RawValue>();
    // After the last item, the closing bracket is not a valid item.
    let item = items.next()?.ok()?;
    Some((item.get(), list.len() - rest.len() + items.byte_offset()))
}

/// Returns “1 record”, “2 records”.
fn entries(count: usize) -> String {
    match count {
        1 => "1 record".to_owned(),
        n => format!("{n} records"),
    }
}

/// Returns the notices about unreadable entries.
fn unreadable(count: usize, named: &[(usize, EntryError)]) -> Vec<String> {
    let mut notices: Vec<String> = named
        .iter()
        .map(|(at, error)| {
            format!("Record {at} of the file was left out: {error}. The others were kept.")
        })
        .collect();
    if count > named.len() {
        let more = entries(count - named.len());
        notices.push(format!("{more} more cannot be read and were left out."));
    }
    notices
}

/// Returns the notice that the file is not the whole job, or `None` if its writer could read all that it had.
fn set_aside(records: usize) -> Option<String> {
    let records = match records {
        0 => return None,
        1 => "1 record".to_owned(),
        n => format!("{n} records"),
    };
    Some(format!(
        "This file is not the whole job: where it was written, {records} could not be read. They are kept as they were, and passed on."
    ))
}

/// Returns the notice about entries of an unknown kind, or `None` if there are none.
///
/// ```
/// use evenhand_core::job::{Entry, unknown};
///
/// let line = r#"{"act":"tuned","at_ms":0,"clock":1,"device":"0000000000000007","seq":1}"#;
/// assert!(unknown(&[Entry::from_line(line)?]).is_some());
/// assert_eq!(unknown(&[]), None);
/// # Ok::<(), evenhand_core::job::EntryError>(())
/// ```
pub fn unknown(all: &[Entry]) -> Option<String> {
    let is_unknown = |e: &&Entry| matches!(e.kind, EntryKind::Unknown(_));
    match all.iter().filter(is_unknown).count() {
        0 => None,
        n => Some(format!(
            "{} of a kind that this version of Evenhand does not know, or too long: kept and passed on, but not shown.",
            entries(n)
        )),
    }
}

/// Removes entries whose clock or sequence number is more than [`MAX_GAP`] above all others, with a
/// notice. Kept, they would force every later clock of the job close to the largest possible one.
fn without_gaps(all: Vec<Entry>, notices: &mut Vec<String>) -> Vec<Entry> {
    let mut clocks: Vec<u64> = all.iter().map(|e| e.clock).collect();
    let mut seqs: HashMap<ReplicaId, Vec<u64>> = HashMap::new();
    for entry in &all {
        seqs.entry(entry.id.replica).or_default().push(entry.id.seq);
    }
    let last_clock = last_before_gap(&mut clocks);
    let last_seq: HashMap<ReplicaId, u64> = seqs
        .into_iter()
        .map(|(replica, mut seqs)| (replica, last_before_gap(&mut seqs)))
        .collect();
    let is_before_gap = |e: &Entry| {
        let last_seq = last_seq.get(&e.id.replica);
        e.clock <= last_clock && last_seq.is_some_and(|last| e.id.seq <= *last)
    };
    let (kept, removed): (Vec<Entry>, Vec<Entry>) = all.into_iter().partition(is_before_gap);
    if !removed.is_empty() {
        notices.push(format!(
            "{} left out: a clock or number far beyond any real work. The others were kept.",
            entries(removed.len())
        ));
    }
    kept
}

/// Returns the largest count before the first gap above [`MAX_GAP`].
fn last_before_gap(counts: &mut [u64]) -> u64 {
    counts.sort_unstable();
    let mut last = 0;
    for &count in counts.iter() {
        if count - last > MAX_GAP {
            break;
        }
        last = count;
    }
    last
}

impl LogIn {
    /// Parses one entry and adds it to the checksum.
    fn take(&mut self, raw: &str) {
        self.count += 1;
        if self.unreadable >= MAX_UNREADABLE {
            self.unreadable += 1;
            return;
        }
        let line = compact(raw);
        self.checksum.add(&line);
        let read = if line.len() > MAX_ENTRY_BYTES {
            Err(EntryError("it is longer than any record"))
        } else {
            Entry::from_line(&line)
        };
        match read {
            Ok(entry) => self.entries.push(entry),
            Err(error) => {
                self.unreadable += 1;
                if self.named.len() < MAX_NAMED {
                    let at = self.entries.len() + self.unreadable;
                    self.named.push((at, error));
                }
            }
        }
    }
}

/// Returns the file as text, without a byte-order mark. Fails outside the limits of size and nesting.
fn text_of(bytes: &[u8]) -> Result<&str, FileError> {
    if bytes.len() > MAX_BYTES {
        return Err(FileError::TooLarge(bytes.len()));
    }
    let text = std::str::from_utf8(bytes).map_err(|e| match e.error_len() {
        // The last character is incomplete.
        None => FileError::Truncated,
        Some(_) => FileError::NotText(e.valid_up_to() + 1),
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(FileError::Empty);
    }
    if depth(text) > MAX_DEPTH {
        return Err(FileError::TooDeep);
    }
    Ok(text)
}

/// Returns the deepest nesting of brackets outside strings.
fn depth(text: &str) -> usize {
    let mut quotes = Quotes::default();
    let (mut depth, mut max_depth) = (0usize, 0);
    for byte in text.bytes() {
        match byte {
            _ if quotes.hold(byte) => {}
            b'[' | b'{' => {
                depth += 1;
                max_depth = max_depth.max(depth);
            }
            b']' | b'}' => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    max_depth
}

/// Returns why a text that begins as an object is not a job file.
fn foreign_or_broken(text: &str, error: &serde_json::Error) -> FileError {
    match error.classify() {
        Category::Eof => FileError::Truncated,
        Category::Data => FileError::Foreign,
        _ if is_in_last_number(text, error) => FileError::Truncated,
        _ => FileError::NotJson {
            line: error.line(),
            column: error.column(),
        },
    }
}

/// Returns `true` if the text ends inside a number and the error is there: serde_json reports an invalid
/// number for what is a cut-off file.
fn is_in_last_number(text: &str, error: &serde_json::Error) -> bool {
    let lines = text.bytes().filter(|b| *b == b'\n').count();
    let last = text.rsplit('\n').next().unwrap_or_default();
    text.ends_with(['-', '+', '.', 'e', 'E'])
        && error.line() == lines + 1
        && error.column() >= last.len()
}
