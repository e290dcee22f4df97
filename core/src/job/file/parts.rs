//! The readable parts of a job file: objects whose keys stand in reading order.

use std::borrow::Cow;

use serde::{Serialize, Serializer};
use serde_json::Value as Json;
use serde_json::value::RawValue;

use crate::json::{InJson, Object};

/// A part of the file as it is written.
pub(super) enum Part {
    /// A number, a word, or whatever has no reading order of its own.
    Json(Json),
    /// Fields in reading order.
    Object(Vec<(Cow<'static, str>, Part)>),
    /// Parts in their order.
    List(Vec<Part>),
    /// A line of the log, as it is stored.
    Line(Box<RawValue>),
}

impl Serialize for Part {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self {
            Part::Json(json) => json.serialize(to),
            Part::Object(fields) => to.collect_map(fields.iter().map(|(key, part)| (key, part))),
            Part::List(parts) => to.collect_seq(parts),
            Part::Line(line) => line.serialize(to),
        }
    }
}

/// Fields in reading order.
#[derive(Default)]
pub(super) struct Fields(Vec<(Cow<'static, str>, Part)>);

impl Fields {
    /// With a field of that name.
    pub fn with(self, key: &'static str, value: impl InJson) -> Fields {
        self.part(key, Part::Json(value.to_json()))
    }

    /// With a part of that name.
    pub fn part(mut self, key: &'static str, part: Part) -> Fields {
        self.0.push((Cow::Borrowed(key), part));
        self
    }

    /// With the fields of a record that are given, in its order.
    pub fn all_of<T: InJson>(mut self, record: &T) -> Fields {
        if let Json::Object(mut fields) = record.to_json() {
            for key in T::FIELDS {
                if let Some(json) = fields.remove(*key) {
                    self.0.push((Cow::Borrowed(key), Part::Json(json)));
                }
            }
        }
        self
    }

    /// With numbers under their names.
    pub fn numbers(mut self, numbers: Object) -> Fields {
        let named = numbers.into_fields();
        self.0
            .extend(named.map(|(key, json)| (Cow::Owned(key), Part::Json(json))));
        self
    }

    /// As a part.
    pub fn done(self) -> Part {
        Part::Object(self.0)
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
    pub fn after(self, fields: Fields) -> Part {
        let numbers = |numbers| Fields::default().numbers(numbers).done();
        fields
            .part("as_found", numbers(self.as_found))
            .part("bench", numbers(self.bench))
            .part("piano", numbers(self.piano))
            .part("as_left", numbers(self.as_left))
            .part("verdicts", numbers(self.verdicts))
            .with("read_again", self.read_again)
            .with("remarks", self.remarks)
            .done()
    }
}
