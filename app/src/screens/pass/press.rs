//! What the keys of the pad do: typed values become entries, and the pass goes on.

use evenhand_core::job::{Item, State};
use evenhand_core::unit::{LengthUnit, Value};
use leptos::prelude::*;

use super::announce;
use super::state::{Asked, Doubt, PassState};
use crate::device::local_time;
use crate::parts::pad::PadAction;

impl PassState {
    /// Records a value for the current item and goes on; asks once if it is not plausible, or if what the step needs
    /// dry still dries.
    fn enter(self, value: Value, typed: String) {
        if let Some(item) = self.record(value, typed) {
            announce::announce(self, &item);
            self.last.set(Some(item));
        }
    }

    /// Enters one value for the next items that are to be measured, each a reading; Undo takes them back together.
    fn enter_run(self, value: Value, typed: &str, most: usize) {
        let measure = self.measure().map(|m| m.id);
        let mut last = None;
        let mut count = 0;
        while count < most && self.measure().map(|m| m.id) == measure {
            let Some(item) = self.record(value, typed.to_owned()) else {
                break;
            };
            (last, count) = (Some(item), count + 1);
        }
        if let Some(item) = last {
            self.undoes_together(count);
            announce::announce(self, &item);
            self.last.set(Some(item));
        }
    }

    /// Enters one grade for each item that is left; Undo takes them back together.
    fn enter_rest(self, value: Value) {
        let before = self.entries();
        let grades = self.measure().map(|m| m.grades);
        while let Some(measure) = self
            .measure()
            .filter(|m| Some(&m.grades) == grades.as_ref())
        {
            if self
                .record(value, measure.shown(value, LengthUnit::default()))
                .is_none()
            {
                break;
            }
        }
        self.undoes_together(self.entries() - before);
    }

    /// Records a value for the current item and goes on. Returns the item; `None` if it must be asked first.
    fn record(self, value: Value, typed: String) -> Option<Item> {
        let item = self.item_untracked()?;
        if let Some(doubt) = self.doubt(value, &typed) {
            self.asked.set(Some(Asked {
                value,
                typed,
                doubt,
            }));
            return None;
        }
        let next = untrack(|| self.next());
        self.reading(&item, value, &typed);
        self.go(next);
        Some(item)
    }

    /// Records a value for an item of the step.
    pub fn reading(self, item: &Item, value: Value, typed: &str) {
        let session = self.session;
        let (place, occasion) = (self.place(), self.step.with_value(|s| s.occasion));
        session.record_reading(|job| {
            let (measure, device, now) = (
                item.measure.clone(),
                session.replica(),
                local_time::now_ms(),
            );
            job.reading(device, now, measure, item.on, place, occasion, value, typed)
        });
    }

    /// Returns what must be asked before a value is recorded. `None` if nothing, or if it was confirmed.
    fn doubt(self, value: Value, typed: &str) -> Option<Doubt> {
        let asked = self.asked.get_untracked().filter(|a| a.value == value);
        let confirmed = asked.map(|a| a.doubt);
        if matches!(confirmed, Some(Doubt::Drying { .. })) {
            return None;
        }
        let plausible = self.measure().is_none_or(|m| m.is_plausible(value));
        let slip = |s: &State| {
            let item = self.item_untracked()?;
            let (measure, band) = (
                s.measure(item.measure.as_str())?,
                s.band(item.measure.as_str(), item.on)?,
            );
            Some(measure.is_slip_in_thousandths(typed, value, &band, s.length_unit()))
        };
        let slip = self.session.app.with_state_untracked(slip).flatten() == Some(true);
        if confirmed.is_none() && (!plausible || slip) {
            return Some(Doubt::Implausible);
        }
        let drying = |state: &State| {
            let step = self.step.get_value();
            let (of, until_ms) = state.drying_before(&step, local_time::now_ms())?;
            let of = state.step(of.as_str())?.name.to_string();
            Some(Doubt::Drying { of, until_ms })
        };
        self.session.app.with_state_untracked(drying)?
    }

    /// Enters what is typed.
    pub fn enter_typed(self) {
        let typed = self.typed.get_untracked();
        if let Some(asked) = self.asked.get_untracked() {
            return self.enter(asked.value, asked.typed);
        }
        let Some(measure) = self.measure() else {
            return;
        };
        let length = self.session.app.length_unit_untracked();
        match measure.read_typed(&typed, length) {
            Ok(value) => self.enter(value, typed),
            Err(error) => self.refused.set(error.to_string()),
        }
    }

    /// Performs the action of a pad's key.
    pub fn press(self, key: PadAction) {
        match key {
            PadAction::Enter => self.enter_typed(),
            PadAction::Undo => self.undo(),
            PadAction::Mark => self.mark_and_next(),
            PadAction::AndNext(value) => {
                self.press(PadAction::Answer(value));
                // Not if it must be asked first.
                if self.item_untracked().is_none() {
                    self.to_next_step();
                }
            }
            PadAction::RowAndNext => self.sweep_and_next(),
            PadAction::Rest(value) => self.enter_rest(value),
            PadAction::Run(value, most) => {
                let length = self.session.app.length_unit_untracked();
                let shown = self.measure().map(|m| m.shown(value, length));
                self.enter_run(value, &shown.unwrap_or_default(), most);
            }
            PadAction::Answer(value) => {
                let length = self.session.app.length_unit_untracked();
                let shown = self.measure().map(|m| m.shown(value, length));
                self.enter(value, shown.unwrap_or_default());
            }
            key => {
                self.range.set(None);
                self.asked.set(None);
                // What was refused is typed again from its beginning.
                let is_refused = self.refused.with_untracked(|r| !r.is_empty());
                if is_refused && matches!(key, PadAction::Type(_)) {
                    self.typed.set(String::new());
                }
                self.refused.set(String::new());
                self.clear_undo();
                self.typed.update(|typed| self.edit(typed, &key));
            }
        }
    }

    fn edit(self, typed: &mut String, key: &PadAction) {
        let denominator = match key {
            PadAction::Fraction(denominator) => *denominator,
            PadAction::NextFraction => match typed.split_once('/').map(|(_, below)| below) {
                Some("16") => 32,
                Some("32") => 64,
                Some("64") => 8,
                _ => 16,
            },
            key => return edit(typed, key),
        };
        if let Some(measure) = self.measure() {
            let length = self.session.app.length_unit_untracked();
            // `1.3` and then a fraction key is 1 3/16.
            *typed = measure.with_fraction(&typed.replace('.', " "), denominator, length);
        }
    }

    /// Enters the doubted value in the other unit of length.
    pub fn enter_in_other_unit(self, (text, value): (String, Value)) {
        self.asked.set(None);
        self.enter(value, text);
    }
}

/// Returns what is typed after a key.
fn edit(typed: &mut String, key: &PadAction) {
    const MAX_LENGTH: usize = 12;
    match key {
        PadAction::Erase => {
            typed.pop();
        }
        PadAction::Type('-') => match typed.strip_prefix('-') {
            Some(rest) => *typed = rest.to_owned(),
            None => typed.insert(0, '-'),
        },
        PadAction::Type('.') if typed.contains(['.', '/', ' ']) => {}
        PadAction::Type(c) if typed.len() < MAX_LENGTH => typed.push(*c),
        _ => {}
    }
}
