//! The steps of a job as the handover names them.

use crate::job::State;
use crate::trade::Stage;

/// A step's name within a sentence: `let-off`, but `A4` as it is.
pub(super) fn in_sentence(name: &str) -> String {
    let mut letters = name.chars();
    match (letters.next(), letters.clone().next()) {
        (Some(first), Some(second)) if second.is_lowercase() => {
            first.to_lowercase().chain(letters).collect()
        }
        _ => name.to_owned(),
    }
}

/// The stage of a step, also of one that was left out after work on it.
pub(super) fn stage_of(state: &State, step: &str) -> Option<(Stage, String)> {
    let known = state.step(step).or_else(|| {
        let trade = state.instrument().steps();
        trade.iter().find(|s| s.id.as_str() == step)
    });
    known.map(|s| (s.stage, s.name.to_string()))
}
