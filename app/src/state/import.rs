//! Opening job files: a new job is stored, a known one is merged.

use evenhand_core::analysis::conflicts::{Conflict, conflicts};
use evenhand_core::analysis::open_points::conclusions;
use evenhand_core::job::{Entry, Job, Merged, Opened, Opening};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::app_state::Busy;
use super::session::Session;
use crate::device::{self, files};
use crate::route::Route;
use crate::text;

/// How many bytes of a file are read before the screen may be painted: a tenth of a second of a slow phone. A larger
/// file shows its progress.
const SLICE: usize = 256 << 10;
const READING: &str = "Reading the file…";

impl Session {
    /// Opens job files one after the other.
    pub fn open_files(self, chosen: Option<web_sys::FileList>) {
        let chosen = chosen.into_iter();
        let chosen: Vec<web_sys::File> = chosen
            .flat_map(|list| (0..list.length()).filter_map(move |i| list.get(i)))
            .collect();
        spawn_local(async move {
            for file in chosen {
                match files::read(file).await {
                    Ok(bytes) => self.open_file(bytes).await,
                    Err(sentence) => self.app.warn(&sentence),
                }
            }
        });
    }

    async fn open_file(self, bytes: Vec<u8>) {
        // A large file takes time, so the progress must be painted first.
        if bytes.len() > SLICE {
            self.app.show_busy(READING, Some(0)).await;
        }
        let opened = match Opening::begin(&bytes) {
            Ok(mut opening) => {
                while opening.read_on(SLICE) {
                    // To the tenth, as a screen reader says each change.
                    let busy = Some(Busy {
                        with: READING,
                        percent: Some(opening.percent() / 10 * 10),
                    });
                    if self.app.busy.get_untracked() != busy {
                        self.app.busy.set(busy);
                    }
                    device::pause(0).await;
                }
                opening.finish(conclusions)
            }
            Err(error) => Err(error),
        };
        match opened {
            Ok(opened) => self.import(opened).await,
            Err(error) => self.app.warn(&error.to_string()),
        }
        self.app.busy.set(None);
    }

    async fn import(self, opened: Opened) {
        let Some(id) = opened.id else {
            return self.app.warn(
                "The file holds no job that can be opened. Nothing stored here was changed.",
            );
        };
        // What was changed or left out must be seen, so it is a warning.
        for notice in &opened.notices {
            self.app.warn(notice);
        }
        let read = self.journal.read(id).await;
        if read.failed {
            // Without the stored entries, those of the file could replace others.
            return self.app.warn(
                "The file was not opened, since what is stored here could not be read. Open it again when the storage works.",
            );
        }
        let mut job = self.merged_with_open(id, read.entries);
        let known_apart = conflicts(&job).len();
        let new: Vec<Entry> = opened
            .entries
            .iter()
            .filter(|e| job.log().get(e.id).is_none())
            .cloned()
            .collect();
        let was_here = !job.log().is_empty();
        let merged = job.merge(opened.entries);
        self.report_merge(&merged, was_here, &job, known_apart);
        self.journal.write(id, new);
        self.open_job(id, job);
        Route::Order(id).go();
    }

    /// Notifies of what a merge changed.
    fn report_merge(self, merged: &Merged, was_here: bool, job: &Job, known_apart: usize) {
        if was_here {
            self.app.notify(&format!(
                "The job was here already. {} new entries were taken in, {} were known.",
                merged.new, merged.known
            ));
            if let Some(sentence) = new_conflicts(&conflicts(job), known_apart) {
                self.app.warn(&sentence);
            }
        }
        if !merged.differing.is_empty() {
            self.app.warn(&format!(
                "{} entries of the file differ from the stored ones of the same name. The stored ones were kept.",
                merged.differing.len()
            ));
        }
    }
}

/// Returns a sentence on what two technicians have said differently. `None` if no conflict is new.
fn new_conflicts(open: &[Conflict], known: usize) -> Option<String> {
    let first = open.first().filter(|_| open.len() > known)?;
    let values: Vec<&str> = first.statements.iter().map(|s| s.value.as_str()).collect();
    let more = match open.len() - 1 {
        0 => String::new(),
        n => format!(
            " And {}.",
            text::counted(n, "one conflict more", "conflicts more")
        ),
    };
    Some(format!(
        "Two people differ. {}: {}.{more} Both are kept, and the later counts. Handover lists what is open; settle it there.",
        first.about,
        values.join(", or "),
    ))
}
