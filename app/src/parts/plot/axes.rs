//! The axes of a picture: notes across it, values up and down.

use evenhand_core::note::{Note, Sections};

/// The horizontal axis, of notes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteAxis {
    /// The left edge of the first note.
    pub left: f32,
    /// The width of one note.
    pub note: f32,
}

impl NoteAxis {
    /// Returns the place of the middle of a note; a half lies between two notes.
    pub fn x(self, number: f32) -> f32 {
        self.left + (number - 0.5) * self.note
    }

    /// Returns the note at a place across the picture, or the nearest note.
    pub fn note_at(self, x: f32) -> Note {
        let number = (x - self.left) / self.note + 1.0;
        Note::new((number as i64).clamp(1, 88)).unwrap_or(Note::FIRST)
    }
}

/// The vertical axis of a lane, of values.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ValueAxis {
    /// The lowest value, in base units.
    pub low: f64,
    /// The highest value, in base units.
    pub high: f64,
    /// The upper edge of the lane.
    pub top: f32,
    /// The height of the lane.
    pub height: f32,
}

impl ValueAxis {
    /// Returns the place of a value, clamped to the lane.
    pub fn y(self, base: f64) -> f32 {
        let part = (self.high - base) / (self.high - self.low);
        self.top + (part as f32).clamp(0.0, 1.0) * self.height
    }

    /// Returns the lower edge of the lane.
    pub fn bottom(self) -> f32 {
        self.top + self.height
    }

    /// Returns whether a value is inside the lane.
    pub fn holds(self, base: i64) -> bool {
        (self.low..=self.high).contains(&(base as f64))
    }
}

/// Returns the last note below each break.
pub fn last_below_breaks(sections: &Sections) -> impl Iterator<Item = Note> {
    let ends = (0..sections.count()).filter_map(|s| sections.ends(s));
    ends.map(|(_, last)| last).filter(|last| *last < Note::LAST)
}
