//! What was said of one thing, one entry after the other, so that undo can restore the earlier one.

use crate::job::LogPosition;

/// The entries about one thing, in log order; the flag is `false` for an entry taken back.
pub type History<T> = Vec<(LogPosition, T, bool)>;

/// Takes an entry back, or puts it into effect again.
pub fn set_alive<T>(history: &mut History<T>, position: LogPosition, alive: bool) {
    if let Some(found) = history.iter_mut().rfind(|h| h.0 == position) {
        found.2 = alive;
    }
}
