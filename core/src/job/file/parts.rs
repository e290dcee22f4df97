//! The readable parts of a job file: objects whose keys stand in reading order.

use crate::json::{InJson, Json, Object};

/// Fields in reading order.
#[derive(Default)]
pub(super) struct Fields(Object);

impl Fields {
    /// With a field of that name.
    pub fn with(self, key: &'static str, value: impl InJson) -> Fields {
        self.part(key, value.to_json())
    }

    /// With a part of that name.
    pub fn part(mut self, key: &'static str, part: Json) -> Fields {
        self.0.0.push((key.into(), part));
        self
    }

    /// With the fields of a record that are given, in its order.
    pub fn all_of<T: InJson>(mut self, record: &T) -> Fields {
        let mut fields = Object::of(record.to_json()).unwrap_or_default();
        for key in T::FIELDS {
            if let Some(json) = fields.remove(key) {
                self = self.part(key, json);
            }
        }
        self
    }

    /// With numbers under their names.
    pub fn numbers(mut self, numbers: Object) -> Fields {
        self.0.0.extend(numbers.0);
        self
    }

    /// As a part.
    pub fn done(self) -> Json {
        self.0.into_json()
    }
}

/// The records of one subject: numbers with their unit in the key, marks without.
#[derive(Default)]
pub(super) struct RecordPart {
    pub as_found: Object,
    pub bench: Object,
    pub piano: Object,
    pub as_left: Object,
    pub verdicts: Object,
    pub read_again: Vec<String>,
    pub remarks: Vec<String>,
}

impl RecordPart {
    /// Behind the fields that say whose records they are.
    pub fn after(self, fields: Fields) -> Json {
        fields
            .part("as_found", self.as_found.into_json())
            .part("bench", self.bench.into_json())
            .part("piano", self.piano.into_json())
            .part("as_left", self.as_left.into_json())
            .part("verdicts", self.verdicts.into_json())
            .with("read_again", self.read_again)
            .with("remarks", self.remarks)
            .done()
    }
}
