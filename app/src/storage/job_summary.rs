//! What the list of jobs shows of each job, and of each deleted one.

use evenhand_core::analysis::job_plan::work_left;
use evenhand_core::analysis::suggestion::suggest_next;
use evenhand_core::job::{Deletion, Job, JobId, State};
use serde::{Deserialize, Serialize};

/// A job's line in the list, as of when the job was last open.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct JobSummary {
    /// The job.
    pub id: JobId,
    /// Its name.
    pub name: String,
    /// What the instrument is.
    pub described: String,
    /// Whether it is a demo job.
    pub invented: bool,
    /// Whether it is archived.
    #[serde(default)]
    pub archived: bool,
    /// The number of steps that are done, and of all steps.
    pub done: (usize, usize),
    /// The working minutes that are left; 0 if an earlier release wrote it.
    #[serde(default)]
    pub minutes_left: i64,
    /// What comes next, in words.
    pub next: String,
    /// When its latest entry was made, in milliseconds since 1970.
    pub last_ms: i64,
    /// How many entries it has.
    pub entries: usize,
    /// How many of them are in a file that was exported or opened.
    pub exported: usize,
}

/// How many characters of a text the list keeps: a name from a file may be as long as it likes, and the room in local
/// storage is needed for entries.
const MAX_TEXT: usize = 120;

/// Returns a text cut to [`MAX_TEXT`] characters.
pub fn cut(text: &str) -> String {
    match text.char_indices().nth(MAX_TEXT) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}

impl JobSummary {
    /// Returns the line of a job.
    pub fn of(id: JobId, job: &Job, now_ms: i64) -> JobSummary {
        let state = job.state();
        let details = state.details();
        let all = state.progress(now_ms);
        let whole = State::stage_progress(&all, None);
        let next = suggest_next(state, &all, now_ms).into_iter().next();
        let step = next.and_then(|n| {
            all.iter()
                .find(|(s, _)| s.id == n.step)
                .map(|(s, _)| s.name.to_string())
        });
        JobSummary {
            id,
            name: cut(details.name.as_deref().unwrap_or("Job without a name")),
            described: cut(details.described.as_deref().unwrap_or_default()),
            invented: details.invented == Some(true),
            archived: state.is_archived(),
            done: (whole.done, whole.steps),
            minutes_left: work_left(state, &all),
            next: cut(step.as_deref().unwrap_or("Everything is done")),
            last_ms: job
                .log()
                .entries()
                .iter()
                .map(|e| e.at_ms)
                .max()
                .unwrap_or(0),
            entries: job.log().len(),
            exported: 0,
        }
    }

    /// Returns whether it is begun and not ended, so that it takes a technician's time. A demo job takes none.
    pub fn is_in_work(&self) -> bool {
        let begun = (1..self.done.1).contains(&self.done.0);
        begun && !self.archived && !self.invented
    }

    /// Returns whether it has work that was not exported yet. A demo job has none.
    pub fn has_unexported_work(&self) -> bool {
        !self.invented && self.entries > self.exported
    }
}

/// A job that was deleted on this device.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DeletedJob {
    /// Its line, as of when it was deleted.
    pub job: JobSummary,
    /// When it was deleted, in milliseconds since 1970.
    pub at_ms: i64,
}

impl DeletedJob {
    /// Returns its mark.
    pub fn deletion(&self) -> Deletion {
        Deletion { at_ms: self.at_ms }
    }
}
