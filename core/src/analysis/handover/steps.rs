//! The names of the steps of a job, as the handover writes them.

use crate::job::State;
use crate::trade::Stage;

/// Returns the name of a step for use within a sentence, its first letter in lower case unless the
/// second is not: `let-off`, but `A4`.
pub(super) fn in_sentence(name: &str) -> String {
    let mut letters = name.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if second.is_lowercase() => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => name.to_owned(),
    }
}

/// Returns the stage and the name of a step, also of one left out after work on it. Returns `None`
/// if it is unknown.
pub(super) fn stage_of(state: &State, step: &str) -> Option<(Stage, String)> {
    let known = state.step(step).or_else(|| {
        let trade = state.instrument().steps();
        trade.iter().find(|s| s.id.as_str() == step)
    });
    known.map(|s| (s.stage, s.name.to_string()))
}
