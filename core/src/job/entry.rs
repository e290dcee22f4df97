//! One entry of the log: what was done, by which device, when.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::value::{RawValue, to_raw_value, to_value};

use super::details::{Details, OwnStep, Setup};
use super::id::{EntryError, JobId, ReplicaId};
use super::raw::{RawFields, Text, UnknownFields};
use crate::note::{Note, Sections};
use crate::trade::{MeasureId, Occasion, Place, StepId, Target};
use crate::unit::{Length, Turns, Value};

/// The name of an entry: which device made it, and its number there.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntryId {
    /// The replica that made it.
    #[serde(rename = "device")]
    pub replica: ReplicaId,
    /// Its number on that device, from 1.
    pub seq: u64,
}

/// The place of an entry in the order of all: logical clock, then device, then number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct LogPosition {
    /// The Lamport clock.
    pub clock: u64,
    /// The entry.
    pub id: EntryId,
}

/// What a record was taken on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// The whole action or instrument.
    Whole,
    /// A section, from 0 in the bass, at most 7; a higher number counts as 7.
    #[serde(deserialize_with = "section")]
    Section(u8),
    /// A note.
    Note(Note),
}

/// Reads a section, 0 to 7.
fn section<'de, D: Deserializer<'de>>(from: D) -> Result<u8, D::Error> {
    match u8::deserialize(from)? {
        section if usize::from(section) < Sections::MAX => Ok(section),
        _ => Err(D::Error::custom("a section is 0 to 7")),
    }
}

impl Subject {
    /// How many subjects there can be: the whole, the sections, the notes.
    pub(super) const COUNT: usize = 1 + Sections::MAX + Note::COUNT;

    pub(super) const fn index(self) -> usize {
        match self {
            Subject::Whole => 0,
            Subject::Section(s) if (s as usize) < Sections::MAX => 1 + s as usize,
            Subject::Section(_) => Sections::MAX,
            Subject::Note(n) => 1 + Sections::MAX + n.index(),
        }
    }

    /// In words, as a report names it: `Whole action`, `Section 1`, `Note 49 (A4)`.
    pub fn words(self) -> String {
        match self {
            Subject::Whole => "Whole action".to_owned(),
            Subject::Section(s) => format!("Section {}", s + 1),
            Subject::Note(n) => format!("Note {} ({n})", n.number()),
        }
    }

    /// The note, where it is one.
    pub const fn note(self) -> Option<Note> {
        match self {
            Subject::Note(n) => Some(n),
            _ => None,
        }
    }
}

/// What was done to move a reading.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Correction {
    /// Turned so many 64ths; the sign is that of the change wanted in the reading.
    #[serde(rename = "turned_64ths")]
    Turned(Turns),
    /// Papers put in (positive) or taken out (negative), each in nanometers.
    #[serde(rename = "papers_nm")]
    Papers(Vec<Length>),
    /// Bent, eased or set by eye.
    ByEye,
}

/// How far a target reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// The whole job.
    Job,
    /// One section, from 0 in the bass.
    #[serde(deserialize_with = "section")]
    Section(u8),
    /// One note.
    Note(Note),
}

/// One thing that the technician did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "snake_case", deny_unknown_fields)]
pub enum EntryKind {
    /// The job was made.
    Made {
        /// Its random number.
        job: JobId,
    },
    /// What the job is called and for whom; each field given replaces the earlier one.
    Details {
        /// The fields that changed.
        set: Box<Details>,
    },
    /// What the instrument is like; each field given replaces the earlier one.
    Setup {
        /// The fields that changed.
        set: Box<Setup>,
    },
    /// A reading or a mark.
    Reading {
        /// What was read.
        measure: MeasureId,
        /// On which note, section or whole.
        on: Subject,
        /// Where the action was.
        place: Place,
        /// As found, working or as left.
        occasion: Occasion,
        /// The value, in whole small units.
        value: Value,
        /// What was typed or tapped for it.
        typed: String,
        /// The readings that were in force when it was taken, whose place it takes.
        #[serde(rename = "over", default, skip_serializing_if = "Vec::is_empty")]
        supersedes: Vec<EntryId>,
    },
    /// An adjustment made.
    Correction {
        /// The reading that it moves.
        measure: MeasureId,
        /// On which note, section or whole.
        on: Subject,
        /// Where the action was.
        place: Place,
        /// What was done.
        made: Correction,
    },
    /// A target changed; without one, back to the wider target.
    Target {
        /// Whose target.
        measure: MeasureId,
        /// For the job, a section or a note.
        scope: Scope,
        /// The new target.
        target: Option<Target>,
    },
    /// A cure began.
    WaitStarted {
        /// The step that cures.
        step: StepId,
        /// For how long, in minutes.
        minutes: u32,
    },
    /// A cure was ended before its time.
    WaitEnded {
        /// The step that cured.
        step: StepId,
        /// Why.
        reason: String,
    },
    /// A remark or a fault noted.
    Remark {
        /// On what.
        on: Subject,
        /// At which step, if at one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        step: Option<StepId>,
        /// Whether it is a fault that stays open.
        fault: bool,
        /// The words.
        text: String,
    },
    /// A fault that was noted has been mended, or settled otherwise: it is open no longer.
    #[serde(rename = "fault_mended")]
    FaultFixed {
        /// The entry of the fault.
        fault: EntryId,
        /// How, or why it needs nothing more; may be empty.
        how: String,
    },
    /// The working time of a step so far, all in all, as the technician states it.
    MinutesStated {
        /// The step.
        step: StepId,
        /// Minutes, in the place of all that was counted or stated before.
        minutes: u32,
    },
    /// An earlier entry taken back.
    Undo {
        /// Which.
        entry: EntryId,
    },
    /// A pass of a step was opened: time runs.
    PassOpened {
        /// The step.
        step: StepId,
    },
    /// A pass of a step was closed.
    PassClosed {
        /// The step.
        step: StepId,
    },
    /// A step left out of the job, or taken back in.
    LeftOut {
        /// The step.
        step: StepId,
        /// `true` to leave it out.
        out: bool,
    },
    /// A step of the user's own.
    OwnStep {
        /// What it is.
        step: Box<OwnStep>,
    },
    /// The steps arranged anew.
    Arranged {
        /// The ids in their new order.
        steps: Vec<StepId>,
    },
    /// An entry of a kind that this version does not know, or whose fields it cannot
    /// read: kept and passed on as it came, never dropped.
    #[serde(skip)]
    Unknown(UnknownFields),
}

impl EntryKind {
    /// Whether undo should take it back: opening and closing a pass only notes the time.
    pub fn can_be_undone(&self) -> bool {
        // Who works on the device is said beside the work, and not undone with it.
        let signs = |set: &Details| {
            let technician = set.technician.clone();
            *set == Details {
                technician,
                ..Details::default()
            }
        };
        !matches!(self, EntryKind::Details { set } if signs(set))
            && !matches!(
                self,
                EntryKind::Made { .. }
                    | EntryKind::Undo { .. }
                    | EntryKind::PassOpened { .. }
                    | EntryKind::PassClosed { .. }
                    | EntryKind::Unknown(_)
            )
    }
}

/// One entry of the log.
///
/// In JSON it is one flat object: the act's fields beside `act`, `device`,
/// `seq`, `clock` and `at_ms`.
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// Its name.
    pub id: EntryId,
    /// The Lamport clock: one more than any that the device had seen.
    pub clock: u64,
    /// Wall time in milliseconds since 1970 (UTC), as the device told it.
    pub at_ms: i64,
    /// What was done.
    pub kind: EntryKind,
}

impl Entry {
    /// The largest clock and number: far past any job, and a whole number that JSON carries
    /// exactly (up to 2⁵³) everywhere. A job that stands there goes on there (see [`Log::next_clock`]).
    ///
    /// [`Log::next_clock`]: super::Log::next_clock
    pub const MAX: u64 = 1 << 52;
    /// The largest wall time that is read: the last millisecond of a browser's calendar.
    pub const LAST_MS: i64 = 8_640_000_000_000_000;

    /// Its place in the order of all entries.
    pub const fn position(&self) -> LogPosition {
        LogPosition {
            clock: self.clock,
            id: self.id,
        }
    }

    /// One line of JSON with its keys in alphabetical order and no spaces:
    /// what is stored, and what the checksum of a job file is taken over.
    pub fn to_line(&self) -> String {
        Box::<str>::from(self.to_raw()).into_string()
    }

    /// Returns the line as a part of a larger text.
    pub(super) fn to_raw(&self) -> Box<RawValue> {
        let head = Head {
            id: self.id,
            clock: self.clock,
            at_ms: self.at_ms,
        };
        let raw = match &self.kind {
            EntryKind::Unknown(fields) => {
                to_value(head).and_then(|head| to_raw_value(&fields.with(&head)))
            }
            // By way of a `Value`, whose fields are in alphabetical order as long as no library turns on serde_json's
            // `preserve_order`.
            act => to_value(Line { head, act }).and_then(|line| to_raw_value(&line)),
        };
        // An entry is an object of strings, numbers and lists, which cannot fail to be written.
        raw.unwrap_or_default()
    }

    /// Reads a line that [`Entry::to_line`] wrote.
    ///
    /// An act that is not understood is no error: it is kept as [`EntryKind::Unknown`]. So is one with a field
    /// that it does not have, or with a field that stands twice: which of the two was meant cannot be told.
    ///
    /// # Errors
    /// [`EntryError`] says what is wrong where it is not a JSON object, or has no usable name,
    /// clock or time.
    pub fn from_line(line: &str) -> Result<Entry, EntryError> {
        let mut fields: RawFields<'_> =
            serde_json::from_str(line).map_err(|_| EntryError("it is not a JSON object"))?;
        if fields.len() > MAX_FIELDS {
            return Err(EntryError("it has more fields than any entry"));
        }
        let head = Head::take(&mut fields)?;
        let act = match fields.read() {
            Ok(act) => act,
            Err(_) => EntryKind::Unknown(UnknownFields::keep(fields)),
        };
        Ok(Entry {
            id: head.id,
            clock: head.clock,
            at_ms: head.at_ms,
            kind: act,
        })
    }
}

/// The most fields that an entry of whatever kind has.
const MAX_FIELDS: usize = 1_000;

/// An entry as it is written.
#[derive(Serialize)]
struct Line<'a> {
    #[serde(flatten)]
    head: Head,
    #[serde(flatten)]
    act: &'a EntryKind,
}

/// What an entry has whatever was done.
#[derive(Serialize)]
struct Head {
    #[serde(flatten)]
    id: EntryId,
    clock: u64,
    at_ms: i64,
}

impl Head {
    /// Takes it out of the fields of an entry.
    fn take(fields: &mut RawFields<'_>) -> Result<Head, EntryError> {
        const NAMES: [&str; 4] = ["device", "seq", "clock", "at_ms"];
        let [replica, seq, clock, at_ms] = NAMES.map(|name| fields.take(name));
        if NAMES.iter().any(|name| fields.has(name)) {
            return Err(EntryError("its name, clock or time stands there twice"));
        }
        let replica: Text<'_> = read(replica).ok_or(EntryError("it names no device"))?;
        let replica = replica.0.parse()?;
        let count = |raw| read(raw).filter(|n| *n <= Entry::MAX);
        let seq = count(seq).ok_or(EntryError("its “seq” is not a whole number up to 2⁵²"))?;
        let clock =
            count(clock).ok_or(EntryError("its “clock” is not a whole number up to 2⁵²"))?;
        let at_ms = read(at_ms)
            .filter(|ms| (0..=Entry::LAST_MS).contains(ms))
            .ok_or(EntryError("its “at_ms” is not a time"))?;
        Ok(Head {
            id: EntryId { replica, seq },
            clock,
            at_ms,
        })
    }
}

/// Reads a field that has to be there.
fn read<'a, T: Deserialize<'a>>(raw: Option<&'a RawValue>) -> Option<T> {
    serde_json::from_str(raw?.get()).ok()
}
