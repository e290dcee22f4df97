//! What an earlier job of the same instrument left, carried as a copy.

use serde::{Deserialize, Serialize};

use super::{JobId, Subject};
use crate::trade::{MeasureId, Place, StepId};
use crate::unit::{Length, Value};

/// What an earlier job left of the same instrument, carried by the new one, so that any
/// phone and the office can compare without the earlier file.
///
/// It is a copy of what followed from the earlier log when the new job was made; nothing in the
/// new job changes it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Earlier {
    /// The earlier job.
    pub job: JobId,
    /// When its latest reading was taken, in milliseconds since 1970 (UTC).
    pub left_at_ms: i64,
    /// What was read last and held, measure by measure.
    pub left: Vec<Left>,
    /// What one turn did on this instrument.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub responses: Vec<Responded>,
    /// The working minutes of the steps that were wholly read.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub minutes: Vec<(StepId, u32)>,
}

/// The readings that one measure was left with at one place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Left {
    /// What was read.
    pub measure: MeasureId,
    /// Where the action was.
    pub place: Place,
    /// On what, and the reading.
    pub readings: Vec<(Subject, Value)>,
}

/// What one turn does to a reading, as an earlier job learned it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Responded {
    /// The reading.
    pub measure: MeasureId,
    /// The section, from 0 in the bass; the whole action without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<u8>,
    /// Reading for one turn.
    pub per_turn_nm: Length,
    /// Its standard error.
    pub give_or_take_nm: Length,
    /// How many turns it rests on.
    pub trials: u32,
}

impl Earlier {
    /// What a measure was left with on a subject, and where that was read; in the piano before the bench.
    pub fn left_on(&self, measure: &str, on: Subject) -> Option<(Value, Place)> {
        let at = |place: Place| {
            let rows = self.left.iter();
            let mut rows = rows.filter(|l| l.place == place && l.measure.as_str() == measure);
            let found = rows.find_map(|l| l.readings.iter().find(|r| r.0 == on))?;
            Some((found.1, place))
        };
        at(Place::Piano).or_else(|| at(Place::Bench))
    }
}
