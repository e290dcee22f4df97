//! Vibration.

use wasm_bindgen::JsValue;

use super::{call, member, navigator};

/// Returns whether this browser can vibrate at all; a tablet without a motor may say so and do nothing.
pub fn can_vibrate() -> bool {
    member(&navigator(), "vibrate").is_some()
}

/// Vibrates once, shortly.
pub fn pulse() {
    call(&navigator(), "vibrate", &JsValue::from(PULSE_MS));
}

/// Vibrates three times, each longer than [`pulse`], so that the two cannot be confused.
pub fn three_pulses() {
    let pattern: js_sys::Array = [90, 70, 90, 70, 90]
        .map(JsValue::from)
        .into_iter()
        .collect();
    call(&navigator(), "vibrate", &pattern);
}

const PULSE_MS: u32 = 30;
