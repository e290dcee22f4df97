//! What the phone can do beside showing: each degrades to nothing where it is missing.

use wasm_bindgen::{JsCast, JsValue};

pub mod room;
pub mod speech;
pub mod vibration;
pub mod wake;

/// A member of a platform object; nothing where this browser lacks it.
fn member(of: &JsValue, name: &str) -> Option<JsValue> {
    let found = js_sys::Reflect::get(of, &name.into()).ok()?;
    (!found.is_undefined() && !found.is_null()).then_some(found)
}

/// Calls a method of a platform object; nothing where this browser lacks or refuses it.
fn call(of: &JsValue, name: &str, with: &JsValue) -> Option<JsValue> {
    let method: js_sys::Function = member(of, name)?.dyn_into().ok()?;
    method.call1(of, with).ok()
}

/// What a method promised, once it comes; nothing where it was refused.
async fn promised(of: &JsValue, name: &str, with: &JsValue) -> Option<JsValue> {
    let promise: js_sys::Promise = call(of, name, with)?.dyn_into().ok()?;
    wasm_bindgen_futures::JsFuture::from(promise).await.ok()
}

fn navigator() -> JsValue {
    leptos::prelude::window().navigator().into()
}

/// Wall time in milliseconds since 1970 (UTC).
pub fn now_ms() -> i64 {
    js_sys::Date::now() as i64
}

/// A random number from the platform's source for keys.
pub fn random() -> u64 {
    let mut bytes = [0u8; 8];
    let crypto = leptos::prelude::window().crypto();
    let drawn = crypto.and_then(|c| c.get_random_values_with_u8_array(&mut bytes));
    match drawn {
        Ok(_) => u64::from_le_bytes(bytes),
        // No such source: the clock and the weaker generator together still set two phones apart.
        Err(_) => (js_sys::Math::random() * 9e15) as u64 ^ ((now_ms() as u64) << 20),
    }
}

/// A wall time as people of this place write it, such as `Thu 07:30`.
pub fn day_and_time(ms: i64) -> String {
    let date = js_sys::Date::new(&JsValue::from_f64(ms as f64));
    let option = |key: &str, value: &str, to: &js_sys::Object| {
        // A plain object of our own takes any key.
        let _ = js_sys::Reflect::set(to, &key.into(), &value.into());
    };
    let options = js_sys::Object::new();
    option("weekday", "short", &options);
    option("hour", "2-digit", &options);
    option("minute", "2-digit", &options);
    option("hourCycle", "h23", &options);
    date.to_locale_string("en-GB", &options).into()
}

/// The date as `2026-11-25`, for file names.
pub fn date(ms: i64) -> String {
    let date = js_sys::Date::new(&JsValue::from_f64(ms as f64));
    let text: String = date.to_iso_string().into();
    text.chars().take(10).collect()
}
