//! Dates, times and sums of money as this phone's region writes them.

use std::cell::RefCell;

use js_sys::Intl::{DateTimeFormat, NumberFormat};
use js_sys::{Array, Date, Function, Object, Reflect};
use wasm_bindgen::JsValue;

/// How a date is written.
#[derive(Clone, Copy)]
pub enum Form {
    /// `Thu`.
    Weekday,
    /// `7:30 AM`.
    Clock,
    /// `November 25, 2026`.
    Long,
    /// `Nov 25, 2026`.
    Short,
    /// `Nov 2026`.
    ShortMonth,
}

thread_local! {
    /// The formatters of the forms. To make one takes the browser far longer than to use it.
    static FORMATS: RefCell<[Option<Function>; 5]> = const { RefCell::new([const { None }; 5]) };
}

/// Returns a date in a form.
pub fn date(date: &Date, form: Form) -> String {
    let pairs: &[(&str, &str)] = match form {
        Form::Weekday => &[("weekday", "short")],
        Form::Clock => &[("hour", "numeric"), ("minute", "2-digit")],
        Form::Long => &[("day", "numeric"), ("month", "long"), ("year", "numeric")],
        Form::Short => &[("day", "numeric"), ("month", "short"), ("year", "numeric")],
        Form::ShortMonth => &[("month", "short"), ("year", "numeric")],
    };
    FORMATS.with_borrow_mut(|formats| {
        let make = || DateTimeFormat::new(&Array::new(), &options(pairs)).format();
        written(formats[form as usize].get_or_insert_with(make), date)
    })
}

/// Returns a sum in hundredths of a currency. `None` if the currency is no code of three letters, such as EUR.
pub fn money(cents: i64, currency: &str) -> Option<String> {
    let is_code = currency.len() == 3 && currency.bytes().all(|b| b.is_ascii_alphabetic());
    let pairs = [("style", "currency"), ("currency", currency)];
    is_code.then(|| {
        let format = NumberFormat::new(&Array::new(), &options(&pairs)).format();
        written(&format, &JsValue::from_f64(cents as f64 / 100.0))
    })
}

fn options(pairs: &[(&str, &str)]) -> Object {
    let options = Object::new();
    for (name, value) in pairs {
        // A plain object takes every field.
        let _ = Reflect::set(&options, &(*name).into(), &(*value).into());
    }
    options
}

fn written(format: &Function, value: &JsValue) -> String {
    let written = format.call1(&JsValue::UNDEFINED, value).ok();
    let written = written.and_then(|w| w.as_string()).unwrap_or_default();
    // Some regions have narrow spaces, which old fonts lack.
    written.replace(['\u{202f}', '\u{a0}'], " ")
}
