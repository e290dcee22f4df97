//! Tests of entries that this version does not understand, and of the order of their fields: kept
//! byte for byte.

use serde_json::json;

use super::*;

/// Readings that this version cannot read: notes and sections that do not exist, unknown units.
fn strange_readings() -> Vec<String> {
    let reading = |on: &str, value: &str| {
        line(&[
            ("act", r#""reading""#),
            ("measure", r#""let_off""#),
            ("occasion", r#""working""#),
            ("on", on),
            ("place", r#""bench""#),
            ("typed", r#""2""#),
            ("value", value),
        ])
    };
    let value = r#"{"nm":5}"#;
    vec![
        reading(r#"{"note":0}"#, value),
        reading(r#"{"note":89}"#, value),
        reading(r#"{"section":8}"#, value),
        reading(r#"{"note":3}"#, r#"{"furlong":1}"#),
        reading(r#"{"note":3}"#, r#"{"nm":1.5}"#),
        reading(r#"{"note":3}"#, r#"{"nm":1e309}"#),
        reading(r#"{"note":3}"#, r#"{"nm":-0}"#),
        reading(r#"{"note":3}"#, r#"{"nm":9223372036854775808}"#),
        reading(r#"{"note":3}"#, r#"{"grade":256}"#),
    ]
}

/// Entries of a later version, and entries with fields that this version does not have.
fn strange_acts() -> Vec<String> {
    let numbers = "[1.10,-0,1E5,0.1000000000000000055511151231257827,\"\\u0041\\/\"]";
    let undo = r#"{"device":"00000000000000ab","seq":1}"#;
    let band = r#"{"flat":{"accept":[0,2],"aim":1,"unit":"nm","within":[0,2]}}"#;
    vec![
        line(&[("act", r#""later""#), ("numbers", numbers)]),
        line(&[("act", r#""undo""#), ("entry", undo), ("why", r#""x""#)]),
        line(&[
            ("act", r#""remark""#),
            ("fault", "true"),
            ("on", r#""whole""#),
            ("text", "\"\\ud800\""),
        ]),
        line(&[("act", "7")]),
        line(&[]),
        line(&[
            ("act", r#""left_out""#),
            ("out", r#""yes""#),
            ("step", r#""drop""#),
        ]),
        line(&[
            ("act", r#""target""#),
            ("measure", r#""blow""#),
            ("scope", r#""job""#),
            ("target", band),
        ]),
        line(&[("act", r#""setup""#), ("set", r#"{"sections":[52,20]}"#)]),
    ]
}

#[test]
fn what_cannot_be_understood_is_kept_to_the_byte() {
    for line in strange_readings().into_iter().chain(strange_acts()) {
        let entry = Entry::from_line(&line).unwrap_or_else(|e| panic!("{line}: {e}"));
        assert!(matches!(entry.kind, EntryKind::Unknown(_)), "{line}");
        assert_eq!(entry.to_line(), line);
        // Exported and opened again through a job.
        let opened = opened(&export(&Job::from_entries([entry]), 0));
        assert_eq!(opened.entries[0].to_line(), line);
        assert_eq!(opened.notices.len(), 1, "{:?}", opened.notices);
        assert!(
            opened.notices[0].contains("1 record of a kind"),
            "{:?}",
            opened.notices
        );
    }
}

/// Which of two values was meant is unknown: such an entry is passed on with both and has no effect.
#[test]
fn an_entry_with_a_field_twice_is_kept_to_the_byte() {
    let doubled =
        |of: &str, field: &str, other: &str| of.replace(field, &format!("{field},{other}"));
    let mut twice = Vec::new();
    for other in ["false", "true", "1e999", r#""\ud800""#, r#"{"\ud800":1}"#] {
        let out = r#""out":true"#;
        twice.push(doubled(GOOD, out, &format!("\"out\":{other}")));
    }
    twice.push(doubled(GOOD, r#""act":"left_out""#, r#""act":"made""#));
    // Within a field, and in an entry of a later version.
    let reading = &strange_readings()[0];
    twice.push(reading.replace(r#"{"note":0}"#, r#"{"note":1,"note":2}"#));
    let fault = r#"{"device":"00000000000000ab","seq":1,"seq":2}"#;
    twice.push(line(&[("act", r#""undo""#), ("entry", fault)]));
    twice.push(line(&[("act", r#""later""#), ("x", "1"), ("x", "2")]));
    for line in twice {
        let entry = Entry::from_line(&line).unwrap_or_else(|e| panic!("{line}: {e}"));
        assert!(matches!(entry.kind, EntryKind::Unknown(_)), "{line}");
        assert_eq!(entry.to_line(), line);
        let opened = opened(&export(&Job::from_entries([entry]), 0));
        assert_eq!(opened.entries[0].to_line(), line);
    }
}

#[test]
fn an_entry_with_two_names_clocks_or_times_is_left_out_and_named() {
    for field in [
        r#""at_ms":5"#,
        r#""clock":1"#,
        r#""device":"00000000000000ab""#,
        r#""seq":1"#,
    ] {
        let twice = GOOD.replace(field, &format!("{field},{field}"));
        let opened = opened(&file(&[&twice]));
        assert_eq!(opened.entries, [], "{twice}");
        assert!(opened.notices[0].contains("twice"), "{:?}", opened.notices);
    }
}

#[test]
fn what_an_entry_knew_of_other_clocks_is_read_and_what_cannot_be_is_kept_to_the_byte() {
    let entry = |knew: &str| GOOD.replace("\"out\"", &format!("{knew},\"out\""));
    for (knew, ms) in [
        (r#""knew":{"ms":7}"#, Some(7)),
        (
            r#""knew":{"ahead":[{"device":"00000000000000ac","seq":3}],"ms":7}"#,
            Some(7),
        ),
        (r#""knew":{"ms":-1}"#, None),
        (r#""knew":{"ms":7,"more":1}"#, None),
        (r#""knew":7"#, None),
        (r#""knew":{"ms":7},"knew":{"ms":7}"#, None),
    ] {
        let line = entry(knew);
        let opened = opened(&file(&[&line]));
        assert_eq!(opened.entries[0].to_line(), line);
        assert_eq!(opened.entries[0].knew.as_ref().map(|k| k.ms), ms, "{knew}");
        let is_unknown = matches!(opened.entries[0].kind, EntryKind::Unknown(_));
        assert_eq!(is_unknown, ms.is_none(), "{knew}");
    }
}

/// The line is stored, and the checksum of a file covers it: no dependency may enable
/// serde_json's `preserve_order`.
#[test]
fn the_fields_of_a_line_are_in_alphabetical_order_at_every_depth() {
    let entry = Entry {
        id: EntryId {
            replica: ReplicaId::new(0xab),
            seq: 3,
        },
        clock: 2,
        at_ms: 5,
        supersedes: Some(Vec::new()),
        knew: None,
        kind: EntryKind::Target {
            measure: MeasureId::of("damper_lift"),
            scope: Scope::Note(n(40)),
            target: Some(crate::trade::Target::ShareOf {
                of: MeasureId::of("blow"),
                percent: 50,
                within: 2,
                accept: 3,
            }),
        },
    };
    assert_eq!(
        entry.to_line(),
        concat!(
            r#"{"act":"target","at_ms":5,"clock":2,"device":"00000000000000ab","measure":"damper_lift","#,
            r#""over":[],"scope":{"note":40},"seq":3,"target":{"share_of":{"accept":3,"of":"blow","percent":50,"within":2}}}"#
        )
    );
    assert_eq!(json!({"b": 1, "a": 2}).to_string(), r#"{"a":2,"b":1}"#);
}

#[test]
fn records_that_could_not_be_read_are_handed_on_and_said() {
    let entries = vec![Entry::from_line(GOOD).expect("an entry")];
    let stored = |torn| Job::stored(JobId::new(1), entries.clone(), torn);
    assert!(!export(&stored(Vec::new()), 9).contains("set_aside"));
    let job = stored(vec!["{\"torn".to_owned(), String::new()]);
    let written: serde_json::Value = serde_json::from_str(&export(&job, 9)).expect("JSON");
    assert_eq!(written["set_aside"], json!(["{\"torn", ""]));
    assert_eq!(written["log"].as_array().map(Vec::len), Some(1));
    let opened = opened(&written.to_string());
    assert_eq!(opened.entries.len(), 1);
    let said = |s: &String| s.contains("not the whole job") && s.contains("2 records");
    assert!(opened.notices.iter().any(said), "{:?}", opened.notices);
    // Nothing of that kind, whatever stands there instead.
    for nothing in ["[]", "5", "null"] {
        let text = format!(
            r#"{{"format":"evenhand-job","version":1,"log":[{GOOD}],"set_aside":{nothing}}}"#
        );
        let opened = super::opened(&text);
        assert!(!opened.notices.iter().any(|s| s.contains("whole job")));
    }
}
