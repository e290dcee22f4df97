//! The input and the result of the schedule solver.

use std::fmt;

/// Largest number of steps in a schedule.
pub(super) const MAX_STEPS: usize = 250;

/// The minutes of a day.
pub(in crate::analysis) const DAY: i64 = 24 * 60;

/// One step to schedule. The default takes no time and depends on nothing.
///
/// ```
/// use evenhand_core::analysis::schedule::{OpeningHours, Task, schedule};
///
/// let glue = Task { minutes: 60, wait: 12 * 60, ..Task::default() };
/// let file = Task { minutes: 30, after: vec![0], ..Task::default() };
/// let schedule = schedule(&[glue, file], 8 * 60, OpeningHours::new(8 * 60, 17 * 60)?)?;
/// // Glued by 9:00 and dry at 21:00: filing starts the next morning.
/// assert_eq!(schedule.order[1].start, (24 + 8) * 60);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Task {
    /// Working minutes left.
    pub minutes: u32,
    /// Drying time after the work, in minutes of the clock.
    pub wait: u32,
    /// The steps that must be done and dry before this one, as indices.
    pub after: Vec<usize>,
    /// When its work ended, or `None` if it is open. If it ended, `minutes` is ignored.
    pub done: Option<i64>,
}

/// The working hours of every day, in minutes after midnight: 0 ≤ opens < closes ≤ 1440; and the days off. It has
/// no default.
///
/// ```
/// use evenhand_core::analysis::schedule::OpeningHours;
///
/// let hours = OpeningHours::new(8 * 60, 17 * 60)?;
/// // Two hours of work begun at four in the afternoon end at nine the next morning.
/// assert_eq!(hours.end(16 * 60, 120), (24 + 9) * 60);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OpeningHours {
    /// In minutes after midnight.
    opens: i64,
    closes: i64,
    /// The days off among seven, from the first day of the schedule. Never all.
    off: [bool; 7],
}

impl OpeningHours {
    /// Creates working hours.
    ///
    /// # Errors
    /// [`ScheduleError::Hours`] if they do not close after they open on the same day.
    pub fn new(opens: u32, closes: u32) -> Result<OpeningHours, ScheduleError> {
        let (opens, closes) = (i64::from(opens), i64::from(closes));
        if opens < closes && closes <= DAY {
            Ok(OpeningHours {
                opens,
                closes,
                off: [false; 7],
            })
        } else {
            Err(ScheduleError::Hours)
        }
    }

    /// Returns the same hours with days off: of seven days, from the first day of the schedule on, in each week alike.
    /// If all seven are off, none is, since no work would ever end.
    ///
    /// ```
    /// use evenhand_core::analysis::schedule::OpeningHours;
    ///
    /// let tomorrow_off = [false, true, false, false, false, false, false];
    /// let hours = OpeningHours::new(8 * 60, 17 * 60)?.without(tomorrow_off);
    /// // Two hours of work begun at four in the afternoon end at nine on the day after tomorrow.
    /// assert_eq!(hours.end(16 * 60, 120), (48 + 9) * 60);
    /// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
    /// ```
    pub fn without(self, off: [bool; 7]) -> OpeningHours {
        let off = if off == [true; 7] { [false; 7] } else { off };
        OpeningHours { off, ..self }
    }

    fn is_off(self, day: i64) -> bool {
        self.off[day.rem_euclid(7) as usize]
    }

    /// Returns when work can begin, in minutes after midnight.
    pub const fn opens(self) -> i64 {
        self.opens
    }

    /// Returns when work ends, in minutes after midnight.
    pub const fn closes(self) -> i64 {
        self.closes
    }

    /// Returns the first minute from `time` on that is within working hours.
    pub fn begin(self, time: i64) -> i64 {
        let midnight = time.div_euclid(DAY).saturating_mul(DAY);
        let minute = time.rem_euclid(DAY);
        let mut start = if minute < self.opens {
            midnight.saturating_add(self.opens)
        } else if minute < self.closes {
            time
        } else {
            midnight.saturating_add(DAY + self.opens)
        };
        // At most six days off follow each other.
        for _ in 0..6 {
            if self.is_off(start.div_euclid(DAY)) {
                let midnight = start.div_euclid(DAY).saturating_mul(DAY);
                start = midnight.saturating_add(DAY + self.opens);
            }
        }
        start
    }

    /// Returns when this much work ends if it starts at `time` or at the next working hour.
    /// Saturates.
    pub fn end(self, time: i64, minutes: u64) -> i64 {
        let start = self.begin(time);
        let minutes = i64::try_from(minutes).unwrap_or(i64::MAX);
        // Above 0, unless the start is as late as can be.
        let left = (self.closes - start.rem_euclid(DAY)).max(0);
        if minutes <= left {
            return start.saturating_add(minutes);
        }
        let length = self.closes - self.opens;
        let days = self.off.iter().filter(|off| !**off).count() as i64;
        // Whole weeks first, so that some work is left for the last.
        let weeks = (minutes - left - 1) / (length * days);
        let mut over = minutes - left - weeks * length * days;
        let first = start
            .div_euclid(DAY)
            .saturating_add(weeks.saturating_mul(7));
        for day in 1..=7 {
            let day = first.saturating_add(day);
            if self.is_off(day) {
                continue;
            }
            if over <= length {
                return day.saturating_mul(DAY).saturating_add(self.opens + over);
            }
            over -= length;
        }
        i64::MAX
    }
}

/// A step in the schedule. Times are in minutes from midnight before the first day, with start ≤ end ≤ free. It has
/// no default.
///
/// ```
/// use evenhand_core::analysis::schedule::{OpeningHours, Placed, Task, schedule};
///
/// let glue = Task { minutes: 60, wait: 120, ..Task::default() };
/// let found = schedule(&[glue], 0, OpeningHours::new(8 * 60, 17 * 60)?)?;
/// assert_eq!(found.order, [Placed { step: 0, start: 8 * 60, end: 9 * 60, free: 11 * 60 }]);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placed {
    /// Its index in the list of steps.
    pub step: usize,
    /// When its work starts.
    pub start: i64,
    /// When its work ends.
    pub end: i64,
    /// When its drying time is over and dependent steps can start.
    pub free: i64,
}

/// Why a step on the critical path does not start earlier. There is no default.
///
/// ```
/// use evenhand_core::analysis::schedule::{Because, OpeningHours, Task, schedule};
///
/// let hours = OpeningHours::new(8 * 60, 17 * 60)?;
/// let second = |after| {
///     let glue = Task { minutes: 60, wait: 30, ..Task::default() };
///     let file = Task { minutes: 60, after, ..Task::default() };
///     schedule(&[glue, file], 0, hours).unwrap().critical[1].1
/// };
/// assert_eq!(second(vec![0]), Because::Follows(0));
/// assert_eq!(second(vec![]), Because::Busy(0));
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Because {
    /// It starts as soon as the technician does.
    Start,
    /// The technician is busy with this step until then.
    Busy(usize),
    /// This step must be done and dry first.
    Follows(usize),
}

/// An order of the work, and when it finishes. [`schedule`](super::schedule()) computes it; times
/// are in minutes from midnight before the first day.
///
/// ```
/// use evenhand_core::analysis::schedule::{Because, OpeningHours, Task, schedule};
///
/// let task = Task { minutes: 60, ..Task::default() };
/// let steps = [task.clone(), Task { after: vec![0], ..task }];
/// let found = schedule(&steps, 8 * 60, OpeningHours::new(8 * 60, 17 * 60)?)?;
/// assert_eq!(found.finish, 10 * 60);
/// assert_eq!(found.critical[0], (0, Because::Start));
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    /// The open steps, in the order to do them.
    pub order: Vec<Placed>,
    /// When everything is done and dry.
    pub finish: i64,
    /// A lower bound for the finish of any order. If it equals `finish`, the schedule is optimal.
    pub no_earlier_than: i64,
    /// The critical path, first to last: shorten one of these steps, or start it earlier, to finish
    /// earlier.
    pub critical: Vec<(usize, Because)>,
}

impl Schedule {
    /// Returns the step to start with, or `None` if no step is open.
    pub fn first(&self) -> Option<usize> {
        self.order.first().map(|p| p.step)
    }

    /// Returns whether it is proven that no other order finishes earlier.
    pub fn is_best(&self) -> bool {
        self.finish == self.no_earlier_than
    }

    /// Returns the work of each day that has any, with the part of each step in it, for at most 366
    /// days.
    ///
    /// ```
    /// use evenhand_core::analysis::schedule::{OpeningHours, Task, schedule};
    ///
    /// let hours = OpeningHours::new(8 * 60, 17 * 60)?;
    /// let steps = [Task { minutes: 120, ..Task::default() }];
    /// let days = schedule(&steps, 16 * 60, hours)?.days(hours);
    /// assert_eq!(days.len(), 2);
    /// assert_eq!(days[1].pieces[0], (0, (24 + 8) * 60, (24 + 9) * 60));
    /// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
    /// ```
    pub fn days(&self, hours: OpeningHours) -> Vec<ScheduledDay> {
        let mut days: Vec<ScheduledDay> = Vec::new();
        for placed in &self.order {
            let mut from = placed.start;
            while from < placed.end && days.len() <= 366 {
                let day = from.div_euclid(DAY);
                let to = placed.end.min(day * DAY + hours.closes).max(from + 1);
                if days.last().is_none_or(|d| d.day != day) {
                    days.push(ScheduledDay {
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

/// One day of the schedule, with one piece of work or more. [`Schedule::days`] lists them; it has no default.
///
/// ```
/// use evenhand_core::analysis::schedule::{OpeningHours, ScheduledDay, Task, schedule};
///
/// let hours = OpeningHours::new(8 * 60, 17 * 60)?;
/// let task = Task { minutes: 60, ..Task::default() };
/// let days = schedule(&[task], 0, hours)?.days(hours);
/// assert_eq!(days, [ScheduledDay { day: 0, pieces: vec![(0, 8 * 60, 9 * 60)] }]);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScheduledDay {
    /// The day, 0 for the first.
    pub day: i64,
    /// Index of the step, from and to in minutes, in order.
    pub pieces: Vec<(usize, i64, i64)>,
}

/// Why there is no schedule. Its text is a sentence for a technician.
///
/// ```
/// use evenhand_core::analysis::schedule::{OpeningHours, ScheduleError, Task, schedule};
///
/// let hours = OpeningHours::new(8 * 60, 17 * 60)?;
/// let waits_for_itself = Task { after: vec![0], ..Task::default() };
/// let refused = schedule(&[waits_for_itself], 0, hours);
/// assert_eq!(refused, Err(ScheduleError::Circle(vec![0])));
/// assert_eq!(OpeningHours::new(17 * 60, 8 * 60), Err(ScheduleError::Hours));
/// # Ok::<(), ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ScheduleError {
    /// The hours do not close after they open.
    Hours,
    /// This step comes after one that does not exist.
    Unknown(usize),
    /// These steps wait for each other, or for ones that do.
    Circle(Vec<usize>),
    /// More than 250 steps.
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
                    "Steps {} each need another of them first, so none can begin. Take out one of the requirements.",
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
