//! The readings and the materials as CSV tables, for spreadsheets and query engines. The file is long because each
//! column has its words and its source beside it.
//!
//! CSV by RFC 4180, with a header line and a UTF-8 byte-order mark, by which spreadsheets recognize
//! the encoding. Numbers have a decimal point and no unit; the unit has a
//! column of its own. Every text is quoted. What a person typed is text: where a spreadsheet could take it for a
//! formula, at its beginning or behind what the spreadsheet may take for a separator, it gets an apostrophe in front
//! (common practice against formula injection).

use csv::{QuoteStyle, Terminator, Writer, WriterBuilder};

use super::super::{Day, Entry, EntryKind, Job, LogPosition, State, Subject};
use super::{ConcludedConflict, Conclusions, PointKind, ValueOut};
use crate::note::Color;
use crate::trade::{MeasureId, Occasion, Place, StepId, Verdict};
use crate::unit::{DecimalFormat, Kind, Length, LengthUnit};

/// The mark by which a spreadsheet recognizes UTF-8.
const BYTE_ORDER_MARK: &str = "\u{feff}";

/// Returns a table without its UTF-8 byte-order mark, for a program that takes the mark for a part of the first column.
///
/// ```
/// use evenhand_core::job::{Job, readings_csv, without_mark};
///
/// let table = readings_csv(&Job::new());
/// assert!(table.starts_with('\u{feff}') && without_mark(&table).starts_with("\"job_id\""));
/// ```
pub fn without_mark(table: &str) -> &str {
    table.strip_prefix(BYTE_ORDER_MARK).unwrap_or(table)
}

/// The columns of the readings.
const READINGS: [&str; 27] = [
    "job_id",
    "job",
    "client",
    "serial",
    "device",
    "technician",
    "seq",
    "at",
    "note",
    "note_name",
    "colour",
    "section",
    "measure",
    "measure_name",
    "place",
    "occasion",
    "value",
    "unit",
    "word",
    "typed",
    "aim",
    "accept_low",
    "accept_high",
    "verdict",
    "found",
    "in_force",
    "conflict",
];

/// The columns of the conflicts.
const CONFLICTS: [&str; 12] = [
    "job_id",
    "job",
    "client",
    "serial",
    "conflict",
    "about",
    "value",
    "in_force",
    "technician",
    "at",
    "device",
    "seq",
];

/// The columns of the open points.
const OPEN_POINTS: [&str; 15] = [
    "job_id",
    "job",
    "client",
    "serial",
    "kind",
    "step",
    "measure",
    "measure_name",
    "note",
    "section",
    "value",
    "unit",
    "accept_low",
    "accept_high",
    "text",
];

/// The columns of the materials.
const MATERIALS: [&str; 7] = [
    "job_id",
    "job",
    "client",
    "serial",
    "material",
    "thickness_mm",
    "count",
];

/// A CSV table that is being written to memory.
pub(crate) struct Table(Writer<Vec<u8>>);

impl Table {
    /// Returns a table with its header line.
    pub(crate) fn new(columns: &[&str]) -> Table {
        let mut begun = Vec::new();
        begun.extend_from_slice(BYTE_ORDER_MARK.as_bytes());
        let mut table = Table(
            WriterBuilder::new()
                .terminator(Terminator::CRLF)
                .quote_style(QuoteStyle::NonNumeric)
                .from_writer(begun),
        );
        for column in columns {
            table.cell(column);
        }
        table.end_row();
        table
    }

    /// Appends a cell that nobody typed: a fixed word or a number.
    pub(crate) fn cell(&mut self, cell: impl AsRef<[u8]>) {
        // Writing to memory cannot fail.
        let _ = self.0.write_field(cell);
    }

    /// Appends which job it is, the first four cells of every row: its id and name, the client, the serial number.
    pub(crate) fn job(&mut self, state: &State) {
        self.cell(state.id().map(|id| id.to_string()).unwrap_or_default());
        let details = state.details();
        for text in [&details.name, &details.client, &details.serial] {
            self.text(text.as_deref().unwrap_or_default());
        }
    }

    /// Appends a number of small units, exact, with a decimal point; an empty cell for `None`.
    fn number(&mut self, kind: Kind, base: Option<i64>) {
        let number = base.map(|base| DecimalFormat::EXACT.print(base, kind.per_shown()));
        self.cell(number.unwrap_or_default());
    }

    /// Appends a cell that a person typed, made safe for spreadsheets.
    pub(crate) fn text(&mut self, cell: &str) {
        self.cell(without_formulas(cell));
    }

    pub(crate) fn end_row(&mut self) {
        // Every row has as many cells as the header, and writing to memory cannot fail.
        let _ = self.0.write_record(None::<&[u8]>);
    }

    pub(crate) fn finish(self) -> String {
        // Only UTF-8 was written.
        let written = self.0.into_inner().unwrap_or_default();
        String::from_utf8(written).unwrap_or_default()
    }
}

/// What a spreadsheet, set to it or guessing, may take for the end of a cell.
const SEPARATORS: [char; 6] = [',', ';', '\t', '|', '\r', '\n'];

/// Returns a text with an apostrophe before each part that a spreadsheet could take for a formula. A part begins at the
/// start, and behind a separator with the spaces and quotation marks that follow it.
fn without_formulas(text: &str) -> String {
    let mut written = String::with_capacity(text.len());
    for (at, part) in text.split_inclusive(SEPARATORS).enumerate() {
        let bare = part.trim_start_matches([' ', '"', '\'', '\u{a0}']);
        let cell = bare.strip_suffix(SEPARATORS).unwrap_or(bare);
        if at == 0 && is_formula(text) {
            written.push('\'');
            written.push_str(part);
        } else if at > 0 && is_formula(cell) {
            written.push_str(&part[..part.len() - bare.len()]);
            written.push('\'');
            written.push_str(bare);
        } else {
            written.push_str(part);
        }
    }
    written
}

/// Returns `true` if a spreadsheet could take a text for a formula. A signed number alone is harmless.
fn is_formula(text: &str) -> bool {
    let begins = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    let is_digits = text.chars().skip(1).all(|c| c.is_ascii_digit() || c == '.');
    begins && !(is_digits && text.starts_with(['+', '-']))
}

/// Returns a wall time (milliseconds since 1970, UTC) as ISO 8601 in UTC, to the second:
/// `2026-11-25T15:04:05Z`.
fn iso_time(ms: i64) -> String {
    let second = ms.rem_euclid(86_400_000) / 1_000;
    let (hour, minute) = (second / 3_600, second / 60 % 60);
    let day = Day::at(ms, 0);
    format!("{day}T{hour:02}:{minute:02}:{:02}Z", second % 60)
}

/// Returns the table of the readings that are not taken back, in log order: one row each.
///
/// The column `found` is `true` for the reading that is what was found there. The column `in_force` is `true` for the
/// reading in effect on its subject and place; `conflict` is `true` for each
/// reading of an open conflict. The columns `aim`,
/// `accept_low`, `accept_high` and `verdict` use the target in effect when the table is written.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, Subject, readings_csv};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Kind, Value};
///
/// let mut job = Job::new();
/// let value = Value::from_base(Kind::Length, 1_850_000);
/// let a4 = Subject::Note(Note::new(49)?);
/// let entry = job.reading(ReplicaId::new(7), 0, MeasureId::of("let_off"), a4, Place::Bench, Occasion::Working, value, "1.85");
/// job.apply(entry);
/// let table = readings_csv(&job);
/// let row = table.lines().nth(1).unwrap();
/// assert!(row.contains(r#""A4","natural",1,"let_off","Let-off","bench","working",1.85,"mm","",1.85,2,1.5,2.5,"on_aim","true","true","false""#));
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
pub fn readings_csv(job: &Job) -> String {
    let mut table = Table::new(&READINGS);
    let first_work = job.state().first_work();
    for entry in job.log().entries() {
        if job.state().is_alive(entry.id) {
            reading_row(&mut table, job, first_work, entry);
        }
    }
    table.finish()
}

fn reading_row(table: &mut Table, job: &Job, first_work: Option<LogPosition>, entry: &Entry) {
    let EntryKind::Reading {
        measure,
        on,
        place,
        occasion,
        value,
        typed,
        ..
    } = &entry.kind
    else {
        return unmeasured_rows(table, job, entry);
    };
    let state = job.state();
    let known = state.measure(measure.as_str());
    let judged = state.judge(measure.as_str(), *on, *value);
    let kind = value.kind();
    begin_row(table, job, entry, (measure, *on, *place, *occasion));
    table.number(kind, Some(value.base()));
    table.cell(kind.symbol(LengthUnit::Millimeter));
    let is_word = !kind.is_number();
    let word = known
        .filter(|_| is_word)
        .map(|m| m.shown(*value, LengthUnit::Millimeter));
    table.text(&word.unwrap_or_default());
    table.text(typed);
    let band = judged.map(|j| j.band);
    table.number(kind, band.map(|b| b.aim));
    table.number(kind, band.and_then(|b| b.accept.0));
    table.number(kind, band.and_then(|b| b.accept.1));
    table.cell(match judged.map(|j| j.verdict) {
        Some(Verdict::OnTarget) => "on_aim",
        Some(Verdict::Acceptable) => "accepted",
        Some(Verdict::Out) => "out",
        None => "",
    });
    let found = state.found_before(measure.as_str(), *on, || first_work);
    let is_found = found.is_some_and(|(r, _)| r.position.id == entry.id);
    table.cell(if is_found { "true" } else { "false" });
    let measure_state = state.measure_state(measure.as_str(), *on, *place);
    let counts = match occasion {
        Occasion::AsFound => measure_state.and_then(|s| s.of(Occasion::AsFound)),
        _ => measure_state.and_then(|s| s.in_effect()),
    };
    let in_effect = counts.is_some_and(|r| r.position.id == entry.id);
    table.cell(if in_effect { "true" } else { "false" });
    let others = measure_state.map(|s| s.others(*occasion));
    let others = others.unwrap_or_default();
    let is_other = others.iter().any(|r| r.position.id == entry.id);
    let in_conflict = is_other || (in_effect && !others.is_empty());
    table.cell(if in_conflict { "true" } else { "false" });
    table.end_row();
}

/// Begins a row with who, when, on what and where.
fn begin_row(
    table: &mut Table,
    job: &Job,
    entry: &Entry,
    (measure, on, place, occasion): (&MeasureId, Subject, Place, Occasion),
) {
    let state = job.state();
    table.job(state);
    table.cell(entry.id.replica.to_string());
    table.text(job.technician_of(entry).unwrap_or_default());
    table.cell(entry.id.seq.to_string());
    table.cell(iso_time(entry.at_ms));
    let (note, section) = match on {
        Subject::Whole => (None, None),
        Subject::Section(section) => (None, Some(usize::from(section))),
        Subject::Note(note) => (Some(note), Some(state.sections().of(note))),
    };
    table.cell(note.map(|n| n.number().to_string()).unwrap_or_default());
    table.cell(note.map(|n| n.name()).unwrap_or_default());
    table.cell(match note.map(|n| n.color()) {
        Some(Color::Natural) => "natural",
        Some(Color::Sharp) => "sharp",
        None => "",
    });
    // Sections are counted from 1, as they are on every screen.
    table.cell(section.map(|s| (s + 1).to_string()).unwrap_or_default());
    table.text(measure.as_str());
    table.text(
        state
            .measure(measure.as_str())
            .map_or("", |m| m.name.as_ref()),
    );
    table.cell(match place {
        Place::Bench => "bench",
        Place::Piano => "piano",
    });
    table.cell(match occasion {
        Occasion::AsFound => "as_found",
        Occasion::Working => "working",
        Occasion::AsLeft => "as_left",
    });
}

/// A row without a value for each note of a sweep, whose verdict is `swept`, for a note that was turned and not measured
/// again, `not_remeasured`, and for a mark, `marked_out`.
fn unmeasured_rows(table: &mut Table, job: &Job, entry: &Entry) {
    let state = job.state();
    match &entry.kind {
        EntryKind::Swept {
            measure,
            notes,
            place,
            occasion,
        } => {
            for on in notes.iter().map(Subject::Note) {
                if state.takes(measure.as_str(), on) {
                    let counts = state.counts_as_swept(entry.id, *occasion, measure.as_str(), on);
                    let what = (measure, on, *place, *occasion);
                    unmeasured_row(table, job, entry, what, ("swept", counts));
                }
            }
        }
        EntryKind::MarkedOut {
            measure,
            on,
            place,
            occasion,
            out: true,
        } => {
            let counts = state.counts_as_marked(entry.id, *occasion, measure.as_str(), *on);
            let what = (measure, *on, *place, *occasion);
            unmeasured_row(table, job, entry, what, ("marked_out", counts));
        }
        EntryKind::NotRemeasured {
            measure,
            note,
            place,
            ..
        } => {
            let on = Subject::Note(*note);
            let occasion = Occasion::Working;
            let counts = state.counts_as_swept(entry.id, occasion, measure.as_str(), on);
            let what = (measure, on, *place, occasion);
            unmeasured_row(table, job, entry, what, ("not_remeasured", counts));
        }
        _ => {}
    }
}

fn unmeasured_row(
    table: &mut Table,
    job: &Job,
    entry: &Entry,
    what: (&MeasureId, Subject, Place, Occasion),
    (verdict, counts): (&'static str, bool),
) {
    begin_row(table, job, entry, what);
    // No value, unit, word and text, and no target that it was measured against.
    for _ in 0..7 {
        table.cell("");
    }
    let in_effect = if counts { "true" } else { "false" };
    for cell in [verdict, "false", in_effect, "false"] {
        table.cell(cell);
    }
    table.end_row();
}

/// Returns the table of the values out of tolerance and of the open points of a job: one row each.
///
/// The rows with `kind` = `out` are the values out of tolerance, computed ones such as friction
/// included: as many as Handover, the report and the job file count. The other rows are the open
/// points that are no single value, with their sentence in `text`.
///
/// ```
/// use evenhand_core::job::{Conclusions, Job, OpenPoint, PointKind, open_points_csv};
///
/// let point = OpenPoint { kind: PointKind::Fault, step: None, text: "Note 33 (F3): loose".to_owned() };
/// let concluded = Conclusions { open_points: vec![point], ..Conclusions::default() };
/// let table = open_points_csv(&Job::new(), &concluded);
/// let row = table.lines().nth(1).unwrap();
/// assert!(row.contains(r#""fault""#) && row.ends_with(r#","Note 33 (F3): loose""#));
/// ```
pub fn open_points_csv(job: &Job, concluded: &Conclusions) -> String {
    let mut table = Table::new(&OPEN_POINTS);
    for out in &concluded.values_out {
        out_row(&mut table, job, out);
    }
    // The values above say the same one by one.
    let points = concluded.open_points.iter();
    for point in points.filter(|p| p.kind != PointKind::Out) {
        begin_point(&mut table, job, point.kind, point.step.as_ref());
        for _ in 0..8 {
            table.cell("");
        }
        table.text(&point.text);
        table.end_row();
    }
    table.finish()
}

fn begin_point(table: &mut Table, job: &Job, kind: PointKind, step: Option<&StepId>) {
    table.job(job.state());
    table.cell(kind.word());
    table.text(step.map_or("", StepId::as_str));
}

fn out_row(table: &mut Table, job: &Job, out: &ValueOut) {
    begin_point(table, job, PointKind::Out, out.step.as_ref());
    let state = job.state();
    table.text(out.measure.as_str());
    let known = state.measure(out.measure.as_str());
    table.text(known.map_or("", |m| m.name.as_ref()));
    let (note, section) = match out.on {
        Subject::Whole => (None, None),
        Subject::Section(section) => (None, Some(usize::from(section))),
        Subject::Note(note) => (Some(note), Some(state.sections().of(note))),
    };
    table.cell(note.map(|n| n.number().to_string()).unwrap_or_default());
    table.cell(section.map(|s| (s + 1).to_string()).unwrap_or_default());
    let (kind, band) = (out.value.kind(), out.judged.band);
    table.number(kind, Some(out.value.base()));
    table.cell(kind.symbol(LengthUnit::Millimeter));
    table.number(kind, band.accept.0);
    table.number(kind, band.accept.1);
    let word = known.filter(|_| !kind.is_number());
    let word = word.map(|m| m.shown(out.value, LengthUnit::Millimeter));
    table.text(&word.unwrap_or_default());
    table.end_row();
}

/// Returns the table of the open conflicts: one row for each statement, those of one conflict with the same number in
/// the column `conflict`, the one in effect first.
///
/// ```
/// use evenhand_core::job::{Job, conflicts_csv};
///
/// let header = r#""job_id","job","client","serial","conflict","about","value","in_force","technician","at","device","seq""#;
/// assert!(conflicts_csv(&Job::new(), &[]).contains(header));
/// ```
pub fn conflicts_csv(job: &Job, conflicts: &[ConcludedConflict]) -> String {
    let mut table = Table::new(&CONFLICTS);
    let state = job.state();
    for (at, conflict) in conflicts.iter().enumerate() {
        for statement in &conflict.statements {
            table.job(state);
            table.cell((at + 1).to_string());
            table.text(&conflict.about);
            table.text(&statement.value);
            table.cell(if statement.in_force { "true" } else { "false" });
            table.text(statement.technician.as_deref().unwrap_or_default());
            table.cell(iso_time(statement.at_ms));
            table.cell(statement.entry.replica.to_string());
            table.cell(statement.entry.seq.to_string());
            table.end_row();
        }
    }
    table.finish()
}

/// Returns the table of the punchings that a job used, by thickness: one row each.
///
/// ```
/// use evenhand_core::job::{Job, materials_csv};
/// use evenhand_core::unit::Length;
///
/// let table = materials_csv(&Job::new(), &[(Length::from_mm_hundredths(13), 4)]);
/// assert_eq!(table.lines().nth(1), Some(r#""","","","","paper",0.13,4"#));
/// ```
pub fn materials_csv(job: &Job, punchings: &[(Length, i64)]) -> String {
    let mut table = Table::new(&MATERIALS);
    let state = job.state();
    for (thickness, count) in punchings {
        table.job(state);
        table.cell("paper");
        table.number(Kind::Length, Some(thickness.nm()));
        table.cell(count.to_string());
        table.end_row();
    }
    table.finish()
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
            let mut table = Table::new(&["typed", "next"]);
            table.text(text);
            table.cell("7");
            table.end_row();
            let table = table.finish();
            let row = table.strip_prefix("\u{feff}\"typed\",\"next\"\r\n");
            row.and_then(|r| r.strip_suffix(",7\r\n"))
                .map(str::to_owned)
        };
        for (text, written) in [
            ("=1+1", "\"'=1+1\""),
            ("@a", "\"'@a\""),
            ("-2,5", "\"'-2,5\""),
            ("a \"b\", c", "\"a \"\"b\"\", c\""),
            ("two\nlines", "\"two\nlines\""),
            ("\ttab", "\"'\ttab\""),
            ("plain", "\"plain\""),
            ("", "\"\""),
            ("1.8", "1.8"),
            ("-0.05", "-0.05"),
            ("-0.05+1", "\"'-0.05+1\""),
            // Behind what another spreadsheet takes for the end of a cell.
            ("a;=1+1", "\"a;'=1+1\""),
            ("a\t=1+1|@b", "\"a\t'=1+1|'@b\""),
            ("a, \"=1+1\"", "\"a, \"\"'=1+1\"\"\""),
            ("a\r\n=1+1;", "\"a\r\n'=1+1;\""),
            ("dip;-0.05;up", "\"dip;-0.05;up\""),
            ("a=b; c+d", "\"a=b; c+d\""),
        ] {
            assert_eq!(cell(text).as_deref(), Some(written), "{text:?}");
        }
    }
}
