//! The jobs on this device: their lines in the list, and their files.

use std::time::Duration;

use evenhand_core::analysis::job_file;
use evenhand_core::job::{Job, JobId};
use leptos::prelude::*;

use super::app_state::{AppState, OpenJob};
use crate::device::{files, local_time};
use crate::storage::job_summary::JobSummary;
use crate::storage::journal::Journal;
use crate::storage::local_storage;

/// A job of more entries than this takes noticeable time to write.
const LARGE_JOB: usize = 2_000;
/// The list is renewed when nothing was entered for this long.
const REST: Duration = Duration::from_millis(900);

/// A job as it is exported.
pub struct JobFile {
    /// The job.
    pub id: JobId,
    /// How many entries it holds.
    pub entries: usize,
    /// The file's name and its text.
    pub file: (String, String),
}

impl JobFile {
    /// Returns the file of a job in its present state.
    pub fn of(id: JobId, job: &Job) -> JobFile {
        let now_ms = local_time::now_ms();
        let name = job.state().details().name.as_deref().unwrap_or_default();
        JobFile {
            id,
            entries: job.log().len(),
            file: (
                files::name(name, now_ms, ".job.json"),
                job_file::export(job, now_ms),
            ),
        }
    }
}

/// The jobs on this device. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct JobList {
    app: AppState,
    journal: Journal,
    renewal_due: StoredValue<bool>,
}

impl JobList {
    /// Returns the list of what a journal holds.
    pub fn new(app: AppState, journal: Journal) -> JobList {
        JobList {
            app,
            journal,
            renewal_due: StoredValue::new(false),
        }
    }

    /// Reads which jobs the journal holds. Each is shown by its stored summary until it is opened. Returns whether the
    /// journal could be read.
    pub async fn read(self) -> bool {
        let Ok(ids) = self.journal.jobs().await else {
            self.app.jobs_known.set(true);
            return false;
        };
        let mut list = local_storage::job_summaries();
        list.retain(|l| ids.contains(&l.id));
        let mut lost = ids;
        lost.retain(|id| !list.iter().any(|l| l.id == *id));
        for (at, id) in lost.iter().enumerate() {
            let job = Job::from_entries(self.journal.read(*id).await.entries);
            list.push(JobSummary::of(*id, &job, local_time::now_ms()));
            // The first jobs can be opened while the rest are read.
            if (at + 1).is_power_of_two() {
                self.app.jobs.set(list.clone());
            }
        }
        list.sort_by_key(|l| std::cmp::Reverse(l.last_ms));
        if !lost.is_empty() {
            local_storage::set_job_summaries(&list);
        }
        self.app.jobs.set(list);
        // A job that was made meanwhile is not in the journal's answer.
        self.renew();
        self.app.jobs_known.set(true);
        true
    }

    /// Renews the open job's line.
    pub fn renew(self) {
        let of = |open: &OpenJob| JobSummary::of(open.id, &open.job, local_time::now_ms());
        let line = self.app.open_job.with_untracked(|o| o.as_ref().map(of));
        if let Some(line) = line {
            self.put(line);
        }
    }

    /// Renews the open job's line after a pause in the entries: its progress visits every step, which a tap need not
    /// wait for.
    pub fn renew_soon(self) {
        if self.renewal_due.get_value() {
            return;
        }
        self.renewal_due.set_value(true);
        let renew = move || {
            self.renewal_due.set_value(false);
            let last_ms = |o: &Option<OpenJob>| o.as_ref()?.job.log().last().map(|e| e.at_ms);
            let last_ms = self.app.open_job.with_untracked(last_ms);
            let rested_ms = last_ms.map(|at| local_time::now_ms() - at);
            // A negative time means that the other phone's clock is ahead.
            let is_resting =
                rested_ms.is_none_or(|rested| !(0..REST.as_millis() as i64).contains(&rested));
            if is_resting {
                self.renew();
            } else {
                self.renew_soon();
            }
        };
        set_timeout(renew, Duration::from_secs(1));
    }

    /// Renews the open job's line now, if a renewal is scheduled.
    pub fn renew_if_due(self) {
        if self.renewal_due.get_value() {
            self.renew();
        }
    }

    /// Puts a job's line first, replacing its earlier one.
    pub fn put(self, mut line: JobSummary) {
        self.app.jobs.update(|list| {
            if let Some(old) = list.iter().find(|l| l.id == line.id) {
                line.exported = old.exported;
            }
            list.retain(|l| l.id != line.id);
            list.insert(0, line);
            local_storage::set_job_summaries(list);
        });
    }

    /// Returns whether the files of these jobs take noticeable time to write.
    pub fn is_large(self, ids: &[JobId]) -> bool {
        let entries = |list: &Vec<JobSummary>| -> usize {
            let chosen = list.iter().filter(|l| ids.contains(&l.id));
            chosen.map(|l| l.entries).sum()
        };
        self.app.jobs.with_untracked(entries) > LARGE_JOB
    }

    /// Returns the files of these jobs in their present state. Warns of a job that cannot be read, and leaves it out.
    pub async fn files(self, ids: &[JobId]) -> Vec<JobFile> {
        let mut files = Vec::new();
        for &id in ids {
            let open = self.app.open_job.with_untracked(|o| {
                let open = o.as_ref().filter(|o| o.id == id)?;
                Some(JobFile::of(id, &open.job))
            });
            if let Some(file) = open {
                files.push(file);
                continue;
            }
            let read = self.journal.read(id).await;
            if !read.entries.is_empty() {
                files.push(JobFile::of(id, &Job::from_entries(read.entries)));
            }
            for notice in &read.notices {
                self.app.warn(notice);
            }
        }
        files
    }

    /// Marks jobs as exported, each up to its count of entries.
    pub fn mark_exported(self, counts: &[(JobId, usize)]) {
        self.app.jobs.update(|list| {
            for line in list.iter_mut() {
                if let Some((_, count)) = counts.iter().find(|(id, _)| *id == line.id) {
                    line.exported = *count;
                }
            }
            local_storage::set_job_summaries(list);
        });
    }
}
