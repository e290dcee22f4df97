//! A day of the calendar, and a day of one person's work.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A day of the Gregorian calendar, at the place where the work was done.
///
/// It has no time and no zone. Days compare by date; there is no default. In the job file it is a text
/// such as `2026-11-25`.
///
/// **Rule** (P: the Gregorian calendar; days to a date by the era of 400 years, 146 097 days).
///
/// ```
/// use evenhand_core::job::Day;
///
/// let day: Day = "2026-11-25".parse()?;
/// assert_eq!(day.date(), (2026, 11, 25));
/// assert_eq!(day.to_string(), "2026-11-25");
/// assert!(day < Day::at(1_800_000_000_000, 0));
/// assert!("2026-02-29".parse::<Day>().is_err());
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Day(
    /// Days since 1 January 1970.
    i32,
);

/// The text is not a day. It says no more than that, and has no default; its own text is a sentence for a technician.
///
/// ```
/// use evenhand_core::job::{Day, DayError};
///
/// assert_eq!("2026-02-30".parse::<Day>(), Err(DayError));
/// // The sentence shows a day that can be read.
/// assert!(DayError.to_string().contains("2026-11-25") && "2026-11-25".parse::<Day>().is_ok());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DayError;

impl fmt::Display for DayError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("That is not a date. Type it like 2026-11-25.")
    }
}

impl std::error::Error for DayError {}

impl Day {
    /// The largest year that a text may have; the wall time of an entry ends in it.
    const MAX_YEAR: i64 = 275_760;

    /// Returns the day at a wall time in milliseconds since 1970 (UTC), where the clocks are this many
    /// minutes ahead of UTC.
    ///
    /// ```
    /// use evenhand_core::job::Day;
    ///
    /// // 21 September 2026, 14:13 UTC.
    /// let at_ms = 1_790_000_000_000;
    /// assert_eq!(Day::at(at_ms, 0).to_string(), "2026-09-21");
    /// assert_eq!(Day::at(at_ms, 10 * 60).to_string(), "2026-09-22");
    /// ```
    pub fn at(at_ms: i64, utc_offset_minutes: i16) -> Day {
        let local_ms = at_ms.saturating_add(i64::from(utc_offset_minutes) * 60_000);
        let days = local_ms.div_euclid(86_400_000);
        Day(days.clamp(i64::from(i32::MIN), i64::from(i32::MAX)) as i32)
    }

    /// Returns the year, the month (1 to 12) and the day of the month (1 to 31).
    pub fn date(self) -> (i64, u32, u32) {
        // Days since 1 March of the year 0, so that a leap day is the last day of a year.
        let since = i64::from(self.0) + 719_468;
        let (era, of_era) = (since.div_euclid(146_097), since.rem_euclid(146_097));
        let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
        let of_year = of_era - (365 * year + year / 4 - year / 100);
        let month = (5 * of_year + 2) / 153;
        let day = of_year - (153 * month + 2) / 5 + 1;
        let (month, over) = match month < 10 {
            true => (month + 3, 0),
            false => (month - 9, 1),
        };
        (year + era * 400 + over, month as u32, day as u32)
    }

    /// Returns the same day so many months later; the last day of the month if that month has no such day.
    ///
    /// ```
    /// use evenhand_core::job::Day;
    ///
    /// let day: Day = "2026-11-30".parse()?;
    /// assert_eq!(day.after_months(12).to_string(), "2027-11-30");
    /// assert_eq!(day.after_months(3).to_string(), "2027-02-28");
    /// # Ok::<(), evenhand_core::job::DayError>(())
    /// ```
    pub fn after_months(self, months: u32) -> Day {
        let (year, month, day) = self.date();
        let since = year * 12 + i64::from(month) - 1 + i64::from(months);
        let (year, month) = (since.div_euclid(12), since.rem_euclid(12) + 1);
        let found = (28..=i64::from(day))
            .rev()
            .find_map(|d| Day::of(year, month, d));
        found
            .or_else(|| Day::of(year, month, i64::from(day)))
            .unwrap_or(self)
    }

    /// Returns the wall time of its noon in milliseconds since 1970 (UTC), where the clocks are this many minutes ahead
    /// of UTC.
    ///
    /// ```
    /// use evenhand_core::job::Day;
    ///
    /// let day: Day = "2026-09-21".parse()?;
    /// assert_eq!(Day::at(day.noon_ms(600), 600), day);
    /// assert_eq!(day.noon_ms(0) - day.noon_ms(60), 3_600_000);
    /// # Ok::<(), evenhand_core::job::DayError>(())
    /// ```
    pub fn noon_ms(self, utc_offset_minutes: i16) -> i64 {
        i64::from(self.0) * 86_400_000 + 43_200_000 - i64::from(utc_offset_minutes) * 60_000
    }

    /// Returns the day of a date, or `None` if there is no such day.
    fn of(year: i64, month: i64, day: i64) -> Option<Day> {
        if !(0..=Day::MAX_YEAR).contains(&year) || !(1..=12).contains(&month) {
            return None;
        }
        // The year begins in March, as in `date`.
        let (year, month_from_march) = match month > 2 {
            true => (year, month - 3),
            false => (year - 1, month + 9),
        };
        let (era, of_era) = (year.div_euclid(400), year.rem_euclid(400));
        let of_year = (153 * month_from_march + 2) / 5 + day - 1;
        let days = era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468;
        let found = Day(i32::try_from(days).ok()?);
        // A day past the end of its month is a day of the next.
        let (_, found_month, found_day) = found.date();
        let is_date = (i64::from(found_month), i64::from(found_day)) == (month, day);
        is_date.then_some(found)
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day) = self.date();
        write!(f, "{year:04}-{month:02}-{day:02}")
    }
}

impl FromStr for Day {
    type Err = DayError;

    /// Parses a date such as `2026-11-25`, in digits alone.
    fn from_str(text: &str) -> Result<Day, DayError> {
        let mut parts = text.split('-');
        let mut number = |digits: std::ops::RangeInclusive<usize>| {
            let part = parts.next().filter(|p| digits.contains(&p.len()))?;
            let is_digits = part.bytes().all(|b| b.is_ascii_digit());
            part.parse::<i64>().ok().filter(|_| is_digits)
        };
        let date = (number(4..=6), number(2..=2), number(2..=2));
        match (date, parts.next()) {
            ((Some(year), Some(month), Some(day)), None) => {
                Day::of(year, month, day).ok_or(DayError)
            }
            _ => Err(DayError),
        }
    }
}

impl Serialize for Day {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Day {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Day, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// A day of one person's work.
///
/// With a step it is the key of stated minutes: two statements with the same key are about the same time.
/// It has no default; it compares by day, then by name, the unnamed first. In the job file it is an object
/// with `day` and, if there is one, `technician`.
///
/// ```
/// use evenhand_core::job::WorkDay;
///
/// let of = |day: &str, technician: Option<&str>| {
///     Ok::<_, evenhand_core::job::DayError>(WorkDay { day: day.parse()?, technician: technician.map(str::to_owned) })
/// };
/// assert!(of("2026-11-25", Some("R. Sample"))? < of("2026-11-26", None)?);
/// # Ok::<(), evenhand_core::job::DayError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WorkDay {
    /// The day, where the work was done.
    pub day: Day,
    /// The one who did the work; `None` if the device that counted the time names nobody.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub technician: Option<String>,
}

impl WorkDay {
    /// Returns the day of a person. An empty name names nobody.
    pub(super) fn of(day: Day, technician: Option<&str>) -> WorkDay {
        let name = technician.map(str::trim).filter(|name| !name.is_empty());
        let technician = name.map(str::to_owned);
        WorkDay { day, technician }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_day_of_four_centuries_is_read_back_and_follows_the_one_before() {
        let (mut year, mut month, mut day) = (1970, 1, 1);
        for days in 0..146_097 {
            let of = Day(days);
            assert_eq!(of.date(), (year, month, day));
            assert_eq!(of.to_string().parse(), Ok(of));
            // P: the leap years of the Gregorian calendar.
            let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
            let last = match month {
                2 if leap => 29,
                2 => 28,
                4 | 6 | 9 | 11 => 30,
                _ => 31,
            };
            (year, month, day) = match (month, day == last) {
                (_, false) => (year, month, day + 1),
                (12, true) => (year + 1, 1, 1),
                (_, true) => (year, month + 1, 1),
            };
        }
    }

    #[test]
    fn what_is_no_day_is_refused() {
        for text in [
            "",
            "2026",
            "2026-11",
            "2026-13-01",
            "2026-00-10",
            "2026-11-00",
            "2026-11-31",
            "2026-02-29",
            "2100-02-29",
            "26-11-25",
            "2026-1-5",
            "2026-11-25-1",
            "+2026-11-25",
            "2026-11-2５",
            "9999999-01-01",
            "276000-01-01",
        ] {
            assert_eq!(text.parse::<Day>(), Err(DayError), "{text:?}");
        }
        assert!("2024-02-29".parse::<Day>().is_ok());
    }
}
