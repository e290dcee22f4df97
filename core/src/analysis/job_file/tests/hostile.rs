//! Tests of files made to do harm. A test cannot assert time: it asserts the limits that bound it,
//! and what was kept.

use serde_json::Value as Json;

use super::*;

#[path = "../../../../tests/shared/texts.rs"]
mod texts;
use texts::replace_texts;

fn file(log: &str) -> String {
    format!(r#"{{"format":"evenhand-job","version":1,"log":[{log}]}}"#)
}

/// Opens a file into a job with entries, which must not change.
fn opened_into_stored(text: &str) -> Result<Opened, FileError> {
    let mut stored = sample::phone().job;
    let before = stored.log().entries().to_vec();
    let opened = open(text.as_bytes())?;
    stored.merge(opened.entries.clone());
    for entry in &before {
        assert_eq!(stored.log().get(entry.id), Some(entry));
    }
    Ok(opened)
}

/// A gigabyte of `[` is never loaded: its size is checked before it is read, as the app does. A
/// smaller one is refused for its depth, before it is parsed.
#[test]
fn a_gigabyte_of_opening_brackets() {
    const GIGABYTE: usize = 1 << 30;
    const { assert!(GIGABYTE > MAX_BYTES) }
    let told = FileError::TooLarge(GIGABYTE).to_string();
    assert!(told.starts_with("The file has 1024 MB; a job file has at most 14 MB."));
    assert_eq!(open(&vec![b'['; 1 << 20]), Err(FileError::TooDeep));
    let in_log = file(&"[".repeat(1 << 20));
    assert_eq!(opened_into_stored(&in_log), Err(FileError::TooDeep));
}

/// Ten million entries are larger than a job file may be; of the number that fit, no more are read
/// than a job file may have.
#[test]
fn ten_million_entries() {
    let all = file(&["0"; 10_000_000].join(","));
    let error = opened_into_stored(&all).unwrap_err();
    assert_eq!(error, FileError::TooLarge(all.len()));
    let most = file(&["0"; 7_000_000].join(","));
    assert!(
        most.len() < MAX_BYTES,
        "so that entries are what is counted"
    );
    let error = opened_into_stored(&most).unwrap_err();
    assert_eq!(error, FileError::TooMany);
    assert!(
        error.to_string().contains("more than 50000 records"),
        "{error}"
    );
    let just = |count: usize| opened_into_stored(&file(&vec!["0"; count].join(",")));
    assert!(just(MAX_ENTRIES).is_ok());
    assert_eq!(just(MAX_ENTRIES + 1), Err(FileError::TooMany));
}

#[test]
fn the_limit_in_bytes_holds_as_many_readings_as_the_limit_in_entries() {
    let mut phone = Phone::new(1);
    while phone.job.log().len() < 1_000 {
        phone.pass("let_off");
    }
    let (few, many) = (Job::new(), &phone.job);
    let bytes = export(many, NINE_MS).len() - export(&few, NINE_MS).len();
    let each = bytes.div_ceil(many.log().len());
    assert!(each * MAX_ENTRIES <= MAX_BYTES, "{each} bytes each");
}

/// Text of every kind known to break programs, in every text field.
#[test]
fn script_and_formulas_in_every_text_field() {
    for evil in [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "=1+1",
        "@SUM(A1:A9)",
        "+cmd|' /C calc'!A0",
        "-2+3",
        "\u{202e}\u{0}\u{feff}",
    ] {
        let mut log: Json = serde_json::from_str(&export(&sample::phone().job, 0)).unwrap();
        let texts = replace_texts(&mut log["log"], evil);
        assert!(texts > 10, "{texts}");
        let opened = opened_into_stored(&log.to_string()).unwrap();
        assert!(opened.entries.len() > 10);
        let job = Job::from_entries(opened.entries);
        let tables = readings_csv(&job) + &materials_csv(&job);
        if evil.starts_with(['=', '@', '+', '-']) {
            assert!(tables.contains(&format!(",\"'{evil}\",")), "{evil}");
            for before in [",", "\n", ",\""] {
                assert!(!tables.contains(&format!("{before}{evil}")), "{evil}");
            }
        }
        let again: Json = serde_json::from_str(&export(&job, 0)).unwrap();
        assert_eq!(again["job"]["client"], evil);
        assert!(
            again["open_points"].to_string().contains(
                &Json::from(evil).to_string()[1..]
                    .trim_end_matches('"')
                    .to_owned()
            )
        );
    }
}

const DEVICE: &str = r#""device":"0000000000000abc""#;

/// An entry with the id of a stored one, and other content.
#[test]
fn a_name_that_collides_with_a_stored_entry_but_differs() {
    let stored = sample::phone().job;
    let log: Vec<String> = stored
        .log()
        .entries()
        .iter()
        .map(|e| {
            let seq = e.id.seq;
            format!(r#"{{"act":"left_out","at_ms":1,"clock":1,{DEVICE},"out":true,"seq":{seq},"step":"drop"}}"#)
        })
        .collect();
    let opened = opened_into_stored(&file(&log.join(","))).unwrap();
    let mut job = stored.clone();
    let merged = job.merge(opened.entries);
    assert_eq!(merged.differing.len(), stored.log().len());
    assert_eq!(job.log().entries(), stored.log().entries());
    assert!(job.state() == stored.state());
}

/// Out-of-range numbers in the id, clock and time of an entry: it is left out and named; if it is not
/// JSON at all, the file is refused with the position.
#[test]
fn numbers_past_every_end() {
    for field in ["at_ms", "clock", "seq"] {
        let entry = |number: &str| {
            let mut head = [("at_ms", "5"), ("clock", "1"), ("seq", "1")];
            for (key, value) in &mut head {
                if *key == field {
                    *value = number;
                }
            }
            let [at_ms, clock, seq] = head.map(|(_, n)| n);
            format!(r#"{{"act":"x","at_ms":{at_ms},"clock":{clock},{DEVICE},"seq":{seq}}}"#)
        };
        for number in ["NaN", "Infinity", "-Infinity", "+1", "0x10", "01"] {
            let error = opened_into_stored(&file(&entry(number))).unwrap_err();
            let at_line = matches!(
                error,
                FileError::NotJson {
                    line: 1,
                    column: 48..
                }
            );
            assert!(at_line, "{field} {number}: {error:?}");
        }
        for number in [
            "1e309",
            "-0",
            "-1e309",
            "1e400000000",
            "-0.0",
            "-1",
            "18446744073709551616",
            "1.5",
        ] {
            let opened = opened_into_stored(&file(&entry(number))).unwrap();
            assert_eq!(opened.entries, [], "{field} {number}");
            let notice = &opened.notices[0];
            assert!(
                notice.starts_with("Record 1 of the file was left out"),
                "{notice}"
            );
        }
    }
}

#[test]
fn clocks_at_the_end_of_what_is_counted_do_not_drag_the_job_there() {
    let most = Entry::MAX;
    let entry = format!(r#"{{"act":"x","at_ms":5,"clock":{most},{DEVICE},"seq":{most}}}"#);
    let opened = opened_into_stored(&file(&entry)).unwrap();
    assert!(opened.entries.is_empty());
    assert!(
        opened.notices[0].starts_with("1 record left out"),
        "{:?}",
        opened.notices
    );
}

/// A `made` of another job, or a second one, does not give a job another name: such a file is refused whole.
#[test]
fn a_file_that_mixes_two_jobs() {
    let made = |seq: u64, job: &str| {
        format!(
            r#"{{"act":"made","at_ms":{seq},"clock":{seq},{DEVICE},"job":"000000000000000{job}","seq":{seq}}}"#
        )
    };
    let of_job = |id: &str, log: &[String]| {
        let log = log.join(",");
        format!(r#"{{"format":"evenhand-job","version":1,"job":{{"id":{id}}},"log":[{log}]}}"#)
    };
    let eight = r#""0000000000000008""#;
    for refused in [
        of_job(eight, &[made(1, "7")]),
        of_job(eight, &[made(1, "8"), made(2, "7")]),
        of_job(eight, &[made(1, "7"), made(2, "8")]),
        of_job(eight, &[made(1, "8"), made(2, "8")]),
        of_job("null", &[made(1, "8"), made(2, "7")]),
    ] {
        let error = opened_into_stored(&refused).unwrap_err();
        assert_eq!(error, FileError::OtherJob, "{refused}");
        assert!(error.to_string().starts_with("The file mixes two jobs"));
    }
    for (text, id) in [
        (of_job(eight, &[made(1, "8")]), Some(8)),
        (of_job(eight, &[]), Some(8)),
        (of_job("null", &[made(1, "8")]), Some(8)),
        (of_job("null", &[]), None),
    ] {
        let opened = opened_into_stored(&text).unwrap();
        assert_eq!(opened.id, id.map(JobId::new), "{text}");
    }
    // The id by which a job is stored stands in its file, whatever its log says.
    let stored = Job::new().with_id(JobId::new(8));
    let opened = opened_into_stored(&export(&stored, 0)).unwrap();
    assert_eq!(opened.id, Some(JobId::new(8)));
}

/// Thousands of faults and as many fixes of none of them: each is looked up, not searched for.
#[test]
fn many_faults_and_many_mendings_of_none_of_them() {
    let mut phone = Phone::new(1);
    let other = EntryId {
        replica: ReplicaId::new(2),
        seq: 1,
    };
    let fault = || EntryKind::Remark {
        on: on(1),
        step: None,
        fault: true,
        text: "x".to_owned(),
    };
    for _ in 0..5_000 {
        phone.act(fault());
        phone.act(EntryKind::FaultFixed {
            fault: other,
            how: String::new(),
        });
    }
    assert_eq!(phone.state().open_faults().count(), 5_000);
}

#[test]
fn a_mending_taken_back_leaves_the_one_before_it_in_force() {
    let mut phone = Phone::new(1);
    let fault = phone.act(EntryKind::Remark {
        on: on(1),
        step: None,
        fault: true,
        text: "x".to_owned(),
    });
    let mend = |phone: &mut Phone, how: &str| {
        phone.act(EntryKind::FaultFixed {
            fault: fault.id,
            how: how.to_owned(),
        })
    };
    let (first, second) = (mend(&mut phone, "glued"), mend(&mut phone, "pinned"));
    let how = |phone: &Phone| {
        let state = phone.state();
        state
            .remarks()
            .find_map(|r| state.fixed(r))
            .map(str::to_owned)
    };
    assert_eq!(how(&phone).as_deref(), Some("pinned"));
    let undo = phone.undo(&second);
    assert_eq!(how(&phone).as_deref(), Some("glued"));
    phone.undo(&first);
    assert_eq!(how(&phone), None);
    phone.undo(&undo);
    assert_eq!(how(&phone).as_deref(), Some("pinned"));
    assert!(State::folded(phone.job.log()) == *phone.state());
}

/// A job that was stored with a foreign beginning opens as itself; its file says what it could not use.
#[test]
fn a_stored_beginning_of_another_job_is_set_aside() {
    let phone = sample::phone();
    let id = phone.job.id().unwrap();
    let mut entries = phone.job.log().entries().to_vec();
    for (seq, job) in [(1, JobId::new(77)), (2, id)] {
        entries.push(Entry {
            id: EntryId {
                replica: ReplicaId::new(0xbad),
                seq,
            },
            ..phone.job.draft(phone.replica, 0, EntryKind::Made { job })
        });
    }
    entries.reverse();
    let job = Job::stored(id, entries, Vec::new());
    assert_eq!(job.log().entries(), phone.job.log().entries());
    assert_eq!(job.state(), phone.job.state());
    assert_eq!(job.records_set_aside().len(), 2);
    // Their numbers are not given again: what is stored under them would be overwritten.
    assert_eq!(job.log().next_seq(ReplicaId::new(0xbad)), 3);
    let opened = opened_into_stored(&export(&job, NINE_MS)).unwrap();
    assert_eq!(
        (opened.id, opened.entries.len()),
        (Some(id), phone.job.log().len())
    );
    assert!(
        opened.notices.iter().any(|n| n.contains("2 records")),
        "{:?}",
        opened.notices
    );
}

/// Remarks stand in a file twice. Where it would be too large to be opened, the log is written alone.
#[test]
fn eight_megabytes_of_remarks_are_exported_and_opened() {
    let mut phone = sample::phone();
    let remark = |_| EntryKind::Remark {
        on: on(1),
        step: None,
        fault: false,
        text: "long ".repeat(400),
    };
    (0..4_000)
        .map(remark)
        .for_each(|kind| drop(phone.act(kind)));
    assert!(crate::job::leaves_room(&phone.job));
    let whole = crate::job::write_file(&phone.job, NINE_MS, file_conclusions(&phone.job, NINE_MS));
    assert!(matches!(refused(whole.as_bytes()), FileError::TooLarge(_)));
    let opened = opened_into_stored(&export(&phone.job, NINE_MS)).unwrap();
    assert_eq!(opened.id, phone.job.id());
    assert_eq!(opened.entries, phone.job.log().entries());
    assert_eq!(opened.notices, Vec::<String>::new());
    // No more than that is merged into a job.
    (0..2_500)
        .map(remark)
        .for_each(|kind| drop(phone.act(kind)));
    assert!(!crate::job::leaves_room(&phone.job));
}
