//! What the list of jobs shows of each job, and of each deleted one.

use evenhand_core::analysis::overview::{Overview, overview};
use evenhand_core::job::{Deletion, Job, JobId};
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
    /// What comes next, in words.
    pub next: String,
    /// When its latest entry was made, in milliseconds since 1970.
    pub last_ms: i64,
    /// How many entries it has.
    pub entries: usize,
    /// How many of them are in a file that was exported or opened.
    pub exported: usize,
    /// How far it is and when it is next due. `None` in a line of a release before 0.5, until the job was read again.
    #[serde(default)]
    pub overview: Option<Overview>,
}

/// How many characters of a text the list keeps: a name from a file may be as long as it likes, and the room in local
/// storage is needed for entries.
const MAX_TEXT: usize = 120;
/// How many technicians of a job the list keeps.
const MAX_TECHNICIANS: usize = 8;

/// Returns a text cut to [`MAX_TEXT`] characters.
pub fn cut(text: &str) -> String {
    match text.char_indices().nth(MAX_TEXT) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}

impl JobSummary {
    /// Returns the line of a job, at a place whose clocks are this many minutes ahead of UTC.
    pub fn of(id: JobId, job: &Job, now_ms: i64, utc_offset_minutes: i16) -> JobSummary {
        let state = job.state();
        let details = state.details();
        let mut shown = overview(job, now_ms, utc_offset_minutes);
        for text in [&mut shown.client, &mut shown.serial] {
            *text = cut(text);
        }
        // Whoever is looked for by name is found; the room in local storage is needed for entries.
        shown.technicians.truncate(MAX_TECHNICIANS);
        for name in &mut shown.technicians {
            *name = cut(name);
        }
        let next = match shown.step.is_empty() {
            true => "Everything is done",
            false => &shown.step,
        };
        JobSummary {
            id,
            name: cut(details.name.as_deref().unwrap_or("Job without a name")),
            described: cut(details.described.as_deref().unwrap_or_default()),
            invented: details.invented == Some(true),
            archived: state.is_archived(),
            done: (shown.done, shown.steps),
            next: cut(next),
            last_ms: job
                .log()
                .entries()
                .iter()
                .map(|e| e.at_ms)
                .max()
                .unwrap_or(0),
            entries: job.log().len(),
            exported: 0,
            overview: Some(shown),
        }
    }

    /// Returns the working minutes that are left; 0 if an earlier release wrote the line.
    pub fn minutes_left(&self) -> i64 {
        self.overview.as_ref().map_or(0, |o| o.minutes_left)
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

    /// Returns when it was last worked on, in milliseconds since 1970; of a job without work, when it was last changed.
    pub fn worked_ms(&self) -> i64 {
        self.overview.as_ref().map_or(self.last_ms, |o| o.worked_ms)
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
