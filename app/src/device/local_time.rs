//! The time and the calendar of this place.

use wasm_bindgen::JsValue;

/// Returns the wall time in milliseconds since 1970 (UTC).
pub fn now_ms() -> i64 {
    js_sys::Date::now() as i64
}

/// Returns a wall time by the local clock, such as `Thu 07:30`.
pub fn day_and_time(ms: i64) -> String {
    format!("{} {}", weekday(ms), clock(ms))
}

/// Returns the local day of the week, such as `Thu`.
pub fn weekday(ms: i64) -> &'static str {
    const DAYS: [&str; 7] = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"];
    DAYS[local(ms).get_day() as usize % 7]
}

/// Returns the local time, such as `07:30`.
pub fn clock(ms: i64) -> String {
    let date = local(ms);
    format!("{:02}:{:02}", date.get_hours(), date.get_minutes())
}

/// Returns the local midnight before a time.
pub fn midnight_ms(ms: i64) -> i64 {
    let date = local(ms);
    let minutes = i64::from(date.get_hours() * 60 + date.get_minutes());
    ms - ms.rem_euclid(60_000) - minutes * 60_000
}

fn local(ms: i64) -> js_sys::Date {
    js_sys::Date::new(&JsValue::from_f64(ms as f64))
}

/// Returns the local date as it stands in a letter, such as `25 November 2026`.
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

/// Returns the local date, such as `2026-11-25`.
pub fn date(ms: i64) -> String {
    let date = local(ms);
    format!(
        "{}-{:02}-{:02}",
        date.get_full_year(),
        date.get_month() + 1,
        date.get_date()
    )
}
