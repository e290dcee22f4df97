//! Steps that are new since a job was begun.

use super::{MeasureState, Progress, State, Subject};
use crate::trade::{Place, Stage, Step};

/// The wall time at which the trade's order got the steps of [`NEW`]: 2026-11-30, 16:00, in milliseconds since 1970 (UTC).
const ORDER_CHANGED_MS: i64 = 1_796_054_400_000;

/// The steps that the order got then.
const NEW: [&str; 11] = [
    "decisions",
    "key_bed",
    "hammers_shaped",
    "blown_out",
    "keys_in_piano",
    "strings_levelled",
    "hammers_spaced",
    "damper_end",
    "shift",
    "sostenuto",
    "rail_set",
];

impl State {
    /// Returns the names of the steps that the order got after the job was begun and that its work has already
    /// passed. A step is no longer listed once it is begun or left out, and none is in a finished job.
    ///
    /// `all` is [`State::progress`].
    pub fn new_steps(&self, all: &[(Step, Progress)]) -> Vec<String> {
        let checked =
            |(step, p): &(Step, Progress)| step.stage == Stage::FinalCheck && p.is_begun();
        if self.is_archived() || all.iter().any(checked) || !self.is_begun_before(ORDER_CHANGED_MS)
        {
            return Vec::new();
        }
        let begun = |(_, p): &(Step, Progress)| p.is_begun();
        let passed = all.iter().rposition(begun).unwrap_or(0);
        let steps = all[..passed].iter();
        let new = steps
            .filter(|(step, p)| NEW.contains(&step.id.as_str()) && !p.is_begun() && !p.is_empty());
        new.map(|(step, _)| step.name.to_string()).collect()
    }

    /// Returns `true` if anything was measured before a wall time in milliseconds since 1970 (UTC).
    fn is_begun_before(&self, before_ms: i64) -> bool {
        let places = [Place::Bench, Place::Piano];
        self.recorded().any(|id| {
            let looked = self.looked(id.as_str());
            let subjects = Subject::all().flat_map(|on| places.map(|place| (on, place)));
            let mut states = subjects.filter_map(|(on, place)| looked.measure_state(on, place));
            let first = |s: &MeasureState| s.readings().next().map(|r| r.at_ms);
            states.any(|s| first(s).is_some_and(|at_ms| at_ms < before_ms))
        })
    }
}
