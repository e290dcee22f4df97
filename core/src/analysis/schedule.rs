//! When the job can be finished: steps, what must come before them, waits, and the day's hours.
//!
//! One technician does one step at a time. A step that does not fit into the day goes on the next
//! morning. A wait (a cure) begins when the step's work ends and runs by the clock, day and
//! night; whatever comes after the step also comes after its wait. The job is finished when
//! the last work is done and the last wait is over.
//!
//! Times are whole minutes on one clock on which 0 is midnight before the first day.

mod model;
mod search;

pub(super) use model::DAY;
pub use model::{Because, Day, Hours, Placed, Schedule, ScheduleError, Task};

use model::MAX_STEPS;
use search::{MAX_LOOKED_AT, Search};

/// How a step stands at this moment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Stands {
    /// Its work is done.
    Done,
    /// It can be begun.
    Ready,
    /// Everything before it is done; the wait after this step runs until then.
    Waits(usize, i64),
    /// These steps must be done first.
    Behind(Vec<usize>),
}

/// How every step stands at `now`: what can be done, what is curing until when, what is behind what.
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
        behind.sort();
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

/// Finds an order of the open steps that finishes as early as can be, from `now` on.
///
/// **Rule**: branch and bound over the active schedules (P: Giffler and Thompson 1960: a step is
/// never begun while another one could be finished before it). The first order tried takes
/// what can begin first and, of those, what has the longest way to the end behind it.
/// **Range**: the best order for certain up to six open steps, and for most real jobs, as a
/// bound shows that nothing is better; beyond that the best of some 2 000 partial orders, with
/// the bound beside it ([`Schedule::no_earlier_than`]).
///
/// # Errors
/// Refuses steps that wait for each other in a circle, or for a step that does not exist, and
/// more than 250 steps.
///
/// ```
/// use evenhand_core::analysis::schedule::{Hours, Task, schedule};
///
/// let cauls = Task { minutes: 120, wait: 12 * 60, ..Task::default() };
/// let knuckles = Task { minutes: 60, ..Task::default() };
/// let cauls_out = Task { minutes: 30, after: vec![1], ..Task::default() };
/// let best = schedule(&[knuckles, cauls, cauls_out], 8 * 60, Hours::new(8 * 60, 17 * 60)?)?;
/// // The cure runs overnight, so the cauls go in first.
/// assert_eq!(best.first(), Some(1));
/// assert!(best.is_best());
/// assert_eq!(best.finish, (24 + 8) * 60 + 30);
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn schedule(steps: &[Task], now: i64, hours: Hours) -> Result<Schedule, ScheduleError> {
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

/// A clock of some two thousand million years leaves room for every sum.
fn clamped(now: i64) -> i64 {
    now.clamp(-1_000_000_000_000_000, 1_000_000_000_000_000)
}

/// As [`schedule`], but of the orders that finish as early one that keeps to the order in which the
/// steps are given, as far as that costs no time.
///
/// **Rule**: the first step in the given order is taken whose choice still lets the rest finish
/// in time, as far as the bound can tell; where that ends late after all, the order of
/// [`schedule`] stands.
///
/// # Errors
/// As [`schedule`].
///
/// ```
/// use evenhand_core::analysis::schedule::{Hours, Task, schedule_in_order};
///
/// let tops = Task { minutes: 30, ..Task::default() };
/// let knuckles = Task { minutes: 60, ..Task::default() };
/// let hours = Hours::new(8 * 60, 17 * 60)?;
/// // Nothing cures, so nothing is won by another order than the one that is usual.
/// let schedule = schedule_in_order(&[tops, knuckles], 8 * 60, hours)?;
/// assert_eq!(schedule.first(), Some(0));
/// # Ok::<(), evenhand_core::analysis::schedule::ScheduleError>(())
/// ```
pub fn schedule_in_order(
    steps: &[Task],
    now: i64,
    hours: Hours,
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

/// Walks back from the step that is over last to what held each one up.
fn critical(steps: &[Task], order: &[Placed], now: i64, hours: Hours) -> Vec<(usize, Because)> {
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
            // What is over before the day opens holds nothing up.
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

/// The steps in an order in which none stands before one that it comes after.
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
