//! One entry of the log: what was done, by which replica, when; and its line of JSON. The file is long
//! because one enum lists and documents every kind of entry.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::value::{RawValue, to_raw_value, to_value};

use super::day::WorkDay;
use super::details::{Details, OwnStep, Setup};
use super::id::{EntryError, JobId, ReplicaId};
use super::photo::{PhotoHash, Taken};
use super::raw::{RawFields, Text, UnknownFields};
use super::run::Run;
use super::swept_notes::SweptNotes;
use crate::note::{Note, Sections};
use crate::trade::{JobKind, MeasureId, Occasion, Place, StepId, Target};
use crate::unit::{Length, Turns, Value};

/// The unique id of an entry: the replica that made it, and its sequence number there.
///
/// It has no default. It compares by replica, then by sequence number, so that ids of one
/// replica sort in the order in which they were made; across replicas only
/// [`LogPosition`] tells which came first. In the job file it is an object with `device` and `seq`.
///
/// ```
/// use evenhand_core::job::{EntryId, ReplicaId};
///
/// let replica = ReplicaId::new(7);
/// let (first, second) = (EntryId { replica, seq: 1 }, EntryId { replica, seq: 2 });
/// assert!(first < second);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntryId {
    /// The replica that made it.
    #[serde(rename = "device")]
    pub replica: ReplicaId,
    /// The sequence number on that replica, counted from 1, at most [`Entry::MAX`].
    pub seq: u64,
}

/// The position of an entry in the log.
///
/// Positions compare by time, then clock, then replica, then sequence number. The order is total, and
/// the same on every device that has the same entries. No default. The log gives each entry its position
/// ([`Log::position`](super::Log::position)), because its time depends on the others.
///
/// **Rule**: hybrid logical clocks, with the Lamport clock as the counter and the replica as the tie-break. The time is
/// the wall time, but never before what the writer knew.
///
/// ```
/// use evenhand_core::job::{EntryId, LogPosition, ReplicaId};
///
/// let at = |ms, clock, replica, seq| LogPosition {
///     ms,
///     clock,
///     id: EntryId { replica: ReplicaId::new(replica), seq },
/// };
/// assert!(at(1_000, 9, 9, 5) < at(2_000, 1, 3, 1));
/// assert!(at(1_000, 1, 9, 5) < at(1_000, 2, 3, 1));
/// assert!(at(1_000, 2, 3, 9) < at(1_000, 2, 4, 1));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct LogPosition {
    /// The time that ranks it, in milliseconds since 1970 (UTC): never before what its writer knew.
    pub ms: i64,
    /// The Lamport clock, at most [`Entry::MAX`].
    pub clock: u64,
    /// The id of the entry.
    pub id: EntryId,
}

/// What the writer of an entry knew of other clocks, where its own wall time does not say it.
///
/// It has no default and no order. Most entries have none: their wall time is later than that of every entry in
/// their copy of the job. In the job file it is the field `knew`.
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
///
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(1), 3_600_000, EntryKind::Made { job: JobId::new(1) }));
/// // The clock of a second phone stands an hour back.
/// let entry = job.draft(ReplicaId::new(2), 0, EntryKind::Arranged { steps: Vec::new() });
/// assert_eq!(entry.knew.as_ref().map(|k| k.ms), Some(3_600_000));
/// job.apply(entry.clone());
/// assert_eq!(job.log().last(), Some(&entry));
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Knew {
    /// The latest own time among the entries that it knew, in milliseconds since 1970 (UTC), 0 to
    /// [`Entry::LAST_MS`]. What is more than a day after the wall time of the entry does not count.
    pub ms: i64,
    /// Entries whose time was more than a day ahead of the writer's clock, the last of each replica. They were there,
    /// so they and those that their replica wrote before count as made when this entry was.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ahead: Vec<EntryId>,
}

impl Knew {
    /// Returns `true` if the time can be stored.
    pub(super) fn is_valid(&self) -> bool {
        (0..=Entry::LAST_MS).contains(&self.ms)
    }
}

/// What a record is about: the whole action, a section or a note.
///
/// It has no default. The whole compares less than any section, and a section less than any
/// note; sections and notes compare from the bass up. In the job file it is `"whole"`,
/// `{"section": 0}` or `{"note": 49}`.
///
/// ```
/// use evenhand_core::job::Subject;
/// use evenhand_core::note::Note;
///
/// let a4 = Subject::Note(Note::new(49)?);
/// assert_eq!(a4.words(), "Note 49 (A4)");
/// assert_eq!(Subject::Section(0).words(), "Section 1");
/// assert!(Subject::Whole < Subject::Section(0) && Subject::Section(0) < a4);
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Subject {
    /// The whole action or instrument.
    Whole,
    /// A section, 0 (bass) to 7. A higher number counts as 7 in memory and is an error in a file.
    #[serde(deserialize_with = "section")]
    Section(u8),
    /// A note.
    Note(Note),
}

/// Deserializes a section. Fails outside 0 to 7.
fn section<'de, D: Deserializer<'de>>(from: D) -> Result<u8, D::Error> {
    match u8::deserialize(from)? {
        section if usize::from(section) < Sections::MAX => Ok(section),
        _ => Err(D::Error::custom("a section is 0 to 7")),
    }
}

impl Subject {
    /// The number of possible subjects: the whole, the sections, the notes.
    pub(super) const COUNT: usize = 1 + Sections::MAX + Note::COUNT;

    /// Returns every possible subject: the whole, the sections, the notes.
    pub(super) fn all() -> impl Iterator<Item = Subject> {
        let sections = (0..Sections::MAX as u8).map(Subject::Section);
        let notes = Note::all().map(Subject::Note);
        std::iter::once(Subject::Whole).chain(sections).chain(notes)
    }

    /// Returns the index into an array of [`Subject::COUNT`].
    pub(super) const fn index(self) -> usize {
        match self {
            Subject::Whole => 0,
            Subject::Section(s) if (s as usize) < Sections::MAX => 1 + s as usize,
            Subject::Section(_) => Sections::MAX,
            Subject::Note(n) => 1 + Sections::MAX + n.index(),
        }
    }

    /// Returns the words of a report: `Whole piano`, `Section 1`, `Note 49 (A4)`. Sections count from 1 here.
    pub fn words(self) -> String {
        match self {
            Subject::Whole => "Whole piano".to_owned(),
            Subject::Section(s) => format!("Section {}", s + 1),
            Subject::Note(n) => format!("Note {} ({n})", n.number()),
        }
    }

    /// Returns the note, or `None` for a section or the whole.
    pub const fn note(self) -> Option<Note> {
        match self {
            Subject::Note(n) => Some(n),
            _ => None,
        }
    }
}

/// What was done to move a reading.
///
/// It has no default. In the job file it is `{"turned_64ths": 16}`, `{"papers_nm": [130000]}`
/// or `"by_eye"`.
///
/// ```
/// use evenhand_core::job::Correction;
/// use evenhand_core::unit::Length;
///
/// let two_punchings = Correction::Punchings(vec![Length::from_mm_hundredths(13); 2]);
/// assert_ne!(two_punchings, Correction::ByEye);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Correction {
    /// An adjuster was turned, in 64ths of a turn; the sign is that of the change wanted in the reading.
    #[serde(rename = "turned_64ths")]
    Turned(Turns),
    /// The thickness of each punching put in (positive) or taken out (negative), in nanometers.
    #[serde(rename = "papers_nm")]
    Punchings(Vec<Length>),
    /// Bent, eased or set by eye: no amount is known.
    ByEye,
}

/// The scope of a target: the notes that it holds for.
///
/// It has no default. The job compares less than any section, and a section less than any
/// note. For a note, the target of the note itself takes precedence over that of its section, and that
/// over the one of the job ([`State::target`](super::State::target)). In the job file it is
/// `"job"`, `{"section": 0}` or `{"note": 49}`.
///
/// ```
/// use evenhand_core::job::Scope;
///
/// assert!(Scope::Job < Scope::Section(0) && Scope::Section(0) < Scope::Section(1));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// The whole job.
    Job,
    /// One section, 0 (bass) to 7.
    #[serde(deserialize_with = "section")]
    Section(u8),
    /// One note.
    Note(Note),
}

/// What an entry records: one thing that the technician did.
///
/// It has no default and no order. In the job file the kind is the field `act`, in snake case, with the
/// fields of the variant beside it; an unknown field or `act` makes the entry
/// [`EntryKind::Unknown`].
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, ReplicaId};
/// use evenhand_core::trade::StepId;
///
/// let step = StepId("let_off".into());
/// let stated = EntryKind::MinutesStated { step, minutes: 45, worked: None, instead_of: None };
/// assert!(stated.can_be_undone());
/// let entry = Job::new().draft(ReplicaId::new(7), 1_000, stated);
/// assert!(entry.to_line().contains(r#""act":"minutes_stated""#));
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "act", rename_all = "snake_case", deny_unknown_fields)]
pub enum EntryKind {
    /// The job was created. The first such entry in the log names it.
    Made {
        /// The id of the job.
        job: JobId,
    },
    /// Details of the job changed; each field given replaces the earlier one.
    Details {
        /// The fields that changed.
        set: Box<Details>,
    },
    /// The setup of the instrument changed; each field given replaces the earlier one.
    Setup {
        /// The fields that changed.
        set: Box<Setup>,
    },
    /// A measure was taken, or a mark set.
    Reading {
        /// The measure.
        measure: MeasureId,
        /// The note, section or whole.
        on: Subject,
        /// The place of the action: on the bench or in the piano.
        place: Place,
        /// `AsFound` in the survey, `AsLeft` in the final check, otherwise `Working`.
        occasion: Occasion,
        /// The value, in whole small units such as nanometers.
        value: Value,
        /// What was typed or tapped for it, unchanged.
        typed: String,
    },
    /// An adjustment was made.
    Correction {
        /// The measure that it moves.
        measure: MeasureId,
        /// The note, section or whole.
        on: Subject,
        /// The place of the action: on the bench or in the piano.
        place: Place,
        /// What was done.
        made: Correction,
    },
    /// A target was set or withdrawn.
    Target {
        /// The measure.
        measure: MeasureId,
        /// The job, a section or a note.
        scope: Scope,
        /// The new target; `None` returns to the target of the wider scope.
        target: Option<Target>,
    },
    /// A row of notes was looked along and is on target or good, or was done in one stroke, less the exceptions. It
    /// takes the place of no reading: a measured note keeps its value.
    Swept {
        /// The measure.
        measure: MeasureId,
        /// The notes.
        notes: SweptNotes,
        /// On the bench or in the piano.
        place: Place,
        /// As found, as left or in between.
        occasion: Occasion,
    },
    /// A note was found out and not measured, to come back to; or such a mark was taken off. It takes the place of no
    /// reading: a measured note keeps its value.
    MarkedOut {
        /// The measure.
        measure: MeasureId,
        /// The note, section or whole.
        on: Subject,
        /// On the bench or in the piano.
        place: Place,
        /// As found, as left or in between.
        occasion: Occasion,
        /// `true` to mark it, `false` to take the mark off.
        out: bool,
    },
    /// A note was turned and not measured again, because what the turn does is known well there. It is no reading: until
    /// the note is measured, it counts as swept does, with what it should read.
    NotRemeasured {
        /// The measure.
        measure: MeasureId,
        /// The note.
        note: Note,
        /// On the bench or in the piano.
        place: Place,
        /// What it should read.
        expected_nm: Length,
    },
    /// Drying began.
    #[serde(rename = "wait_started")]
    DryingStarted {
        /// The step whose work is drying.
        step: StepId,
        /// The drying time in minutes.
        minutes: u32,
    },
    /// Drying was ended before its time.
    #[serde(rename = "wait_ended")]
    DryingEnded {
        /// The step whose work was drying.
        step: StepId,
        /// The reason, as typed.
        reason: String,
    },
    /// A remark or a fault was noted.
    Remark {
        /// The note, section or whole.
        on: Subject,
        /// The step during which it was noted, if any.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        step: Option<StepId>,
        /// `true` for a fault, which stays open until it is fixed.
        fault: bool,
        /// The text, as typed.
        text: String,
    },
    /// A fault that was open when an earlier job on the same instrument ended. It stays open here
    /// until it is fixed.
    FaultCarried {
        /// The note, section or whole.
        on: Subject,
        /// The text, as typed then.
        text: String,
        /// The job in which it was noted.
        from: JobId,
        /// The name of that job, if it had one.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from_name: Option<String>,
        /// Wall time at which it was noted, in milliseconds since 1970 (UTC).
        noted_at_ms: i64,
    },
    /// The text of a remark or a fault was changed; the latest text counts. An empty text withdraws it.
    RemarkChanged {
        /// The entry that noted it; no effect if it is not an earlier remark of the log.
        remark: EntryId,
        /// The new text, as typed.
        text: String,
    },
    /// A fault was fixed, or needs nothing more: it is no longer open.
    #[serde(rename = "fault_mended")]
    FaultFixed {
        /// The entry that noted the fault.
        fault: EntryId,
        /// How, or why it needs nothing more; may be empty.
        how: String,
    },
    /// The working time of a person on a day at a step was stated.
    ///
    /// The key of the statement is (`step`, `worked`): of two with the same key the later one is in effect.
    MinutesStated {
        /// The step.
        step: StepId,
        /// Minutes; they replace what was counted or stated before for the same key.
        minutes: u32,
        /// The day, and the one who did the work. `None`, as version 0.1 wrote it, stands for all days and
        /// persons so far: the minutes replace everything before at the step.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        worked: Option<WorkDay>,
        /// The day and person that the time stood under before, if one of them is corrected; nothing is
        /// left there.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        instead_of: Option<WorkDay>,
    },
    /// A photo was taken or chosen. Its bytes are stored by their hash, apart from the log, and before this entry.
    Photographed {
        /// The hash of its bytes.
        sha256: PhotoHash,
        /// The number of its bytes.
        bytes: u32,
        /// The note, section or whole.
        on: Subject,
        /// The step that it belongs to, if any.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        step: Option<StepId>,
        /// The entry that noted the fault that it shows, if any.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        fault: Option<EntryId>,
        /// Before the work, after it, or as it is.
        taken: Taken,
        /// The caption, as typed; may be empty.
        caption: String,
        /// The entry of the photo that this one takes the place of, where only its caption or time was changed, or a
        /// better one was taken.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        instead_of: Option<EntryId>,
    },
    /// An earlier entry was taken back. An undo of an undo restores the entry.
    Undo {
        /// The entry taken back; no effect if it is not earlier in the log.
        entry: EntryId,
    },
    /// A pass of a step was opened: working time is counted from here, once something is done in it.
    PassOpened {
        /// The step.
        step: StepId,
        /// How many minutes the clocks of the place are ahead of UTC, which tells the day of the work; the
        /// day of UTC if absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        utc_offset_minutes: Option<i16>,
    },
    /// A pass of a step was closed.
    PassClosed {
        /// The step.
        step: StepId,
    },
    /// The kind of the job was chosen: which steps are done in it, and where. Steps left out or put back by themselves
    /// stay so.
    KindChosen {
        /// The kind, whole: it may be one of the user's own.
        kind: Box<JobKind>,
    },
    /// A step was left out of the job, or put back.
    LeftOut {
        /// The step.
        step: StepId,
        /// `true` to leave it out, `false` to put it back.
        out: bool,
    },
    /// A step of the user's own was added or changed.
    OwnStep {
        /// The step; it replaces an earlier one of the same id.
        step: Box<OwnStep>,
    },
    /// The steps were put in another order.
    Arranged {
        /// The ids in the new order.
        steps: Vec<StepId>,
    },
    /// The job was archived, or taken out of the archive; nothing else about it changes.
    Archived {
        /// `true` to archive it, `false` to take it out.
        archived: bool,
    },
    /// A file was opened: the entries that came with it are one batch. An undo of this entry takes back every one of
    /// them that is before it in the log, other batches excepted, and an undo of that undo brings them back. Only the
    /// first 500 such entries of a log count.
    Opened {
        /// The entries, as sorted runs: at most [`Run::MAX`].
        entries: Vec<Run>,
    },
    /// An entry of a kind that this version does not know, or with fields that it cannot
    /// read. Kept and written back unchanged, never dropped.
    #[serde(skip)]
    Unknown(UnknownFields),
}

impl EntryKind {
    /// Returns the act that makes the new entries of a file one batch. `None` if there are none but batches of others.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
    ///
    /// let made = Job::new().draft(ReplicaId::new(7), 0, EntryKind::Made { job: JobId::new(1) });
    /// let opened = EntryKind::opened(&[made]).expect("one is new");
    /// assert_eq!(EntryKind::opened(&[Job::new().draft(ReplicaId::new(8), 0, opened)]), None);
    /// ```
    pub fn opened(new: &[Entry]) -> Option<EntryKind> {
        let is_batch = |e: &Entry| matches!(e.kind, EntryKind::Opened { .. });
        let ids = new.iter().map(|e| (e.id.replica, e.id.seq));
        (!new.iter().all(is_batch)).then(|| EntryKind::Opened {
            entries: Run::of(ids.collect()),
        })
    }

    /// Returns the entry with the seed of the sample of a new job that begins with these entries: drawn from its id. Returns
    /// `None` if they carry an earlier job, whose notes are measured again, or a seed or notes of their own.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, JobId, Setup};
    ///
    /// let drawn = EntryKind::sample_of(JobId::new(5), &[]);
    /// assert!(matches!(drawn, Some(EntryKind::Setup { set }) if set.sample_seed == Some(5)));
    /// let set = Box::new(Setup { sample_seed: Some(1), ..Setup::default() });
    /// assert_eq!(EntryKind::sample_of(JobId::new(5), &[EntryKind::Setup { set }]), None);
    /// ```
    pub fn sample_of(job: JobId, acts: &[EntryKind]) -> Option<EntryKind> {
        let is_settled = |act: &EntryKind| match act {
            EntryKind::Setup { set } => {
                set.earlier.is_some() || set.sample_seed.is_some() || set.samples.is_some()
            }
            _ => false,
        };
        let set = Box::new(Setup {
            sample_seed: Some(job.low_bits()),
            ..Setup::default()
        });
        (!acts.iter().any(is_settled)).then_some(EntryKind::Setup { set })
    }

    /// Returns `true` if the undo key takes it back. Opening and closing a pass only note the time, a fault that came
    /// along from an earlier job is closed by fixing it, and an opened file has a key of its own. That a turned note is not
    /// measured again goes with the turn.
    pub fn can_be_undone(&self) -> bool {
        // The technician's name is recorded in passing; undo must not remove it in place of the last work.
        let names_only_technician = |set: &Details| {
            let technician = set.technician.clone();
            *set == Details {
                technician,
                ..Details::default()
            }
        };
        !matches!(self, EntryKind::Details { set } if names_only_technician(set))
            && !matches!(
                self,
                EntryKind::Made { .. }
                    | EntryKind::Undo { .. }
                    | EntryKind::PassOpened { .. }
                    | EntryKind::PassClosed { .. }
                    | EntryKind::FaultCarried { .. }
                    | EntryKind::NotRemeasured { .. }
                    | EntryKind::Opened { .. }
                    | EntryKind::Unknown(_)
            )
    }
}

/// One entry of the log: what was done, by which replica, when.
///
/// Entries are never changed once saved. They are equal if every field is; their order
/// is that of [`LogPosition`]. In JSON an entry is one flat object: the fields of its
/// kind beside `act`, `device`, `seq`, `clock` and `at_ms`, and in a few entries `knew`.
///
/// ```
/// use evenhand_core::job::{Entry, EntryKind, Job, JobId, ReplicaId};
///
/// let made = EntryKind::Made { job: JobId::new(1) };
/// let entry = Job::new().draft(ReplicaId::new(7), 1_000, made);
/// let line = r#"{"act":"made","at_ms":1000,"clock":1,"device":"0000000000000007","job":"0000000000000001","seq":1}"#;
/// assert_eq!(entry.to_line(), line);
/// assert_eq!(Entry::from_line(line)?, entry);
/// assert!(Entry::from_line("[]").is_err());
/// # Ok::<(), evenhand_core::job::EntryError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Entry {
    /// The unique id.
    pub id: EntryId,
    /// The Lamport clock: one more than the largest in the log when it was made; at most [`Entry::MAX`].
    /// It orders entries of one time.
    pub clock: u64,
    /// Wall time in milliseconds since 1970 (UTC) by the clock of the device, 0 to
    /// [`Entry::LAST_MS`]. The order of the log is by this time, but never before what the writer knew.
    pub at_ms: i64,
    /// The entries about the same things that were in effect when it was made, which it supersedes. Two entries of
    /// different replicas about one thing are concurrent while none supersedes the other. `None` if it states
    /// nothing that could be superseded, or comes from a release that did not say; a reading that is not as found
    /// then supersedes those of its own replica alone.
    pub supersedes: Option<Vec<EntryId>>,
    /// What its writer knew of other clocks; `None` if its wall time is later than all of them.
    pub knew: Option<Box<Knew>>,
    /// What was done.
    pub kind: EntryKind,
}

impl Entry {
    /// The largest clock and sequence number, 2⁵²: far above any job, and below 2⁵³, up to which
    /// every JSON reader keeps whole numbers exact. See [`Log::next_clock`] for a log that has reached it.
    ///
    /// [`Log::next_clock`]: super::Log::next_clock
    pub const MAX: u64 = 1 << 52;
    /// The largest wall time, in milliseconds since 1970 (UTC).
    ///
    /// **Source** (P): the time range of ECMAScript, 10⁸ days after 1970.
    pub const LAST_MS: i64 = 8_640_000_000_000_000;

    /// Returns what orders entries so that each comes after all that its writer knew: clock, replica and sequence number.
    ///
    /// An entry can refer only to one that is smaller. The order of the log ([`LogPosition`]) keeps to
    /// this where one entry refers to another, and otherwise goes by time.
    pub const fn written(&self) -> (u64, EntryId) {
        (self.clock, self.id)
    }

    /// Returns the entries that it refers to. A reference has effect only if its entry was written before
    /// ([`Entry::written`]); otherwise it never has any, even if such an entry comes later.
    ///
    /// ```
    /// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId};
    ///
    /// let phone = ReplicaId::new(7);
    /// let mut job = Job::new();
    /// let made = job.draft(phone, 0, EntryKind::Made { job: JobId::new(1) });
    /// job.apply(made.clone());
    /// let undo = job.draft(phone, 0, EntryKind::Undo { entry: made.id });
    /// assert!(undo.references().eq([made.id]));
    /// ```
    pub fn references(&self) -> impl Iterator<Item = EntryId> {
        let of_kind = match self.kind {
            EntryKind::Undo { entry: of }
            | EntryKind::FaultFixed { fault: of, .. }
            | EntryKind::RemarkChanged { remark: of, .. } => Some(of),
            EntryKind::Photographed { instead_of, .. } => instead_of,
            _ => None,
        };
        let shows = match self.kind {
            EntryKind::Photographed { fault, .. } => fault,
            _ => None,
        };
        let superseded = self.supersedes.iter().flatten().copied();
        superseded.chain(of_kind).chain(shows)
    }

    /// Returns the id of the job that it begins, or `None` if it is no [`EntryKind::Made`].
    pub const fn made(&self) -> Option<JobId> {
        match self.kind {
            EntryKind::Made { job } => Some(job),
            _ => None,
        }
    }

    /// Returns one line of JSON, keys in alphabetical order, no spaces.
    ///
    /// This line is what is stored, and what the checksum of a job file is computed over.
    pub fn to_line(&self) -> String {
        Box::<str>::from(self.to_raw()).into_string()
    }

    /// Returns the line for embedding in a larger JSON text.
    pub(super) fn to_raw(&self) -> Box<RawValue> {
        let head = Head {
            id: self.id,
            clock: self.clock,
            at_ms: self.at_ms,
            supersedes: self.supersedes.clone(),
            knew: self.knew.as_deref().cloned(),
        };
        let raw = match &self.kind {
            EntryKind::Unknown(fields) => {
                to_value(head).and_then(|head| to_raw_value(&fields.with(&head)))
            }
            // Through a `Value`, which sorts the fields alphabetically unless a dependency turns on
            // `preserve_order` of serde_json.
            act => to_value(Line { head, act }).and_then(|line| to_raw_value(&line)),
        };
        // Serializing strings, numbers and lists cannot fail.
        raw.unwrap_or_default()
    }

    /// Parses a line that [`Entry::to_line`] wrote.
    ///
    /// An unknown `act` is no error: the entry becomes [`EntryKind::Unknown`]. So does one with
    /// an unknown field, with a duplicate field, because it is not clear which of the two was meant, or with a text
    /// that is longer than it can be typed: 300 characters, 2,000 of a remark.
    ///
    /// # Errors
    /// Returns an [`EntryError`] if the line is not a JSON object, has over 1,000 fields, or lacks
    /// a valid id, clock or time.
    pub fn from_line(line: &str) -> Result<Entry, EntryError> {
        let mut fields: RawFields<'_> =
            serde_json::from_str(line).map_err(|_| EntryError("it is not a JSON object"))?;
        if fields.len() > MAX_FIELDS {
            return Err(EntryError("it has more fields than any record"));
        }
        let head = Head::take(&mut fields)?;
        let over = fields.take("over");
        let supersedes = over.map(|ids| serde_json::from_str(ids.get())).transpose();
        let (supersedes, kind) = match (supersedes, fields.read()) {
            (Ok(supersedes), Ok(kind)) if EntryKind::fits(&kind) => (supersedes, kind),
            _ => {
                if let Some(ids) = over {
                    fields.put_first("over", ids);
                }
                (None, EntryKind::Unknown(UnknownFields::keep(fields)))
            }
        };
        Ok(Entry {
            id: head.id,
            clock: head.clock,
            at_ms: head.at_ms,
            supersedes,
            knew: head.knew.map(Box::new),
            kind,
        })
    }
}

/// The largest number of fields in an entry; bounds the time that one line can take.
const MAX_FIELDS: usize = 1_000;

/// An entry as it is serialized.
#[derive(Serialize)]
struct Line<'a> {
    #[serde(flatten)]
    head: Head,
    #[serde(flatten)]
    act: &'a EntryKind,
}

/// The fields that an entry of any kind has.
#[derive(Serialize)]
struct Head {
    #[serde(flatten)]
    id: EntryId,
    clock: u64,
    at_ms: i64,
    #[serde(rename = "over", skip_serializing_if = "Option::is_none")]
    supersedes: Option<Vec<EntryId>>,
    #[serde(skip_serializing_if = "Option::is_none")]
    knew: Option<Knew>,
}

impl Head {
    /// Removes the head from the fields of an entry and parses it. Fails if a field is missing, invalid or duplicate.
    fn take(fields: &mut RawFields<'_>) -> Result<Head, EntryError> {
        const NAMES: [&str; 4] = ["device", "seq", "clock", "at_ms"];
        let [replica, seq, clock, at_ms] = NAMES.map(|name| fields.take(name));
        if NAMES.iter().any(|name| fields.has(name)) {
            return Err(EntryError("its name, clock or time is there twice"));
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
        // One that is not understood stays among the fields, and makes the entry unknown.
        let knew = read(fields.single("knew")).filter(Knew::is_valid);
        if knew.is_some() {
            fields.take("knew");
        }
        Ok(Head {
            id: EntryId { replica, seq },
            clock,
            at_ms,
            supersedes: None,
            knew,
        })
    }
}

/// Parses a required field. Returns `None` if it is absent or invalid.
fn read<'a, T: Deserialize<'a>>(raw: Option<&'a RawValue>) -> Option<T> {
    serde_json::from_str(raw?.get()).ok()
}
