//! The hardware keyboard, and calipers that type their reading into the phone.

use evenhand_core::unit::{Kind, Value};
use leptos::ev;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::correction::Offer;
use super::state::{PassState, Sheet};
use crate::parts::pad::Key;

/// Follows the keyboard while the pass is open.
pub fn follow(walk: PassState, offer: Memo<Option<Offer>>) {
    let handle = window_event_listener(ev::keydown, move |event| {
        let plain = !event.alt_key() && !event.meta_key();
        let undo = event.ctrl_key() && event.key() == "z";
        if walk.sheet.get_untracked() != Sheet::None
            || is_field(&event)
            || !(plain && !event.ctrl_key() || undo)
        {
            return;
        }
        let pressed = match event.key().as_str() {
            _ if undo => Some(Key::Undo),
            // Digits from a keyboard, or a caliper that is one, end with Enter or Tab wherever the focus is.
            "Enter" | "Tab" if by_keys(walk) => Some(Key::Enter),
            // A key that has the focus is pressed by the browser.
            "Enter" | " " if on_button(&event) => None,
            key => meant(walk, key),
        };
        if let Some(key) = pressed {
            event.prevent_default();
            walk.by_keys.set_value(true);
            walk.press(key);
        } else if matches!(event.key().as_str(), "t" | "T") {
            let offer = offer.get_untracked();
            if let Some(offer) = offer {
                offer.take_up(walk);
            }
        } else if let Some(by) = travel(&event.key()) {
            event.prevent_default();
            walk.step_by(by);
        }
    });
    on_cleanup(move || handle.remove());
}

/// Whether something was typed on a keyboard and not entered yet. A question that stands open
/// is answered on purpose, by its own keys.
fn by_keys(walk: PassState) -> bool {
    walk.by_keys.get_value()
        && walk.asked.with_untracked(Option::is_none)
        && walk.typed.with_untracked(|t| !t.is_empty())
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

/// What a key means for the kind of record in hand.
fn meant(walk: PassState, key: &str) -> Option<Key> {
    let measure = walk.measure()?;
    if key == "u" || key == "U" {
        return Some(Key::Undo);
    }
    match measure.kind {
        Kind::Tick => matches!(key, "Enter" | " " | "1").then_some(Key::Answer(Value::Done(true))),
        Kind::Good => match key {
            "g" | "G" | "1" | "Enter" => Some(Key::Answer(Value::Good(true))),
            "n" | "N" | "0" => Some(Key::Answer(Value::Good(false))),
            _ => None,
        },
        Kind::Grade => {
            let place: usize = key.parse().ok()?;
            let index = place.checked_sub(1).filter(|i| *i < measure.grades.len())?;
            Some(Key::Answer(Value::Grade(index as u8)))
        }
        _ => match key {
            "Enter"
                if walk.typed.with_untracked(String::is_empty)
                    && walk.asked.with_untracked(Option::is_none) =>
            {
                None
            }
            "Enter" => Some(Key::Enter),
            "Backspace" => Some(Key::Erase),
            // What is typed goes; what was entered is not taken back by a key that puts away.
            "Escape" => {
                let typed = walk.typed.with_untracked(|t| !t.is_empty());
                typed.then_some(Key::Undo)
            }
            key => {
                let mut chars = key.chars();
                let one = chars.next().filter(|_| chars.next().is_none())?;
                // Units may be typed too: a typed unit wins over the job's.
                let typed = one.is_ascii_digit()
                    || matches!(one, '.' | ',' | '/' | ' ' | '-' | 'm' | 'i' | 'n' | '"');
                typed.then_some(Key::Type(if one == ',' { '.' } else { one }))
            }
        },
    }
}
