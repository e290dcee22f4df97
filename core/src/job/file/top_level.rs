//! The top-level fields of a job file, not yet parsed further.

use serde::Deserialize;
use serde_json::value::RawValue;

use super::super::JobId;

/// The top-level fields, the long ones as source text, so that memory stays in proportion to the bytes
/// of the file. Unknown fields are ignored. A duplicate field is an error, because it is not clear which of the
/// two was meant.
#[derive(Deserialize)]
pub(super) struct TopLevel<'a> {
    pub format: Option<String>,
    pub version: Option<u64>,
    #[serde(borrow)]
    program: Option<&'a RawValue>,
    #[serde(borrow)]
    exported_at_ms: Option<&'a RawValue>,
    #[serde(borrow)]
    log_sha256: Option<&'a RawValue>,
    #[serde(borrow)]
    job: Option<&'a RawValue>,
    #[serde(borrow)]
    sections: Option<&'a RawValue>,
    #[serde(borrow)]
    targets: Option<&'a RawValue>,
    #[serde(borrow)]
    steps: Option<&'a RawValue>,
    #[serde(borrow)]
    whole: Option<&'a RawValue>,
    #[serde(borrow)]
    by_section: Option<&'a RawValue>,
    #[serde(borrow)]
    notes: Option<&'a RawValue>,
    #[serde(borrow)]
    materials: Option<&'a RawValue>,
    #[serde(borrow)]
    summary: Option<&'a RawValue>,
    #[serde(borrow)]
    open_points: Option<&'a RawValue>,
    #[serde(borrow)]
    conflicts: Option<&'a RawValue>,
    #[serde(borrow)]
    set_aside: Option<&'a RawValue>,
    #[serde(borrow)]
    log: Option<&'a RawValue>,
}

impl<'a> TopLevel<'a> {
    /// Returns the release that wrote the readable parts.
    pub fn program(&self) -> Option<String> {
        read(self.program)
    }

    /// Returns when the file was written, in milliseconds since 1970 (UTC).
    pub fn exported_at_ms(&self) -> Option<i64> {
        read(self.exported_at_ms)
    }

    /// Returns the checksum of the log.
    pub fn log_sha256(&self) -> Option<String> {
        read(self.log_sha256)
    }

    /// Returns the id of the job, by the part `job`. `None` if that is absent or has no valid id.
    pub fn id(&self) -> Option<JobId> {
        #[derive(Deserialize)]
        struct Head {
            id: JobId,
        }
        read::<Head>(self.job).map(|head| head.id)
    }

    /// Returns the text of the log, if it is a list.
    pub fn log(&self) -> Option<&'a str> {
        self.log
            .map(RawValue::get)
            .filter(|log| log.starts_with('['))
    }

    /// Returns the records that the writer could not read, and set aside; one that is no text as its JSON.
    pub fn set_aside(&self) -> Vec<String> {
        let records: Vec<&RawValue> = read(self.set_aside).unwrap_or_default();
        let text = |raw: &RawValue| serde_json::from_str(raw.get()).unwrap_or(raw.get().to_owned());
        records.into_iter().map(text).collect()
    }

    /// Returns the readable parts, each with the singular word that notices use for it.
    pub fn parts(&self) -> [(&'static str, Option<&'a RawValue>); 11] {
        [
            ("job", self.job),
            ("section", self.sections),
            ("target", self.targets),
            ("step", self.steps),
            ("whole action", self.whole),
            ("records of section", self.by_section),
            ("note", self.notes),
            ("material", self.materials),
            ("summary", self.summary),
            ("open point", self.open_points),
            ("conflict", self.conflicts),
        ]
    }
}

/// Parses a field. Returns `None` if it is absent or of another type.
fn read<'a, T: Deserialize<'a>>(raw: Option<&'a RawValue>) -> Option<T> {
    serde_json::from_str(raw?.get()).ok()
}
