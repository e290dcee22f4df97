//! What the phone can do beside showing: each degrades to nothing where it is missing.

use leptos::prelude::{document, window};
use wasm_bindgen::{JsCast, JsValue};

pub mod files;
pub mod room;
pub mod shell;
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
    window().navigator().into()
}

/// Wall time in milliseconds since 1970 (UTC).
pub fn now_ms() -> i64 {
    js_sys::Date::now() as i64
}

/// The address of the screen: what stands after the `#`, with it.
pub fn address() -> String {
    window().location().hash().unwrap_or_default()
}

/// A random number from the platform's source for keys.
pub fn random() -> u64 {
    let mut bytes = [0u8; 8];
    let crypto = window().crypto();
    let drawn = crypto.and_then(|c| c.get_random_values_with_u8_array(&mut bytes));
    match drawn {
        Ok(_) => u64::from_le_bytes(bytes),
        // No such source: the clock and the weaker generator together still set two phones apart.
        Err(_) => (js_sys::Math::random() * 9e15) as u64 ^ ((now_ms() as u64) << 20),
    }
}

/// A wall time by the clock of this place, such as `Thu 07:30`.
pub fn day_and_time(ms: i64) -> String {
    format!("{} {}", weekday(ms), clock(ms))
}

/// The day of the week by the calendar of this place: `Thu`.
pub fn weekday(ms: i64) -> &'static str {
    const DAYS: [&str; 7] = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
    DAYS[local(ms).get_day() as usize % 7]
}

/// The time by the clock of this place: `07:30`.
pub fn clock(ms: i64) -> String {
    let date = local(ms);
    format!("{:02}:{:02}", date.get_hours(), date.get_minutes())
}

/// The midnight before a time by the clock of this place.
pub fn midnight_ms(ms: i64) -> i64 {
    let date = local(ms);
    let minutes = i64::from(date.get_hours() * 60 + date.get_minutes());
    ms - ms.rem_euclid(60_000) - minutes * 60_000
}

fn local(ms: i64) -> js_sys::Date {
    js_sys::Date::new(&JsValue::from_f64(ms as f64))
}

/// The date by the calendar of this place, as a letter has it: `25 November 2026`.
pub fn long_date(ms: i64) -> String {
    const MONTHS: [&str; 12] = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ];
    let date = local(ms);
    let month = MONTHS[date.get_month() as usize % 12];
    format!("{} {month} {}", date.get_date(), date.get_full_year())
}

/// The local date as `2026-11-25`, for file names.
pub fn date(ms: i64) -> String {
    let date = local(ms);
    format!(
        "{}-{:02}-{:02}",
        date.get_full_year(),
        date.get_month() + 1,
        date.get_date()
    )
}

/// Lets go of the field that is being typed into, so that what was typed is kept.
pub fn settle_typing() {
    let active = document().active_element();
    if let Some(field) = active.and_then(|e| e.dyn_into::<web_sys::HtmlElement>().ok()) {
        // An element that cannot lose the focus has nothing typed in it.
        let _ = field.blur();
    }
}

/// Puts the focus on the next of the elements that the selector names.
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
        // What cannot take the focus leaves it where it is.
        let _ = next.focus();
    }
}

/// Shows the element with this id, where there is one.
pub fn show_part(id: &str) {
    if let Some(part) = document().get_element_by_id(id) {
        part.scroll_into_view();
    }
}

/// Whether there is room for two panes: the office’s screen.
pub fn is_wide() -> bool {
    let query = window().match_media("(min-width: 900px)").ok().flatten();
    query.is_some_and(|query| query.matches())
}

/// Returns when what was just shown is on the screen.
pub async fn painted() {
    // Three frames' time: a frame that is only asked for would come before it is painted.
    pause(50).await;
}

/// Lets the browser do what waits: taps, pictures.
pub async fn pause(ms: u64) {
    let later = js_sys::Promise::new(&mut |done, _| {
        let then = move || {
            let _ = done.call0(&JsValue::UNDEFINED);
        };
        leptos::prelude::set_timeout(then, std::time::Duration::from_millis(ms));
    });
    let _ = wasm_bindgen_futures::JsFuture::from(later).await;
}
