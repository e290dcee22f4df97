//! What `app/boot.js` does for the program: offline, newer releases, installation, the word between two tabs.

use leptos::prelude::{WindowListenerHandle, window, window_event_listener_untyped};
use wasm_bindgen::JsValue;

use super::{call, member};

fn shell() -> Option<JsValue> {
    member(&window(), "evenhand")
}

fn is(what: &str) -> bool {
    shell()
        .and_then(|shell| member(&shell, what)?.as_bool())
        .unwrap_or(false)
}

fn tell(what: &str, with: &JsValue) {
    if let Some(shell) = shell() {
        call(&shell, what, with);
    }
}

/// Whether a newer release is here and waits for the user's word.
pub fn has_news() -> bool {
    is("news")
}

/// Whether the app starts without a network.
pub fn is_offline_ready() -> bool {
    is("offline")
}

/// Whether the browser offers to install the app.
pub fn can_install() -> bool {
    is("installable")
}

/// Whether this is a phone that clears a site's storage after a week without a visit, unless it is
/// put on the home screen: it is told by a member of `navigator` that only such browsers have.
pub fn clears_unless_installed() -> bool {
    member(&super::navigator(), "standalone").is_some_and(|s| s.as_bool() == Some(false))
}

/// Takes the newer release and starts it.
pub fn use_newer() {
    tell("use", &JsValue::UNDEFINED);
}

/// Shows the browser's question whether to install the app. Must be called from a tap.
pub fn install() {
    tell("install", &JsValue::UNDEFINED);
}

/// Says to the other tabs which entries of a job were saved: the job, then a line for each.
pub fn post(saved: &[String]) {
    let lines: js_sys::Array = saved.iter().map(|line| JsValue::from_str(line)).collect();
    tell("post", &lines);
}

/// Calls when something of the above has changed.
pub fn on_change(run: impl Fn() + 'static) -> WindowListenerHandle {
    window_event_listener_untyped("evenhand-shell", move |_| run())
}

/// Calls with what another tab has saved, as [`post`] said it there.
pub fn on_saved_elsewhere(run: impl Fn(Vec<String>) + 'static) -> WindowListenerHandle {
    window_event_listener_untyped("evenhand-saved", move |event| {
        let lines = member(&event, "detail").map(|d| js_sys::Array::from(&d));
        run(lines
            .unwrap_or_default()
            .iter()
            .filter_map(|line| line.as_string())
            .collect());
    })
}

/// Notes where the program stops, for the screen that `app/rescue.js` shows then. The place in the
/// source alone: a message could hold what was entered.
pub fn note_where_it_stops() {
    std::panic::set_hook(Box::new(|panic| {
        if let (Some(shell), Some(place)) = (shell(), panic.location()) {
            let place = format!("{}:{}", place.file(), place.line());
            // A refusal leaves the screen without the place, which is all that can be done here.
            let _ = js_sys::Reflect::set(&shell, &"stopped".into(), &place.into());
        }
    }));
}
