//! The notes of a sweep: a range, less the exceptions by name.

use serde::{Deserialize, Serialize};

use crate::note::Note;

/// The notes of a sweep: from one note to another, both included, less the exceptions.
///
/// It has no default and no order. A range whose last note lies below its first has no notes.
///
/// **Rule** (C): nobody measures 88 notes to find that 80 are right; a row is looked along, and the exceptions
/// are named.
///
/// ```
/// use evenhand_core::job::SweptNotes;
/// use evenhand_core::note::Note;
///
/// let note = |number| Note::new(number).unwrap();
/// let notes = SweptNotes { from: note(21), to: note(25), except: vec![note(23)] };
/// assert!(notes.iter().eq([21, 22, 24, 25].map(note)));
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SweptNotes {
    /// The first note.
    pub from: Note,
    /// The last note.
    pub to: Note,
    /// The notes between that are not meant: measured as out, or left to come back to.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub except: Vec<Note>,
}

impl SweptNotes {
    /// Returns the notes from the bass up.
    pub fn iter(&self) -> impl Iterator<Item = Note> {
        let is_meant = |note: &Note| !self.except.contains(note);
        let inside = Note::all().filter(|note| self.from <= *note && *note <= self.to);
        inside.filter(is_meant)
    }
}
