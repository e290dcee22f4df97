//! Several tabs on one device: what one has saved, the others merge.

use evenhand_core::job::{Entry, JobId};
use leptos::prelude::*;
use leptos::task::spawn_local;

use super::session::Session;
use crate::device::shell;
use crate::storage::put_aside::Waiting;

/// A longer batch is not sent: other tabs read it from the journal when they open the job.
const MAX_POSTED: usize = 500;

/// Sends other tabs the entries that were saved.
pub fn post_saved(batch: &[Waiting]) {
    for of_one in batch.chunk_by(|a, b| a.job == b.job) {
        let mut lines = vec![of_one[0].job.to_string()];
        if of_one.len() <= MAX_POSTED {
            lines.extend(of_one.iter().map(|waiting| waiting.entry.to_line()));
        }
        shell::post(&lines);
    }
}

/// Tells other tabs that a job was deleted or brought back: they ask the journal which.
pub fn post_deleted(id: JobId) {
    shell::post(&[id.to_string()]);
}

/// Merges what other tabs save from now on, until the current owner ends.
pub fn listen(session: Session) {
    let saved = shell::on_saved_elsewhere(move |lines| take_in(session, &lines));
    on_cleanup(move || saved.remove());
}

/// Merges what another tab has saved: the job, then a line for each entry.
fn take_in(session: Session, lines: &[String]) {
    let app = session.app;
    let Some(id) = lines.first().and_then(|job| job.parse::<JobId>().ok()) else {
        return;
    };
    let entries: Vec<Entry> = lines[1..]
        .iter()
        .filter_map(|line| Entry::from_line(line).ok())
        .collect();
    let is_open = app.is_open(id);
    if is_open && !entries.is_empty() {
        app.open_job.update(|open| {
            if let Some(open) = open {
                open.job.merge(entries);
            }
        });
        session.jobs.renew_soon();
    } else {
        spawn_local(async move {
            if let Some(deletion) = session.journal.deletion(id).await {
                return session.show_deleted(id, deletion);
            }
            let read = session.journal.read(id).await;
            if !read.is_whole() || read.failed {
                return;
            }
            let job = session.merged_with_open(id, read);
            session.jobs.put(id, &job);
            // Another may have been opened meanwhile.
            app.open_job.maybe_update(|open| {
                let open = open.as_mut().filter(|open| open.id == id);
                open.map(|open| open.job = job).is_some()
            });
        });
    }
}
