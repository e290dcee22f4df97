//! The outermost fields of a job file, before anything is made of them.

use crate::json::{Broken, Json, Reader};

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
    texts: [Option<&'a str>; TEXTS.len()],
}

/// The place of a field among others.
fn place(name: &str, among: &[&str]) -> Option<usize> {
    among.iter().position(|field| *field == name)
}

impl<'a> Shell<'a> {
    /// The outermost fields of a file; nothing where one of them stands twice.
    ///
    /// # Errors
    /// [`Broken`], where the text is no object in JSON.
    pub fn read(text: &'a str) -> Result<Option<Shell<'a>>, Broken> {
        let mut shell = Shell::default();
        let mut twice = false;
        let mut reader = Reader::new(text);
        reader.object(true, &mut |key, reader| {
            if let Some(at) = place(&key, &VALUES) {
                twice |= shell.values[at].replace(reader.value(true)?).is_some();
            } else {
                let text = reader.raw()?;
                if let Some(at) = place(&key, &TEXTS) {
                    twice |= shell.texts[at].replace(text).is_some();
                }
            }
            Ok(())
        })?;
        reader.end()?;
        Ok((!twice).then_some(shell))
    }

    /// A field that is read at once; null where it is not there.
    pub fn value(&self, field: &str) -> &Json {
        let value = place(field, &VALUES).and_then(|at| self.values[at].as_ref());
        value.unwrap_or(&Json::Null)
    }

    /// The text of a long field that is there.
    pub fn text(&self, field: &str) -> Option<&'a str> {
        self.texts[place(field, &TEXTS)?]
    }
}
