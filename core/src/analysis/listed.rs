//! Items in a sentence.

/// Returns sections, counted from 0, for use in a sentence: “section 2”, “sections 1 and 2”.
pub(super) fn sections(of: impl Iterator<Item = usize>) -> String {
    let numbers: Vec<String> = of.map(|section| (section + 1).to_string()).collect();
    let word = match numbers.len() {
        1 => "section",
        _ => "sections",
    };
    format!("{word} {}", listed(&numbers))
}

/// Joins items for use in a sentence: “1 and 2”, “1, 2 and 4”.
pub(super) fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
