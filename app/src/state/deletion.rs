//! Deleting jobs, on this device only: they can be brought back for thirty days, and are erased then.

use evenhand_core::job::{Deletion, JobId};
use leptos::prelude::*;

use super::job_list::summary;
use super::session::Session;
use super::tabs;
use crate::device::local_time;
use crate::route::Route;
use crate::storage::job_summary::{DeletedJob, JobSummary};
use crate::storage::local_storage;
use crate::text;

impl Session {
    /// Returns the mark of a job that is deleted now.
    pub fn deletion_now(self) -> Deletion {
        Deletion::made(local_time::now_ms(), local_storage::latest_seen_ms())
    }

    /// Exports a job, and deletes it if its file went out.
    pub async fn export_and_delete(self, id: JobId) {
        if self.app.busy.with_untracked(Option::is_some) {
            let name = text::name(&self.jobs.name(id));
            return self.app.warn(&format!(
                "“{name}” was neither exported nor deleted: Evenhand is still busy. Try again when it is done."
            ));
        }
        self.export_jobs(vec![id], false).await;
        // Otherwise a warning says why it was not exported.
        let line = self.jobs.line(id);
        if line.is_some_and(|l| !l.has_unexported_work()) {
            self.delete_job(id).await;
        }
    }

    /// Deletes a job on this device. Its records stay in the journal until [`Session::erase_due`].
    pub async fn delete_job(self, id: JobId) {
        if self.app.is_open(id) {
            self.jobs.renew();
        }
        let Some(line) = self.jobs.line(id) else {
            return;
        };
        let name = text::name(&line.name);
        if self.journal.has_unsaved(id) {
            return self.app.warn(&format!(
                "“{name}” was not deleted: its latest work is not saved yet. Try again when it is."
            ));
        }
        let deletion = self.deletion_now();
        if !self.journal.delete(id, deletion).await {
            return self.app.warn(&format!(
                "“{name}” was not deleted: the storage of this browser does not work. Try again later."
            ));
        }
        self.show_deleted(id, deletion);
        tabs::post_deleted(id);
        let rest = match line.has_unexported_work() {
            true => "It is not exported, so it stays under “Deleted” at the end of the list until you bring it back.".to_owned(),
            false => {
                let until = local_time::long_date(deletion.erased_from_ms());
                format!("You can bring it back until {until}: see “Deleted” at the end of the list.")
            }
        };
        self.app.notify(&format!("“{name}” was deleted. {rest}"));
    }

    /// Takes a job that was deleted here or in another tab out of the list, and leaves it if it is open.
    pub fn show_deleted(self, id: JobId, deletion: Deletion) {
        self.jobs.put_deleted(id, deletion);
        if self.app.is_open(id) {
            self.app.open_job.set(None);
        }
        if self.app.job_untracked() == Some(id) {
            Route::Jobs.replace();
        }
    }

    /// Brings a deleted job back.
    pub async fn bring_back(self, id: JobId) {
        if !self.journal.bring_back(id).await {
            let of = |list: &Vec<DeletedJob>| {
                list.iter()
                    .find(|d| d.job.id == id)
                    .map(|d| text::name(&d.job.name))
            };
            let name = self.app.deleted.with_untracked(of).unwrap_or_default();
            return self.app.warn(&format!(
                "“{name}” could not be brought back now: the storage of this browser does not work. Try again later."
            ));
        }
        self.jobs.put_back(id);
        tabs::post_deleted(id);
    }

    /// Replaces the line of a deleted job, which then says that it is not exported.
    fn renew_deleted(self, line: JobSummary) {
        self.app.deleted.update(|list| {
            if let Some(deleted) = list.iter_mut().find(|d| d.job.id == line.id) {
                deleted.job = line;
            }
            local_storage::set_deleted_jobs(list);
        });
    }

    /// Erases the deleted jobs whose thirty days are over. One with work that was not exported stays.
    pub async fn erase_due(self) {
        // What an earlier visit could not save may belong to one of them.
        if self.journal.unsaved.get_untracked() > 0 {
            return;
        }
        let now_ms = local_time::now_ms();
        let mut due = self.app.deleted.get_untracked();
        due.retain(|d| d.deletion().is_due(now_ms, d.job.has_unexported_work()));
        for deleted in due {
            let id = deleted.job.id;
            // A page that is killed stores records without renewing the line.
            let read = self.journal.read(id).await;
            if read.failed || !read.notices.is_empty() {
                continue;
            }
            let line = summary(id, &read.job, deleted.job.exported);
            if line.has_unexported_work() {
                self.renew_deleted(line);
                continue;
            }
            if self.journal.erase(id, deleted.deletion()).await {
                self.photos.erase(id).await;
                local_storage::forget_job(id);
                self.jobs.take_deleted(id);
            }
        }
    }
}
