//! The readable parts of a job file, in reading order. Each number has its unit in its key.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value as Json;
use serde_json::value::RawValue;

use super::super::{Details, JobId, Scope};
use crate::note::{Colour, Note};

/// The file as it is written, in reading order.
#[derive(Serialize)]
pub(super) struct File<'a> {
    pub format: &'static str,
    pub version: u64,
    pub exported_at_ms: i64,
    pub job: Head<'a>,
    pub sections: Vec<SectionPart>,
    pub targets: Vec<TargetPart>,
    pub steps: Vec<StepPart>,
    pub whole: RecordPart,
    pub by_section: Vec<SectionRecords>,
    pub notes: Vec<NotePart>,
    pub materials: Vec<MaterialPart>,
    pub summary: Summary,
    pub open_points: Vec<String>,
    pub log: Vec<Box<RawValue>>,
    pub log_sha256: String,
}

#[derive(Serialize)]
pub(super) struct Head<'a> {
    pub id: Option<JobId>,
    #[serde(flatten)]
    pub details: &'a Details,
}

#[derive(Serialize)]
pub(super) struct SectionPart {
    pub section: usize,
    pub first_note: Note,
    pub last_note: Note,
}

/// One band of a target; a target that is not the same everywhere has several.
#[derive(Serialize)]
pub(super) struct TargetPart {
    pub measure: String,
    pub name: String,
    pub scope: Scope,
    /// The note or section that this band is for, where it is not for all of the scope.
    #[serde(flatten)]
    pub at: Option<At>,
    #[serde(flatten)]
    pub numbers: BTreeMap<String, Json>,
}

#[derive(Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum At {
    AtNote(Note),
    AtSection(usize),
}

#[derive(Serialize)]
pub(super) struct StepPart {
    pub step: String,
    pub name: String,
    pub stage: &'static str,
    pub expected: usize,
    pub read: usize,
    pub on_aim: usize,
    pub out: usize,
    pub read_again: usize,
    pub minutes: i64,
}

/// The records of one subject: numbers with their unit in the key, marks without.
#[derive(Serialize, Default)]
pub(super) struct RecordPart {
    pub as_found: BTreeMap<String, Json>,
    pub bench: BTreeMap<String, Json>,
    pub piano: BTreeMap<String, Json>,
    pub as_left: BTreeMap<String, Json>,
    pub verdicts: BTreeMap<String, Json>,
    pub read_again: Vec<String>,
    pub remarks: Vec<String>,
}

#[derive(Serialize)]
pub(super) struct SectionRecords {
    pub section: usize,
    #[serde(flatten)]
    pub records: RecordPart,
}

#[derive(Serialize)]
pub(super) struct NotePart {
    pub note: Note,
    pub name: String,
    pub colour: Colour,
    #[serde(flatten)]
    pub records: RecordPart,
}

#[derive(Serialize)]
pub(super) struct MaterialPart {
    pub paper_mm: Json,
    pub count: i64,
}

#[derive(Serialize)]
pub(super) struct Summary {
    pub entries: usize,
    pub steps: usize,
    pub steps_done: usize,
    pub hours: Json,
    pub out: usize,
    pub read_again: usize,
    pub first_entry_at_ms: Option<i64>,
    pub last_entry_at_ms: Option<i64>,
}
