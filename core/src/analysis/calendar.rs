//! A calendar file: next visits, and the ends of drying times.
//!
//! **Rule** (P: RFC 5545, sections 3.1 (lines, folded at 75 octets), 3.3.11 (escapes), 3.4, 3.6.1, 3.8.4.7 and 3.8.7.2).

use crate::job::Day;

/// When an event is. There is no default.
///
/// ```
/// use evenhand_core::analysis::calendar::When;
///
/// assert_ne!(When::At(0), When::At(1));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum When {
    /// The whole day.
    Day(Day),
    /// A wall time, in milliseconds since 1970 (UTC).
    At(i64),
}

/// One event of a calendar. It has no default.
///
/// ```
/// use evenhand_core::analysis::calendar::{Event, When, calendar};
///
/// let dry = Event {
///     uid: "1-dry@evenhand".to_owned(),
///     when: When::At(1_790_000_000_000),
///     title: "Dry: bushings, Hall".to_owned(),
///     text: "Harbor Hall; 00088".to_owned(),
/// };
/// let file = calendar(&[dry], 1_789_000_000_000);
/// assert!(file.contains("\r\nDTSTART:20260921T141320Z\r\n"));
/// assert!(file.contains("\r\nDESCRIPTION:Harbor Hall\\; 00088\r\n"));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Event {
    /// Its id, which stays when the file is written anew.
    pub uid: String,
    /// When it is.
    pub when: When,
    /// Its title.
    pub title: String,
    /// What is to be known of it; may be empty.
    pub text: String,
}

/// The most octets of a line, its end not counted.
const MAX_OCTETS: usize = 75;

/// Returns the calendar file of events, written at a wall time in milliseconds since 1970 (UTC).
pub fn calendar(events: &[Event], now_ms: i64) -> String {
    let mut file = String::new();
    let mut line = |name: &str, value: &str| fold(&mut file, &format!("{name}:{value}"));
    line("BEGIN", "VCALENDAR");
    line("VERSION", "2.0");
    line("PRODID", "-//Evenhand//Evenhand//EN");
    for event in events {
        line("BEGIN", "VEVENT");
        line("UID", &escaped(&event.uid));
        line("DTSTAMP", &utc(now_ms));
        match event.when {
            When::Day(day) => {
                line("DTSTART;VALUE=DATE", &day.to_string().replace('-', ""));
                line("TRANSP", "TRANSPARENT");
            }
            When::At(ms) => line("DTSTART", &utc(ms)),
        }
        line("SUMMARY", &escaped(&event.title));
        if !event.text.is_empty() {
            line("DESCRIPTION", &escaped(&event.text));
        }
        line("END", "VEVENT");
    }
    line("END", "VCALENDAR");
    file
}

/// Returns a wall time as `20260921T141320Z`.
fn utc(ms: i64) -> String {
    let second = ms.rem_euclid(86_400_000) / 1_000;
    let (hour, minute) = (second / 3_600, second / 60 % 60);
    let day = Day::at(ms, 0).to_string().replace('-', "");
    format!("{day}T{hour:02}{minute:02}{:02}Z", second % 60)
}

/// Returns a text with its signs escaped. Other control characters may not stand in the file.
fn escaped(text: &str) -> String {
    let mut written = String::new();
    for sign in text.chars() {
        match sign {
            '\\' | ';' | ',' => written.extend(['\\', sign]),
            '\n' => written.push_str("\\n"),
            _ if sign.is_control() => {}
            _ => written.push(sign),
        }
    }
    written
}

/// Appends a line, folded between characters.
fn fold(file: &mut String, line: &str) {
    let mut octets = 0;
    for sign in line.chars() {
        if octets + sign.len_utf8() > MAX_OCTETS {
            file.push_str("\r\n ");
            octets = 1;
        }
        file.push(sign);
        octets += sign.len_utf8();
    }
    file.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_folded_at_75_octets_and_between_characters() {
        let title = "Ä".repeat(100);
        let event = Event {
            uid: "1".to_owned(),
            when: When::Day("2027-03-01".parse().unwrap()),
            title: title.clone(),
            text: "a\\b,c;d\ne\u{7}".to_owned(),
        };
        let file = calendar(&[event], 0);
        assert!(file.ends_with("END:VCALENDAR\r\n"));
        let lines: Vec<&str> = file.split("\r\n").collect();
        assert!(lines.iter().all(|l| l.len() <= 75 && !l.contains('\n')));
        assert_eq!(lines.iter().filter(|l| l.len() >= 74).count(), 2);
        let unfolded = file.replace("\r\n ", "");
        assert!(unfolded.contains(&format!("\r\nSUMMARY:{title}\r\n")));
        assert!(unfolded.contains("\r\nDESCRIPTION:a\\\\b\\,c\\;d\\ne\r\n"));
        assert!(unfolded.contains("\r\nDTSTART;VALUE=DATE:20270301\r\n"));
        assert!(unfolded.contains("\r\nDTSTAMP:19700101T000000Z\r\n"));
    }
}
