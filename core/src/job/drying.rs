//! Drying time of a step.

use super::LogPosition;

/// A drying time of a step: started by an entry, over at a wall time or when it is ended early.
///
/// All times are in milliseconds since 1970 (UTC) by the wall clock, so that a clock set back makes
/// it longer, never shorter. It has no default and no order.
///
/// ```
/// use evenhand_core::job::Drying;
///
/// let wait = Drying { from_ms: 0, until_ms: 90_000, ended: None };
/// assert_eq!(wait.minutes_left(20_000), 2);
/// assert!(wait.is_over(90_000));
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Drying {
    /// When it started, in milliseconds since 1970 (UTC).
    pub from_ms: i64,
    /// When it is over, in milliseconds since 1970 (UTC).
    pub until_ms: i64,
    /// The reason for ending it early, or `None` if it was not.
    pub ended: Option<String>,
}

impl Drying {
    /// Returns `true` if it is over at `now_ms` (since 1970, UTC) or was ended early.
    pub fn is_over(&self, now_ms: i64) -> bool {
        self.ended.is_some() || now_ms >= self.until_ms
    }

    /// Returns the minutes left at `now_ms` (since 1970, UTC), rounded up; 0 if it is over.
    pub fn minutes_left(&self, now_ms: i64) -> i64 {
        if self.is_over(now_ms) {
            return 0;
        }
        // `until_ms` is above `now_ms` here, so the difference is positive.
        self.until_ms.saturating_sub(now_ms).saturating_add(59_999) / 60_000
    }
}

/// The entries about the drying time of one step, in log order.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct DryingTimes {
    events: Vec<(LogPosition, DryingEvent, bool)>,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum DryingEvent {
    Started { at_ms: i64, minutes: u32 },
    Ended(String),
}

impl DryingTimes {
    pub fn add(&mut self, position: LogPosition, event: DryingEvent, alive: bool) {
        self.events.push((position, event, alive));
    }

    pub fn set_alive(&mut self, position: LogPosition, alive: bool) {
        if let Some(event) = self.events.iter_mut().rfind(|e| e.0 == position) {
            event.2 = alive;
        }
    }

    /// Returns the drying time started last, or `None` if there is none.
    pub fn current(&self) -> Option<Drying> {
        let mut current = None;
        for (_, event, _) in self.events.iter().filter(|e| e.2) {
            match (event, &mut current) {
                (DryingEvent::Started { at_ms, minutes }, _) => {
                    current = Some(Drying {
                        from_ms: *at_ms,
                        until_ms: at_ms.saturating_add(i64::from(*minutes) * 60_000),
                        ended: None,
                    });
                }
                (DryingEvent::Ended(reason), Some(wait)) => wait.ended = Some(reason.clone()),
                (DryingEvent::Ended(_), None) => {}
            }
        }
        current
    }
}
