//! How much room the browser gives, and whether it keeps what is stored.

use wasm_bindgen::JsValue;

use super::{member, navigator, promised};

fn storage() -> Option<JsValue> {
    member(&navigator(), "storage")
}

/// Bytes that this site uses, and bytes that it may use, where the browser says.
pub async fn used_bytes() -> Option<(f64, f64)> {
    let estimate = promised(&storage()?, "estimate", &JsValue::UNDEFINED).await?;
    let bytes = |name| member(&estimate, name)?.as_f64();
    Some((bytes("usage")?, bytes("quota")?))
}

/// Returns whether the browser keeps what is stored even when the phone is short of room.
pub async fn is_granted() -> Option<bool> {
    promised(&storage()?, "persisted", &JsValue::UNDEFINED)
        .await?
        .as_bool()
}

/// Asks the browser to keep what is stored, and says whether it will.
pub async fn request() -> Option<bool> {
    promised(&storage()?, "persist", &JsValue::UNDEFINED)
        .await?
        .as_bool()
}
