//! What is measured on an invented action: which notes are out, and the digits of each value.

use evenhand_core::job::{State, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{Measure, Step};
use evenhand_core::unit::{Kind, LengthUnit, Value};

/// Percent of the judged notes that are exceptions.
const EXCEPTIONS: u32 = 8;

/// Returns whether a note is an exception: 8 % of those of a step, the same in every run.
fn is_exception(step: &Step, measure: &Measure, note: Note) -> bool {
    let text = format!("{}/{}", step.id, measure.id);
    let seed = text
        .bytes()
        .fold(7u32, |h, b| h.wrapping_mul(31).wrapping_add(b.into()));
    // Spread over the row by a step that is prime to 100.
    let place = (u32::from(note.number()) * 37 + seed) % 100;
    measure.kind != Kind::Tick && place < EXCEPTIONS
}

/// Returns whether a note is an exception that can be out: of a number without a target none is.
pub fn is_out(state: &State, step: &Step, measure: &Measure, note: Note) -> bool {
    let on = Subject::Note(note);
    let is_judged = !measure.kind.is_number() || state.band(measure.id.as_str(), on).is_some();
    is_judged && is_exception(step, measure, note)
}

/// Returns the digits of a value of a measure without a target: what an action of its kind has, a little more or less
/// by note.
pub fn reading(measure: &Measure, note: Option<Note>) -> String {
    let by_note = note.map_or(0, |n| u32::from(n.number()) % 3);
    let base = match measure.id.as_str() {
        "humidity" => 45,
        "temperature" => 21,
        "pitch_a4" => 440,
        "string_height" => 1900,
        "stand_in" => 1900,
        "key_pin" | "front_pin" => 365,
        "key_height" => 640,
        "sharp_dip" => 100,
        "down_weight" => 50 + by_note,
        "up_weight" => 22 + by_note,
        "hammer_swings" => 5,
        "hammer_felt" => 8,
        "damper_end" => 66,
        _ => 10,
    };
    base.to_string()
}

/// Returns the digits of a value that is outside the tolerance of a note, on the side that wear takes.
pub fn out_reading(state: &State, measure: &Measure, note: Note) -> String {
    let band = state.band(measure.id.as_str(), Subject::Note(note));
    let Some(band) = band else {
        return reading(measure, Some(note));
    };
    let beyond = band.accept.1.unwrap_or(band.aim);
    // A length by two to four tenths of a millimeter, as a gauge shows it.
    let by = match measure.kind {
        Kind::Length => 100_000 * (2 + i64::from(note.number() % 3)),
        _ => (beyond - band.aim).max(1) / 2,
    };
    let mut past = beyond + by;
    if measure.kind == Kind::Length {
        past -= past % 100_000;
    }
    let shown = measure.shown(Value::from_base(measure.kind, past), LengthUnit::Millimeter);
    shown
        .chars()
        .filter(char::is_ascii_digit)
        .collect::<String>()
        .trim_start_matches('0')
        .to_owned()
}
