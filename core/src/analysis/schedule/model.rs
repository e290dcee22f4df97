//! What goes into a schedule and what comes out of it.

use std::fmt;

/// The most steps that are planned.
pub(super) const MAX_STEPS: usize = 250;

/// The minutes of a day.
pub(in crate::analysis) const DAY: i64 = 24 * 60;

/// One step of the job.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Task {
    /// Working minutes that are left.
    pub minutes: u32,
    /// Minutes by the clock to wait after the work, such as a cure.
    pub wait: u32,
    /// The steps that must be done, waits and all, before this one: places in the list of steps.
    pub after: Vec<usize>,
    /// When its work ended, if it has; then `minutes` counts for nothing.
    pub done: Option<i64>,
}

/// The hours that are worked every day, as minutes after midnight.
///
/// ```
/// use evenhand_core::analysis::schedule::Hours;
///
/// let hours = Hours::new(8 * 60, 17 * 60)?;
/// // Two hours of work begun at four in the afternoon end at nine the next morning.
/// assert_eq!(hours.end(16 * 60, 120), (24 + 9) * 60);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hours {
    opens: i64,
    closes: i64,
}

impl Hours {
    /// From opening to closing.
    ///
    /// # Errors
    /// Refuses hours that do not close after they open on the same day.
    pub fn new(opens: u32, closes: u32) -> Result<Hours, ScheduleError> {
        let (opens, closes) = (i64::from(opens), i64::from(closes));
        if opens < closes && closes <= DAY {
            Ok(Hours { opens, closes })
        } else {
            Err(ScheduleError::Hours)
        }
    }

    /// When work can begin, in minutes after midnight.
    pub const fn opens(self) -> i64 {
        self.opens
    }

    /// When work ends, in minutes after midnight.
    pub const fn closes(self) -> i64 {
        self.closes
    }

    /// The first minute from `time` on at which work can begin.
    pub fn begin(self, time: i64) -> i64 {
        let midnight = time.div_euclid(DAY).saturating_mul(DAY);
        let minute = time.rem_euclid(DAY);
        if minute < self.opens {
            midnight.saturating_add(self.opens)
        } else if minute < self.closes {
            time
        } else {
            midnight.saturating_add(DAY + self.opens)
        }
    }

    /// When this much work ends if it begins at `time`, or as soon after it as work can begin.
    pub fn end(self, time: i64, minutes: u64) -> i64 {
        let start = self.begin(time);
        let minutes = i64::try_from(minutes).unwrap_or(i64::MAX);
        let midnight = start.div_euclid(DAY).saturating_mul(DAY);
        let left = self.closes - start.rem_euclid(DAY);
        if minutes <= left {
            return start.saturating_add(minutes);
        }
        let over = minutes - left;
        let length = self.closes - self.opens;
        let days = (over - 1) / length;
        let last = over - days * length;
        midnight
            .saturating_add((days + 1).saturating_mul(DAY))
            .saturating_add(self.opens + last)
    }
}

/// A step in the schedule.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Its place in the list of steps.
    pub step: usize,
    /// When its work begins.
    pub start: i64,
    /// When its work ends.
    pub end: i64,
    /// When its wait is over and what comes after it can begin.
    pub free: i64,
}

/// Why a step on the critical path does not begin earlier.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Because {
    /// It begins as soon as the technician does.
    Start,
    /// The technician is busy with this step until then.
    Busy(usize),
    /// This step must be done first, and its wait over.
    Follows(usize),
}

/// An order of the work, and when it is finished.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// The open steps in the order in which to do them.
    pub order: Vec<Placed>,
    /// When everything is done and every wait is over.
    pub finish: i64,
    /// No order can finish before this; if it is `finish` the schedule is the best there is.
    pub no_earlier_than: i64,
    /// The chain of steps that sets the finish, first to last: make one of them shorter, or
    /// begin it earlier, to finish earlier.
    pub critical: Vec<(usize, Because)>,
}

impl Schedule {
    /// The step to begin with so that the job finishes soonest.
    pub fn first(&self) -> Option<usize> {
        self.order.first().map(|p| p.step)
    }

    /// Whether no other order finishes earlier.
    pub fn is_best(&self) -> bool {
        self.finish == self.no_earlier_than
    }

    /// The work of each day that has any, with each step's part in it. At most a year of days.
    ///
    /// ```
    /// use evenhand_core::analysis::schedule::{Hours, Task, schedule};
    ///
    /// let hours = Hours::new(8 * 60, 17 * 60)?;
    /// let steps = [Task { minutes: 120, ..Task::default() }];
    /// let days = schedule(&steps, 16 * 60, hours)?.days(hours);
    /// assert_eq!(days.len(), 2);
    /// assert_eq!(days[1].pieces[0], (0, (24 + 8) * 60, (24 + 9) * 60));
    /// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
    /// ```
    pub fn days(&self, hours: Hours) -> Vec<Day> {
        let mut days: Vec<Day> = Vec::new();
        for placed in &self.order {
            let mut from = placed.start;
            while from < placed.end && days.len() <= 366 {
                let day = from.div_euclid(DAY);
                let to = placed.end.min(day * DAY + hours.closes).max(from + 1);
                if days.last().is_none_or(|d| d.day != day) {
                    days.push(Day {
                        day,
                        pieces: Vec::new(),
                    });
                }
                if let Some(last) = days.last_mut() {
                    last.pieces.push((placed.step, from, to));
                }
                from = hours.begin(to);
            }
        }
        days.truncate(366);
        days
    }
}

/// One day of the schedule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Day {
    /// The day, 0 for the first on the clock.
    pub day: i64,
    /// Task, from and to, in order.
    pub pieces: Vec<(usize, i64, i64)>,
}

/// Why there is no schedule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ScheduleError {
    /// The hours do not close after they open.
    Hours,
    /// This step comes after one that does not exist.
    Unknown(usize),
    /// These steps wait for each other, or for ones that do.
    Circle(Vec<usize>),
    /// More steps than are planned.
    TooMany,
}

impl fmt::Display for ScheduleError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            ScheduleError::Hours => write!(
                f,
                "The working day must end after it begins, on the same day. Set the hours, such as 8:00 to 17:00."
            ),
            ScheduleError::Unknown(step) => write!(
                f,
                "Step {} comes after a step that is not in the job. Take that step in, or take the requirement out.",
                step + 1
            ),
            ScheduleError::Circle(steps) => {
                let numbers: Vec<String> = steps.iter().map(|s| (s + 1).to_string()).collect();
                write!(
                    f,
                    "Steps {} wait for each other, so none of them can begin. Take out one of the requirements.",
                    numbers.join(", ")
                )
            }
            ScheduleError::TooMany => {
                write!(
                    f,
                    "A plan holds at most {MAX_STEPS} steps. Join some of them."
                )
            }
        }
    }
}

impl std::error::Error for ScheduleError {}
