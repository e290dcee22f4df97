//! Exporting: job files and tables, by download or the platform's share sheet.

use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{Job, JobId};
use leptos::prelude::*;

use super::session::Session;
use crate::device::files;
use crate::device::local_time::{self, now_ms};

impl Session {
    /// Exports jobs, by the share sheet all at once or as one download after the other.
    pub async fn export_jobs(self, ids: Vec<JobId>, shared: bool) {
        if self.jobs.is_large(&ids) {
            self.app.show_busy("Writing the file…", None).await;
        }
        let jobs = self.jobs.files(&ids).await;
        self.app.busy.set(None);
        let counts: Vec<(JobId, usize)> = jobs.iter().map(|j| (j.id, j.entries)).collect();
        let files: Vec<(String, String)> = jobs.into_iter().map(|j| j.file).collect();
        if shared {
            if files::share(&files).await {
                self.jobs.mark_exported(&counts);
            } else {
                self.app
                    .notify("The file was not shared. It can be downloaded instead.");
            }
            return;
        }
        let refused = "The job is still here; try to share it instead.";
        for (file, count) in files.iter().zip(counts) {
            if !self.download(file, refused) {
                return;
            }
            self.jobs.mark_exported(&[count]);
            self.notify_downloaded(file);
        }
    }

    /// Downloads the open job at once, whatever screen is shown. Does not mark it as exported.
    pub fn download_open_job(self) {
        let now_ms = now_ms();
        let file = self.app.open_job.with_untracked(|open| {
            let open = open.as_ref()?;
            let date = local_time::date(now_ms);
            let name = format!("evenhand-{date}-{}.job.json", open.id);
            Some((name, export(&open.job, now_ms)))
        });
        if let Some(file) = file {
            self.download(&file, "Leave this page open and try again.");
        }
    }

    /// Downloads a table of the open job, under the job's name with this ending.
    pub fn download_table(self, ending: &str, table: fn(&Job) -> String) {
        let file = self.app.open_job.with_untracked(|open| {
            let job = &open.as_ref()?.job;
            let name = job.state().details().name.as_deref().unwrap_or_default();
            Some((files::name(name, now_ms(), ending), table(job)))
        });
        if let Some(file) = file
            && self.download(&file, "The job is still here.")
        {
            self.notify_downloaded(&file);
        }
    }

    /// Hands a file, its name and text, to the browser's downloads. Returns whether the browser accepts it; otherwise
    /// warns, with the sentence `refused` about what to do.
    fn download(self, (name, text): &(String, String), refused: &str) -> bool {
        let accepted = files::download(name, text).is_ok();
        if !accepted {
            self.app
                .warn(&format!("The browser refused the download. {refused}"));
        }
        accepted
    }

    fn notify_downloaded(self, (name, _): &(String, String)) {
        self.app.notify(&format!(
            "{name} was handed to the downloads of this browser."
        ));
    }
}
