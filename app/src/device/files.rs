//! Files: download, share, and read.

use wasm_bindgen::{JsCast, JsValue};
use web_sys::{Blob, BlobPropertyBag, HtmlAnchorElement};

use crate::device::local_time;

/// Returns the media type of a file by its extension.
fn kind(name: &str) -> &'static str {
    if name.ends_with(".csv") {
        "text/csv;charset=utf-8"
    } else {
        "application/json"
    }
}

/// Returns a text as a blob of the file's media type.
fn blob(name: &str, text: &str) -> Result<Blob, JsValue> {
    let parts = js_sys::Array::of1(&JsValue::from_str(text));
    let options = BlobPropertyBag::new();
    options.set_type(kind(name));
    Blob::new_with_str_sequence_and_options(&parts, &options)
}

/// Hands a file to the browser's downloads.
///
/// # Errors Fails if the browser refuses.
pub fn download(name: &str, text: &str) -> Result<(), JsValue> {
    let document = leptos::prelude::document();
    let url = web_sys::Url::create_object_url_with_blob(&blob(name, text)?)?;
    let anchor: HtmlAnchorElement = document.create_element("a")?.unchecked_into();
    anchor.set_href(&url);
    anchor.set_download(name);
    anchor.click();
    // The browser reads the blob some time after the click; a minute is ample.
    leptos::prelude::set_timeout(
        move || {
            let _ = web_sys::Url::revoke_object_url(&url);
        },
        std::time::Duration::from_secs(60),
    );
    Ok(())
}

/// Returns the data for the share sheet. `None` if this browser cannot share such files.
fn shareable(files: &[(String, String)]) -> Option<web_sys::ShareData> {
    let navigator = leptos::prelude::window().navigator();
    // Calling the method in an older browser, which lacks it, would throw.
    if !js_sys::Reflect::has(&navigator, &"canShare".into()).ok()? {
        return None;
    }
    let shared = js_sys::Array::new();
    for (name, text) in files {
        let parts = js_sys::Array::of1(&JsValue::from_str(text));
        let options = web_sys::FilePropertyBag::new();
        options.set_type(kind(name));
        let file = web_sys::File::new_with_str_sequence_and_options(&parts, name, &options).ok()?;
        shared.push(&file);
    }
    let data = web_sys::ShareData::new();
    data.set_files(&shared);
    navigator.can_share_with_data(&data).then_some(data)
}

/// Returns whether this browser has a share sheet that takes a job file.
pub fn can_share() -> bool {
    shareable(&[("a.job.json".to_owned(), "{}".to_owned())]).is_some()
}

/// Opens the share sheet with files, each a name and its text. Must be called from a tap.
///
/// Returns whether they were shared; the user may cancel.
pub async fn share(files: &[(String, String)]) -> bool {
    let Some(data) = shareable(files) else {
        return false;
    };
    let promise = leptos::prelude::window().navigator().share_with_data(&data);
    wasm_bindgen_futures::JsFuture::from(promise).await.is_ok()
}

/// Returns a file name that is valid on any system: the job's name in ASCII, the date and an ending.
pub fn name(job: &str, now_ms: i64, ending: &str) -> String {
    let plain: String = job
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        })
        .collect();
    let words: Vec<&str> = plain.split('-').filter(|w| !w.is_empty()).take(6).collect();
    let name = if words.is_empty() {
        "job".to_owned()
    } else {
        words.join("-")
    };
    format!("{name}-{}{ending}", local_time::date(now_ms))
}

/// Reads a file that was chosen.
///
/// # Errors Returns a sentence if the file is larger than any job file, or cannot be read.
pub async fn read(file: web_sys::File) -> Result<Vec<u8>, String> {
    let most = evenhand_core::job::MAX_BYTES as f64;
    if file.size() > most {
        let error = evenhand_core::job::FileError::TooLarge(file.size() as usize);
        return Err(error.to_string());
    }
    let buffer = wasm_bindgen_futures::JsFuture::from(file.array_buffer())
        .await
        .map_err(|_| {
            "The file could not be read. Nothing stored here was changed. Try to open it again."
                .to_owned()
        })?;
    Ok(js_sys::Uint8Array::new(&buffer).to_vec())
}
