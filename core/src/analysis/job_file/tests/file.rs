//! Tests of what is written, and of the messages about a file that is truncated, changed or
//! foreign.
//! The file is long because each part of the file has its test.

use serde_json::{Value as Json, json};

use super::*;

#[test]
fn what_is_written_opens_with_the_same_entries_and_nothing_to_say() {
    let phone = sample::phone();
    let text = export(&phone.job, phone.at_ms);
    let opened = opened(&text);
    assert_eq!(opened.entries, phone.job.log().entries());
    assert_eq!(opened.id, Some(JobId::new(9)));
    assert_eq!(opened.notices, Vec::<String>::new());
    let again = Job::from_entries(opened.entries);
    assert_eq!(again.state(), phone.state());
    assert_eq!(export(&again, phone.at_ms), text);
}

#[test]
fn a_file_read_in_parts_is_the_file_read_at_once() {
    let phone = sample::phone();
    let (of_sample, of_none) = (
        export(&phone.job, phone.at_ms),
        export(&Job::new(), phone.at_ms),
    );
    let odd = file(&["7", "[1, \"]\\\"\", {}]", "\"a,b\"", GOOD, "null"]);
    for text in [of_sample, of_none, odd.replace(',', " , ")] {
        for most in [1, 200, 700] {
            let mut opening = Opening::begin(text.as_bytes()).unwrap();
            let mut before = 0;
            while opening.read_on(most) {
                assert!((before..=100).contains(&opening.percent()));
                before = opening.percent();
            }
            assert_eq!(opening.finish(file_conclusions).unwrap(), opened(&text));
        }
    }
}

#[test]
fn an_empty_job_is_written_and_opened() {
    let text = export(&Job::new(), 0);
    assert_eq!(opened(&text), Opened::default());
}

#[test]
fn the_file_reads_as_a_technician_would_write_it() {
    let mut phone = Phone::new(1);
    phone.read_as(Occasion::AsFound, "let_off", on(34), PIANO, 3_000_000);
    phone.read("let_off", on(34), BENCH, 2_700_000);
    phone.read("drop", on(34), BENCH, 2_000_000);
    phone.correct("let_off", on(34), BENCH);
    phone.read("let_off", on(34), BENCH, 1_587_500);
    phone.read("spring", on(34), BENCH, 2);
    phone.read("keys_eased", on(34), BENCH, 0);
    phone.read("down_weight", on(34), BENCH, 52_000);
    let file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
    let note = &file["notes"][33];
    assert_eq!(note["name"], "F♯3");
    // The survey's reading, otherwise the first of the job.
    assert_eq!(
        note["as_found"],
        json!({"let_off_mm": 3, "drop_mm": 2, "spring": "firm rise", "keys_eased": "needs work", "down_weight_gf": 52})
    );
    assert_eq!(
        note["bench"],
        json!({
            "let_off_mm": 1.5875, "drop_mm": 2, "spring": "firm rise",
            "keys_eased": "needs work", "down_weight_gf": 52
        })
    );
    assert_eq!(note["verdicts"]["let_off"], "accepted");
    assert_eq!(note["read_again"], json!(["drop"]));
    let points = file["open_points"].to_string();
    assert!(
        points.contains("Keys eased: 1 of 88 out of tolerance."),
        "{points}"
    );
    assert_eq!(file["log"].as_array().unwrap().len(), 8);
}

#[test]
fn what_was_found_out_of_tolerance_is_open_until_it_is_measured_again() {
    let mut phone = Phone::new(1);
    let found = Subject::Note(phone.state().samples()[0]);
    phone.read_as(Occasion::AsFound, "let_off", found, PIANO, 9_000_000);
    let out = |phone: &Phone| {
        let file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
        let step = |id: &str| {
            let steps = file["steps"].as_array().unwrap();
            let step = steps.iter().find(|s| s["step"] == id).unwrap();
            step["out"].as_u64().unwrap()
        };
        let out = file["summary"]["out"].as_u64().unwrap();
        assert_eq!(out, step("found_sample") + step("let_off"));
        (out, file["open_points"].to_string())
    };
    let (count, points) = out(&phone);
    assert_eq!(count, 1);
    assert!(
        points.contains("As-found sample: 1 out of tolerance: let-off 1."),
        "{points}"
    );
    // Adjusted and not measured again: what it is now is unknown, and that is said.
    phone.correct("let_off", found, BENCH);
    let (count, points) = out(&phone);
    assert_eq!(count, 0);
    assert!(
        points.contains("As-found sample: 1 found out of tolerance and changed since. Re-measure."),
        "{points}"
    );
    phone.read("let_off", found, BENCH, 2_000_000);
    let (count, points) = out(&phone);
    assert!(count == 0 && !points.contains("Re-measure"), "{points}");
}

#[test]
fn a_fault_is_an_open_point_until_it_is_fixed() {
    let mut phone = Phone::new(1);
    let fault = phone.act(EntryKind::Remark {
        on: on(33),
        step: None,
        fault: true,
        text: "Flange loose.".to_owned(),
    });
    let points = |phone: &Phone| {
        let file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
        file["open_points"].to_string()
    };
    assert!(points(&phone).contains("Flange loose."));
    let fixed = phone.act(EntryKind::FaultFixed {
        fault: fault.id,
        how: "new center pin".to_owned(),
    });
    assert!(!points(&phone).contains("Flange loose."));
    phone.undo(&fixed);
    assert!(points(&phone).contains("Flange loose."));
}

#[test]
fn what_was_out_on_the_bench_is_open_until_it_is_read_in_the_piano() {
    let mut phone = Phone::new(1);
    phone.read("let_off", on(34), BENCH, 9_000_000);
    let out = |phone: &Phone| {
        let file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
        file["summary"]["out"].clone()
    };
    assert_eq!(out(&phone), 1);
    phone.read("let_off", on(34), PIANO, 2_000_000);
    assert_eq!(out(&phone), 0);
    phone.read("let_off", on(34), PIANO, 9_000_000);
    assert_eq!(out(&phone), 1, "once, as read in the piano");
}

#[test]
fn a_mark_of_the_users_own_is_not_taken_for_a_number() {
    let mut phone = Phone::new(1);
    let own = |id: &str, kind| OwnStep {
        id: step_id(id),
        name: id.to_owned(),
        stage: crate::trade::Stage::Regulate,
        after: None,
        per: crate::trade::Per::Note,
        kind,
        minutes: 5,
        how: String::new(),
    };
    for (id, kind) in [("seen_mm", Kind::Tick), ("felt_mm", Kind::Force)] {
        phone.act(EntryKind::OwnStep {
            step: Box::new(own(id, kind)),
        });
    }
    for (id, value) in [
        ("seen_mm", Value::Done(true)),
        ("felt_mm", Value::from_base(Kind::Force, 3_000)),
    ] {
        let entry = phone.job.reading(
            phone.replica,
            NINE_MS,
            MeasureId::from(id),
            on(1),
            BENCH,
            Occasion::Working,
            value,
            "",
        );
        phone.job.apply(entry);
    }
    let file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
    assert_eq!(
        file["notes"][0]["bench"],
        json!({"seen_mm_mark": "done", "felt_mm_gf": 3})
    );
    // No mark of the trade has such a name.
    for measure in Instrument::Grand
        .measures()
        .iter()
        .chain(Instrument::Upright.measures())
    {
        let name = measure.id.as_str();
        let ends = ["_mm", "_gf", "_g", "_count", "_hz", "_percent", "_celsius"];
        assert!(!ends.iter().any(|unit| name.ends_with(unit)), "{name}");
    }
}

#[test]
fn readable_parts_of_another_release_are_not_compared() {
    let mut phone = Phone::new(1);
    phone.read("let_off", on(34), BENCH, 2_700_000);
    let mut file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
    file["notes"][33]["bench"]["let_off_mm"] = json!(2.0);
    for program in [json!("99.0.0"), Json::Null] {
        file["program"] = program;
        assert_eq!(opened(&file.to_string()).notices, [""; 0]);
    }
}

#[test]
fn targets_stand_in_the_file_with_their_scope_and_place() {
    let mut phone = Phone::new(1);
    phone.target("let_off", Scope::Job, Some(crate::trade::let_off_taper()));
    let band = crate::trade::Band::mm(180, 10, 20);
    let flat = crate::trade::Target::Flat(band);
    phone.target("let_off", Scope::Note(n(40)), Some(flat.clone()));
    phone.target("let_off", Scope::Note(n(41)), Some(flat));
    phone.target("let_off", Scope::Note(n(41)), None);
    let file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
    let all = file["targets"].as_array().unwrap();
    let let_off: Vec<&Json> = all.iter().filter(|t| t["measure"] == "let_off").collect();
    assert_eq!(let_off.len(), 4, "{let_off:?}");
    assert_eq!(
        (&let_off[0]["at_note"], &let_off[0]["aim_mm"]),
        (&json!(1), &json!(2.5))
    );
    assert_eq!(let_off[3]["scope"], json!({"note": 40}));
    assert_eq!(let_off[3]["accept_high_mm"], json!(2));
    let spring = all.iter().find(|t| t["measure"] == "spring").unwrap();
    assert_eq!(spring["aim"], "firm rise");
    // The same for values computed from readings.
    let weight = all.iter().find(|t| t["measure"] == "balance_weight");
    assert_eq!(weight.unwrap()["aim_gf"], 39);
    let friction = all.iter().filter(|t| t["measure"] == "friction");
    assert_eq!(friction.map(|t| &t["at_note"]).collect::<Vec<_>>(), [1, 88]);
}

#[test]
fn a_change_outside_is_named_and_not_taken_over() {
    let mut phone = Phone::new(1);
    phone.read("let_off", on(34), BENCH, 2_700_000);
    let mut file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
    file["notes"][33]["bench"]["let_off_mm"] = json!(2.0);
    let opened = opened(&file.to_string());
    assert_eq!(
        opened.notices,
        ["Changed outside Evenhand, and not taken over: note 34 bench let_off_mm."]
    );
    assert_eq!(opened.entries, phone.job.log().entries());
}

#[test]
fn many_changes_outside_are_counted_and_not_all_named() {
    let mut phone = Phone::new(1);
    phone.pass("let_off");
    let mut file: Json = serde_json::from_str(&export(&phone.job, NINE_MS)).unwrap();
    for note in 0..88 {
        file["notes"][note]["name"] = json!("X");
    }
    let notices = opened(&file.to_string()).notices;
    assert_eq!(notices.len(), 13);
    assert_eq!(
        notices[12],
        "And 76 more changes outside Evenhand, not taken over."
    );
}

#[test]
fn a_file_laid_out_anew_by_another_program_still_fits_its_checksum() {
    let phone = sample::phone();
    let text = export(&phone.job, phone.at_ms);
    let file: Json = serde_json::from_str(&text).unwrap();
    for text in [
        file.to_string(),
        serde_json::to_string_pretty(&file)
            .unwrap()
            .replace('\n', "\r\n"),
        format!("\u{feff}{text}"),
    ] {
        let opened = opened(&text);
        assert_eq!(opened.notices, Vec::<String>::new());
        assert_eq!(opened.entries, phone.job.log().entries());
    }
}

#[test]
fn a_wrong_checksum_is_told_and_the_entries_are_kept() {
    let phone = sample::phone();
    let mut file: Json = serde_json::from_str(&export(&phone.job, phone.at_ms)).unwrap();
    for sum in [json!("00"), json!(7), Json::Null] {
        file["log_sha256"] = sum;
        let opened = opened(&file.to_string());
        assert_eq!(opened.entries.len(), phone.job.log().len());
        assert_eq!(opened.notices.len(), 1);
        assert!(
            opened.notices[0].contains("edited outside Evenhand"),
            "{:?}",
            opened.notices
        );
    }
}

#[test]
fn an_entry_that_has_no_usable_name_clock_or_time_is_left_out_and_named() {
    let replica = r#""device":"00000000000000ab""#;
    for (bad, why) in [
        ("7".to_owned(), "not a JSON object"),
        ("[1]".to_owned(), "not a JSON object"),
        (
            r#"{"act":"made","seq":2,"clock":2,"at_ms":5}"#.to_owned(),
            "names no device",
        ),
        (
            r#"{"device":"AB","seq":2,"clock":2,"at_ms":5}"#.to_owned(),
            "16 hexadecimal",
        ),
        (
            r#"{"device":"+0000000000000ab","seq":2,"clock":2,"at_ms":5}"#.to_owned(),
            "16 hexadecimal",
        ),
        (
            format!(r#"{{{replica},"seq":-1,"clock":2,"at_ms":5}}"#),
            "“seq”",
        ),
        (
            format!(r#"{{{replica},"seq":9007199254740993,"clock":2,"at_ms":5}}"#),
            "“seq”",
        ),
        (
            format!(r#"{{{replica},"seq":2,"clock":18446744073709551615,"at_ms":5}}"#),
            "“clock”",
        ),
        (
            format!(r#"{{{replica},"seq":2,"clock":1e309,"at_ms":5}}"#),
            "“clock”",
        ),
        (
            format!(r#"{{{replica},"seq":2,"clock":1.5,"at_ms":5}}"#),
            "“clock”",
        ),
        (
            format!(r#"{{{replica},"seq":2,"clock":2,"at_ms":-1}}"#),
            "“at_ms”",
        ),
        (
            format!(r#"{{{replica},"seq":2,"clock":2,"at_ms":9e15}}"#),
            "“at_ms”",
        ),
        (format!(r#"{{{replica},"seq":2,"clock":2}}"#), "“at_ms”"),
    ] {
        let opened = opened(&file(&[GOOD, &bad]));
        assert_eq!(opened.entries.len(), 1, "{bad}");
        let notice = &opened.notices[0];
        assert!(
            notice.starts_with("Record 2 of the file was left out"),
            "{notice}"
        );
        assert!(notice.contains(why), "{notice}");
    }
}

#[test]
fn a_log_of_nothing_but_nonsense_is_counted_and_not_named_one_by_one() {
    let lines = vec!["0"; 50_000];
    let opened = opened(&file(&lines));
    assert!(opened.entries.is_empty());
    assert_eq!(opened.notices.len(), 7, "{:?}", opened.notices);
    assert_eq!(
        opened.notices[5],
        "49995 records more cannot be read and were left out."
    );
}

#[test]
fn an_entry_longer_than_any_is_left_out() {
    let long = format!(
        r#"{{"act":"x","at_ms":5,"clock":2,"device":"00000000000000ab","seq":2,"y":[{}0]}}"#,
        "0,".repeat(600_000)
    );
    let opened = opened(&file(&[GOOD, &long]));
    assert_eq!(opened.entries.len(), 1);
    assert!(opened.notices[0].contains("longer than any record"));
}

#[test]
fn an_entry_of_more_fields_than_any_is_left_out() {
    let fields: Vec<String> = (0..1_001).map(|n| format!("\"k{n}\":0")).collect();
    let wide = GOOD.replace("\"out\":true", &fields.join(","));
    let opened = opened(&file(&[GOOD, &wide]));
    assert_eq!(opened.entries.len(), 1);
    assert!(opened.notices[0].contains("more fields than any record"));
}

/// The same for a whole file: which of two values was meant is unknown.
#[test]
fn a_file_with_a_field_twice_is_no_job_file() {
    let text = file(&[GOOD]);
    for field in [r#""version":1"#, r#""format":"evenhand-job""#] {
        let twice = text.replace(field, &format!("{field},{field}"));
        assert_eq!(refused(twice.as_bytes()), FileError::Foreign);
    }
}

#[test]
fn two_entries_with_one_name_keep_the_first_and_say_so() {
    let other = GOOD.replace("drop", "blow");
    let one = opened(&file(&[GOOD, &other]));
    let job = Job::from_entries(one.entries);
    assert_eq!(job.log().entries()[0].to_line(), GOOD);
    assert_eq!(
        // After the first notice, that this file has no checksum.
        one.notices[1..],
        ["1 record is in the file twice with different content. The first was kept."]
    );
    let second = |line: &str| line.replace("\"seq\":1", "\"seq\":2");
    let two = opened(&file(&[GOOD, &other, &second(GOOD), &second(&other)]));
    assert_eq!(
        two.notices[1..],
        ["2 records are in the file twice with different content. The first of each was kept."]
    );
}

#[test]
fn a_clock_or_number_that_leaps_is_left_out_and_the_job_goes_on() {
    let most = Entry::MAX.to_string();
    let clock = GOOD.replace("\"clock\":1", &format!("\"clock\":{most}"));
    let clock = clock.replace("\"seq\":1", "\"seq\":2");
    let seq = GOOD.replace("\"seq\":1", &format!("\"seq\":{most}"));
    let opened = opened(&file(&[GOOD, &clock, &seq]));
    assert_eq!(opened.entries.len(), 1);
    assert!(
        opened.notices[0].starts_with("2 records left out"),
        "{:?}",
        opened.notices
    );
    let job = Job::from_entries(opened.entries);
    assert_eq!(job.log().next_clock(), 2);
    assert_eq!(job.log().next_seq(ReplicaId::new(0xab)), 2);
}

#[test]
fn text_in_a_file_is_only_ever_text() {
    let phone = sample::phone();
    let opened = opened(&export(&phone.job, phone.at_ms));
    let job = Job::from_entries(opened.entries);
    let client = job.state().details().client.clone().unwrap();
    assert_eq!(client, "Client 17, <script>alert(1)</script>");
}

#[test]
fn a_readable_part_far_too_large_is_named_and_not_read() {
    let zeros = format!("[{}0]", "0,".repeat(3 << 20));
    let program = env!("CARGO_PKG_VERSION");
    let text = format!(
        r#"{{"format":"evenhand-job","version":1,"program":"{program}","notes":{zeros},"log":[{GOOD}]}}"#
    );
    let opened = opened(&text);
    assert_eq!(opened.entries.len(), 1);
    assert!(
        opened
            .notices
            .contains(&"Changed outside Evenhand, and not taken over: note.".to_owned())
    );
}

/// A second beginning, or one of another job, would re-home the job: its own backup would open elsewhere.
#[test]
fn a_file_of_two_jobs_is_refused_whole() {
    let made = |seq: u64, job: u64| {
        format!(
            r#"{{"act":"made","at_ms":{NINE_MS},"clock":{seq},"device":"00000000000000ab","job":"{job:016x}","seq":{seq}}}"#
        )
    };
    let other = open(file(&[&made(1, 1), &made(2, 2)]).as_bytes());
    assert_eq!(other.unwrap_err(), FileError::OtherJob);
    let own = sample::phone();
    let exported = export(&own.job, own.at_ms);
    let id = own.job.id().unwrap();
    let renamed = exported.replacen(
        &format!("\"id\": \"{id}\""),
        "\"id\": \"00000000000000ff\"",
        1,
    );
    assert!(renamed != exported);
    let error = open(renamed.as_bytes()).unwrap_err();
    assert_eq!(error, FileError::OtherJob);
    assert!(error.to_string().starts_with("The file mixes two jobs"));
}

/// As much as can be typed is taken; more is kept to the byte, and not shown.
#[test]
fn texts_are_taken_as_long_as_they_can_be_typed() {
    let remark = |text: String| EntryKind::Remark {
        on: on(1),
        step: None,
        fault: false,
        text,
    };
    let details = |set: Details| EntryKind::Details { set: Box::new(set) };
    let name = |name| {
        details(Details {
            name: Some(name),
            ..Details::default()
        })
    };
    let scope = |scope| {
        details(Details {
            scope: Some(scope),
            ..Details::default()
        })
    };
    let dry = |reason| EntryKind::DryingEnded {
        step: step_id("cauls_in"),
        reason,
    };
    let how = |how| EntryKind::FaultFixed {
        fault: EntryId {
            replica: ReplicaId::new(1),
            seq: 1,
        },
        how,
    };
    let caps: [(&dyn Fn(String) -> EntryKind, usize); 5] = [
        (&remark, 2_000),
        (&scope, 2_000),
        (&how, 2_000),
        (&name, 300),
        (&dry, 300),
    ];
    for (kind, most) in caps {
        for (length, fits) in [(most, true), (most + 1, false)] {
            // Characters count, not bytes.
            let written = Phone::new(1).act(kind("é".repeat(length)));
            let line = written.to_line();
            let read = Entry::from_line(&line).unwrap();
            assert_eq!(read == written, fits, "{length} of {most}");
            assert_eq!(matches!(read.kind, EntryKind::Unknown(_)), !fits);
            assert_eq!(read.to_line(), line);
        }
    }
    // A batch of too many runs, or of runs that overlap, would cost more than its entries.
    let runs = |runs: Vec<Run>| {
        let entry = Phone::new(1).act(EntryKind::Opened { entries: runs });
        let read = Entry::from_line(&entry.to_line()).unwrap();
        matches!(read.kind, EntryKind::Opened { .. })
    };
    let run = |first, last| Run {
        replica: ReplicaId::new(1),
        first,
        last,
    };
    assert!(runs((0..1_000).map(|at| run(2 * at, 2 * at)).collect()));
    assert!(!runs((0..1_001).map(|at| run(2 * at, 2 * at)).collect()));
    for wrong in [
        vec![run(1, 3), run(3, 4)],
        vec![run(5, 6), run(1, 2)],
        vec![run(2, 1)],
        vec![run(1, u64::MAX)],
    ] {
        assert!(!runs(wrong.clone()), "{wrong:?}");
    }
}
