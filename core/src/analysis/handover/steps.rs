//! The names of the steps of a job, as the handover writes them.

/// Returns words with their first letter large, as a sentence or a row begins.
///
/// ```
/// use evenhand_core::analysis::handover::capital;
///
/// assert_eq!(capital("new hammers"), "New hammers");
/// ```
pub fn capital(words: &str) -> String {
    let mut chars = words.chars();
    let first = chars.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(chars).collect()
}

/// Returns the name of a step for use within a sentence, its first letter in lower case unless the
/// second is not: `let-off`, but `A4`.
pub(in crate::analysis) fn in_sentence(name: &str) -> String {
    let mut letters = name.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if second.is_lowercase() => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => name.to_owned(),
    }
}
