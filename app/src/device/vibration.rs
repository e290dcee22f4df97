//! Tells by the phone's vibration what was read.

use wasm_bindgen::JsValue;

use super::{call, member, navigator};

/// Returns whether this browser can vibrate at all; a tablet without a motor may say so and do nothing.
pub fn can_vibrate() -> bool {
    member(&navigator(), "vibrate").is_some()
}

/// One short pulse.
pub fn pulse() {
    call(&navigator(), "vibrate", &JsValue::from(PULSE_MS));
}

/// Three pulses, each longer than the short one: not to be taken for it.
pub fn three_pulses() {
    let pattern: js_sys::Array = [90, 70, 90, 70, 90]
        .map(JsValue::from)
        .into_iter()
        .collect();
    call(&navigator(), "vibrate", &pattern);
}

const PULSE_MS: u32 = 30;
