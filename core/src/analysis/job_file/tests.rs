//! Tests of the content of a job file, and of opening untrusted bytes. All data are invented.

mod file;
mod hostile;
mod jobs;
mod kept_files;
mod properties;
mod refused;
mod unknown;

use super::{export, file_conclusions, materials_csv, open};
use crate::analysis::suggestion::suggest_next;
use crate::job::tests::{BENCH, NINE_MS, PIANO, Phone, n, on, sample, step_id};
use crate::job::{
    Cause, Correction, Details, Entry, EntryId, EntryKind, FileError, Job, JobId, MAX_BYTES,
    MAX_ENTRIES, Opened, Opening, OwnStep, ReplicaId, Run, Scope, Setup, State, Subject,
    readings_csv,
};
use crate::trade::{Instrument, MeasureId, Occasion, Place, StepId};
use crate::unit::{Kind, Value};

/// Returns a line as it is written: these fields and a name, clock and time, in alphabetical order.
fn line(fields: &[(&str, &str)]) -> String {
    let head = [
        ("at_ms", "5"),
        ("clock", "1"),
        ("device", r#""00000000000000ab""#),
        ("seq", "1"),
    ];
    let mut all = [fields, &head].concat();
    all.sort_unstable();
    let all: Vec<String> = all.iter().map(|(k, v)| format!("\"{k}\":{v}")).collect();
    format!("{{{}}}", all.join(","))
}

/// Returns a file with these lines as its log, and no checksum.
fn file(lines: &[&str]) -> String {
    format!(
        r#"{{"format":"evenhand-job","version":1,"log":[{}]}}"#,
        lines.join(",")
    )
}

const GOOD: &str = r#"{"act":"left_out","at_ms":5,"clock":1,"device":"00000000000000ab","out":true,"seq":1,"step":"drop"}"#;

fn opened(text: &str) -> Opened {
    open(text.as_bytes()).unwrap_or_else(|e| panic!("{e}"))
}

fn refused(bytes: &[u8]) -> FileError {
    open(bytes).expect_err("opened")
}
