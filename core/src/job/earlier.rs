//! The final readings of an earlier job on the same instrument, carried as a copy.

use serde::{Deserialize, Serialize};

use super::{JobId, Subject};
use crate::trade::{MeasureId, Place, StepId};
use crate::unit::{Length, Value};

/// The final readings of an earlier job on the same instrument, so that any
/// phone and the office can compare without the earlier file.
///
/// It is a copy, made from the earlier log when the new job was created; nothing in the
/// new job changes it. It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Earlier, JobId, Left, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let a4 = Subject::Note(Note::new(49)?);
/// let value = Value::Nm(Length::from_nm(1_800_000));
/// let left = Left { measure: MeasureId::of("let_off"), place: Place::Bench, readings: vec![(a4, value)] };
/// let earlier = Earlier { job: JobId::new(1), left_at_ms: 0, left: vec![left], responses: vec![], minutes: vec![] };
/// assert_eq!(earlier.left_on("let_off", a4), Some((value, Place::Bench)));
/// assert_eq!(earlier.left_on("blow", a4), None);
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Earlier {
    /// The id of the earlier job.
    pub job: JobId,
    /// The wall time of its latest reading, in milliseconds since 1970 (UTC).
    pub left_at_ms: i64,
    /// The final readings that were still valid, by measure and place.
    pub left: Vec<Left>,
    /// The responses to one turn, learned on this instrument.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub responses: Vec<Responded>,
    /// The working time, in minutes, of each step that was fully measured and whose time was that of its work.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub minutes: Vec<(StepId, u32)>,
}

/// The final readings of one measure at one place, one for each subject. Part of [`Earlier`]; no default and no order.
///
/// ```
/// use evenhand_core::job::{Left, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let readings = vec![(Subject::Note(Note::FIRST), Value::Nm(Length::from_mm_hundredths(180)))];
/// let left = Left { measure: MeasureId::of("let_off"), place: Place::Bench, readings };
/// let line = serde_json::to_string(&left)?;
/// assert_eq!(line, r#"{"measure":"let_off","place":"bench","readings":[[{"note":1},{"nm":1800000}]]}"#);
/// assert_eq!(serde_json::from_str::<Left>(&line)?, left);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Left {
    /// The measure.
    pub measure: MeasureId,
    /// The place of the action: on the bench or in the piano.
    pub place: Place,
    /// Each subject with its reading.
    pub readings: Vec<(Subject, Value)>,
}

/// The response of a reading to one turn, learned in an earlier job. Part of [`Earlier`]; no default and no order.
///
/// ```
/// use evenhand_core::job::Responded;
///
/// let line = r#"{"measure":"blow","per_turn_nm":8200000,"give_or_take_nm":300000,"trials":12}"#;
/// let blow: Responded = serde_json::from_str(line)?;
/// // No section stands for the whole action.
/// assert_eq!((blow.section, blow.measure.as_str(), blow.per_turn_nm.mm()), (None, "blow", 8.2));
/// assert_eq!(serde_json::to_string(&blow)?, line);
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Responded {
    /// The measure.
    pub measure: MeasureId,
    /// The section, 0 (bass) to 7, or `None` for the whole action.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub section: Option<u8>,
    /// The change in the reading for one full turn, in nanometers.
    pub per_turn_nm: Length,
    /// The standard error of `per_turn_nm`, in nanometers.
    pub give_or_take_nm: Length,
    /// The number of turns that it was computed from.
    pub trials: u32,
}

impl Earlier {
    /// Returns the final reading of a measure on a subject and its place, or `None` if there is none.
    ///
    /// A reading in the piano takes precedence over one on the bench.
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
