//! The record of one photo.

use crate::job::{EntryId, LogPosition, PhotoHash, Subject, Taken};
use crate::trade::StepId;

/// A photo of a job, as recorded.
///
/// It has no default; [`State::photos`](super::State::photos) lists them in log order.
///
/// ```
/// use evenhand_core::job::{EntryKind, Job, PhotoHash, ReplicaId, Subject, Taken};
///
/// let mut job = Job::new();
/// let photo = EntryKind::Photographed {
///     sha256: PhotoHash::of(b"the bytes"),
///     bytes: 9,
///     on: Subject::Whole,
///     step: None,
///     fault: None,
///     taken: Taken::Before,
///     caption: "Moth in the punchings.".to_owned(),
///     instead_of: None,
/// };
/// job.apply(job.draft(ReplicaId::new(7), 1_000, photo));
/// let photo = job.state().photos().next().unwrap();
/// assert_eq!((photo.at_ms, photo.taken), (1_000, Taken::Before));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Photo {
    /// The position of its entry in the log.
    pub position: LogPosition,
    /// Wall time in milliseconds since 1970 (UTC).
    pub at_ms: i64,
    /// The hash of its bytes.
    pub sha256: PhotoHash,
    /// The number of its bytes.
    pub bytes: u32,
    /// The note, section or whole.
    pub on: Subject,
    /// The step that it belongs to, if any.
    pub step: Option<StepId>,
    /// The fault that it shows, if any.
    pub fault: Option<EntryId>,
    /// Before the work, after it, or as it is.
    pub taken: Taken,
    /// The caption, as typed; may be empty.
    pub caption: String,
    /// The photo that this one takes the place of.
    pub(super) instead_of: Option<EntryId>,
    pub(super) alive: bool,
}
