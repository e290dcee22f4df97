//! Tests that files of earlier versions still open. Their data are invented.

use super::*;

const VERSION_1: &str = include_str!("../../../../tests/files/version-1.job.json");
const LATER_RELEASE: &str = include_str!("../../../../tests/files/later-release.job.json");
const REFERENCES_TO_NOTHING: &str =
    include_str!("../../../../tests/files/references-to-nothing.job.json");
const VERSION_2: &str = include_str!("../../../../tests/files/version-2.job.json");

/// Returns the lines of the log as written in a file.
fn lines(text: &str) -> Vec<&str> {
    let log = text.split_once("\"log\": [\n").unwrap().1;
    let log = log.split_once("\n ]").unwrap().0;
    log.lines()
        .map(|l| l.trim().trim_end_matches(','))
        .collect()
}

fn lines_of(entries: &[Entry]) -> Vec<String> {
    entries.iter().map(Entry::to_line).collect()
}

fn unknown(entries: &[Entry]) -> usize {
    let unknown = |e: &&Entry| matches!(e.kind, EntryKind::Unknown(_));
    entries.iter().filter(unknown).count()
}

#[test]
fn a_file_of_version_1_opens_with_every_entry_understood_and_kept_to_the_byte() {
    let opened = open(VERSION_1.as_bytes()).unwrap();
    assert_eq!(opened.notices, Vec::<String>::new());
    assert_eq!(unknown(&opened.entries), 0);
    assert_eq!(lines_of(&opened.entries), lines(VERSION_1));
    let job = Job::from_entries(opened.entries);
    let measure_state = job.state().measure_state("let_off", on(40), BENCH).unwrap();
    assert_eq!(measure_state.in_effect().unwrap().value.base(), 1_587_500);
    assert_eq!(job.state().open_faults().count(), 1);
    assert!(job.state().is_left_out(&step_id("key_tops")));
    assert!(job.state().drying("cauls_in").unwrap().ended.is_none());
}

#[test]
fn a_file_of_version_1_is_written_again_in_the_same_order_and_says_what_is_newer() {
    let opened = open(VERSION_1.as_bytes()).unwrap();
    let job = Job::from_entries(opened.entries);
    let written = export(&job, NINE_MS);
    let again = open(written.as_bytes()).unwrap();
    assert_eq!(lines_of(&again.entries), lines(VERSION_1));
    assert!(written.contains("\n  \"version\": 1,\n  \"revision\": 1,\n"));
    assert!(written.contains("Evenhand 0.1 opens this file"));
}

#[test]
fn what_a_later_release_added_survives_a_round_trip_to_the_byte() {
    let opened = open(LATER_RELEASE.as_bytes()).unwrap();
    assert_eq!(unknown(&opened.entries), 3);
    assert_eq!(
        opened.notices,
        [
            "3 records of a kind that this version of Evenhand does not know, or too long: kept and passed on, but not shown."
        ]
    );
    assert_eq!(lines_of(&opened.entries), lines(LATER_RELEASE));
    let job = Job::from_entries(opened.entries);
    let again = open(export(&job, NINE_MS).as_bytes()).unwrap();
    assert_eq!(lines_of(&again.entries), lines(LATER_RELEASE));
    assert_eq!(again.entries, job.log().entries());
}

/// What refers to entries that are not there, or come later, is kept, and has no effect: not even on what a device
/// with such a name writes afterwards.
#[test]
fn references_to_nothing_are_kept_and_have_no_effect() {
    let opened = open(REFERENCES_TO_NOTHING.as_bytes()).unwrap();
    assert_eq!(unknown(&opened.entries), 0);
    assert_eq!(lines_of(&opened.entries), lines(REFERENCES_TO_NOTHING));
    let mut job = Job::from_entries(opened.entries);
    assert!(
        job.log()
            .entries()
            .iter()
            .all(|e| job.state().is_alive(e.id))
    );
    assert_eq!(job.state().open_faults().count(), 1);
    let text = "Key end loose.".to_owned();
    let fault = EntryKind::Remark {
        on: on(1),
        step: None,
        fault: true,
        text,
    };
    let noted = job.draft(ReplicaId::new(7), NINE_MS, fault);
    assert_eq!(noted.id.seq, 1, "the one that is named");
    job.apply(noted.clone());
    assert!(job.state().is_alive(noted.id));
    assert_eq!(job.state().open_faults().count(), 2);
}

#[test]
fn a_file_of_version_2_is_refused_with_what_to_do() {
    let error = open(VERSION_2.as_bytes()).unwrap_err();
    assert_eq!(error, FileError::Newer(2));
    assert!(error.to_string().contains("Update Evenhand"), "{error}");
}
