//! A phone with one entry of each kind.

use super::*;
use crate::job::every_kind::{kinds, name};

/// A phone with one entry of each kind.
pub(crate) fn phone() -> Phone {
    let mut phone = Phone::new(0xabc);
    let earlier = phone.read("blow", on(1), BENCH, 45_000_000).id;
    phone.act(EntryKind::Made { job: JobId::new(9) });
    for kind in kinds(earlier) {
        phone.wait(1);
        phone.act(kind);
    }
    phone
}

#[test]
fn the_sample_has_every_kind_of_act() {
    let names: std::collections::BTreeSet<&str> = phone()
        .job
        .log()
        .entries()
        .iter()
        .map(|e| name(&e.kind))
        .collect();
    assert_eq!(names.len(), 26);
    for entry in phone().job.log().entries() {
        let line = entry.to_line();
        assert!(
            line.contains(&format!("\"act\":\"{}\"", name(&entry.kind))),
            "{line}"
        );
        assert_eq!(Entry::from_line(&line).as_ref(), Ok(entry));
    }
}
