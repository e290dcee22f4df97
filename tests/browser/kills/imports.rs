//! A job file that is being opened when the program is killed: all of it is there afterwards, or none, and it can be
//! opened again.

use std::time::Duration;

use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{EntryKind, Job, JobId};
use serde_json::json;
use tempfile::TempDir;

use super::Tally;
use super::life::{Death, Life};
use super::rows::{Row, assert_kept, rows, rows_again};
use crate::browser::Browser;
use crate::draw::Draw;
use crate::pages::jobs::Jobs;
use crate::pages::jobs::wait_for_notice;
use crate::worked;

/// A phone whose jobs come in files.
pub struct Imports {
    life: Life,
    folder: TempDir,
    /// How many files were made.
    count: u64,
    /// All records that were found after the last death.
    rows: Vec<Row>,
}

/// A job as it grows: its file before, if there is one, and its file now.
struct Files {
    id: String,
    before: Option<std::path::PathBuf>,
    now: std::path::PathBuf,
    /// The lines of all entries.
    lines: Vec<String>,
    /// How many of them were in the file before.
    known: usize,
}

impl Imports {
    pub fn new(url: String) -> Self {
        Self {
            life: Life::new(url),
            folder: TempDir::new().expect("a folder"),
            count: 0,
            rows: Vec::new(),
        }
    }

    /// A job of some thousand entries; every other one is here already with its first half.
    fn files(&mut self, draw: &mut Draw) -> Files {
        self.count += 1;
        let mut job = Job::new();
        let id = JobId::new(9_000 + self.count);
        job.apply(job.draft(worked::PHONE, worked::NINE_MS, EntryKind::Made { job: id }));
        worked::worked(&mut job, 300 + draw.below(2_200) as usize);
        let all = job.log().entries();
        let known = match draw.below(2) {
            0 => 0,
            _ => all.len() / 2,
        };
        let write = |name: &str, job: &Job| {
            let path = self.folder.path().join(format!("{id}-{name}.job.json"));
            std::fs::write(&path, export(job, worked::NINE_MS)).expect("the file is written");
            path
        };
        let before = Job::from_entries(all[..known].to_vec());
        Files {
            id: id.to_string(),
            before: (known > 0).then(|| write("half", &before)),
            now: write("whole", &job),
            lines: all.iter().map(|entry| entry.to_line()).collect(),
            known,
        }
    }

    pub async fn kill_once(&mut self, draw: &mut Draw, tally: &mut Tally, what: &str) {
        let files = self.files(draw);
        let what = &format!(
            "{what}, {} entries, {} known",
            files.lines.len(),
            files.known
        );
        let browser = self.life.browser().await;
        Jobs(browser).show().await;
        if let Some(before) = &files.before {
            Jobs(browser).choose(before).await;
            browser.wait_until(&announced(&files), vec![]).await;
            Jobs(browser).show().await;
        }
        let death = match files.known {
            0 => {
                let death = Death::within(browser, Duration::from_millis(1_200), false, draw);
                browser.try_choose_file(FIELD, &files.now).await;
                death
            }
            _ => {
                Jobs(browser).choose(&files.now).await;
                browser.wait_for(".opened").await;
                let death = Death::within(browser, Duration::from_millis(900), false, draw);
                browser.try_tap(".sheet .button.main").await;
                death
            }
        };
        let (mut shown, mut answers) = (false, true);
        let begun = std::time::Instant::now();
        while answers && !shown {
            assert!(
                begun.elapsed() < Duration::from_secs(30),
                "{what}: still there"
            );
            let seen = browser.try_run(&announced(&files)).await;
            (answers, shown) = (seen.is_some(), seen == Some(json!(true)));
        }
        death.wait(!answers, what);

        let url = self.life.url.clone();
        self.life.restart(&format!("{url}#/")).await;
        let browser = self.life.browser().await;
        browser.wait_for(".screen .job-list").await;
        let all = rows_again(browser, &self.rows).await;
        assert_kept(&self.rows, &all, what);
        let found = count_of(&files, &all, what);
        assert!(
            found == files.known || found == files.lines.len(),
            "{what}: {found} entries are there, neither all nor none of the file"
        );
        assert!(
            !shown || found == files.lines.len(),
            "{what}: was said to be opened"
        );
        let new = found - files.known;
        tally.count(if shown { new } else { 0 }, if shown { 0 } else { new });
        tally.taken += usize::from(new > 0);
        if new == 0 {
            open(browser, &files).await;
            let all = rows(browser, "").await;
            let found = count_of(&files, &all, what);
            assert_eq!(found, files.lines.len(), "{what}: opened again");
            Jobs(browser).show().await;
        }
        // By its own reckoning the program has all that is in the file.
        Jobs(browser).choose(&files.now).await;
        wait_for_notice(browser, &format!("({}): nothing new.", name(&files))).await;
        self.rows = rows(browser, "").await;
    }
}

const FIELD: &str = "input[type=file][accept*=json]";

fn name(files: &Files) -> String {
    let name = files.now.file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}

/// What a script finds true once the job is shown as opened and saved.
fn announced(files: &Files) -> String {
    format!(
        "return location.hash === '#/{}' && document.querySelector('.order .step') !== null \
            && document.querySelector('.saved')?.innerText === 'saved'",
        files.id
    )
}

/// Opens the whole file, asked first where a part of it is here.
async fn open(browser: &Browser, files: &Files) {
    Jobs(browser).choose(&files.now).await;
    if files.known > 0 {
        Jobs(browser).confirm_merge().await;
    }
    browser.wait_until(&announced(files), vec![]).await;
}

/// How many entries of the file are there, each as it is in the file.
fn count_of(files: &Files, all: &[Row], what: &str) -> usize {
    let of_job = format!("{}/", files.id);
    let own = all.iter().filter(|(key, _)| key.starts_with(&of_job));
    let expected: std::collections::BTreeSet<&String> = files.lines.iter().collect();
    let mut count = 0;
    for (key, line) in own {
        if expected.contains(line) {
            count += 1;
        } else {
            // Only what the program says of the import itself is in no file.
            assert!(
                line.contains("\"act\":\"opened\""),
                "{what}: {key} holds {line}"
            );
        }
    }
    count
}
