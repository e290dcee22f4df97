//! The readings and the materials as tables, for spreadsheets and query engines.
//!
//! CSV by RFC 4180: comma, CRLF, quotes doubled, a header line. It begins with the UTF-8 mark, by
//! which spreadsheets know the encoding. Numbers have a point and no unit; their unit stands in a
//! column of its own. What a person typed is text: where it could begin a formula in a
//! spreadsheet, an apostrophe stands before it (common practice against formula injection).

use std::fmt::Write;

use super::super::{Act, Entry, Job, Subject};
use super::export::papers_used;
use crate::note::Colour;
use crate::trade::{Occasion, Place, Verdict};
use crate::unit::{DecimalFormat, Kind, LengthUnit};

/// The mark by which a spreadsheet knows UTF-8.
const MARK: char = '\u{feff}';

/// The columns of the readings.
const READINGS: &str = "job_id,job,device,technician,seq,at,note,note_name,colour,section,measure,measure_name,place,\
occasion,value,unit,word,typed,aim,accept_low,accept_high,verdict,in_force";

/// A line of cells.
struct Line<'a> {
    to: &'a mut String,
    begun: bool,
}

impl Line<'_> {
    fn next(&mut self) -> &mut String {
        if self.begun {
            self.to.push(',');
        }
        self.begun = true;
        self.to
    }

    /// A word of our own, or a number: nothing in it needs quotes.
    fn plain(&mut self, cell: &str) {
        self.next().push_str(cell);
    }

    fn count(&mut self, number: impl std::fmt::Display) {
        // Writing into a string cannot fail.
        let _ = write!(self.next(), "{number}");
    }

    /// A number of small units, exactly, with a point; empty where there is none.
    fn number(&mut self, kind: Kind, base: Option<i64>) {
        let to = self.next();
        if let Some(base) = base {
            to.push_str(&DecimalFormat::EXACT.print(base, kind.per_shown()));
        }
    }

    /// What a person wrote.
    fn text(&mut self, cell: &str) {
        let to = self.next();
        let begins =
            cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
        // A signed number reckons nothing.
        let is_number = cell.chars().skip(1).all(|c| c.is_ascii_digit() || c == '.');
        let formula = begins && !(is_number && cell.starts_with(['+', '-']));
        if !formula && !cell.contains(['"', ',', '\r', '\n']) {
            return to.push_str(cell);
        }
        to.push('"');
        if formula {
            to.push('\'');
        }
        to.push_str(&cell.replace('"', "\"\""));
        to.push('"');
    }
}

/// A wall time as ISO 8601 in UTC, to the second: `2026-11-25T15:04:05Z`.
///
/// **Rule** (P: the Gregorian calendar; days to a date by the era of 400 years, 146 097 days).
fn iso_time(ms: i64) -> String {
    let (days, second) = (ms.div_euclid(86_400_000), ms.rem_euclid(86_400_000) / 1_000);
    // Days since 1 March of the year 0, so that the leap day ends a year.
    let since = days + 719_468;
    let (era, of_era) = (since.div_euclid(146_097), since.rem_euclid(146_097));
    let year = (of_era - of_era / 1_460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let month = (5 * of_year + 2) / 153;
    let day = of_year - (153 * month + 2) / 5 + 1;
    let (month, over) = if month < 10 {
        (month + 3, 0)
    } else {
        (month - 9, 1)
    };
    let year = year + era * 400 + over;
    let (hour, minute) = (second / 3_600, second / 60 % 60);
    format!(
        "{year:04}-{month:02}-{day:02}T{hour:02}:{minute:02}:{:02}Z",
        second % 60
    )
}

/// One row for each reading that was not taken back, in the order in which they were taken.
///
/// `in_force` is `true` for the reading that counts for its note and place; `aim`, `accept_low`,
/// `accept_high` and `verdict` are by the target as it stands when the table is written.
///
/// ```
/// use evenhand_core::job::{DeviceId, Job, Subject, readings_csv};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Kind, Value};
///
/// let mut job = Job::new();
/// let value = Value::from_base(Kind::Length, 1_850_000);
/// let a4 = Subject::Note(Note::new(49)?);
/// let entry = job.reading(DeviceId::new(7), 0, MeasureId::of("let_off"), a4, Place::Bench, Occasion::Working, value, "1.85");
/// job.apply(entry);
/// let table = readings_csv(&job);
/// let row = table.lines().nth(1).unwrap();
/// assert!(row.contains("1970-01-01T00:00:00Z,49,A4,natural,1,let_off,Let-off,bench,working,1.85,mm,,1.85,2,1.5,2.5,on_aim,true"));
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
pub fn readings_csv(job: &Job) -> String {
    let mut table = String::from(MARK);
    table.push_str(READINGS);
    table.push_str("\r\n");
    for entry in job.log().entries() {
        if job.state().is_alive(entry.id) {
            reading_row(&mut table, job, entry);
        }
    }
    table
}

fn reading_row(table: &mut String, job: &Job, entry: &Entry) {
    let Act::Reading {
        measure,
        on,
        place,
        occasion,
        value,
        typed,
        ..
    } = &entry.act
    else {
        return;
    };
    let state = job.state();
    let details = state.details();
    let known = state.measure_ref(measure.as_str());
    let judged = state.judge(measure.as_str(), *on, *value);
    let kind = value.kind();
    let mut line = Line {
        to: table,
        begun: false,
    };
    line.plain(&state.id().map(|id| id.to_string()).unwrap_or_default());
    line.text(details.name.as_deref().unwrap_or_default());
    line.count(entry.id.device);
    line.text(state.technician(entry.id.device).unwrap_or_default());
    line.count(entry.id.seq);
    line.plain(&iso_time(entry.at_ms));
    let (note, section) = match on {
        Subject::Whole => (None, None),
        Subject::Section(section) => (None, Some(usize::from(*section))),
        Subject::Note(note) => (Some(*note), Some(state.scale().of(*note))),
    };
    line.plain(&note.map(|n| n.number().to_string()).unwrap_or_default());
    line.plain(&note.map(|n| n.name()).unwrap_or_default());
    line.plain(match note.map(|n| n.colour()) {
        Some(Colour::Natural) => "natural",
        Some(Colour::Sharp) => "sharp",
        None => "",
    });
    // Sections are counted from 1, as they are on every screen.
    line.plain(&section.map(|s| (s + 1).to_string()).unwrap_or_default());
    line.text(measure.as_str());
    line.text(known.map_or("", |m| m.name.as_ref()));
    line.plain(match place {
        Place::Bench => "bench",
        Place::Piano => "piano",
    });
    line.plain(match occasion {
        Occasion::AsFound => "as_found",
        Occasion::Working => "working",
        Occasion::AsLeft => "as_left",
    });
    line.number(kind, Some(value.base()));
    line.plain(kind.symbol(LengthUnit::Millimetre));
    let is_word = !kind.is_number();
    let word = known
        .filter(|_| is_word)
        .map(|m| m.shown(*value, LengthUnit::Millimetre));
    line.text(&word.unwrap_or_default());
    line.text(typed);
    let band = judged.map(|j| j.band);
    line.number(kind, band.map(|b| b.aim));
    line.number(kind, band.and_then(|b| b.accept.0));
    line.number(kind, band.and_then(|b| b.accept.1));
    line.plain(match judged.map(|j| j.verdict) {
        Some(Verdict::OnAim) => "on_aim",
        Some(Verdict::Accepted) => "accepted",
        Some(Verdict::Out) => "out",
        None => "",
    });
    let slot = state.slot(measure.as_str(), *on, *place);
    let counts = match occasion {
        Occasion::AsFound => slot.and_then(|s| s.of(Occasion::AsFound)),
        _ => slot.and_then(|s| s.in_force()),
    };
    let in_force = counts.is_some_and(|r| r.stamp.id == entry.id);
    line.plain(if in_force { "true" } else { "false" });
    table.push_str("\r\n");
}

/// One row for each thickness of paper put in, less what was taken out.
///
/// ```
/// use evenhand_core::job::{Job, materials_csv};
///
/// assert_eq!(materials_csv(&Job::new()), "\u{feff}job_id,job,material,thickness_mm,count\r\n");
/// ```
pub fn materials_csv(job: &Job) -> String {
    let mut table = String::from(MARK);
    table.push_str("job_id,job,material,thickness_mm,count\r\n");
    let state = job.state();
    for (thickness, count) in papers_used(job) {
        let mut line = Line {
            to: &mut table,
            begun: false,
        };
        line.plain(&state.id().map(|id| id.to_string()).unwrap_or_default());
        line.text(state.details().name.as_deref().unwrap_or_default());
        line.plain("paper");
        line.number(Kind::Length, Some(thickness.nm()));
        line.count(count);
        table.push_str("\r\n");
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_those_of_the_calendar() {
        // P: POSIX, seconds since the epoch, and the leap days of 2000 and 2024.
        for (seconds, text) in [
            (0, "1970-01-01T00:00:00Z"),
            (951_782_400, "2000-02-29T00:00:00Z"),
            (1_709_164_799, "2024-02-28T23:59:59Z"),
            (1_709_251_200, "2024-03-01T00:00:00Z"),
            (1_790_000_000, "2026-09-21T14:13:20Z"),
        ] {
            assert_eq!(iso_time(seconds * 1_000), text);
        }
        assert_eq!(iso_time(Entry::LAST_MS), "275760-09-13T00:00:00Z");
    }

    #[test]
    fn what_could_be_a_formula_is_text_and_quotes_are_doubled() {
        let cell = |text: &str| {
            let mut to = String::new();
            let mut line = Line {
                to: &mut to,
                begun: false,
            };
            line.text(text);
            to
        };
        assert_eq!(cell("=1+1"), "\"'=1+1\"");
        assert_eq!(cell("@a"), "\"'@a\"");
        assert_eq!(cell("-2,5"), "\"'-2,5\"");
        assert_eq!(cell("a \"b\", c"), "\"a \"\"b\"\", c\"");
        assert_eq!(cell("plain"), "plain");
        assert_eq!(cell("1.8"), "1.8");
        assert_eq!(cell("-0.05"), "-0.05");
        assert_eq!(cell("-0.05+1"), "\"'-0.05+1\"");
    }
}
