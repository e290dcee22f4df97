//! Text that somebody puts into a job file, for the tests of core and of the screens.

use serde_json::Value;

/// Puts text into the fields that people fill in; how many there were.
pub fn replace_texts(json: &mut Value, evil: &str) -> usize {
    const TEXTS: [&str; 11] = [
        "name",
        "client",
        "described",
        "serial",
        "scope",
        "technician",
        "typed",
        "text",
        "reason",
        "how",
        "currency",
    ];
    match json {
        Value::Array(items) => items.iter_mut().map(|i| replace_texts(i, evil)).sum(),
        Value::Object(fields) => {
            let of = |(key, value): (&String, &mut Value)| {
                if value.is_string() && TEXTS.contains(&key.as_str()) {
                    *value = evil.into();
                    1
                } else {
                    replace_texts(value, evil)
                }
            };
            fields.iter_mut().map(of).sum()
        }
        _ => 0,
    }
}
