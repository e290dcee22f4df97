//! The values of the demo job: notes, lengths, chance.

use crate::job::Subject;
use crate::note::Note;
use crate::unit::{Kind, Length, Value};

/// A pseudorandom number generator with the same sequence each time.
///
/// **Source**: P: Park and Miller 1988, the minimal standard.
pub struct Random(pub u64);

impl Random {
    /// Returns a number from −1 to 1, more often near 0.
    pub fn off(&mut self) -> f64 {
        (0..3).map(|_| self.next() * 2.0 - 1.0).sum::<f64>() / 3.0
    }

    /// Returns a uniform number between 0 and 1.
    pub fn next(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 as f64 / 2_147_483_647.0
    }
}

/// Returns the note with this number, 1 to 88.
pub fn note(number: i64) -> Note {
    Note::new(number).unwrap_or(Note::FIRST)
}

/// Returns a length from hundredths of a millimeter.
pub fn mm(hundredths: i64) -> Length {
    Length::from_mm_hundredths(hundredths)
}

/// Returns the second number of the pair whose first is this note, or `None` if there is none.
pub fn of_note(pairs: &[(i64, i64)], on: Subject) -> Option<i64> {
    let pair = pairs.iter().find(|(n, _)| on.note() == Note::new(*n).ok());
    pair.map(|(_, number)| *number)
}

/// Returns a value rounded half away from zero to a multiple of `finest`, as a gauge is read.
pub fn rounded(kind: Kind, base: i64, finest: i64) -> Value {
    let half = if base < 0 { -finest } else { finest } / 2;
    Value::from_base(kind, (base + half) / finest * finest)
}
