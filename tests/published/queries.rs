//! The queries of docs/FILES.md, as they stand there, asked of twenty invented job files by SQLite, and a table read by
//! Python's csv module.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use evenhand_core::analysis::decisions::{PartsTable, parts_to_order};
use evenhand_core::analysis::hours::hours;
use evenhand_core::analysis::job_file::export;
use evenhand_core::analysis::open_points::conclusions;
use evenhand_core::analysis::overview::{Standing, overview};
use evenhand_core::job::{Job, readings_csv, without_mark};
use evenhand_core::simulation::workshop_job;
use tempfile::TempDir;

const NOW_MS: i64 = 1_790_000_000_000;

fn jobs() -> Vec<Job> {
    (0..20).map(|number| workshop_job(number, NOW_MS)).collect()
}

/// Runs Python in a folder with a script on its input, and returns what it prints.
fn python(script: &str, folder: &Path) -> String {
    let path = folder.join("script.py");
    fs::write(&path, script).expect("the script is written");
    let output = Command::new("python3")
        .arg(&path)
        .current_dir(folder)
        .stdin(Stdio::null())
        .output()
        .expect("python3");
    let complaint = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{complaint}");
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// The statements of the document that stand in a block of this language.
fn statements(language: &str) -> Vec<String> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../docs/FILES.md");
    let text = fs::read_to_string(path).expect("docs/FILES.md");
    let block = text
        .split("```")
        .find(|b| b.starts_with(&format!("{language}\n")));
    let block = block.expect("a block").trim_start_matches(language);
    let all = block.split(';').map(|s| s.trim().to_owned());
    all.filter(|s| !s.is_empty()).collect()
}

/// The rows that SQLite answers, each with its cells joined by a bar.
fn ask(folder: &Path, query: &str) -> Vec<String> {
    // The module has no fsdir and readfile, which the command line has: they are put in here.
    let script = format!(
        "import glob, sqlite3\n\
         db = sqlite3.connect(':memory:')\n\
         db.execute('create table jobs (j)')\n\
         for name in glob.glob('*.job.json'):\n\
         \x20   db.execute('insert into jobs values (json(?))', [open(name, encoding='utf-8').read()])\n\
         for row in db.execute({query:?}):\n\
         \x20   print('|'.join(str(cell) for cell in row))\n"
    );
    python(&script, folder).lines().map(str::to_owned).collect()
}

#[test]
fn the_documented_queries_find_what_the_program_says() {
    let folder = TempDir::new().expect("a folder");
    let jobs = jobs();
    for (number, job) in jobs.iter().enumerate() {
        let path = folder.path().join(format!("{number}.job.json"));
        fs::write(path, export(job, NOW_MS)).expect("the file is written");
    }
    let queries = statements("sqlite");
    let [points, by_stage, visits, parts] = &queries[..] else {
        panic!("four queries: {queries:?}");
    };
    let name = |job: &Job| job.state().details().name.clone().unwrap();

    let mut expected: Vec<String> = Vec::new();
    for job in &jobs {
        let serial = job.state().details().serial.clone().unwrap();
        let points = conclusions(job, NOW_MS).open_points;
        expected.extend(
            points
                .iter()
                .map(|p| format!("{}|{serial}|{}", name(job), p.text)),
        );
    }
    let mut found = ask(folder.path(), points);
    found.sort();
    expected.sort();
    assert!(found.len() > 20);
    assert_eq!(found, expected);

    let found = ask(folder.path(), by_stage);
    let sum = found
        .iter()
        .map(|row| row.rsplit('|').next().unwrap().parse::<f64>().unwrap());
    let minutes: i64 = jobs.iter().map(|job| hours(job.state()).minutes()).sum();
    assert!((sum.sum::<f64>() - minutes as f64 / 60.0).abs() < 1e-6);
    assert!(
        minutes > 0 && found.iter().all(|row| row.contains("|Regulate|")),
        "{found:?}"
    );

    let mut expected = Vec::new();
    for job in &jobs {
        let shown = overview(job, NOW_MS, 0);
        if shown.standing == Standing::Done {
            expected.push(format!("{}|{}|{}", shown.check, name(job), shown.client));
        }
    }
    expected.sort();
    assert_eq!(ask(folder.path(), visits), expected);
    assert_eq!(expected.len(), 8);

    let ordered: usize = jobs
        .iter()
        .map(|job| parts_to_order(job.state()).len())
        .sum();
    assert_eq!(ask(folder.path(), parts).len(), ordered);
    assert_eq!(ordered, 4);
}

#[test]
fn python_reads_the_first_column_of_a_table_without_its_mark() {
    let folder = TempDir::new().expect("a folder");
    let table = readings_csv(&workshop_job(3, NOW_MS));
    let script = "import csv\n\
                  for name in ['with.csv', 'without.csv']:\n\
                  \x20   rows = list(csv.DictReader(open(name, newline='', encoding='utf-8')))\n\
                  \x20   print(rows[0].get('job_id'), rows[0]['job'], rows[0]['serial'], len(rows))\n";
    fs::write(folder.path().join("with.csv"), &table).expect("written");
    fs::write(folder.path().join("without.csv"), without_mark(&table)).expect("written");
    let read = python(script, folder.path());
    let lines: Vec<&str> = read.lines().collect();
    assert!(lines[0].starts_with("None Piano 3 70003 "), "{read}");
    let id = workshop_job(3, NOW_MS).id().expect("an id").to_string();
    assert!(
        lines[1].starts_with(&format!("{id} Piano 3 70003 ")),
        "{read}"
    );
}

#[test]
fn the_parts_of_several_jobs_are_one_table_that_names_each() {
    let mut table = PartsTable::default();
    jobs().iter().for_each(|job| table.add(job));
    let text = table.finish();
    let mut reader = csv::Reader::from_reader(without_mark(&text).as_bytes());
    let header = reader.headers().expect("a header").clone();
    let rows: Vec<_> = reader.records().map(|row| row.expect("a row")).collect();
    let of = |name: &str| header.iter().position(|h| h == name).expect("a column");
    let named: Vec<&str> = rows.iter().map(|row| &row[of("job")]).collect();
    assert_eq!(named, ["Piano 0", "Piano 5", "Piano 10", "Piano 15"]);
    assert!(
        rows.iter()
            .all(|row| row[of("count")].parse::<u32>().is_ok_and(|n| n > 0))
    );
}
