//! The tables of readings, materials and hours, read by the csv crate, which knows RFC 4180 and nothing
//! of Evenhand.

use csv::{ReaderBuilder, StringRecord};
use evenhand_core::analysis::handover::handover;
use evenhand_core::analysis::hours::hours_csv;
use evenhand_core::analysis::job_file::materials_csv;
use evenhand_core::job::{Details, EntryKind, Job, JobId, ReplicaId, Subject, readings_csv};
use evenhand_core::trade::{MeasureId, Occasion, Place};
use evenhand_core::unit::Value;
use proptest::prelude::*;

/// Header and rows; every row has as many cells as the header, or this is an error.
fn table(text: &str) -> (StringRecord, Vec<StringRecord>) {
    let text = text.strip_prefix('\u{feff}').expect("the UTF-8 mark");
    let mut reader = ReaderBuilder::new().from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let rows = reader.records().collect::<Result<Vec<_>, _>>();
    (header, rows.expect("every row is one of RFC 4180"))
}

fn column(header: &StringRecord, name: &str) -> usize {
    header.iter().position(|h| h == name).expect("a column")
}

#[test]
fn the_demo_jobs_readings_are_one_row_each() {
    let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
    let job = Job::from_entries(entries);
    let (header, rows) = table(&readings_csv(&job));
    let is_reading = |e: &&evenhand_core::job::Entry| matches!(e.kind, EntryKind::Reading { .. });
    assert_eq!(
        rows.len(),
        job.log().entries().iter().filter(is_reading).count()
    );
    assert_eq!(header.len(), 27);
    let (measure, value) = (column(&header, "measure"), column(&header, "value"));
    let let_offs = rows.iter().filter(|r| &r[measure] == "let_off");
    for row in let_offs {
        let number: f64 = row[value].parse().expect("a number");
        assert!((0.0..8.0).contains(&number));
    }
    let (header, _) = table(&materials_csv(&job));
    assert_eq!(column(&header, "thickness_mm"), 5);
}

#[test]
fn the_demo_jobs_hours_add_up_to_their_total_and_price() {
    let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
    let job = Job::from_entries(entries);
    let (header, rows) = table(&hours_csv(&job));
    let sum = |name| {
        let at = column(&header, name);
        let cells = rows.iter().filter(|r| !r[at].is_empty());
        cells
            .map(|r| r[at].parse::<f64>().expect("a number"))
            .sum::<f64>()
    };
    let total = handover(&job, 1_790_000_000_000).total;
    assert!(total.minutes > 60);
    assert_eq!(sum("minutes"), total.minutes as f64);
    let cents = total.cents.expect("a rate") as f64;
    assert!((sum("amount") * 100.0 - cents).abs() < 1e-6);
    // One step is done without time, and says so.
    let source = column(&header, "source");
    let untimed = rows.iter().filter(|r| &r[source] == "none");
    let untimed: Vec<&str> = untimed.map(|r| &r[column(&header, "step")]).collect();
    assert_eq!(untimed, ["action_out"]);
}

/// Whether a spreadsheet could take a cell that begins so for a formula: a number with its sign alone is none.
fn begins_formula(cell: &str) -> bool {
    let is_number = |rest: &str| rest.chars().all(|c| c.is_ascii_digit() || c == '.');
    let signed_number = cell.strip_prefix(['+', '-']).is_some_and(is_number);
    let signs = ['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'];
    cell.starts_with(signs) && !signed_number
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    /// Whatever is written as the job's name comes back as it was, but for the apostrophes before
    /// what a spreadsheet could take for a formula; none begins, whatever ends a cell for the spreadsheet.
    #[test]
    fn any_text_comes_back_and_none_begins_a_formula(name in "[=+@\\-]?\\PC{0,12}[\"\r\n,;|\t]{0,3}[=+@\\-]?\\PC{0,6}", base in any::<i64>()) {
        let mut job = Job::new();
        let set = Box::new(Details { name: Some(name.clone()), ..Details::default() });
        job.apply(job.draft(ReplicaId::new(1), 0, EntryKind::Details { set }));
        let reading = job.reading(
            ReplicaId::new(1), 0, MeasureId::of("let_off"), Subject::Whole, Place::Bench, Occasion::Working,
            Value::from_base(evenhand_core::unit::Kind::Length, base), &name,
        );
        job.apply(reading);
        let (header, rows) = table(&readings_csv(&job));
        let cell = &rows[0][column(&header, "job")];
        prop_assert_eq!(cell.replace('\'', ""), name.replace('\'', ""));
        for separator in [';', '\t', '|', ','] {
            for part in cell.split(separator).skip(1) {
                let part = part.trim_start_matches([' ', '"']);
                prop_assert!(!begins_formula(part.split(['\r', '\n', ';', '\t', '|', ',']).next().unwrap_or(part)), "{cell:?}");
            }
        }
        for cell in &rows[0] {
            prop_assert!(!begins_formula(cell), "{cell:?}");
        }
        let value: f64 = rows[0][column(&header, "value")].parse().expect("a number");
        prop_assert!((value - base as f64 / 1e6).abs() <= (base as f64 / 1e6).abs() * 1e-12);
    }
}
