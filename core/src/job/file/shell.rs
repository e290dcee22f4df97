//! The outermost fields of a job file, before anything is made of them.

use std::fmt;

use serde::Deserialize;
use serde::de::{Deserializer, Error as _, IgnoredAny, MapAccess, Visitor};
use serde_json::Value as Json;
use serde_json::value::RawValue;

/// The fields that are read at once.
const VALUES: [&str; 5] = [
    "format",
    "version",
    "program",
    "exported_at_ms",
    "log_sha256",
];
/// The fields that are kept as text. All others are passed over.
const TEXTS: [&str; 11] = [
    "job",
    "sections",
    "targets",
    "steps",
    "whole",
    "by_section",
    "notes",
    "materials",
    "summary",
    "open_points",
    "log",
];

/// The outermost fields, the long ones as the text that they came in: a file cannot make
/// more of itself in memory than it has bytes.
#[derive(Default)]
pub(super) struct Shell<'a> {
    values: [Option<Json>; VALUES.len()],
    texts: [Option<&'a RawValue>; TEXTS.len()],
}

/// The place of a field among others.
fn place(name: &str, among: &[&str]) -> Option<usize> {
    among.iter().position(|field| *field == name)
}

impl<'a> Shell<'a> {
    /// A field that is read at once; null where it is not there.
    pub fn value(&self, field: &str) -> &Json {
        let value = place(field, &VALUES).and_then(|at| self.values[at].as_ref());
        value.unwrap_or(&Json::Null)
    }

    /// The text of a long field that is there.
    pub fn text(&self, field: &str) -> Option<&'a str> {
        self.texts[place(field, &TEXTS)?].map(RawValue::get)
    }
}

impl<'de> Deserialize<'de> for Shell<'de> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Shell<'de>, D::Error> {
        struct Outermost;
        impl<'de> Visitor<'de> for Outermost {
            type Value = Shell<'de>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a job file")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut from: A) -> Result<Shell<'de>, A::Error> {
                let mut shell = Shell::default();
                while let Some(key) = from.next_key::<String>()? {
                    let first = if let Some(at) = place(&key, &VALUES) {
                        shell.values[at].replace(from.next_value()?).is_none()
                    } else if let Some(at) = place(&key, &TEXTS) {
                        shell.texts[at].replace(from.next_value()?).is_none()
                    } else {
                        from.next_value::<IgnoredAny>()?;
                        true
                    };
                    if !first {
                        return Err(A::Error::custom("a field stands twice"));
                    }
                }
                Ok(shell)
            }
        }
        from.deserialize_map(Outermost)
    }
}
