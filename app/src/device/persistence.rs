//! The storage quota, and whether the browser persists what is stored.

use wasm_bindgen::JsValue;

use super::{member, navigator, promised};

fn storage() -> Option<JsValue> {
    member(&navigator(), "storage")
}

/// Returns the bytes that this site uses, and its quota. `None` if the browser does not say.
pub async fn used_bytes() -> Option<(f64, f64)> {
    let estimate = promised(&storage()?, "estimate", &JsValue::UNDEFINED).await?;
    let bytes = |name| member(&estimate, name)?.as_f64();
    Some((bytes("usage")?, bytes("quota")?))
}

/// Returns whether the storage persists even when the phone runs out of room. `None` if the browser does not say.
pub async fn is_granted() -> Option<bool> {
    promised(&storage()?, "persisted", &JsValue::UNDEFINED)
        .await?
        .as_bool()
}

/// Asks the browser to persist the storage, and returns its answer.
pub async fn request() -> Option<bool> {
    promised(&storage()?, "persist", &JsValue::UNDEFINED)
        .await?
        .as_bool()
}
