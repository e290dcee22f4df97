//! Runs of entries, by which a batch that came in a file is named.

use serde::{Deserialize, Serialize};

use super::id::ReplicaId;

/// Entries of one replica with consecutive sequence numbers.
///
/// It has no default. Runs sort by replica, then by number.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Run};
///
/// let phone = ReplicaId::new(7);
/// let runs = Run::of(vec![(phone, 3), (phone, 1), (phone, 2), (phone, 9)]);
/// let run = |first, last| Run { replica: phone, first, last };
/// assert_eq!(runs, [run(1, 3), run(9, 9)]);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// The replica that made them.
    #[serde(rename = "device")]
    pub replica: ReplicaId,
    /// The first sequence number.
    pub first: u64,
    /// The last sequence number, not less than the first.
    pub last: u64,
}

impl Run {
    /// The largest number of runs in a batch.
    pub const MAX: usize = 1_000;

    /// Returns the longest runs of entries, given by replica and sequence number in any order.
    pub fn of(mut entries: Vec<(ReplicaId, u64)>) -> Vec<Run> {
        entries.sort_unstable();
        let mut runs: Vec<Run> = Vec::new();
        for (replica, seq) in entries {
            match runs.last_mut() {
                Some(run) if run.replica == replica && run.last.saturating_add(1) >= seq => {
                    run.last = seq
                }
                _ => runs.push(Run {
                    replica,
                    first: seq,
                    last: seq,
                }),
            }
        }
        runs
    }

    /// Returns `true` if these are the runs of a batch: not too many, sorted, none into another. That bounds the work
    /// on them by the number of entries.
    pub(super) fn are_sorted(runs: &[Run]) -> bool {
        let follow = |a: &Run, b: &Run| (a.replica, a.last) < (b.replica, b.first);
        runs.len() <= Run::MAX
            && runs.iter().all(|run| run.first <= run.last)
            && runs.is_sorted_by(follow)
    }
}
