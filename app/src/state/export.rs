//! Exporting: job files, files of many jobs and tables, as a download or by the platform's share sheet.

use evenhand_core::analysis::calendar::{Event, calendar};
use evenhand_core::analysis::decisions::PartsTable;
use evenhand_core::analysis::job_file::export;
use evenhand_core::job::{
    InFiles, JOBS_END, JOBS_SEPARATOR, Job, JobId, PHOTOS_END, PHOTOS_SEPARATOR, jobs_start,
    photo_line, with_photos, without_mark,
};
use leptos::prelude::*;
use wasm_bindgen::JsValue;

use super::job_list::ExportedJob;
use super::session::Session;
use crate::device::files::{self, NewFile};
use crate::device::local_time::now_ms;
use crate::storage::{local_storage, preferences};
use crate::text;

const WRITING: &str = "Writing the file…";

/// A file that was written.
struct Written {
    file: NewFile,
    jobs: Vec<ExportedJob>,
    /// The names of the jobs that could not be read and are not in the file.
    left_out: Vec<String>,
    /// How many photos are not on this device, and so not in the file.
    photos_missing: usize,
}

impl Session {
    /// Does [`Session::export_jobs`].
    pub(super) async fn write_and_hand_out(self, ids: Vec<JobId>, shared: bool) {
        if ids.is_empty() || self.app.busy.with_untracked(Option::is_some) {
            return;
        }
        self.app.stop.set(false);
        if ids.len() > 1 {
            self.app.show_busy(WRITING, Some(0)).await;
        } else if self.jobs.is_large(&ids) {
            self.app.show_busy(WRITING, None).await;
        }
        let written = self.write_file(&ids).await;
        self.app.busy.set(None);
        let Written {
            file,
            jobs,
            left_out,
            photos_missing,
        } = match written {
            Ok(Some(written)) => written,
            Ok(None) => return self.app.notify("Stopped. Nothing was exported."),
            Err(_) => {
                return self.app.warn("The browser refused the file. Nothing was exported; every job is still here. Export fewer jobs at once.");
            }
        };
        if !left_out.is_empty() {
            let names = text::names(&left_out);
            self.app.warn(&format!("Not exported, since what is stored could not be read: {names}. Try again when the storage works."));
        }
        if jobs.is_empty() {
            return;
        }
        if photos_missing > 0 {
            let photos = text::counted(photos_missing, "1 photo is", "photos are");
            self.app.warn(&format!(
                "{photos} not on this phone and not in the file. Everything else is."
            ));
        }
        let name = &file.name;
        if shared {
            if !file.share().await {
                return self.app.warn(&format!("{name} was not shared, and nothing is marked as exported. It can be exported as a download."));
            }
        } else if file.download().is_err() {
            return self.app.warn(&format!("The browser refused the download of {name}. Nothing was exported; every job is still here."));
        } else {
            self.notify_download(name);
        }
        self.jobs.mark_exported(&jobs);
    }

    /// Writes the file of these jobs, one job after the other. Returns `None` if the user stopped it.
    ///
    /// # Errors
    /// Fails if the browser refuses it.
    async fn write_file(self, ids: &[JobId]) -> Result<Option<Written>, JsValue> {
        let now_ms = now_ms();
        let many = ids.len() > 1;
        let mut written = Written {
            file: NewFile::new(if many {
                file_name(&format!("{} jobs", ids.len()), ".jobs.json")
            } else {
                String::new()
            }),
            jobs: Vec::new(),
            left_out: Vec::new(),
            photos_missing: 0,
        };
        for (at, &id) in ids.iter().enumerate() {
            if many {
                self.app.set_busy(WRITING, at * 100 / ids.len()).await;
            }
            if self.app.stop.get_untracked() {
                return Ok(None);
            }
            let Some(job) = self.jobs.job(id).await else {
                written.left_out.push(self.jobs.name(id));
                continue;
            };
            if !many {
                written.file.name = file_name(&name_of(&job), ".job.json");
            } else if !written.jobs.is_empty() {
                written.file.append(JOBS_SEPARATOR)?;
            }
            let missing = self.append_job(&written.file, &job, now_ms).await?;
            written.photos_missing += missing;
            written.jobs.push(ExportedJob {
                id,
                entries: job.log().len(),
                in_files: InFiles::all(job.log()),
            });
        }
        if many {
            written
                .file
                .prepend(&jobs_start(written.jobs.len(), now_ms))?;
            written.file.append(JOBS_END)?;
        }
        Ok(Some(written))
    }

    /// Appends a job, and its photos one by one unless they are to be left out. Returns how many of them are not on this
    /// device.
    ///
    /// # Errors
    /// Fails if the browser refuses it.
    async fn append_job(self, file: &NewFile, job: &Job, now_ms: i64) -> Result<usize, JsValue> {
        let text = export(job, now_ms);
        let (hashes, _) = job.state().photos_in_file();
        if hashes.is_empty() || preferences::leaves_photos_out() {
            file.append(&text)?;
            return Ok(0);
        }
        file.append(&with_photos(text))?;
        let (mut separator, mut missing) = ("", 0);
        for hash in hashes {
            match self.photos.get(hash).await {
                Some(photo) => {
                    file.append(separator)?;
                    file.append(&photo_line(hash, photo.format, &photo.bytes))?;
                    separator = PHOTOS_SEPARATOR;
                }
                None => missing += 1,
            }
        }
        file.append(PHOTOS_END)?;
        Ok(missing)
    }

    /// Does [`Session::download_open_job`].
    pub(super) fn write_open_job(self) {
        let written = self.app.open_job.with_untracked(|open| {
            let job = &open.as_ref()?.job;
            let name = file_name(&name_of(job), ".job.json");
            Some(NewFile::with_text(name, &export(job, now_ms())))
        });
        if let Some(written) = written
            && written.and_then(|file| file.download()).is_err()
        {
            self.app
                .warn("The browser refused the download. Leave this page open and try again.");
        }
    }

    /// Exports a table of the open job, under the job's name with this ending.
    pub fn download_table(self, ending: &str, table: impl Fn(&Job) -> String) {
        let table = self.app.open_job.with_untracked(|open| {
            let job = &open.as_ref()?.job;
            Some((file_name(&name_of(job), ending), table(job)))
        });
        let Some((name, table)) = table else { return };
        self.download_text(name, with_chosen_mark(&table));
    }

    /// Does [`Session::download_parts`].
    pub(super) async fn write_parts(self, ids: Vec<JobId>) {
        let mut table = PartsTable::default();
        for id in &ids {
            match self.jobs.job(*id).await {
                Some(job) => table.add(&job),
                None => {
                    let name = text::name(&self.jobs.name(*id));
                    self.app.warn(&format!("The table is without “{name}”: what is stored of it could not be read. Try again when the storage works."));
                }
            }
        }
        if table.rows() == 0 {
            return self.app.notify(
                "No parts to order: nothing was decided to be renewed in the chosen jobs.",
            );
        }
        let name = format!("parts of {}", text::counted(ids.len(), "1 job", "jobs"));
        self.download_text(file_name(&name, ".csv"), with_chosen_mark(&table.finish()));
    }

    /// Exports a calendar file of events.
    pub fn download_calendar(self, events: &[Event]) {
        if events.is_empty() {
            return self
                .app
                .notify("The calendar would be empty: no visit is due, and nothing is drying.");
        }
        let file = calendar(events, now_ms());
        self.download_text(file_name("next visits", ".ics"), &file);
    }

    fn download_text(self, name: String, text: &str) {
        match NewFile::with_text(name.clone(), text).and_then(|file| file.download()) {
            Ok(()) => self.notify_download(&name),
            Err(_) => self.app.warn(&format!(
                "The browser refused the download of {name}. Every job is still here."
            )),
        }
    }

    fn notify_download(self, name: &str) {
        self.app.notify(&format!("Download started: {name}"));
    }
}

/// Returns a table with the mark for spreadsheets, or without it, as the preferences say.
fn with_chosen_mark(table: &str) -> &str {
    match preferences::tables_have_mark() {
        true => table,
        false => without_mark(table),
    }
}

/// Returns the name of a job; empty if it has none.
fn name_of(job: &Job) -> String {
    job.state().details().name.clone().unwrap_or_default()
}

/// Returns the name of a file that is written now on this device: what it is of, the date and who.
pub fn file_name(of: &str, ending: &str) -> String {
    files::name(of, now_ms(), &who(), ending)
}

/// Returns who works on this device: the technician, or a name of the device that differs from that of others.
fn who() -> String {
    preferences::technician().unwrap_or_else(|| {
        let first = local_storage::own_replicas().into_iter().next();
        let code = first.map_or_else(String::new, |id| id.to_string().chars().take(4).collect());
        format!("phone {code}")
    })
}
