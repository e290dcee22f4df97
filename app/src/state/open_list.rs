//! The list of the jobs in opened files: what opening each would do, or did.

use std::ops::Range;

use evenhand_core::job::{Incoming, JobId};
use send_wrapper::SendWrapper;

use crate::text;

/// A job file: a whole file, or a part of a file of many jobs.
#[derive(Clone, Debug)]
pub struct Source {
    /// The file.
    pub file: SendWrapper<web_sys::File>,
    /// Its bytes of this job.
    pub range: Range<u64>,
}

impl Source {
    /// Returns the name of the file, as it stands in a sentence.
    pub fn name(&self) -> String {
        text::name(&self.file.name())
    }

    /// Returns whether it is a file of its own.
    pub fn is_whole(&self) -> bool {
        self.range == (0..self.file.size() as u64)
    }
}

/// The jobs in opened files.
#[derive(Clone, Debug, Default)]
pub struct OpenList {
    /// One line a job, and one for each file that was refused whole.
    pub lines: Vec<OpenLine>,
    /// Sentences about the files.
    pub notices: Vec<String>,
    /// Whether they were opened; otherwise they are still to be chosen.
    pub is_done: bool,
}

impl OpenList {
    /// Returns how many jobs are new, merged, the same and refused, in words.
    pub fn counts(&self) -> String {
        let count = |is: &dyn Fn(&OpenLine) -> bool| self.lines.iter().filter(|l| is(l)).count();
        let of = |is: fn(&Outcome) -> bool| {
            count(&|l: &OpenLine| l.judged.as_ref().is_ok_and(|j| is(&j.outcome)))
        };
        let merged = if self.is_done { "merged" } else { "to merge" };
        let counts = [
            (of(|o| *o == Outcome::New), "new"),
            (of(|o| matches!(o, Outcome::Merged(_))), merged),
            (of(|o| *o == Outcome::Same), "with nothing new"),
            (count(&|l: &OpenLine| l.judged.is_err()), "refused"),
        ];
        let counts = counts.into_iter().filter(|(count, _)| *count > 0);
        let counts: Vec<String> = counts.map(|(n, words)| format!("{n} {words}")).collect();
        counts.join(", ")
    }
}

/// One job in an opened file.
#[derive(Clone, Debug)]
pub struct OpenLine {
    /// The name of the file.
    pub file: String,
    /// What opening it does, or why it is refused.
    pub judged: Result<Judged, String>,
    /// What was found in the file: changed outside, left out, read differently.
    pub notices: Vec<String>,
    /// How many photos it brought that were not on this device.
    pub photos: usize,
    /// Where it is read from, if it can be chosen.
    pub source: Option<Source>,
}

/// A job that can be opened.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The job.
    pub id: JobId,
    /// Its name.
    pub name: String,
    /// What opening it does.
    pub outcome: Outcome,
}

/// What opening a job does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The job was not on this device.
    New,
    /// It was, and this changes.
    Merged(Incoming),
    /// It was, with all entries.
    Same,
}

impl OpenLine {
    /// Returns the line of a file that is refused, with the sentence that says why.
    pub fn refused(file: &str, why: String) -> OpenLine {
        OpenLine {
            file: file.to_owned(),
            judged: Err(why),
            notices: Vec::new(),
            photos: 0,
            source: None,
        }
    }

    /// Returns the name of the job, or of the file if it is refused.
    pub fn name(&self) -> String {
        match &self.judged {
            Ok(judged) if judged.name.is_empty() => "Job without a name".to_owned(),
            Ok(judged) => judged.name.clone(),
            Err(_) => self.file.clone(),
        }
    }

    /// Returns what becomes of it in a few words.
    pub fn words(&self) -> String {
        match &self.judged {
            Ok(judged) => match &judged.outcome {
                Outcome::New => "new".to_owned(),
                Outcome::Merged(incoming) => text::incoming(incoming),
                Outcome::Same if self.photos > 0 => {
                    format!("{} added", text::counted(self.photos, "1 photo", "photos"))
                }
                Outcome::Same => "nothing new".to_owned(),
            },
            Err(why) => why.clone(),
        }
    }

    /// Returns what became of it as a sentence that names file and job.
    pub fn sentence(&self) -> String {
        match &self.judged {
            Ok(_) => format!("{} ({}): {}.", self.name(), self.file, self.words()),
            Err(why) => format!("{}: {why}", self.file),
        }
    }
}
