//! The time and the calendar of this place.

use evenhand_core::job::Day;
use wasm_bindgen::JsValue;

/// Returns the wall time in milliseconds since 1970 (UTC).
pub fn now_ms() -> i64 {
    js_sys::Date::now() as i64
}

/// Returns a time in milliseconds that never goes back, for measuring how long something takes.
pub fn monotonic_ms() -> f64 {
    leptos::prelude::window()
        .performance()
        .map_or(0.0, |performance| performance.now())
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

/// Returns how many minutes the local clock is ahead of UTC at a time.
pub fn utc_offset_minutes(ms: i64) -> i16 {
    -local(ms).get_timezone_offset() as i16
}

/// Returns the local day.
pub fn day(ms: i64) -> Day {
    Day::at(ms, utc_offset_minutes(ms))
}

/// Returns the local date as it stands in a letter, such as `25 November 2026`.
pub fn long_date(ms: i64) -> String {
    long_day(day(ms))
}

/// Returns a day as it stands in a letter, such as `25 November 2026`.
pub fn long_day(day: Day) -> String {
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
    let (year, month, day) = day.date();
    format!("{day} {} {year}", MONTHS[(month as usize + 11) % 12])
}

/// Returns the local date, such as `2026-11-25`.
pub fn date(ms: i64) -> String {
    day(ms).to_string()
}
