//! The parts of the job file as they are serialized, with their fields in reading order.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::value::RawValue;

use super::super::{Day, Details, JobId, Scope};
use super::{ConcludedConflict, PartToOrder};
use crate::note::{Color, Note};
use crate::trade::{MeasureId, StepId, Verdict};

/// The whole file.
#[derive(Serialize)]
pub(super) struct File<'a> {
    pub format: &'static str,
    pub version: u64,
    pub revision: u64,
    pub program: &'static str,
    pub older_releases: &'static str,
    pub exported_at_ms: i64,
    pub job: Head<'a>,
    pub sections: Vec<SectionPart>,
    pub targets: Vec<TargetPart<'a>>,
    pub steps: Vec<StepPart>,
    pub whole: RecordPart<'a>,
    pub by_section: Vec<SectionRecords<'a>>,
    pub notes: Vec<NotePart<'a>>,
    pub materials: Vec<MaterialPart>,
    pub parts_to_order: Vec<PartToOrder>,
    pub summary: Summary,
    pub open_points: Vec<String>,
    pub conflicts: Vec<ConcludedConflict>,
    /// Stored records of the job that could not be read as entries, as they are.
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    pub set_aside: &'a [String],
    pub log: Vec<Box<RawValue>>,
    pub log_sha256: String,
}

#[derive(Serialize)]
pub(super) struct Head<'a> {
    pub id: Option<JobId>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<&'a str>,
    #[serde(flatten)]
    pub details: &'a Details,
}

#[derive(Serialize)]
pub(super) struct SectionPart {
    pub section: usize,
    pub first_note: Note,
    pub last_note: Note,
}

/// One band of a target. A target that varies by section or note has several.
#[derive(Serialize)]
pub(super) struct TargetPart<'a> {
    pub measure: MeasureId,
    pub name: &'a str,
    pub scope: Scope,
    /// The note or section of this band, or `None` if it holds for the whole scope.
    #[serde(flatten)]
    pub at: Option<At>,
    #[serde(flatten)]
    pub numbers: Numbers<'a>,
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum At {
    AtNote(Note),
    AtSection(usize),
}

#[derive(Serialize)]
pub(super) struct StepPart {
    pub step: StepId,
    pub name: Cow<'static, str>,
    pub stage: &'static str,
    pub expected: usize,
    pub read: usize,
    pub swept: usize,
    pub marked_out: usize,
    pub not_remeasured: usize,
    pub on_aim: usize,
    pub out: usize,
    pub read_again: usize,
    pub minutes: i64,
    pub minutes_stated: bool,
}

/// Values by key. The key of a number ends in its unit; that of a mark has none.
pub(super) type Numbers<'a> = BTreeMap<String, Shown<'a>>;

/// A value as it is written in the readable parts.
#[derive(Serialize)]
#[serde(untagged)]
pub(super) enum Shown<'a> {
    /// A number with all its digits; a float could lose some.
    Number(Box<RawValue>),
    Word(&'a str),
}

/// The records of one subject: readings by occasion and place, verdicts and remarks.
#[derive(Default, Serialize)]
pub(super) struct RecordPart<'a> {
    pub as_found: Numbers<'a>,
    pub bench: Numbers<'a>,
    pub piano: Numbers<'a>,
    pub as_left: Numbers<'a>,
    pub verdicts: BTreeMap<MeasureId, Verdict>,
    pub swept: Vec<String>,
    pub marked_out: Vec<String>,
    pub not_remeasured: Vec<String>,
    pub read_again: Vec<String>,
    pub remarks: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct SectionRecords<'a> {
    pub section: usize,
    #[serde(flatten)]
    pub records: RecordPart<'a>,
}

#[derive(Serialize)]
pub(super) struct NotePart<'a> {
    pub note: Note,
    pub name: String,
    #[serde(rename = "colour")]
    pub color: Color,
    #[serde(flatten)]
    pub records: RecordPart<'a>,
}

#[derive(Serialize)]
pub(super) struct MaterialPart {
    pub paper_mm: Box<RawValue>,
    pub count: i64,
}

#[derive(Serialize)]
pub(super) struct Summary {
    pub entries: usize,
    pub steps: usize,
    pub steps_done: usize,
    pub hours: Box<RawValue>,
    pub out: usize,
    pub read_again: usize,
    pub first_entry_at_ms: Option<i64>,
    pub last_entry_at_ms: Option<i64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_check_on: Option<Day>,
}
