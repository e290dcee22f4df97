//! The jobs on this device: their lines in the list, and their files.

use std::time::Duration;

use evenhand_core::job::{Deletion, Entry, InFiles, Job, JobId};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::app_state::AppState;
use crate::device::local_time;
use crate::storage::job_summary::{self, DeletedJob, JobSummary};
use crate::storage::journal::Journal;
use crate::storage::local_storage;
use crate::text;

/// A job of more entries than this takes noticeable time to write.
const LARGE_JOB: usize = 2_000;
/// The list is renewed when nothing was entered for this long.
const REST: Duration = Duration::from_millis(900);

/// What a file holds of one job.
pub struct ExportedJob {
    /// The job.
    pub id: JobId,
    /// How many entries the file holds.
    pub entries: usize,
    /// Which they are.
    pub in_files: InFiles,
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
        let Ok(stored) = self.journal.jobs().await else {
            self.app.jobs_known.set(true);
            return false;
        };
        let is_stored = |id: JobId| stored.iter().any(|(stored, _)| *stored == id);
        let deletion = |id: JobId| stored.iter().find(|(stored, _)| *stored == id)?.1;
        let not_deleted = |list: &[JobSummary]| -> Vec<JobSummary> {
            let list = list.iter().filter(|l| deletion(l.id).is_none());
            list.cloned().collect()
        };
        let mut list = local_storage::job_summaries();
        for deleted in local_storage::deleted_jobs() {
            if !is_stored(deleted.job.id) {
                // Erased, in another tab or just before the program ended.
                local_storage::forget_job(deleted.job.id);
            } else if !list.iter().any(|l| l.id == deleted.job.id) {
                list.push(deleted.job);
            }
        }
        // A line without entries is of a job that could not be read when it was made.
        list.retain(|l| is_stored(l.id) && l.entries > 0);
        let mut whole = true;
        let mut lost: Vec<JobId> = stored.iter().map(|(id, _)| *id).collect();
        lost.retain(|id| !list.iter().any(|l| l.id == *id));
        for (at, id) in lost.iter().enumerate() {
            let read = self.journal.read(*id).await;
            if read.failed {
                // What is stored is not known, and the journal's fault says so: no line, rather than an empty one.
                whole = false;
                continue;
            }
            if read.is_empty() {
                continue;
            }
            list.push(summary(*id, &read.job, 0));
            // The first jobs can be opened while the rest are read.
            if (at + 1).is_power_of_two() {
                self.app.jobs.set(not_deleted(&list));
            }
        }
        list.sort_by_key(|l| std::cmp::Reverse(l.last_ms));
        let shown = not_deleted(&list);
        if !lost.is_empty() || shown.len() < list.len() {
            local_storage::set_job_summaries(&shown);
        }
        let gone = list.into_iter().filter_map(|job| {
            let at_ms = deletion(job.id)?.at_ms;
            Some(DeletedJob { job, at_ms })
        });
        self.set_deleted(gone.collect());
        self.app.jobs.set(shown);
        // A job that was made meanwhile is not in the journal's answer.
        self.renew();
        self.app.jobs_known.set(true);
        self.renew_old_lines().await;
        whole
    }

    /// Reads the jobs whose lines are of an earlier release, which do not say all of a job, and renews each where it stands.
    async fn renew_old_lines(self) {
        let old = |list: &Vec<JobSummary>| -> Vec<JobId> {
            let old = list.iter().filter(|l| l.overview.is_none());
            old.map(|l| l.id).collect()
        };
        for id in self.app.jobs.with_untracked(old) {
            let read = self.journal.read(id).await;
            if !read.failed && !read.is_empty() && !self.app.is_open(id) {
                self.put_in_place(id, &read.job);
            }
        }
    }

    /// Renews the open job's line.
    pub fn renew(self) {
        self.app.open_job.with_untracked(|open| {
            if let Some(open) = open {
                self.put(open.id, &open.job);
            }
        });
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
            let last_ms = self.app.open_job.with_untracked(|open| {
                let job = &open.as_ref()?.job;
                job.log().last().map(|e| e.at_ms)
            });
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

    /// Shows and stores the list of deleted jobs.
    fn set_deleted(self, list: Vec<DeletedJob>) {
        if self.app.deleted.with_untracked(|old| *old != list) {
            local_storage::set_deleted_jobs(&list);
            self.app.deleted.set(list);
        }
    }

    /// Moves a job's line to the deleted jobs.
    pub fn put_deleted(self, id: JobId, deletion: Deletion) {
        let taken = self.app.jobs.try_update(|list| {
            let at = list.iter().position(|l| l.id == id)?;
            let line = list.remove(at);
            local_storage::set_job_summaries(list);
            Some(line)
        });
        let Some(job) = taken.flatten() else { return };
        let mut list = self.app.deleted.get_untracked();
        let at_ms = deletion.at_ms;
        list.insert(0, DeletedJob { job, at_ms });
        self.set_deleted(list);
    }

    /// Removes a job from the deleted jobs, and returns it.
    pub fn take_deleted(self, id: JobId) -> Option<DeletedJob> {
        let mut list = self.app.deleted.get_untracked();
        let at = list.iter().position(|d| d.job.id == id)?;
        let taken = list.remove(at);
        self.set_deleted(list);
        Some(taken)
    }

    /// Puts the line of a deleted job back into the list, and takes its mark away. Does nothing to other jobs.
    pub fn put_back(self, id: JobId) {
        let Some(DeletedJob { job, .. }) = self.take_deleted(id) else {
            return;
        };
        self.app.notify(&format!(
            "“{}” was deleted on this device. It is back in the list.",
            text::name(&job.name)
        ));
        self.app.jobs.update(|list| {
            list.retain(|l| l.id != id);
            list.insert(0, job);
            local_storage::set_job_summaries(list);
        });
        // A new entry has taken the mark away by itself; a file with nothing new has not.
        spawn_local(async move {
            self.journal.bring_back(id).await;
        });
    }

    /// Puts a job's line first, replacing its earlier one. A deleted job is back by that.
    pub fn put(self, id: JobId, job: &Job) {
        self.put_back(id);
        self.app.jobs.update(|list| {
            let old = list.iter().find(|l| l.id == id);
            let line = summary(id, job, old.map_or(0, |l| l.exported));
            list.retain(|l| l.id != id);
            list.insert(0, line);
            local_storage::set_job_summaries(list);
        });
    }

    /// Renews a job's line, where it stands.
    pub fn put_in_place(self, id: JobId, job: &Job) {
        self.app.jobs.update(|list| {
            if let Some(line) = list.iter_mut().find(|l| l.id == id) {
                *line = summary(id, job, line.exported);
            }
            local_storage::set_job_summaries(list);
        });
    }

    /// Returns a job's line; `None` if it is not in the list.
    pub fn line(self, id: JobId) -> Option<JobSummary> {
        let find = |list: &Vec<JobSummary>| list.iter().find(|l| l.id == id).cloned();
        self.app.jobs.with_untracked(find)
    }

    /// Returns the name of a job in the list; empty if it is not there.
    pub fn name(self, id: JobId) -> String {
        self.line(id).map_or_else(String::new, |l| l.name)
    }

    /// Returns whether another job has this name.
    pub fn has_other_of_name(self, id: JobId, name: &str) -> bool {
        let name = job_summary::cut(name);
        let is_other = |l: &JobSummary| l.id != id && l.name == name;
        self.app
            .jobs
            .with_untracked(|list| list.iter().any(is_other))
    }

    /// Returns whether the files of these jobs take noticeable time to write.
    pub fn is_large(self, ids: &[JobId]) -> bool {
        let entries = |list: &Vec<JobSummary>| -> usize {
            let chosen = list.iter().filter(|l| ids.contains(&l.id));
            chosen.map(|l| l.entries).sum()
        };
        self.app.jobs.with_untracked(entries) > LARGE_JOB
    }

    /// Returns a job in its present state. `None` if what is stored of it cannot be read. Warns of single records that
    /// cannot.
    pub async fn job(self, id: JobId) -> Option<Job> {
        let open = self.app.open_job.with_untracked(|o| {
            let open = o.as_ref().filter(|o| o.id == id);
            open.map(|open| open.job.clone())
        });
        if open.is_some() {
            return open;
        }
        let read = self.journal.read(id).await;
        for notice in &read.notices {
            self.app.warn(notice);
        }
        (!read.failed && !read.is_empty()).then_some(read.job)
    }

    /// Marks jobs as exported, each with the entries that its file holds.
    pub fn mark_exported(self, exported: &[ExportedJob]) {
        for job in exported {
            let mut in_files = local_storage::in_files(job.id).unwrap_or_default();
            in_files.extend(&job.in_files);
            local_storage::set_in_files(job.id, &in_files);
        }
        self.app.jobs.update(|list| {
            for line in list.iter_mut() {
                if let Some(job) = exported.iter().find(|job| job.id == line.id) {
                    line.exported = line.exported.max(job.entries);
                }
            }
            local_storage::set_job_summaries(list);
        });
    }

    /// Notes that the entries of a file that was merged into a job are in a file. Before the merge the job had `known`
    /// entries.
    pub fn add_file(self, id: JobId, job: &Job, in_file: &[Entry], known: usize) {
        self.put_back(id);
        let exported = self.app.jobs.with_untracked(|list| {
            let line = list.iter().find(|l| l.id == id);
            line.map_or(0, |l| l.exported)
        });
        let mut in_files = local_storage::in_files(id).unwrap_or_default();
        if in_files == InFiles::default() && known > 0 && exported >= known {
            // An earlier release kept the number alone: the job was exported whole.
            in_files = InFiles::all(job.log());
        }
        in_files.add(job.log(), in_file);
        local_storage::set_in_files(id, &in_files);
        self.put(id, job);
    }
}

/// Returns the line of a job, of which an earlier release exported this number of entries.
pub(super) fn summary(id: JobId, job: &Job, exported: usize) -> JobSummary {
    let in_files = local_storage::in_files(id);
    JobSummary {
        exported: in_files.map_or(exported, |files| files.count(job.log())),
        ..JobSummary::of(
            id,
            job,
            local_time::now_ms(),
            local_time::utc_offset_minutes(local_time::now_ms()),
        )
    }
}
