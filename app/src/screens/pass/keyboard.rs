//! The hardware keyboard, and calipers that type their reading into the phone.

use evenhand_core::note::Note;
use evenhand_core::unit::{Kind, Value};
use leptos::ev;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::correction::OfferedCorrection;
use super::state::{OpenSheet, PassState};
use crate::parts::pad::PadAction;
use crate::storage::preferences;

/// Handles the keyboard while the pass is open.
pub fn follow(pass: PassState, offer: Memo<Option<OfferedCorrection>>) {
    let pedal = preferences::pedal_keys();
    let handle = window_event_listener(ev::keydown, move |event| {
        let plain = !event.alt_key() && !event.meta_key();
        let undo = event.ctrl_key() && event.key() == "z";
        if pass.sheet.get_untracked() != OpenSheet::None
            || is_field(&event)
            || !(plain && !event.ctrl_key() || undo)
        {
            return;
        }
        let key = event.key();
        // A key that is typed with keeps its meaning while something is typed.
        let foot = pedal.iter().position(|own| *own == key);
        if let Some(foot) = foot.filter(|_| pass.typed.with_untracked(String::is_empty)) {
            event.prevent_default();
            // A foot that rests on the pedal says it once.
            if !event.repeat() {
                pass.pedal(foot == 0);
            }
            return;
        }
        if pass.range.with_untracked(Option::is_some) && in_range(pass, &event) {
            event.prevent_default();
            return;
        }
        let pressed = match event.key().as_str() {
            _ if undo => Some(PadAction::Undo),
            // Digits from a keyboard, or a caliper that acts as one, end with Enter or Tab wherever the focus is.
            "Enter" | "Tab" if by_keys(pass) => Some(PadAction::Enter),
            // The browser presses a button that has the focus.
            "Enter" | " " if on_button(&event) => None,
            key => meant(pass, key),
        };
        if let Some(key) = pressed {
            event.prevent_default();
            pass.by_keys.set_value(true);
            pass.press(key);
        } else if matches!(event.key().as_str(), "t" | "T") {
            let offer = offer.get_untracked();
            if let Some(offer) = offer {
                offer.record(pass);
            }
        } else if matches!(event.key().as_str(), "o" | "O") {
            pass.mark_and_next();
        } else if matches!(event.key().as_str(), "r" | "R") {
            pass.begin_range();
        } else if let Some(by) = travel(&event.key()) {
            event.prevent_default();
            pass.step_by(by);
        }
    });
    on_cleanup(move || handle.remove());
}

/// Handles a key while a range is chosen: arrows move its end, with Shift its beginning, Enter sweeps it, Escape gives it
/// up. Returns whether it was one of these.
fn in_range(pass: PassState, event: &web_sys::KeyboardEvent) -> bool {
    let key = event.key();
    match (travel(&key), key.as_str()) {
        (Some(by), _) => pass.range.update(|range| {
            let Some((one, other)) = range else { return };
            let end = if event.shift_key() { one } else { other };
            *end = Note::new(i64::from(end.number()) + by as i64).unwrap_or(*end);
        }),
        (_, "Enter") if !on_button(event) => pass.sweep_range(),
        (_, "Escape") => pass.range.set(None),
        _ => return false,
    }
    true
}

/// Returns whether something was typed on a keyboard and not entered yet. An open question is answered by its own
/// buttons.
fn by_keys(pass: PassState) -> bool {
    pass.by_keys.get_value()
        && pass.asked.with_untracked(Option::is_none)
        && pass.typed.with_untracked(|t| !t.is_empty())
}

fn target(event: &web_sys::KeyboardEvent) -> Option<String> {
    let element: web_sys::Element = event.target()?.dyn_into().ok()?;
    Some(element.tag_name())
}

fn is_field(event: &web_sys::KeyboardEvent) -> bool {
    matches!(
        target(event).as_deref(),
        Some("INPUT" | "TEXTAREA" | "SELECT")
    )
}

fn on_button(event: &web_sys::KeyboardEvent) -> bool {
    matches!(target(event).as_deref(), Some("BUTTON" | "A" | "SUMMARY"))
}

fn travel(key: &str) -> Option<isize> {
    match key {
        "ArrowRight" | "ArrowUp" => Some(1),
        "ArrowLeft" | "ArrowDown" => Some(-1),
        _ => None,
    }
}

/// Returns what a key does for the current kind of measure.
fn meant(pass: PassState, key: &str) -> Option<PadAction> {
    let measure = pass.measure()?;
    if key == "u" || key == "U" {
        return Some(PadAction::Undo);
    }
    match measure.kind {
        Kind::Tick => {
            matches!(key, "Enter" | " " | "1").then_some(PadAction::Answer(Value::Done(true)))
        }
        Kind::Good => match key {
            "g" | "G" | "1" | "Enter" => Some(PadAction::Answer(Value::Good(true))),
            "n" | "N" | "0" => Some(PadAction::Answer(Value::Good(false))),
            _ => None,
        },
        Kind::Grade => {
            let place: usize = key.parse().ok()?;
            let index = place.checked_sub(1).filter(|i| *i < measure.grades.len())?;
            Some(PadAction::Answer(Value::Grade(index as u8)))
        }
        _ => match key {
            "Enter"
                if pass.typed.with_untracked(String::is_empty)
                    && pass.asked.with_untracked(Option::is_none) =>
            {
                None
            }
            "Enter" => Some(PadAction::Enter),
            "Backspace" => Some(PadAction::Erase),
            // Escape clears what is typed, but does not undo an entry.
            "Escape" => {
                let typed = pass.typed.with_untracked(|t| !t.is_empty());
                typed.then_some(PadAction::Undo)
            }
            key => {
                let mut chars = key.chars();
                let one = chars.next().filter(|_| chars.next().is_none())?;
                // Units may be typed too: a typed unit wins over the job's.
                let typed = one.is_ascii_digit()
                    || matches!(one, '.' | ',' | '/' | ' ' | '-' | 'm' | 'i' | 'n' | '"');
                typed.then_some(PadAction::Type(if one == ',' { '.' } else { one }))
            }
        },
    }
}
