//! What somebody changed in the readable parts of a job file.

use std::borrow::Cow;

use super::super::Job;
use super::export::readable;
use super::shell::Shell;
use crate::json::{Json, Object};

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
    let again = readable(job, given.value("exported_at_ms").as_whole().unwrap_or(0));
    let Ok(Some(own)) = Shell::read(&again) else {
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
    match within.map(|_| (Json::read(given), Json::read(own))) {
        Some((Ok(given), Ok(own))) => differences(name, &given, &own, found),
        _ => found.push(name.to_owned()),
    }
}

/// Names each place where two derived parts differ; a part that is missing is no change.
fn differences(name: &str, given: &Json, own: &Json, found: &mut Vec<String>) {
    match (given, own) {
        (a, b) if a == b => {}
        (Json::Null, _) => {}
        (Json::Raw(a), Json::Raw(b)) if worth(a) == worth(b) => {}
        (Json::Object(Object(a)), Json::Object(Object(b))) => {
            let a = a.iter().map(|(key, json)| (key, false, json));
            let b = b.iter().map(|(key, json)| (key, true, json));
            let mut all: Vec<(&Cow<'static, str>, bool, &Json)> = a.chain(b).collect();
            all.sort_by_key(|field| field.0);
            for of_key in all.chunk_by(|x, y| x.0 == y.0) {
                let of = |own| of_key.iter().rfind(|field| field.1 == own);
                let name = format!("{name} {}", of_key[0].0);
                match (of(false), of(true)) {
                    (Some((.., x)), Some((.., y))) => differences(&name, x, y, found),
                    _ => found.push(name),
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

/// What a number is worth, however it is written: whether it lies below zero, its digits, and the power of ten of
/// the last of them.
fn worth(number: &str) -> (bool, String, i64) {
    let (digits, power) = number.split_once(['e', 'E']).unwrap_or((number, "0"));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let all = [whole.trim_start_matches('-'), part].concat();
    let digits = all.trim_end_matches('0');
    let power = power.trim_start_matches('+').parse().unwrap_or(0_i64);
    let last = power - part.len() as i64 + (all.len() - digits.len()) as i64;
    (
        number.starts_with('-'),
        digits.trim_start_matches('0').to_owned(),
        last,
    )
}

#[cfg(test)]
mod tests {
    use super::worth;

    #[test]
    fn a_number_is_worth_the_same_however_it_is_written() {
        for (a, b) in [
            ("0.000001", "1e-6"),
            ("1.50", "15E-1"),
            ("-2.5", "-25e-1"),
            ("1e+2", "100"),
            ("0.5", "0.50"),
        ] {
            assert_eq!(worth(a), worth(b), "{a} {b}");
        }
        for (a, b) in [
            ("1.5", "-1.5"),
            ("1.5", "1.05"),
            ("1.5", "15"),
            ("1e2", "1e-2"),
        ] {
            assert_ne!(worth(a), worth(b), "{a} {b}");
        }
    }
}
