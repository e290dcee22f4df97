//! Items in a sentence.

/// Joins items for use in a sentence: “1 and 2”, “1, 2 and 4”.
pub(super) fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
