//! The time and the calendar of this place.

use evenhand_core::job::Day;
use wasm_bindgen::JsValue;

use super::local_format::{self, Form};

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

/// Returns a wall time by the local clock, as the phone writes it: `Thu 7:30 AM`.
pub fn day_and_time(ms: i64) -> String {
    format!("{} {}", weekday(ms), clock(ms))
}

/// Returns the local day of the week, as the phone writes it: `Thu`.
pub fn weekday(ms: i64) -> String {
    local_format::date(&local(ms), Form::Weekday)
}

/// Returns the number of the local day of the week, from 0 for Sunday to 6.
pub fn weekday_number(ms: i64) -> u32 {
    local(ms).get_day() % 7
}

/// Returns the short name of a day of the week by its number, from 0 for Sunday.
pub fn weekday_name(number: u32) -> String {
    // 3 January 2021 was a Sunday.
    let date = js_sys::Date::new_with_year_month_day(2021, 0, 3 + number as i32);
    local_format::date(&date, Form::Weekday)
}

/// Returns the local time, as the phone writes it: `7:30 AM`.
pub fn clock(ms: i64) -> String {
    local_format::date(&local(ms), Form::Clock)
}

/// Returns a time of the day, in minutes after midnight, as the phone writes it: `7:30 AM`.
pub fn clock_of(minutes: i64) -> String {
    let date = js_sys::Date::new_with_year_month_day_hr_min(2021, 0, 3, 0, minutes as i32);
    local_format::date(&date, Form::Clock)
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

/// Returns the local date as the phone writes it in a letter: `November 25, 2026`.
pub fn long_date(ms: i64) -> String {
    local_format::date(&local(ms), Form::Long)
}

/// Returns the local date as the phone writes it in a list: `Nov 25, 2026`.
pub fn short_date(ms: i64) -> String {
    local_format::date(&local(ms), Form::Short)
}

/// Returns the month of a day as the phone writes it: `Nov 2026`.
pub fn short_month(day: Day) -> String {
    let (year, month, _) = day.date();
    let date = js_sys::Date::new_with_year_month_day(year as u32, month as i32 - 1, 1);
    local_format::date(&date, Form::ShortMonth)
}

/// Returns a day as the phone writes it in a letter: `November 25, 2026`.
pub fn long_day(day: Day) -> String {
    let (year, month, day) = day.date();
    let date = js_sys::Date::new_with_year_month_day(year as u32, month as i32 - 1, day as i32);
    local_format::date(&date, Form::Long)
}

/// Returns a month, 1 to 12, of a year as the phone writes it: `November 2027`.
pub fn month_and_year(year: i64, month: u32) -> String {
    let date = js_sys::Date::new_with_year_month_day(year as u32, month as i32 - 1, 1);
    local_format::date(&date, Form::Month)
}

/// Returns the local date, such as `2026-11-25`.
pub fn date(ms: i64) -> String {
    day(ms).to_string()
}
