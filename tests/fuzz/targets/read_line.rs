//! Any text as one entry: no panic, and what is read is written and read again the same.
#![no_main]

use evenhand_core::job::{Entry, Job};
use libfuzzer_sys::fuzz_target;

fuzz_target!(|text: &str| {
    let Ok(entry) = Entry::from_line(text) else {
        return;
    };
    let line = entry.to_line();
    assert_eq!(Entry::from_line(&line).as_ref(), Ok(&entry));
    let job = Job::from_entries([entry]);
    job.state().progress(0);
});
