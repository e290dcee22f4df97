//! What `app/boot.js` offers: offline use, updates, installation. And the messages between tabs.

use leptos::prelude::{WindowListenerHandle, window, window_event_listener_untyped};
use send_wrapper::SendWrapper;
use wasm_bindgen::prelude::*;
use web_sys::{BroadcastChannel, MessageEvent};

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

/// A release that the host hands out, ready to be used in the place of the one that is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Update {
    /// It is newer.
    Newer,
    /// It is older: the host has gone back.
    Older,
}

/// Returns the update that is ready and waits for the user. `None` if there is none.
pub fn update() -> Option<Update> {
    match (is("news"), is("older")) {
        (false, _) => None,
        (true, false) => Some(Update::Newer),
        (true, true) => Some(Update::Older),
    }
}

/// Returns whether the app starts without a network.
pub fn is_offline_ready() -> bool {
    is("offline")
}

/// Returns whether the browser offers to install the app.
pub fn can_install() -> bool {
    is("installable")
}

/// Returns whether this browser clears a site's storage after a week without a visit, unless it is on the home screen.
/// Only such browsers have `navigator.standalone`.
pub fn clears_unless_installed() -> bool {
    member(&super::navigator(), "standalone").is_some_and(|s| s.as_bool() == Some(false))
}

/// Starts the update.
pub fn apply_update() {
    tell("use", &JsValue::UNDEFINED);
}

/// Shows the browser's question whether to install the app. Must be called from a tap.
pub fn install() {
    tell("install", &JsValue::UNDEFINED);
}

/// Calls `run` when one of the above changes.
pub fn on_change(run: impl Fn() + 'static) -> WindowListenerHandle {
    window_event_listener_untyped("evenhand-shell", move |_| run())
}

thread_local! {
    /// `None` in a browser without `BroadcastChannel`, where other tabs show what was saved once they are reloaded.
    static TABS: Option<BroadcastChannel> = BroadcastChannel::new("evenhand").ok();
}

/// Sends the other tabs the entries of a job that were saved: the job, then a line for each entry.
pub fn post(saved: &[String]) {
    let lines: js_sys::Array = saved.iter().map(|line| JsValue::from_str(line)).collect();
    TABS.with(|tabs| {
        if let Some(tabs) = tabs {
            // Fails only on a closed channel, and this one is never closed.
            let _ = tabs.post_message(&lines);
        }
    });
}

/// Calls `run` with what another tab has sent by [`post`], until the handle's `remove`.
pub fn on_saved_elsewhere(run: impl Fn(Vec<String>) + 'static) -> TabsListener {
    let heard = Closure::new(move |event: MessageEvent| {
        if let Ok(lines) = event.data().dyn_into::<js_sys::Array>() {
            run(lines.iter().filter_map(|line| line.as_string()).collect());
        }
    });
    set_listener(Some(heard.as_ref().unchecked_ref()));
    TabsListener(SendWrapper::new(heard))
}

fn set_listener(listener: Option<&js_sys::Function>) {
    TABS.with(|tabs| {
        if let Some(tabs) = tabs {
            tabs.set_onmessage(listener);
        }
    });
}

/// Keeps the listener of [`on_saved_elsewhere`] alive.
pub struct TabsListener(SendWrapper<Closure<dyn Fn(MessageEvent)>>);

impl TabsListener {
    /// Stops listening.
    pub fn remove(self) {
        set_listener(None);
        drop(self.0);
    }
}

/// Sets a panic hook that stores the place of a panic for the screen that `app/rescue.js` shows. Only the place in the
/// source: the message could contain what was entered.
pub fn note_where_it_stops() {
    std::panic::set_hook(Box::new(|panic| {
        if let (Some(shell), Some(place)) = (shell(), panic.location()) {
            let place = format!("{}:{}", place.file(), place.line());
            // If it is refused, the screen shows no place.
            let _ = js_sys::Reflect::set(&shell, &"stopped".into(), &place.into());
        }
    }));
}
