//! Deleted jobs: their records stay in the journal under a dated mark until they are erased.

use evenhand_core::job::{Deletion, JobId};
use indexed_db_futures::error::Error;
use leptos::prelude::*;

use super::Journal;
use super::database::{erase, remove_deleted, write_deleted};

impl Journal {
    /// Returns the mark of a job; `None` if it was not deleted, or if the journal cannot be read.
    pub async fn deletion(self, id: JobId) -> Option<Deletion> {
        let jobs = self.jobs().await.ok()?;
        jobs.iter().find(|(job, _)| *job == id)?.1
    }

    /// Returns whether entries of a job are not saved yet.
    pub fn has_unsaved(self, id: JobId) -> bool {
        self.queue
            .with_value(|queue| queue.iter().any(|w| w.job == id))
    }

    /// Marks a job as deleted. An entry that is written to it later takes the mark away. Returns whether it is marked.
    pub async fn delete(self, id: JobId, deletion: Deletion) -> bool {
        let Some(database) = self.open().await else {
            return false;
        };
        let marked = write_deleted(&database, id, deletion.at_ms).await;
        self.answer(marked.map(|()| true))
    }

    /// Takes the mark of a deleted job away. Returns whether that is saved: a job that was
    /// erased meanwhile does not come back.
    pub async fn bring_back(self, id: JobId) -> bool {
        let Some(database) = self.open().await else {
            return false;
        };
        let back = remove_deleted(&database, id).await;
        self.answer(back)
    }

    /// Erases the records of a job, unless its mark has changed meanwhile. Returns whether they are erased.
    pub async fn erase(self, id: JobId, deletion: Deletion) -> bool {
        let Some(database) = self.open().await else {
            return false;
        };
        let erased = erase(&database, id, deletion.at_ms).await;
        self.answer(erased)
    }

    /// Returns an answer of the database; `false` if it failed.
    fn answer(self, answer: Result<bool, Error>) -> bool {
        answer.unwrap_or_else(|_| {
            // The browser may have closed the connection; the next attempt opens it again.
            self.database.set_value(None);
            false
        })
    }
}
