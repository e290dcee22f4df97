//! What the simulated gauges read on the invented instrument.

use super::values::{note, of_note, rounded};
use super::{DemoWriter, LET_OFF_OUT};
use crate::job::{Item, Subject};
use crate::note::Note;
use crate::trade::{Occasion, Place, Step};
use crate::unit::Value;

impl DemoWriter {
    /// Returns the next reading of an item, or `None` if its measure is unknown or needs another reading.
    pub(super) fn value(&mut self, step: &Step, item: &Item) -> Option<Value> {
        let (id, on) = (item.measure.as_str(), item.on);
        let state = self.job.state();
        let (kind, decimals) = state.measure(id).map(|m| (m.kind, m.form.1))?;
        let found = step.occasion == Occasion::AsFound;
        if !kind.is_number() {
            let wanted = state.band(id, on).map_or(1, |b| b.aim);
            return Some(Value::from_base(kind, self.answer(id, on, found, wanted)));
        }
        let finest = (kind.per_shown() / 10i64.pow(decimals.min(3))).max(1);
        let out = match id {
            "let_off" if !found => of_note(&LET_OFF_OUT, on).map(|tenths| tenths * 100_000),
            _ => None,
        };
        let base = match out {
            Some(base) => base,
            None => self.number(id, on, found)?,
        };
        Some(rounded(kind, base, finest))
    }

    /// Returns the answer to tap: the one wanted, except for the wear found in the survey and one note that
    /// needs work.
    fn answer(&mut self, id: &str, on: Subject, found: bool, wanted: i64) -> i64 {
        let chance = self.chance.next();
        match (id, found) {
            ("wear_checks", true) if on == Subject::Section(2) => 2,
            ("spring", true) if chance < 0.4 => 1,
            (_, true) if id.starts_with("wear") && chance < 0.45 => 1,
            ("jack_position", false) if on == Subject::Note(note(47)) => 0,
            _ => wanted,
        }
    }

    /// Returns the next reading of a number, in the stored unit.
    fn number(&mut self, id: &str, on: Subject, found: bool) -> Option<i64> {
        let off = self.chance.off();
        let number = i64::from(on.note().map_or(0, Note::number));
        let section = on.note().map_or(0, |n| self.job.state().sections().of(n)) as i64;
        let nm = |exact: i64, scatter: f64| exact + (off * scatter) as i64;
        Some(match id {
            "string_height" => nm(string_height(number, section), 0.0),
            "stand_in" => nm(string_height(number, section) + 12_300_000, 200_000.0),
            "humidity" => {
                if found {
                    440
                } else {
                    510
                }
            }
            "temperature" => {
                if found {
                    20_500
                } else {
                    21_500
                }
            }
            "key_pin" => nm(3_710_000, 20_000.0),
            "front_pin" => nm(3_640_000, 20_000.0),
            "sharp_dip" => nm(if found { 10_050_000 } else { 9_850_000 }, 300_000.0),
            "down_weight" => nm(39_000 + friction(number), 3_000.0),
            "up_weight" => nm(39_000 - friction(number), 3_000.0),
            "aftertouch" => self.balanced(on, found)? + (off * 60_000.0) as i64,
            _ => return self.near_target(id, on, found, off),
        })
    }

    /// Returns a reading near the target, or one changed by wear if `found`: dip and blow grow, let-off
    /// and checking distance shrink.
    fn near_target(&self, id: &str, on: Subject, found: bool, off: f64) -> Option<i64> {
        let state = self.job.state();
        let band = state.band(id, on);
        let (aim, width) = match (band, state.measure(id)?.plausible) {
            (Some(b), _) => (b.aim, b.accept.1.map_or(b.aim / 4, |high| high - b.aim)),
            (None, Some((low, high))) => (low + (high - low) / 2, (high - low) / 8),
            (None, None) => return None,
        };
        let one_sided = band.is_some_and(|b| b.accept.1.is_none());
        let spread = match (one_sided, found) {
            (true, _) => off.abs(),
            (_, false) => off * 0.5,
            (_, true) => off * 1.6 + worn(id),
        };
        Some(aim + (spread * width as f64) as i64)
    }

    /// Returns the aftertouch that follows from the dip, blow and let-off of this note.
    fn balanced(&self, on: Subject, found: bool) -> Option<i64> {
        let place = if found { Place::Piano } else { Place::Bench };
        let (dip, aim, ratio) = match on.note()?.is_sharp() {
            true => ("sharp_dip", 9_850_000, 495),
            false => ("natural_dip", 10_000_000, 486),
        };
        let known = |id, aim| self.known(id, on, place, found).unwrap_or(aim);
        let hammer = known("blow", 45_000_000) - known("let_off", 2_000_000);
        Some(known(dip, aim) - hammer * 100 / ratio)
    }

    /// Returns the as-found or the current reading in the stored unit, or `None` if there is none.
    pub(super) fn known(&self, id: &str, on: Subject, place: Place, found: bool) -> Option<i64> {
        let measure_state = self.job.state().measure_state(id, on, place)?;
        let read = if found {
            measure_state.of(Occasion::AsFound)
        } else {
            measure_state.in_effect()
        };
        Some(read?.value.base())
    }
}

/// Returns the height of the strings of a note over the key bed in nanometers: the overstrung bass lies
/// highest; from the tenor the strings rise toward the treble.
fn string_height(number: i64, section: i64) -> i64 {
    match section {
        0 => 202_000_000 + number * 20_000,
        _ => 194_000_000 + number * 55_000 + section * 400_000,
    }
}

/// Returns the friction of a note in milligram-force: about 16 gf at note 1 and 11 gf at note 88.
fn friction(number: i64) -> i64 {
    16_000 - number * 57
}

/// Returns how far wear changes a reading, as a fraction of its acceptable tolerance.
fn worn(id: &str) -> f64 {
    match id {
        "blow" => 1.2,
        "natural_dip" => 0.7,
        "let_off" => -0.9,
        "checking" => -0.8,
        "drop" => -0.3,
        _ => 0.0,
    }
}
