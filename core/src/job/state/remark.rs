//! Remarks and faults, and the changes of their texts.

use super::history::History;
use crate::job::{JobId, LogPosition, Subject};
use crate::trade::StepId;

/// A remark or a fault, as recorded.
///
/// It has no default; [`State::remarks`](super::State::remarks) lists them in log order.
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Subject};
///
/// let mut job = Job::new();
/// let text = "Moth damage in the treble.".to_owned();
/// let remark = EntryKind::Remark { on: Subject::Whole, step: None, fault: false, text };
/// job.apply(job.draft(ReplicaId::new(7), 1_000, remark));
/// let remark = job.state().remarks().next().unwrap();
/// assert_eq!((remark.at_ms, remark.fault), (1_000, false));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Remark {
    /// The position of its entry in the log.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// The note, section or whole.
    pub on: Subject,
    /// The step during which it was noted, if any.
    pub step: Option<StepId>,
    /// `true` for a fault, which stays open until it is fixed.
    pub fault: bool,
    /// The text in effect, as typed.
    pub text: String,
    /// Where it comes from, if it was open when an earlier job on the instrument ended.
    pub origin: Option<FaultOrigin>,
    /// The first text and every change of it.
    pub(super) texts: History<String>,
    pub(super) alive: bool,
}

/// The earlier job from which an open fault was carried over. Part of [`Remark`]; no default and no
/// order.
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId, Subject};
///
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 2_000, EntryKind::FaultCarried {
///     on: Subject::Whole,
///     text: "Moth damage in the treble.".to_owned(),
///     from: JobId::new(1),
///     from_name: None,
///     noted_at_ms: 1_000,
/// }));
/// let fault = job.state().open_faults().next().unwrap();
/// let origin = fault.origin.as_ref().unwrap();
/// assert_eq!((origin.job, origin.noted_at_ms, fault.at_ms), (JobId::new(1), 1_000, 2_000));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FaultOrigin {
    /// The job in which it was noted.
    pub job: JobId,
    /// The name of that job, if it had one.
    pub job_name: Option<String>,
    /// Wall time at which it was noted, in milliseconds since 1970 (UTC).
    pub noted_at_ms: i64,
}

impl Remark {
    /// Returns a remark with its first text: of no step, no fault, and carried from nowhere.
    pub(super) fn new(
        position: LogPosition,
        at_ms: i64,
        on: Subject,
        text: &str,
        alive: bool,
    ) -> Remark {
        Remark {
            position,
            at_ms,
            on,
            step: None,
            fault: false,
            text: text.to_owned(),
            origin: None,
            texts: vec![(position, text.to_owned(), true)],
            alive,
        }
    }

    /// Puts the latest text that is not taken back into effect.
    pub(super) fn choose_text(&mut self) {
        let latest = self.texts.iter().rfind(|(.., alive)| *alive);
        self.text = latest.map(|(_, text, _)| text.clone()).unwrap_or_default();
    }

    /// Returns `true` if its text was changed to an empty one. A fault noted without a word is not withdrawn.
    pub(super) fn is_withdrawn(&self) -> bool {
        let latest = self.texts.iter().rposition(|(.., alive)| *alive);
        self.text.trim().is_empty() && latest.is_some_and(|at| at > 0)
    }
}
