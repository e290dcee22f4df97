//! Which entries of a job are in a file that was exported or opened.

use std::collections::{BTreeMap, HashSet};

use serde::{Deserialize, Serialize};

use super::{Entry, EntryId, Log, ReplicaId};

/// Which entries of a job are in a file: for each replica those up to a sequence number.
///
/// An entry is in a file once it was exported, or came in one. Every other entry is on this device alone. The default
/// is that none is in a file. It serializes as an object from replica to sequence number.
///
/// ```
/// use evenhand_core::job::{EntryKind, InFiles, Job, JobId, ReplicaId};
///
/// let mut job = Job::new();
/// job.apply(job.draft(ReplicaId::new(7), 1_000, EntryKind::Made { job: JobId::new(1) }));
/// let exported = InFiles::all(job.log());
/// assert_eq!(exported.count(job.log()), 1);
/// // What is entered later is not in the file.
/// let later = job.draft(ReplicaId::new(7), 2_000, EntryKind::Made { job: JobId::new(1) });
/// job.apply(later);
/// assert_eq!(exported.count(job.log()), 1);
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct InFiles(BTreeMap<ReplicaId, u64>);

impl InFiles {
    /// Returns that all entries of a log are in a file.
    pub fn all(log: &Log) -> InFiles {
        let mut files = InFiles::default();
        for entry in log.entries() {
            let last = files.0.entry(entry.id.replica).or_default();
            *last = entry.id.seq.max(*last);
        }
        files
    }

    /// Adds the entries of a file that was merged into a log. A replica's entries count up to the first that is in the
    /// log and in no file.
    pub fn add(&mut self, log: &Log, in_file: &[Entry]) {
        let in_file: HashSet<EntryId> = in_file.iter().map(|e| e.id).collect();
        let mut of_replica: BTreeMap<ReplicaId, Vec<u64>> = BTreeMap::new();
        for entry in log.entries() {
            let seqs = of_replica.entry(entry.id.replica).or_default();
            seqs.push(entry.id.seq);
        }
        for (replica, mut seqs) in of_replica {
            seqs.sort_unstable();
            let known = self.0.get(&replica).copied().unwrap_or(0);
            let is_in = |seq: &u64| {
                let id = EntryId { replica, seq: *seq };
                *seq <= known || in_file.contains(&id)
            };
            if let Some(last) = seqs.into_iter().take_while(is_in).last() {
                self.0.insert(replica, last.max(known));
            }
        }
    }

    /// Adds what is in a file by another account.
    pub fn extend(&mut self, other: &InFiles) {
        for (replica, seq) in &other.0 {
            let last = self.0.entry(*replica).or_default();
            *last = (*seq).max(*last);
        }
    }

    /// Returns how many entries of a log are in a file.
    pub fn count(&self, log: &Log) -> usize {
        let is_in = |e: &&Entry| {
            self.0
                .get(&e.id.replica)
                .is_some_and(|seq| e.id.seq <= *seq)
        };
        log.entries().iter().filter(is_in).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{EntryKind, Job};

    const MINE: ReplicaId = ReplicaId::new(1);
    const THEIRS: ReplicaId = ReplicaId::new(2);

    fn record(job: &mut Job, replica: ReplicaId, count: usize) {
        for _ in 0..count {
            let kind = EntryKind::LeftOut {
                step: "drop".into(),
                out: true,
            };
            job.apply(job.draft(replica, 1_000, kind));
        }
    }

    #[test]
    fn a_merge_leaves_what_was_exported_exported_and_what_was_not_not() {
        let mut job = Job::new();
        record(&mut job, MINE, 3);
        let mut files = InFiles::all(job.log());
        // A colleague works on from the exported file, and I do too.
        let mut other = job.clone();
        record(&mut other, THEIRS, 5);
        record(&mut job, MINE, 2);
        assert_eq!(files.count(job.log()), 3);
        job.merge(other.log().entries().iter().cloned());
        files.add(job.log(), other.log().entries());
        assert_eq!((job.log().len(), files.count(job.log())), (10, 8));
    }

    #[test]
    fn a_job_that_came_in_a_file_is_in_a_file() {
        let mut sent = Job::new();
        record(&mut sent, THEIRS, 4);
        let mut files = InFiles::default();
        files.add(sent.log(), sent.log().entries());
        assert_eq!(files, InFiles::all(sent.log()));
        assert_eq!(files.count(sent.log()), 4);
    }

    #[test]
    fn a_file_with_holes_does_not_vouch_for_what_it_lacks() {
        let mut job = Job::new();
        record(&mut job, MINE, 5);
        let all = job.log().entries();
        let holed = [all[0].clone(), all[1].clone(), all[4].clone()];
        let mut files = InFiles::default();
        files.add(job.log(), &holed);
        assert_eq!(files.count(job.log()), 2);
    }

    #[test]
    fn it_is_read_back_as_it_was_written() {
        let mut job = Job::new();
        record(&mut job, MINE, 2);
        let files = InFiles::all(job.log());
        let text = serde_json::to_string(&files).unwrap();
        assert_eq!(text, r#"{"0000000000000001":2}"#);
        assert_eq!(serde_json::from_str::<InFiles>(&text).unwrap(), files);
    }
}
