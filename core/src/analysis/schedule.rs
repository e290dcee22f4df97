//! The schedule solver: when the job can be finished, from the steps, their dependencies, drying
//! times and working hours.
//!
//! One technician does one step at a time. A step that does not fit into the day continues the next
//! morning. A drying time starts when the work of its step ends and runs day and night; a dependent
//! step starts after it. The job is finished when the last work is done and the last drying time is
//! over.
//!
//! Times are whole minutes; 0 is midnight before the first day.

mod model;
mod search;

pub(super) use model::DAY;
pub use model::{Because, OpeningHours, Placed, Schedule, ScheduleError, ScheduledDay, Task};

use model::MAX_STEPS;
use search::{MAX_LOOKED_AT, Search};

/// The status of a step. Steps are given as indices.
///
/// ```
/// use evenhand_core::analysis::schedule::{Stands, Task, stands};
///
/// let second = Task { after: vec![0], ..Task::default() };
/// let now = stands(&[Task::default(), second], 0)?;
/// assert_eq!(now, [Stands::Ready, Stands::Behind(vec![0])]);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stands {
    /// Its work is done.
    Done,
    /// It can be started.
    Ready,
    /// Everything before it is done; the drying time of this step runs until that minute.
    Waits(usize, i64),
    /// These steps must be done first.
    Behind(Vec<usize>),
}

/// Returns the status of every step at the minute `now`.
///
/// # Errors
/// As [`schedule`].
///
/// ```
/// use evenhand_core::analysis::schedule::{Stands, Task, stands};
///
/// let cauls_in = Task { minutes: 120, wait: 12 * 60, after: vec![], done: Some(1000) };
/// let cauls_out = Task { minutes: 30, wait: 0, after: vec![0], done: None };
/// let now = stands(&[cauls_in, cauls_out], 1100)?;
/// assert_eq!(now, [Stands::Done, Stands::Waits(0, 1720)]);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn stands(steps: &[Task], now: i64) -> Result<Vec<Stands>, ScheduleError> {
    sorted(steps)?;
    let standing = |step: &Task| {
        if step.done.is_some() {
            return Stands::Done;
        }
        let open = |i: &usize| steps[*i].done.is_none();
        let mut behind: Vec<usize> = step.after.iter().copied().filter(open).collect();
        behind.sort_unstable();
        behind.dedup();
        if !behind.is_empty() {
            return Stands::Behind(behind);
        }
        let free = |i: usize| Some((steps[i].done?.saturating_add(i64::from(steps[i].wait)), i));
        match step.after.iter().filter_map(|i| free(*i)).max() {
            Some((until, of)) if until > now => Stands::Waits(of, until),
            _ => Stands::Ready,
        }
    };
    Ok(steps.iter().map(standing).collect())
}

/// Returns an order of the open steps that finishes as early as possible, from the minute `now` on.
///
/// **Rule**: branch and bound over the active schedules (P: Giffler and Thompson 1960: no step
/// starts while another could be finished before it). The first order tried takes the step that can
/// start first and, of those, the one with the longest chain to the finish.
/// **Range**: proven optimal for up to six open steps, and for most real jobs, since a bound shows
/// that nothing is better; beyond that the best of about 2,000 partial orders, with the bound in
/// [`Schedule::no_earlier_than`].
///
/// # Errors
/// [`ScheduleError`] if steps wait for each other in a circle, if one waits for a step that does
/// not exist, or if there are more than 250.
///
/// ```
/// use evenhand_core::analysis::schedule::{OpeningHours, Task, schedule};
///
/// let cauls = Task { minutes: 120, wait: 12 * 60, ..Task::default() };
/// let knuckles = Task { minutes: 60, ..Task::default() };
/// let cauls_out = Task { minutes: 30, after: vec![1], ..Task::default() };
/// let best = schedule(&[knuckles, cauls, cauls_out], 8 * 60, OpeningHours::new(8 * 60, 17 * 60)?)?;
/// // The drying time runs overnight, so the cauls go in first.
/// assert_eq!(best.first(), Some(1));
/// assert!(best.is_best());
/// assert_eq!(best.finish, (24 + 8) * 60 + 30);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn schedule(steps: &[Task], now: i64, hours: OpeningHours) -> Result<Schedule, ScheduleError> {
    let sorted = sorted(steps)?;
    let now = clamped(now);
    let mut search = Search::new(steps, sorted, now, hours);
    let bound = search.bound(now);
    search.try_next(now, &mut Vec::new());
    let order = search.best.map(|(_, order)| order).unwrap_or_default();
    let finish = order.iter().map(|p| p.free).max();
    let finish = finish
        .into_iter()
        .chain(search.waiting)
        .max()
        .unwrap_or(now);
    let no_earlier_than = if search.looked_at < MAX_LOOKED_AT {
        finish
    } else {
        bound.min(finish)
    };
    Ok(Schedule {
        critical: critical(steps, &order, now, hours),
        order,
        finish,
        no_earlier_than,
    })
}

/// Limits a time to about ±2 thousand million years, so that sums do not overflow.
fn clamped(now: i64) -> i64 {
    now.clamp(-1_000_000_000_000_000, 1_000_000_000_000_000)
}

/// Returns a schedule that finishes as early as [`schedule`] does and keeps to the given order of
/// the steps as far as that costs no time.
///
/// **Rule**: it takes the first step in the given order after which the rest can still finish in
/// time, by the bound; if the result is late after all, it returns the order of [`schedule`].
///
/// # Errors
/// As [`schedule`].
///
/// ```
/// use evenhand_core::analysis::schedule::{OpeningHours, Task, schedule_in_order};
///
/// let tops = Task { minutes: 30, ..Task::default() };
/// let knuckles = Task { minutes: 60, ..Task::default() };
/// let hours = OpeningHours::new(8 * 60, 17 * 60)?;
/// // Without a drying time no other order is faster than the usual one.
/// let schedule = schedule_in_order(&[tops, knuckles], 8 * 60, hours)?;
/// assert_eq!(schedule.first(), Some(0));
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn schedule_in_order(
    steps: &[Task],
    now: i64,
    hours: OpeningHours,
) -> Result<Schedule, ScheduleError> {
    let best = schedule(steps, now, hours)?;
    let now = clamped(now);
    let mut search = Search::new(steps, sorted(steps)?, now, hours);
    let mut order: Vec<Placed> = Vec::new();
    let mut at = now;
    while let Some(next) = search.take_first(at, best.finish) {
        at = next.end;
        order.push(next);
    }
    let in_time = order.iter().all(|p| p.free <= best.finish);
    if order.len() < best.order.len() || !in_time {
        return Ok(best);
    }
    Ok(Schedule {
        critical: critical(steps, &order, now, hours),
        order,
        ..best
    })
}

/// Returns the critical path: walks back from the step that ends last to what delayed each one.
fn critical(
    steps: &[Task],
    order: &[Placed],
    now: i64,
    hours: OpeningHours,
) -> Vec<(usize, Because)> {
    let free = |i: usize| match steps[i].done {
        Some(end) => end.saturating_add(i64::from(steps[i].wait)),
        None => order.iter().find(|p| p.step == i).map_or(now, |p| p.free),
    };
    let mut chain = Vec::new();
    let mut place = (0..order.len()).max_by_key(|i| order[*i].free);
    while let Some(i) = place {
        let placed = order[i];
        let held = steps[placed.step]
            .after
            .iter()
            .map(|b| (free(*b), *b))
            .max();
        let busy = i.checked_sub(1).map(|before| order[before]);
        let because = match (held, busy) {
            // What ends before working hours delays nothing.
            (_, None) if hours.begin(now) == placed.start => Because::Start,
            (Some((until, by)), _) if until > now && hours.begin(until) == placed.start => {
                Because::Follows(by)
            }
            (_, Some(before)) => Because::Busy(before.step),
            _ => Because::Start,
        };
        chain.push((placed.step, because));
        place = match because {
            Because::Start => None,
            Because::Busy(by) | Because::Follows(by) => {
                order[..i].iter().position(|p| p.step == by)
            }
        };
    }
    chain.reverse();
    chain
}

/// Returns the steps in topological order: none before one that it depends on.
///
/// # Errors
/// As [`schedule`].
fn sorted(steps: &[Task]) -> Result<Vec<usize>, ScheduleError> {
    if steps.len() > MAX_STEPS {
        return Err(ScheduleError::TooMany);
    }
    let mut left: Vec<usize> = (0..steps.len()).collect();
    let mut is_placed = vec![false; steps.len()];
    let mut sorted = Vec::with_capacity(steps.len());
    if let Some(i) = left
        .iter()
        .find(|i| steps[**i].after.iter().any(|b| *b >= steps.len()))
    {
        return Err(ScheduleError::Unknown(*i));
    }
    while !left.is_empty() {
        let before = left.len();
        left.retain(|&i| {
            let free = steps[i].after.iter().all(|b| is_placed[*b]);
            if free {
                is_placed[i] = true;
                sorted.push(i);
            }
            !free
        });
        if left.len() == before {
            return Err(ScheduleError::Circle(left));
        }
    }
    Ok(sorted)
}

#[cfg(test)]
mod tests;
