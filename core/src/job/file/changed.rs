//! Changes made outside Evenhand in the readable parts of a job file.

use serde_json::Value as Json;

use super::super::Job;
use super::Conclusions;
use super::top_level::TopLevel;
use super::write::readable;

/// The largest number of changes with a notice of their own.
const MAX_NAMED: usize = 12;
/// The longest place of a change in a notice, in characters.
const MAX_PLACE: usize = 60;
/// The largest size of readable parts that is compared field by field, in bytes; a full job has a tenth.
const MAX_COMPARED: usize = 2 << 20;

/// Returns a notice for each readable part that differs from what the log gives. A missing part is no change.
///
/// Only a file that this release wrote is compared, because another may have other defaults and words.
pub(super) fn changed_outside(
    given: &TopLevel<'_>,
    job: &Job,
    conclude: impl FnOnce(&Job, i64) -> Conclusions,
) -> Vec<String> {
    if given.program().as_deref() != Some(super::PROGRAM) {
        return Vec::new();
    }
    let at_ms = given.exported_at_ms().unwrap_or(0);
    let again = readable(job, at_ms, conclude(job, at_ms));
    let Ok(own) = serde_json::from_str::<TopLevel<'_>>(&again) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let mut left = MAX_COMPARED;
    for ((name, given), (_, own)) in given.parts().into_iter().zip(own.parts()) {
        if let (Some(given), Some(own)) = (given, own) {
            compare(name, given.get(), own.get(), &mut left, &mut found);
        }
    }
    let rest = found.len().saturating_sub(MAX_NAMED);
    found.truncate(MAX_NAMED);
    let mut notices: Vec<String> = found
        .iter()
        .map(|what| format!("Changed outside Evenhand, and not taken over: {what}."))
        .collect();
    if rest > 0 {
        notices.push(format!(
            "And {rest} more changes outside Evenhand, not taken over."
        ));
    }
    notices
}

/// Compares a part field by field, or as a whole if it has more than the `left` bytes.
fn compare(name: &str, given: &str, own: &str, left: &mut usize, found: &mut Vec<String>) {
    if given == own {
        return;
    }
    let within = left.checked_sub(given.len());
    *left = within.unwrap_or(*left);
    let read = |text: &str| serde_json::from_str::<Json>(text);
    match within.map(|_| (read(given), read(own))) {
        Some((Ok(given), Ok(own))) => differences(name, &given, &own, found),
        _ => found.push(name.to_owned()),
    }
}

/// Adds the path of each difference between two derived parts to `found`. A missing part is no change.
fn differences(name: &str, given: &Json, own: &Json, found: &mut Vec<String>) {
    match (given, own) {
        (a, b) if a == b => {}
        (Json::Null, _) => {}
        // Numbers compare by value: another program may write `2` as `2.0`.
        (Json::Number(a), Json::Number(b)) if a.as_f64() == b.as_f64() => {}
        (Json::Object(a), Json::Object(b)) => {
            for (key, y) in b {
                let name = format!("{name} {key}");
                match a.get(key) {
                    Some(x) => differences(&name, x, y, found),
                    None => found.push(short(&name)),
                }
            }
            // The key is the file's own word, and not repeated.
            if a.keys().any(|key| !b.contains_key(key)) {
                found.push(short(&format!("{name}, a field that is not Evenhand’s")));
            }
        }
        (Json::Array(a), Json::Array(b)) if a.len() == b.len() => {
            for (at, (x, y)) in a.iter().zip(b).enumerate() {
                differences(&format!("{name} {}", at + 1), x, y, found);
            }
        }
        _ => found.push(short(name)),
    }
}

/// Returns the place of a change at a length that can be read: a file can name its own measures.
fn short(name: &str) -> String {
    match name.char_indices().nth(MAX_PLACE) {
        Some((end, _)) => format!("{}…", &name[..end]),
        None => name.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::differences;

    /// Returns `true` if the change from one number to the other is reported.
    fn differ(a: &str, b: &str) -> bool {
        let read = |text| serde_json::from_str(text).unwrap();
        let mut found = Vec::new();
        differences("blow", &read(a), &read(b), &mut found);
        !found.is_empty()
    }

    #[test]
    fn a_notice_repeats_neither_the_keys_of_a_file_nor_long_names() {
        let told = |given: &str, own: &str| {
            let read = |text: &str| serde_json::from_str(text).unwrap();
            let mut found = Vec::new();
            differences("note 1 bench", &read(given), &read(own), &mut found);
            found
        };
        let foreign = r#"{"Your storage is damaged. To repair it open …": 1, "a": 2}"#;
        assert_eq!(
            told(foreign, "{}"),
            ["note 1 bench, a field that is not Evenhand’s"]
        );
        let long = format!("{{\"{}\": 1}}", "x".repeat(500));
        let found = told("{}", &long);
        assert_eq!(found[0].chars().count(), 61);
        assert!(found[0].ends_with("xxx…"));
    }

    #[test]
    fn a_number_is_the_same_however_it_is_written() {
        for (a, b) in [
            ("0.000001", "1e-6"),
            ("1.50", "15E-1"),
            ("-2.5", "-25e-1"),
            ("1e+2", "100"),
            ("0.5", "0.50"),
            ("2", "2.0"),
        ] {
            assert!(!differ(a, b), "{a} {b}");
        }
        for (a, b) in [
            ("1.5", "-1.5"),
            ("1.5", "1.05"),
            ("1.5", "15"),
            ("1e2", "1e-2"),
        ] {
            assert!(differ(a, b), "{a} {b}");
        }
    }
}
