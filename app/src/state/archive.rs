//! Archiving jobs from the list: an entry in the log of each, so that other devices know.

use evenhand_core::job::{EntryKind, JobId, MAX_ENTRIES};

use super::session::Session;
use crate::device::local_time;
use crate::text;

impl Session {
    /// Archives jobs, or takes them out of the archive. Those that are so already stay as they are.
    pub async fn set_archived(self, ids: Vec<JobId>, archived: bool) {
        let mut names = Vec::new();
        for id in ids {
            let line = self.jobs.line(id).filter(|l| l.archived != archived);
            let Some(line) = line else { continue };
            let act = EntryKind::Archived { archived };
            if self.app.is_open(id) {
                if self.of_job(Some(id)).record(act).is_some() {
                    self.jobs.renew();
                    names.push(line.name);
                }
                continue;
            }
            let name = text::name(&line.name);
            let Some(mut job) = self.jobs.job(id).await else {
                self.app.warn(&format!("“{name}” was not archived: what is stored of it could not be read. Try again when the storage works."));
                continue;
            };
            if job.log().len() >= MAX_ENTRIES {
                self.app.warn(&format!(
                    "“{name}” is full: {MAX_ENTRIES} records. It stays where it is."
                ));
                continue;
            }
            let entry = job.draft(self.replica(), local_time::now_ms(), act);
            self.journal.write(id, vec![entry.clone()]);
            job.apply(entry);
            self.jobs.put_in_place(id, &job);
            names.push(line.name);
        }
        let whose = match &names[..] {
            [] => return,
            [name] => format!("“{}” was", text::name(name)),
            _ => format!("{} jobs were", names.len()),
        };
        self.app.notify(&match archived {
            true => format!("{whose} archived: see “Archived” at the end of the list."),
            false => format!("{whose} taken out of the archive."),
        });
    }
}
