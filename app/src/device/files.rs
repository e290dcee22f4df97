//! Files: export, share, and read.

use std::ops::Range;

use js_sys::Array;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{Blob, BlobPropertyBag, File, FilePropertyBag, HtmlAnchorElement};

use crate::device::{self, local_time};

/// The longest name of a job in a file name, in characters.
const MAX_NAME: usize = 64;

/// A file that is being written. The browser holds its parts, so that the memory of this program stays bounded.
pub struct NewFile {
    /// Its name.
    pub name: String,
    parts: Array,
}

impl NewFile {
    /// Returns an empty file of this name.
    pub fn new(name: String) -> NewFile {
        let parts = Array::new();
        NewFile { name, parts }
    }

    /// Returns a file with this text.
    ///
    /// # Errors
    /// Fails if the browser refuses it.
    pub fn with_text(name: String, text: &str) -> Result<NewFile, JsValue> {
        let file = NewFile::new(name);
        file.append(text)?;
        Ok(file)
    }

    /// Appends a text.
    ///
    /// # Errors
    /// Fails if the browser refuses it.
    pub fn append(&self, text: &str) -> Result<(), JsValue> {
        self.parts.push(part(text)?.as_ref());
        Ok(())
    }

    /// Puts a text before all others.
    ///
    /// # Errors
    /// Fails if the browser refuses it.
    pub fn prepend(&self, text: &str) -> Result<(), JsValue> {
        self.parts.unshift(part(text)?.as_ref());
        Ok(())
    }

    /// Returns the media type by the extension.
    fn media_type(&self) -> &'static str {
        if self.name.ends_with(".csv") {
            "text/csv;charset=utf-8"
        } else if self.name.ends_with(".html") {
            "text/html"
        } else if self.name.ends_with(".ics") {
            "text/calendar;charset=utf-8"
        } else {
            "application/json"
        }
    }

    /// Hands the file to the browser's downloads.
    ///
    /// # Errors
    /// Fails if the browser refuses.
    pub fn download(&self) -> Result<(), JsValue> {
        let document = leptos::prelude::document();
        let options = BlobPropertyBag::new();
        options.set_type(self.media_type());
        let blob = Blob::new_with_blob_sequence_and_options(&self.parts, &options)?;
        let url = web_sys::Url::create_object_url_with_blob(&blob)?;
        let anchor: HtmlAnchorElement = document.create_element("a")?.unchecked_into();
        anchor.set_href(&url);
        anchor.set_download(&self.name);
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

    /// Opens the share sheet with the file. Must be called soon after a tap.
    ///
    /// Returns whether it was shared; the user may cancel.
    pub async fn share(&self) -> bool {
        let Some(data) = self.shareable() else {
            return false;
        };
        let promise = leptos::prelude::window().navigator().share_with_data(&data);
        JsFuture::from(promise).await.is_ok()
    }

    /// Returns the data for the share sheet. `None` if this browser cannot share such a file.
    fn shareable(&self) -> Option<web_sys::ShareData> {
        let navigator = leptos::prelude::window().navigator();
        // Calling the method in an older browser, which lacks it, would throw.
        if !js_sys::Reflect::has(&navigator, &"canShare".into()).ok()? {
            return None;
        }
        let options = FilePropertyBag::new();
        options.set_type(self.media_type());
        let file = File::new_with_blob_sequence_and_options(&self.parts, &self.name, &options);
        let data = web_sys::ShareData::new();
        data.set_files(&Array::of1(file.ok()?.as_ref()));
        navigator.can_share_with_data(&data).then_some(data)
    }
}

/// Returns whether this browser has a share sheet that takes a text.
pub fn can_share_text() -> bool {
    device::member(&device::navigator(), "share").is_some()
}

/// The styles of a page that is shared as a file.
const PAGE_STYLES: &str = "body{max-width:170mm;margin:8mm auto;padding:0 4mm;font:11pt/1.45 Georgia,serif}h2,h3,table,figcaption,.client-head{font-family:system-ui,sans-serif}.client-head{display:flex;justify-content:space-between}.letterhead{white-space:pre-line}svg{width:100%}figure{margin:0}table{width:100%;border-collapse:collapse}th{text-align:left;font-weight:400}.num{text-align:right}.total>*{font-weight:700}.own{font-style:italic}";

/// Opens the share sheet with a text, and where this browser shares files with a page in HTML. Must be called soon after a
/// tap. The user may cancel.
pub async fn share_page(title: &str, text: String, file_name: String, page: Option<String>) {
    let page = format!(
        "<!doctype html><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width\"><title>Letter</title><style>{PAGE_STYLES}</style>{}",
        page.unwrap_or_default()
    );
    let file = NewFile::with_text(file_name, &page).ok();
    let data = file.and_then(|file| file.shareable()).unwrap_or_default();
    data.set_title(title);
    data.set_text(&text);
    device::promised(&device::navigator(), "share", &data).await;
}

/// Copies a text. Returns whether the browser did.
pub async fn copy(text: &str) -> bool {
    let Some(clipboard) = device::member(&device::navigator(), "clipboard") else {
        return false;
    };
    device::promised(&clipboard, "writeText", &text.into())
        .await
        .is_some()
}

fn part(text: &str) -> Result<Blob, JsValue> {
    Blob::new_with_str_sequence(&Array::of1(&JsValue::from_str(text)))
}

/// Returns whether this browser has a share sheet that takes a job file.
pub fn can_share() -> bool {
    let file = NewFile::with_text("a.job.json".to_owned(), "{}");
    file.is_ok_and(|file| file.shareable().is_some())
}

/// Returns a file name that is valid on any system: what it is of, the local date, who made it, and an ending.
pub fn name(of: &str, now_ms: i64, who: &str, ending: &str) -> String {
    let of = Some(plain(of)).filter(|of| !of.is_empty());
    let of = of.unwrap_or_else(|| "job".to_owned());
    let name = format!("{of}-{}-{}", local_time::date(now_ms), plain(who));
    format!("{}{ending}", name.trim_end_matches('-'))
}

/// Returns the words of a text in small letters and digits of any script, with hyphens between them.
fn plain(text: &str) -> String {
    let words = text.split(|c: char| !c.is_alphanumeric());
    let words: Vec<String> = words
        .filter(|w| !w.is_empty())
        .take(8)
        .map(str::to_lowercase)
        .collect();
    let plain: String = words.join("-").chars().take(MAX_NAME).collect();
    plain.trim_end_matches('-').to_owned()
}

/// Reads a part of a file that was chosen.
///
/// # Errors
/// Returns a sentence if the browser cannot read it.
pub async fn read(file: &File, range: Range<u64>) -> Result<Vec<u8>, String> {
    let cannot = |_| {
        "The file could not be read. Nothing stored here was changed. Try to open it again."
            .to_owned()
    };
    let slice = file
        .slice_with_f64_and_f64(range.start as f64, range.end as f64)
        .map_err(cannot)?;
    let buffer = JsFuture::from(slice.array_buffer()).await.map_err(cannot)?;
    Ok(js_sys::Uint8Array::new(&buffer).to_vec())
}
