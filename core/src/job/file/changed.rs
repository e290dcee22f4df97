//! What somebody changed in the readable parts of a job file.

use serde_json::Value as Json;

use super::super::Job;
use super::export::readable;
use super::shell::Shell;

/// The most changes that are named one by one.
const MOST_NAMED: usize = 12;
/// The most bytes of readable parts that are compared piece by piece; a full job's have a tenth.
const MOST_COMPARED: usize = 2 << 20;

/// The readable parts, each with the word for one of it.
const PARTS: [(&str, &str); 10] = [
    ("job", "job"),
    ("sections", "section"),
    ("targets", "target"),
    ("steps", "step"),
    ("whole", "whole action"),
    ("by_section", "records of section"),
    ("notes", "note"),
    ("materials", "material"),
    ("summary", "summary"),
    ("open_points", "open point"),
];

/// A notice for each readable part that does not follow from the log; a part that is missing is no change.
/// Another release may have other defaults and words, so that only what this one wrote is compared.
pub(super) fn changed_outside(given: &Shell<'_>, job: &Job) -> Vec<String> {
    if given.value("program").as_str() != Some(super::PROGRAM) {
        return Vec::new();
    }
    let again = readable(job, given.value("exported_at_ms").as_i64().unwrap_or(0));
    let Ok(own) = serde_json::from_str::<Shell<'_>>(&again) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    let mut left = MOST_COMPARED;
    for (field, name) in PARTS {
        if let (Some(given), Some(own)) = (given.text(field), own.text(field)) {
            compare(name, given, own, &mut left, &mut found);
        }
    }
    let rest = found.len().saturating_sub(MOST_NAMED);
    found.truncate(MOST_NAMED);
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

/// Compares a part piece by piece where its bytes are within those that are left.
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

/// Names each place where two derived parts differ; a part that is missing is no change.
fn differences(name: &str, given: &Json, own: &Json, found: &mut Vec<String>) {
    match (given, own) {
        (a, b) if a == b => {}
        (Json::Null, _) => {}
        (Json::Object(a), Json::Object(b)) => {
            let mut keys: Vec<&String> = a.keys().chain(b.keys()).collect();
            crate::sort::by(&mut keys, Ord::cmp);
            keys.dedup();
            for key in keys {
                let (x, y) = (a.get(key), b.get(key));
                if let (Some(x), Some(y)) = (x, y) {
                    differences(&format!("{name} {key}"), x, y, found);
                } else {
                    found.push(format!("{name} {key}"));
                }
            }
        }
        (Json::Array(a), Json::Array(b)) if a.len() == b.len() => {
            for (at, (x, y)) in a.iter().zip(b).enumerate() {
                differences(&format!("{name} {}", at + 1), x, y, found);
            }
        }
        _ => found.push(name.to_owned()),
    }
}
