//! The names of the steps of a job, as the handover writes them.

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
