//! What the device can do beside showing; each does nothing in a browser that lacks it.

use leptos::prelude::{document, window};
use wasm_bindgen::{JsCast, JsValue};

pub mod camera;
pub mod files;
pub mod local_format;
pub mod local_time;
pub mod paper;
pub mod persistence;
pub mod shell;
pub mod speech;
pub mod vibration;
pub mod wake_lock;

/// Returns a member of a platform object. `None` if this browser lacks it.
fn member(of: &JsValue, name: &str) -> Option<JsValue> {
    let found = js_sys::Reflect::get(of, &name.into()).ok()?;
    (!found.is_undefined() && !found.is_null()).then_some(found)
}

/// Calls a method of a platform object. Returns `None` if this browser lacks or refuses it.
fn call(of: &JsValue, name: &str, with: &JsValue) -> Option<JsValue> {
    let method: js_sys::Function = member(of, name)?.dyn_into().ok()?;
    method.call1(of, with).ok()
}

/// Awaits the promise that a method returns. Returns `None` if it is rejected.
async fn promised(of: &JsValue, name: &str, with: &JsValue) -> Option<JsValue> {
    let promise: js_sys::Promise = call(of, name, with)?.dyn_into().ok()?;
    wasm_bindgen_futures::JsFuture::from(promise).await.ok()
}

fn navigator() -> JsValue {
    window().navigator().into()
}

/// Returns the fragment of the address, with its `#`.
pub fn address() -> String {
    window().location().hash().unwrap_or_default()
}

/// Returns a random number from the browser's cryptographic source.
pub fn random() -> u64 {
    let mut bytes = [0u8; 8];
    let crypto = window().crypto();
    let drawn = crypto.and_then(|c| c.get_random_values_with_u8_array(&mut bytes));
    match drawn {
        Ok(_) => u64::from_le_bytes(bytes),
        // Without it, the clock and the weaker generator together still make two phones differ.
        Err(_) => (js_sys::Math::random() * 9e15) as u64 ^ ((local_time::now_ms() as u64) << 20),
    }
}

/// Takes the focus from the field that is being typed into, so that its text is recorded.
pub fn settle_typing() {
    let active = document().active_element();
    if let Some(field) = active.and_then(|e| e.dyn_into::<web_sys::HtmlElement>().ok()) {
        // An element that cannot lose the focus holds no typed text.
        let _ = field.blur();
    }
}

/// Moves the focus to the next element that matches the selector.
pub fn focus_next(selector: &str) {
    let (Some(active), Ok(all)) = (
        document().active_element(),
        document().query_selector_all(selector),
    ) else {
        return;
    };
    let of = |at: u32| all.get(at)?.dyn_into::<web_sys::HtmlElement>().ok();
    let is_active =
        |at: &u32| of(*at).is_some_and(|e| AsRef::<web_sys::Element>::as_ref(&e) == &active);
    let next = (0..all.length()).find(is_active).and_then(|at| of(at + 1));
    if let Some(next) = next {
        // An element that cannot take the focus leaves it where it is.
        let _ = next.focus();
    }
}

/// Returns whether anything but the page itself has the focus.
pub fn is_focused() -> bool {
    let active = document().active_element();
    active.is_some_and(|e| e.tag_name() != "BODY")
}

/// Moves the focus to the first element that matches the selector, and scrolls it into view.
pub fn focus_first(selector: &str) {
    let first = document().query_selector(selector).ok().flatten();
    if let Some(first) = first.and_then(|e| e.dyn_into::<web_sys::HtmlElement>().ok()) {
        // An element that cannot take the focus leaves it where it is.
        let _ = first.focus();
    }
}

/// Scrolls to the element with this id, if there is one.
pub fn show_part(id: &str) {
    if let Some(part) = document().get_element_by_id(id) {
        part.scroll_into_view();
    }
}

/// From this width two panes have room; the style sheets have the same number.
const WIDE_PX: u32 = 900;

/// Returns whether there is room for two panes.
pub fn is_wide() -> bool {
    is_at_least(WIDE_PX)
}

/// Returns whether the window is at least this wide, in CSS pixels.
pub fn is_at_least(width_px: u32) -> bool {
    let query = format!("(min-width: {width_px}px)");
    let query = window().match_media(&query).ok().flatten();
    query.is_some_and(|query| query.matches())
}

/// Returns when the last changes are painted.
pub async fn painted() {
    // Three frames: the callback of an animation frame comes before its paint.
    pause(50).await;
}

/// Lets the browser handle waiting events and paint.
pub async fn pause(ms: u64) {
    let later = js_sys::Promise::new(&mut |done, _| {
        let then = move || {
            let _ = done.call0(&JsValue::UNDEFINED);
        };
        leptos::prelude::set_timeout(then, std::time::Duration::from_millis(ms));
    });
    let _ = wasm_bindgen_futures::JsFuture::from(later).await;
}
