//! The job file as it is read: somebody else's bytes.

use std::collections::HashMap;

use serde_json::error::Category;
use serde_json::value::RawValue;

use super::super::raw::{Quotes, compact};
use super::super::{Entry, EntryError, EntryKind, Job, JobId, ReplicaId};
use super::changed::changed_outside;
use super::shell::Shell;
use super::{Checksum, Conclusions, FORMAT, FileError, MAX_BYTES, MAX_ENTRIES, VERSION};

/// The deepest nesting that is read; a job file needs nine.
const MAX_DEPTH: usize = 32;
/// The longest entry that is read, in bytes; a long remark has some hundreds.
const MAX_ENTRY_BYTES: usize = 1 << 20;
/// The most entries that cannot be read before the rest of such a log is only counted.
const MAX_UNREADABLE: usize = 10_000;
/// The most entries that are named one by one in the notices.
const MAX_NAMED: usize = 5;
/// A clock or number this far past the one before it was not counted up by work.
const MAX_GAP: u64 = 1 << 32;

/// What opening a file found.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Opened {
    /// The job's random number, where the log has it.
    pub id: Option<JobId>,
    /// The entries that can be read, in their order, each once.
    pub entries: Vec<Entry>,
    /// What to tell the technician, a sentence each: entries that cannot be read,
    /// entries of a newer kind, a checksum that does not fit, parts changed outside Evenhand.
    pub notices: Vec<String>,
}

/// The log as it is read, entry by entry, so that a file cannot make more of itself in memory than it has bytes.
#[derive(Default)]
struct LogIn {
    entries: Vec<Entry>,
    checksum: Checksum,
    unreadable: usize,
    named: Vec<(usize, EntryError)>,
    /// How many were read of whatever kind.
    count: usize,
}

/// A job file that is being read, a part at a time, so that whoever shows a screen can do so meanwhile.
///
/// Beginning takes a look at every byte, each part reads some entries, and the end lays them into a job.
pub struct Opening<'a> {
    shell: Shell<'a>,
    log: LogIn,
    /// The log from its first bracket, and how far it was read.
    text: &'a str,
    at: usize,
}

impl<'a> Opening<'a> {
    /// Begins to read a file.
    ///
    /// # Errors
    /// [`FileError`], where it is no job file that can be read to its end.
    pub fn begin(bytes: &'a [u8]) -> Result<Opening<'a>, FileError> {
        let text = text_of(bytes)?;
        if !text.trim_start().starts_with('{') {
            return Err(FileError::Foreign);
        }
        let shell: Shell<'_> =
            serde_json::from_str(text).map_err(|e| foreign_or_broken(text, &e))?;
        match (shell.format.as_deref(), shell.version) {
            (Some(FORMAT), Some(1..=VERSION)) => {}
            (Some(FORMAT), Some(newer @ 1..)) => return Err(FileError::Newer(newer)),
            _ => return Err(FileError::Foreign),
        }
        Ok(Opening {
            text: shell.log().ok_or(FileError::Foreign)?,
            at: 1,
            log: LogIn::default(),
            shell,
        })
    }

    /// Reads the entries of about so many bytes more; whether there are others after them that count.
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

    /// How much of the log was read, in hundredths.
    pub fn percent(&self) -> usize {
        self.at * 100 / self.text.len()
    }

    /// Returns what was found, once all was read.
    ///
    /// `conclude` computes what stands in the readable parts of a job's file at a wall time (milliseconds
    /// since 1970, UTC), to compare it with what the file says.
    ///
    /// # Errors
    /// [`FileError::TooMany`].
    pub fn finish(
        self,
        conclude: impl FnOnce(&Job, i64) -> Conclusions,
    ) -> Result<Opened, FileError> {
        let Opening { shell, log, .. } = self;
        if log.count > MAX_ENTRIES {
            return Err(FileError::TooMany);
        }
        let fits = shell.log_sha256() == Some(log.checksum.finish());
        let mut notices = unreadable(log.unreadable, &log.named);
        let read = without_leaps(log.entries, &mut notices);
        notices.extend(unknown(&read));
        if !fits {
            notices.push(
                "The checksum does not fit the entries: the file was changed outside Evenhand. Look the readings over."
                    .to_owned(),
            );
        }
        let mut job = Job::new();
        let merged = job.merge(read);
        if !merged.differing.is_empty() {
            notices.push(match merged.differing.len() {
                1 => "1 entry stands in the file twice with different content. The first was kept.".to_owned(),
                n => format!("{n} entries stand in the file twice with different content. The first of each was kept."),
            });
        }
        notices.extend(changed_outside(&shell, &job, conclude));
        Ok(Opened {
            id: job.state().id(),
            entries: job.into_log().into_entries(),
            notices,
        })
    }
}

/// The next item of a list in JSON that is known to be well formed, from this place on, and where it ends.
fn next_item(list: &str, from: usize) -> Option<(&str, usize)> {
    let rest = list.get(from..)?;
    let rest = rest.trim_start_matches([' ', '\t', '\r', '\n', ',']);
    let mut items = serde_json::Deserializer::from_str(rest).into_iter::<&RawValue>();
    // After the last item stands a bracket, which is none.
    let item = items.next()?.ok()?;
    Some((item.get(), list.len() - rest.len() + items.byte_offset()))
}

/// “1 entry”, “2 entries”.
fn entries(count: usize) -> String {
    match count {
        1 => "1 entry".to_owned(),
        n => format!("{n} entries"),
    }
}

fn unreadable(count: usize, named: &[(usize, EntryError)]) -> Vec<String> {
    let mut notices: Vec<String> = named
        .iter()
        .map(|(at, error)| {
            format!("Entry {at} of the file was left out: {error}. The others were kept.")
        })
        .collect();
    if count > named.len() {
        let more = entries(count - named.len());
        notices.push(format!("{more} more cannot be read and were left out."));
    }
    notices
}

fn unknown(all: &[Entry]) -> Option<String> {
    let is_unknown = |e: &&Entry| matches!(e.kind, EntryKind::Unknown(_));
    match all.iter().filter(is_unknown).count() {
        0 => None,
        n => Some(format!(
            "{} of a kind that this Evenhand does not know: kept and passed on, but not shown.",
            entries(n)
        )),
    }
}

/// Leaves out entries whose clock or number leaps far past all that came before: they would
/// drag every later entry of the job behind them to the end of what can be counted.
fn without_leaps(all: Vec<Entry>, notices: &mut Vec<String>) -> Vec<Entry> {
    let mut clocks: Vec<u64> = all.iter().map(|e| e.clock).collect();
    let mut seqs: HashMap<ReplicaId, Vec<u64>> = HashMap::new();
    for entry in &all {
        seqs.entry(entry.id.replica).or_default().push(entry.id.seq);
    }
    let last_clock = before_leap(&mut clocks);
    let last_seq: HashMap<ReplicaId, u64> = seqs
        .into_iter()
        .map(|(replica, mut seqs)| (replica, before_leap(&mut seqs)))
        .collect();
    let counted = |e: &Entry| {
        let last_seq = last_seq.get(&e.id.replica);
        e.clock <= last_clock && last_seq.is_some_and(|last| e.id.seq <= *last)
    };
    let (kept, leapt): (Vec<Entry>, Vec<Entry>) = all.into_iter().partition(counted);
    if !leapt.is_empty() {
        notices.push(format!(
            "{} left out: the clock or number is far past any work. The others were kept.",
            entries(leapt.len())
        ));
    }
    kept
}

/// The last count before the first leap.
fn before_leap(counts: &mut [u64]) -> u64 {
    counts.sort();
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
    fn take(&mut self, raw: &str) {
        self.count += 1;
        if self.unreadable >= MAX_UNREADABLE {
            self.unreadable += 1;
            return;
        }
        let line = compact(raw);
        self.checksum.add(&line);
        let read = if line.len() > MAX_ENTRY_BYTES {
            Err(EntryError("it is longer than any entry"))
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

/// The file as text, within the limits.
fn text_of(bytes: &[u8]) -> Result<&str, FileError> {
    if bytes.len() > MAX_BYTES {
        return Err(FileError::TooLarge(bytes.len()));
    }
    let text = std::str::from_utf8(bytes).map_err(|e| match e.error_len() {
        // The last letter is cut in two.
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

/// How deep brackets nest, strings aside.
fn depth(text: &str) -> usize {
    let mut quotes = Quotes::default();
    let (mut depth, mut deepest) = (0usize, 0);
    for byte in text.bytes() {
        match byte {
            _ if quotes.hold(byte) => {}
            b'[' | b'{' => {
                depth += 1;
                deepest = deepest.max(depth);
            }
            b']' | b'}' => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    deepest
}

/// Why a text that begins as an object is not read as a job file.
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

/// Whether the text ends in the midst of a number, and the error lies there: serde_json tells of a
/// wrong number, where the end is missing.
fn is_in_last_number(text: &str, error: &serde_json::Error) -> bool {
    let lines = text.bytes().filter(|b| *b == b'\n').count();
    let last = text.rsplit('\n').next().unwrap_or_default();
    text.ends_with(['-', '+', '.', 'e', 'E'])
        && error.line() == lines + 1
        && error.column() >= last.len()
}
