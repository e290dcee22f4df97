//! Photos from the camera or the gallery: turned upright, scaled down, and without what the camera wrote into them.

use evenhand_core::job::{MAX_PHOTO_BYTES, PhotoError, PhotoFormat, PhotoHeader};
use js_sys::{Promise, Uint8Array};
use wasm_bindgen::prelude::Closure;
use wasm_bindgen::{JsCast, JsValue};
use wasm_bindgen_futures::JsFuture;
use web_sys::{
    Blob, BlobPropertyBag, CanvasRenderingContext2d, Element, File, HtmlCanvasElement,
    HtmlImageElement, Url,
};

use super::files;

/// The media type of what is stored.
const JPEG: &str = "image/jpeg";
/// How many bytes of a chosen file are looked at for its size in pixels. What a camera writes before it is shorter.
const HEADER_BYTES: u64 = 4 << 20;
/// The largest file that is chosen (64 MB); a camera's has a few.
const MAX_FILE_BYTES: u64 = 64 << 20;
/// About how many bytes a photo should have.
const WANTED_BYTES: usize = 200_000;
/// The qualities of the JPEG that are tried until it has about [`WANTED_BYTES`].
const QUALITIES: [f64; 3] = [0.8, 0.65, 0.5];
/// The types that a field takes. A phone turns its own format into one of them.
pub const ACCEPTED: &str = "image/jpeg,image/png,image/webp";

const NOT_SHOWN: &str =
    "The photo cannot be shown by this browser and was not stored. Take it again.";

/// Returns the address of bytes that an image can show, until [`revoke`].
pub fn url_of(bytes: &[u8], media_type: &str) -> Option<String> {
    let options = BlobPropertyBag::new();
    options.set_type(media_type);
    let parts = js_sys::Array::of1(&Uint8Array::from(bytes));
    let blob = Blob::new_with_u8_array_sequence_and_options(&parts, &options).ok()?;
    Url::create_object_url_with_blob(&blob).ok()
}

/// Ends an address of [`url_of`].
pub fn revoke(url: &str) {
    // Nothing can be done about one that is gone already.
    let _ = Url::revoke_object_url(url);
}

/// Returns a chosen photo as a JPEG to be stored: upright, its longer side at most 1,600 px, about 200 KB, with none of
/// the camera's own data, since it is drawn anew.
///
/// # Errors
/// Returns a sentence if it is no photo, has too many pixels, or cannot be drawn. Nothing of it is decoded before its
/// header was read.
pub async fn prepare(file: &File) -> Result<Vec<u8>, String> {
    let size = file.size() as u64;
    if size > MAX_FILE_BYTES {
        return Err(PhotoError::TooManyPixels.to_string());
    }
    let head = files::read(file, 0..size.min(HEADER_BYTES)).await?;
    PhotoHeader::read(&head).map_err(|e| e.to_string())?;
    let url = Url::create_object_url_with_blob(file).map_err(|_| NOT_SHOWN.to_owned())?;
    let drawn = draw(&url).await;
    revoke(&url);
    let canvas = drawn.ok_or(NOT_SHOWN)?;
    let mut smallest = None;
    for quality in QUALITIES {
        let bytes = jpeg(&canvas, quality).await.ok_or(NOT_SHOWN)?;
        let is_small = bytes.len() <= WANTED_BYTES;
        smallest = Some(bytes);
        if is_small {
            break;
        }
    }
    // Its memory is given back before the browser finds the time to.
    canvas.set_width(0);
    match smallest {
        Some(bytes) if bytes.len() <= MAX_PHOTO_BYTES && PhotoHeader::read(&bytes).is_ok() => {
            Ok(bytes)
        }
        _ => Err(PhotoError::TooLarge.to_string()),
    }
}

/// Draws an image from an address, upright, as large as it is stored. `None` if the browser cannot.
async fn draw(url: &str) -> Option<HtmlCanvasElement> {
    let image = HtmlImageElement::new().ok()?;
    image.set_src(url);
    JsFuture::from(image.decode()).await.ok()?;
    drawn(&image)
}

/// Returns an image that is shown as the text of a `data:` address. `None` if the browser cannot draw it.
fn data_url(image: &HtmlImageElement) -> Option<String> {
    let quality = QUALITIES[0].into();
    drawn(image)?
        .to_data_url_with_type_and_encoder_options(JPEG, &quality)
        .ok()
}

/// Returns what an element shows as HTML, its photos as data in it: their addresses are of this page alone. `None` if there
/// is no such element.
pub fn page_with_photos(selector: &str) -> Option<String> {
    let page = leptos::prelude::document()
        .query_selector(selector)
        .ok()??;
    let copy: Element = page.clone_node_with_deep(true).ok()?.dyn_into().ok()?;
    let shown = page.query_selector_all("img").ok()?;
    let copied = copy.query_selector_all("img").ok()?;
    for at in 0..shown.length() {
        let image = shown.get(at)?.dyn_into::<HtmlImageElement>().ok()?;
        let copy = copied.get(at)?.dyn_into::<HtmlImageElement>().ok()?;
        match data_url(&image) {
            Some(url) => copy.set_src(&url),
            None => copy.remove(),
        }
    }
    Some(copy.outer_html())
}

fn drawn(image: &HtmlImageElement) -> Option<HtmlCanvasElement> {
    // Upright, as every engine shows it.
    let header = PhotoHeader {
        format: PhotoFormat::Jpeg,
        width: image.natural_width(),
        height: image.natural_height(),
    };
    let (width, height) = header.scaled();
    let document = leptos::prelude::document();
    let canvas: HtmlCanvasElement = document.create_element("canvas").ok()?.unchecked_into();
    canvas.set_width(width);
    canvas.set_height(height);
    let context: CanvasRenderingContext2d = canvas.get_context("2d").ok()??.unchecked_into();
    // What is transparent would become black.
    context.set_fill_style_str("#fff");
    let (width, height) = (f64::from(width), f64::from(height));
    context.fill_rect(0.0, 0.0, width, height);
    context
        .draw_image_with_html_image_element_and_dw_and_dh(image, 0.0, 0.0, width, height)
        .ok()?;
    Some(canvas)
}

/// Returns what is drawn as a JPEG. `None` if the browser cannot write one.
async fn jpeg(canvas: &HtmlCanvasElement, quality: f64) -> Option<Vec<u8>> {
    let written = Promise::new(&mut |done, failed| {
        let done = Closure::once_into_js(move |blob: JsValue| {
            let _ = done.call1(&JsValue::UNDEFINED, &blob);
        });
        let asked = canvas.to_blob_with_type_and_encoder_options(
            done.unchecked_ref(),
            JPEG,
            &quality.into(),
        );
        if asked.is_err() {
            let _ = failed.call0(&JsValue::UNDEFINED);
        }
    });
    let blob: Blob = JsFuture::from(written).await.ok()?.dyn_into().ok()?;
    let buffer = JsFuture::from(blob.array_buffer()).await.ok()?;
    Some(Uint8Array::new(&buffer).to_vec())
}
