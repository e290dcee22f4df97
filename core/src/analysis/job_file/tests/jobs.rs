//! Tests of files of many jobs: the round trip, one broken among good ones, and files made to do harm.

use serde_json::Value as Json;

use super::*;
use crate::job::{JOBS_END, JOBS_SEPARATOR, JobsIndex, JobsScan, MAX_JOBS, jobs_start};

/// Returns a job with this id and this number of readings.
fn job(id: u64, readings: usize) -> Job {
    let phone = ReplicaId::new(id + 1_000);
    let mut job = Job::new();
    let made = EntryKind::Made {
        job: JobId::new(id),
    };
    job.apply(job.draft(phone, NINE_MS, made));
    for _ in 0..readings {
        let kind = EntryKind::LeftOut {
            step: step_id("drop"),
            out: true,
        };
        job.apply(job.draft(phone, NINE_MS, kind));
    }
    job
}

fn of_many(files: &[String]) -> String {
    let all = files.join(JOBS_SEPARATOR);
    format!("{}{all}{JOBS_END}", jobs_start(files.len(), NINE_MS))
}

/// Scans a file in slices of this size. `None` if it is no file of many jobs.
fn scan(text: &str, slice: usize) -> Result<Option<JobsIndex>, FileError> {
    let mut scan = JobsScan::new();
    for bytes in text.as_bytes().chunks(slice) {
        if !scan.read_on(bytes)? {
            return Ok(None);
        }
    }
    scan.finish().map(Some)
}

fn scanned(text: &str) -> JobsIndex {
    let index = scan(text, 1 << 16).unwrap_or_else(|e| panic!("{e}"));
    index.expect("a file of many jobs")
}

/// Returns the text of each job file.
fn texts<'a>(text: &'a str, index: &JobsIndex) -> Vec<&'a str> {
    let of = |range: &std::ops::Range<u64>| &text[range.start as usize..range.end as usize];
    index.files.iter().map(of).collect()
}

#[test]
fn many_jobs_come_back_as_they_went_whatever_the_slices() {
    let jobs: Vec<Job> = (0..20).map(|id| job(id, id as usize)).collect();
    let files: Vec<String> = jobs.iter().map(|job| export(job, NINE_MS)).collect();
    let text = of_many(&files);
    let index = scanned(&text);
    assert_eq!(index.notice, None);
    assert_eq!(texts(&text, &index), files);
    for (file, job) in texts(&text, &index).into_iter().zip(&jobs) {
        let opened = opened(file);
        assert_eq!(opened.id, job.state().id());
        assert_eq!(opened.entries, job.log().entries());
        assert_eq!(opened.notices, Vec::<String>::new());
    }
    for slice in [1, 7, 1_000] {
        assert_eq!(scan(&text, slice), Ok(Some(index.clone())));
    }
    let none = scanned(&of_many(&[]));
    assert_eq!(none, JobsIndex::default());
}

#[test]
fn another_program_may_write_the_same_file_its_own_way() {
    let files = [export(&job(1, 2), NINE_MS), export(&job(2, 3), NINE_MS)];
    let json: Json = serde_json::from_str(&of_many(&files)).unwrap();
    for text in [
        serde_json::to_string(&json).unwrap(),
        serde_json::to_string_pretty(&json).unwrap(),
        format!("\u{feff}{}", serde_json::to_string(&json).unwrap()),
    ] {
        let index = scanned(&text);
        assert_eq!((index.files.len(), index.notice.clone()), (2, None));
        for (file, id) in texts(&text, &index).into_iter().zip([1, 2]) {
            let opened = opened(file);
            assert_eq!(opened.id, Some(JobId::new(id)));
            // The checksum of each job still fits.
            assert_eq!(opened.notices, Vec::<String>::new());
        }
    }
}

#[test]
fn one_broken_job_among_good_ones_is_refused_alone() {
    let good: Vec<String> = (0..3).map(|id| export(&job(id, 4), NINE_MS)).collect();
    let changed = good[1].replacen("\"out\":true", "\"out\":false", 1);
    assert_ne!(changed, good[1]);
    let foreign = r#"{"name":"holiday","jobs":[{"a":1}]}"#.to_owned();
    let deep = format!("{{\"log\":{}{}}}", "[".repeat(100), "]".repeat(100));
    let wrong = r#"{"format":"evenhand-job","version":1,"log":[nonsense]}"#.to_owned();
    let files = [
        good[0].clone(),
        changed,
        foreign,
        deep,
        wrong,
        good[2].clone(),
    ];
    let text = of_many(&files);
    let index = scanned(&text);
    assert_eq!(texts(&text, &index), files);
    let results: Vec<Result<Opened, FileError>> = texts(&text, &index)
        .into_iter()
        .map(|file| open(file.as_bytes()))
        .collect();
    assert!(results[0].as_ref().is_ok_and(|o| o.notices.is_empty()));
    let told = &results[1].as_ref().unwrap().notices;
    assert!(
        told[0].contains("This file was edited outside Evenhand"),
        "{told:?}"
    );
    assert_eq!(results[2], Err(FileError::Foreign));
    assert_eq!(results[3], Err(FileError::TooDeep));
    assert!(matches!(results[4], Err(FileError::NotJson { .. })));
    assert!(results[5].as_ref().is_ok_and(|o| o.notices.is_empty()));
}

#[test]
fn a_file_that_breaks_off_gives_its_whole_jobs() {
    let files: Vec<String> = (0..3).map(|id| export(&job(id, 4), NINE_MS)).collect();
    let text = of_many(&files);
    let third = text.find(&files[2]).unwrap();
    for (until, whole, says) in [
        (third + 100, 2, "2 jobs in it are complete"),
        (third - 1, 2, "2 jobs in it are complete"),
        (third - 3, 1, "1 job in it is complete"),
        (text.len() - 4, 3, "3 jobs in it are complete"),
        (text.find('[').unwrap() + 1, 0, "No job in it is complete"),
    ] {
        let index = scanned(&text[..until]);
        assert_eq!(index.files.len(), whole, "{until}");
        let notice = index.notice.unwrap();
        assert!(notice.contains("breaks off"), "{notice}");
        assert!(notice.contains(says), "{notice}");
    }
    let fewer = text.replacen("\"count\": 3", "\"count\": 7", 1);
    let notice = scanned(&fewer).notice.unwrap();
    assert_eq!(notice, "The file says that it holds 7 jobs; it holds 3.");
}

#[test]
fn what_is_no_file_of_many_jobs_is_left_to_the_other_reader() {
    let single = export(&sample::phone().job, NINE_MS);
    for text in [
        single.as_str(),
        r#"{"format":"evenhand-job","jobs":[{}]}"#,
        r#"{"jobs":[{}],"format":"evenhand-jobs","version":1}"#,
        r#"{"a":"\"jobs\":","b":[{}]}"#,
        &" ".repeat(1 << 20),
        &"[".repeat(1 << 20),
        &"{\"jobs\":".repeat(1 << 17),
    ] {
        let found = scan(text, 1 << 16);
        assert!(
            matches!(found, Ok(None) | Err(FileError::Foreign)),
            "{found:?}"
        );
    }
    for text in [
        "",
        "{",
        "]]]]",
        "}{",
        "\"",
        "{\"format\":\"evenhand-jobs\"",
        "{\"format\":\"evenhand-jobs\",\"version\":0,\"jobs\":[]}",
    ] {
        let found = scan(text, 3);
        assert!(
            matches!(found, Ok(None) | Err(FileError::Foreign)),
            "{text}"
        );
    }
}

#[test]
fn a_newer_version_is_named_wherever_it_stands() {
    for text in [
        r#"{"format":"evenhand-jobs","version":2,"jobs":[{}]}"#,
        r#"{"format":"evenhand-jobs","jobs":[{}],"version":2}"#,
    ] {
        assert_eq!(scan(text, 5), Err(FileError::Newer(2)));
    }
    // What a later release adds beside the jobs is not taken for jobs.
    let text = r#"{"format":"evenhand-jobs","version":1,"places":[{"jobs":[{}]}],"jobs":[{"a":[]}],"more":[{}]}"#;
    let index = scanned(text);
    assert_eq!(texts(text, &index), [r#"{"a":[]}"#]);
}

#[test]
fn hostile_lists_are_bounded() {
    let list = |items: &str| format!("{}{items}{JOBS_END}", jobs_start(1, NINE_MS));
    // More jobs than anybody has.
    let many = vec!["{}"; MAX_JOBS + 1].join(",");
    assert_eq!(scan(&list(&many), 1 << 16), Err(FileError::TooManyJobs));
    let most = vec!["{}"; MAX_JOBS].join(",");
    assert_eq!(scanned(&list(&most)).files.len(), MAX_JOBS);
    // A job larger than any: only its place is kept, and it is refused by its size.
    let huge = format!("{{\"log\":\"{}\"}}", "x".repeat(MAX_BYTES));
    let text = list(&huge);
    let index = scanned(&text);
    assert_eq!(index.files.len(), 1);
    let error = open(texts(&text, &index)[0].as_bytes()).unwrap_err();
    assert_eq!(error, FileError::TooLarge(huge.len()));
    // Nested without end, and never closed.
    let nested = list(&format!("{{\"log\":{}", "[{\"a\":".repeat(1 << 18)));
    let index = scanned(&nested);
    assert_eq!(index.files.len(), 0);
    assert!(index.notice.unwrap().contains("breaks off"));
    // Lists in the list and items that are no objects.
    let text = list("1,[{\"a\":[{}]}],{},null,\"}{\"");
    let index = scanned(&text);
    assert_eq!(texts(&text, &index), ["{}"]);
    assert!(
        index
            .notice
            .unwrap()
            .starts_with("4 items in the list are not job files")
    );
    // Ten megabytes around the jobs are not kept.
    let padded = format!(
        "{{\"x\":\"{}\",\"format\":\"evenhand-jobs\"",
        "y".repeat(10 << 20)
    );
    assert_eq!(scan(&padded, 1 << 16), Ok(None));
}

#[test]
fn two_job_files_of_one_id_are_two_copies_of_one_job() {
    let first = job(1, 3);
    let mut second = first.clone();
    let more = EntryKind::LeftOut {
        step: step_id("drop"),
        out: false,
    };
    second.apply(second.draft(ReplicaId::new(5), NINE_MS, more));
    let files = [export(&first, NINE_MS), export(&second, NINE_MS)];
    let text = of_many(&files);
    let mut stored = Job::new();
    for file in texts(&text, &scanned(&text)) {
        stored.merge(opened(file).entries);
    }
    assert_eq!(stored.log().entries(), second.log().entries());
}
