//! Keeps the screen awake while a pass is open.

use std::cell::{Cell, RefCell};

use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsValue;

use super::{call, member, navigator, promised};

thread_local! {
    /// How many screens want the lock: the next one opens before the last is disposed of.
    static WANTED: Cell<u32> = const { Cell::new(0) };
    static HELD: RefCell<Option<JsValue>> = const { RefCell::new(None) };
}

/// Returns whether this browser can keep the screen awake.
pub fn can_stay_awake() -> bool {
    member(&navigator(), "wakeLock").is_some()
}

/// Keeps the screen awake until the current owner ends. The browser releases the lock when the page is hidden, so it is
/// requested again when the page is visible.
pub fn stay_awake() {
    WANTED.set(WANTED.get() + 1);
    ask();
    let seen = leptos::ev::Custom::<web_sys::Event>::new("visibilitychange");
    let handle = window_event_listener(seen, |_| {
        if !document().hidden() {
            ask();
        }
    });
    on_cleanup(move || {
        handle.remove();
        WANTED.set(WANTED.get() - 1);
        if WANTED.get() == 0 {
            let_go();
        }
    });
}

fn ask() {
    let Some(locks) = member(&navigator(), "wakeLock") else {
        return;
    };
    spawn_local(async move {
        let lock = promised(&locks, "request", &"screen".into()).await;
        if let Some(older) = HELD.replace(lock) {
            call(&older, "release", &JsValue::UNDEFINED);
        }
        // The pass may have been closed before the browser answered.
        if WANTED.get() == 0 {
            let_go();
        }
    });
}

fn let_go() {
    if let Some(lock) = HELD.take() {
        call(&lock, "release", &JsValue::UNDEFINED);
    }
}
