//! Any bytes as a job file: no panic, what was stored stays, and what was opened is written and opened again.
#![no_main]

use std::sync::LazyLock;

use evenhand_core::analysis::suggestion::suggest_next;
use evenhand_core::demo;
use evenhand_core::analysis::job_file::{export, open};
use evenhand_core::job::{EntryKind, Job, JobId, ReplicaId, Subject};
use libfuzzer_sys::fuzz_target;

const NOW_MS: i64 = 1_790_000_000_000;

static STORED: LazyLock<Job> = LazyLock::new(|| {
    let entries = demo::entries(JobId::new(1), ReplicaId::new(7), NOW_MS);
    Job::from_entries(entries.into_iter().take(40))
});

fuzz_target!(|bytes: &[u8]| {
    let opened = match open(bytes) {
        Ok(opened) => opened,
        Err(error) => {
            // Its sentence can be made.
            let _ = error.to_string();
            return;
        }
    };
    let mut stored = STORED.clone();
    stored.merge(opened.entries.iter().cloned());
    for entry in STORED.log().entries() {
        assert_eq!(stored.log().get(entry.id), Some(entry));
    }
    let mut job = Job::from_entries(opened.entries);
    let all = job.state().progress(i64::MAX);
    suggest_next(job.state(), &all, i64::MIN);
    let again = open(export(&job, 0).as_bytes()).expect("its own file opens");
    assert_eq!(again.entries, job.log().entries());
    // Whatever entries the file names that are not there, what is noted now is the latest, and open.
    let text = String::new();
    let fault = EntryKind::Remark { on: Subject::Whole, step: None, fault: true, text };
    let noted = job.draft(ReplicaId::new(0xabc), NOW_MS, fault);
    job.apply(noted.clone());
    assert_eq!(job.log().last(), Some(&noted));
    assert!(job.state().open_faults().any(|f| f.position.id == noted.id));
});
