//! Speech by the browser's voice.

use wasm_bindgen::JsValue;

use super::{call, member};

fn voice() -> Option<JsValue> {
    member(&leptos::prelude::window().into(), "speechSynthesis")
}

/// Returns whether this browser has a voice.
pub fn can_speak() -> bool {
    voice().is_some()
}

/// Says a text at once, and stops the speech about an earlier note.
pub fn say(text: &str) {
    let Some(voice) = voice() else { return };
    let Ok(spoken) = web_sys::SpeechSynthesisUtterance::new_with_text(text) else {
        return;
    };
    // The words are English, whatever the phone's own language is.
    spoken.set_lang("en");
    call(&voice, "cancel", &JsValue::UNDEFINED);
    call(&voice, "speak", &spoken);
}
