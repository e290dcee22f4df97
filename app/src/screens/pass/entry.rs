//! The pad of a pass, with the values that are one tap.

use evenhand_core::job::{Entry, EntryKind, Item, State};
use evenhand_core::trade::{Measure, Per};
use evenhand_core::unit::{Kind, LengthUnit, Value};
use leptos::prelude::*;

use super::reading::{CurrentItem, length};
use super::state::PassState;
use super::sweep::{Offer, ends_step};
use crate::parts::pad::{Chip, ON_TARGET, Pad};
use crate::state::use_session;
use crate::text;

/// The pad, with the values that are one tap.
#[component]
pub fn PadOfPass(
    pass: PassState,
    current: Memo<Option<CurrentItem>>,
    sweeps: Memo<Vec<Offer>>,
) -> impl IntoView {
    let session = use_session();
    let length = length();
    let fallback = Measure::new("", "", Kind::Tick, Per::Whole);
    let measure = Memo::new(move |last: Option<&Measure>| {
        let now = current.with(|h| h.as_ref().map(|h| h.measure.clone()));
        now.unwrap_or_else(|| last.cloned().unwrap_or_else(|| fallback.clone()))
    });
    let next = Signal::derive(move || {
        let at = pass.next();
        let here = pass.item().map(|i| i.on);
        pass.items.with(|items| match items.get(at) {
            // The next item is another measure of the same note.
            Some(item) if Some(item.on) == here => {
                let measure = session
                    .app
                    .with_state(|s| s.measure(item.measure.as_str()).cloned())
                    .flatten();
                let name = measure.map(|m| m.name.to_lowercase());
                format!("next {}", name.unwrap_or_default())
            }
            Some(item) => format!("next {}", text::subject(item.on)),
            None => "the last one".to_owned(),
        })
    });
    let chips = Memo::new(move |_| {
        let Some(item) = pass.item() else {
            return Vec::new();
        };
        session
            .app
            .open_job
            .with(|o| {
                o.as_ref().map(|o| {
                    chips(
                        o.job.state(),
                        &measure.get(),
                        &item,
                        length.get(),
                        o.job.log().entries(),
                    )
                })
            })
            .unwrap_or_default()
    });
    let alone = pass.items.with_untracked(|items| items.len() == 1)
        && pass.step.with_value(|s| s.drying_minutes == 0);
    let row_ends = ends_step(pass, sweeps);
    // The wear by section: what is worn is graded first.
    let rest = Signal::derive(move || {
        let is_row = pass.item().is_none_or(|i| i.on.note().is_some());
        !is_row && pass.items.with(|items| items.len() > pass.at.get() + 1)
    });
    view! { <Pad measure=measure length chips=chips next alone row_ends rest press=Callback::new(move |key| {
        pass.by_keys.set_value(false);
        pass.press(key);
    })/> }
}

/// For how many notes a value that was entered twice in a row offers itself.
const RUN: usize = 5;

/// Returns the target and the last two values entered that are plausible, one tap each. A number that was entered twice
/// in a row offers itself for the next five notes.
fn chips(
    state: &State,
    measure: &Measure,
    item: &Item,
    length: LengthUnit,
    entries: &[Entry],
) -> Vec<Chip> {
    let chip = |words: String, value| Chip {
        words,
        value,
        count: 1,
    };
    let mut chips: Vec<Chip> = Vec::new();
    let mut latest: Vec<Value> = Vec::new();
    if let Some(band) = state.band(item.measure.as_str(), item.on) {
        let aim = Value::from_base(measure.kind, band.aim);
        chips.push(chip(
            format!("{ON_TARGET} {}", measure.shown(aim, length)),
            aim,
        ));
    }
    // Only the latest entries are searched, so that the cost does not grow with the job.
    const RECENT_ENTRIES: usize = 24;
    for entry in entries.iter().rev().take(RECENT_ENTRIES) {
        if let EntryKind::Reading {
            measure: id, value, ..
        } = &entry.kind
        {
            let known = chips.iter().any(|c| c.value == *value);
            let offered = *id == item.measure && measure.is_plausible(*value);
            if !offered || !state.is_alive(entry.id) {
                continue;
            }
            latest.push(*value);
            if !known && chips.len() < 3 {
                chips.push(chip(measure.shown(*value, length), *value));
            }
        }
    }
    // Without a target, what the same place read before.
    if state.band(item.measure.as_str(), item.on).is_none()
        && let Some(before) = state.latest(item.measure.as_str(), item.on)
    {
        let value = before.reading.value;
        if chips.len() < 3 && chips.iter().all(|c| c.value != value) {
            chips.push(chip(measure.shown(value, length), value));
        }
    }
    if let [value, before, ..] = latest[..]
        && value == before
        && measure.kind.is_number()
    {
        chips.truncate(2);
        chips.push(Chip {
            words: format!("{} ×{RUN}", measure.shown(value, length)),
            value,
            count: RUN,
        });
    }
    chips
}
