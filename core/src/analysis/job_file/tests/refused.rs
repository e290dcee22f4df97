//! Tests of files that are refused as a whole: truncated, foreign, newer, damaged, too large.

use super::*;

#[test]
fn a_file_cut_at_any_byte_is_told_to_break_off() {
    let phone = sample::phone();
    let short = file(&[
        GOOD,
        GOOD,
        r#"{"act":"späteres","at_ms":1,"clock":2,"device":"00000000000000ab","seq":2}"#,
    ]);
    let full = export(&phone.job, phone.at_ms);
    for (text, step) in [(short.as_str(), 1), (full.as_str(), 211)] {
        for cut in (1..text.len()).step_by(step) {
            let error = refused(&text.as_bytes()[..cut]);
            assert_eq!(error, FileError::Truncated, "at byte {cut}");
        }
    }
    assert_eq!(refused(b""), FileError::Empty);
}

#[test]
fn foreign_files_are_told_to_be_foreign() {
    for text in [
        "hello",
        "42",
        "\"evenhand-job\"",
        "[]",
        "{}",
        "null",
        "<html></html>",
        "PK\u{3}\u{4}",
        r#"{"format":"other","version":1,"log":[]}"#,
        r#"{"format":"evenhand-job","version":0,"log":[]}"#,
        r#"{"format":"evenhand-job","version":1.5,"log":[]}"#,
        r#"{"format":"evenhand-job","version":-1,"log":[]}"#,
        r#"{"format":"evenhand-job","version":1}"#,
        r#"{"format":"evenhand-job","version":1,"log":{}}"#,
        r#"{"format":"evenhand-job","version":1,"log":[],"log":[]}"#,
    ] {
        assert_eq!(refused(text.as_bytes()), FileError::Foreign, "{text}");
    }
    for bytes in [
        &[0xff, 0xfe, b'{', 0][..],
        b"\x89PNG\r\n\x1a\n",
        b"\xc3\x28",
        // A lone surrogate, invalid in UTF-8.
        b"\xed\xa0\x80",
    ] {
        assert_eq!(refused(bytes), FileError::NotText(1), "{bytes:?}");
    }
    for empty in ["", " ", "\n\t\r\n", "\u{feff}", "\u{feff} \n"] {
        assert_eq!(refused(empty.as_bytes()), FileError::Empty);
    }
}

#[test]
fn a_newer_version_is_told_whatever_its_log_looks_like() {
    for log in ["[]", "{}", "7", r#"[{"act":"x"}]"#] {
        let text = format!(r#"{{"format":"evenhand-job","version":2,"log":{log}}}"#);
        let error = refused(text.as_bytes());
        assert_eq!(error, FileError::Newer(2));
        assert!(error.to_string().contains("Update Evenhand"));
    }
}

#[test]
fn broken_json_is_told_with_its_line_and_column() {
    let text = "{\"format\": \"evenhand-job\",\n \"version\": 1,\n \"log\": [nan]}";
    let error = refused(text.as_bytes());
    assert_eq!(
        error,
        FileError::NotJson {
            line: 3,
            column: 11
        }
    );
    assert_eq!(
        error.to_string(),
        "The file cannot be read at line 3, column 11. It may have been changed by another program. \
         Nothing was opened, and nothing stored here was changed."
    );
    for text in [
        r#"{"format":"evenhand-job","version":1,"log":[NaN]}"#,
        r#"{"format":"evenhand-job","version":1e309,"log":[]}"#,
        r#"{"format":"evenhand-job","version":1,"log":[]}}"#,
        r#"{"format":"evenhand-job","version":1,"log":[],}"#,
        "{'format':'evenhand-job'}",
    ] {
        let error = refused(text.as_bytes());
        assert!(
            matches!(error, FileError::NotJson { .. }),
            "{text}: {error:?}"
        );
    }
}

#[test]
fn a_file_too_large_or_too_deep_is_refused_before_it_is_read() {
    let large = vec![b'['; MAX_BYTES + 1];
    assert_eq!(refused(&large), FileError::TooLarge(MAX_BYTES + 1));
    assert!(refused(&large).to_string().contains("14 MB"));
    assert_eq!(refused(&large[..100_000]), FileError::TooDeep);
    let deep = format!("{}{}", "{\"a\":".repeat(200), "1");
    assert_eq!(refused(deep.as_bytes()), FileError::TooDeep);
    // Brackets inside a string are not nesting.
    let remark = format!(
        r#"{{"act":"remark","at_ms":5,"clock":1,"device":"00000000000000ab","fault":false,"on":"whole","seq":1,"text":"\"{}"}}"#,
        "[".repeat(500)
    );
    assert_eq!(opened(&file(&[&remark])).entries.len(), 1);
}
