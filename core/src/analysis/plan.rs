//! When the job can be finished: steps, what must come before them, waits, and the day's hours.
//!
//! One technician does one step at a time. A step that does not fit into the day goes on the next
//! morning. A wait (a cure) begins when the step's work ends and runs by the clock, day and
//! night; whatever comes after the step also comes after its wait. The job is finished when
//! the last work is done and the last wait is over.
//!
//! Times are whole minutes on one clock on which 0 is midnight before the first day.

use std::cmp::Reverse;
use std::fmt;

/// The minutes of a day.
pub(super) const DAY: i64 = 24 * 60;

/// One step of the job.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Step {
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
/// use evenhand_core::analysis::plan::Hours;
///
/// let hours = Hours::new(8 * 60, 17 * 60)?;
/// // Two hours of work begun at four in the afternoon end at nine the next morning.
/// assert_eq!(hours.end(16 * 60, 120), (24 + 9) * 60);
/// # Ok::<(), evenhand_core::analysis::plan::PlanError>(())
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
    pub fn new(opens: u32, closes: u32) -> Result<Hours, PlanError> {
        let (opens, closes) = (i64::from(opens), i64::from(closes));
        if opens < closes && closes <= DAY {
            Ok(Hours { opens, closes })
        } else {
            Err(PlanError::Hours)
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

/// A step in the plan.
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
pub struct Plan {
    /// The open steps in the order in which to do them.
    pub order: Vec<Placed>,
    /// When everything is done and every wait is over.
    pub finish: i64,
    /// No order can finish before this; if it is `finish` the plan is the best there is.
    pub no_earlier_than: i64,
    /// The chain of steps that sets the finish, first to last: make one of them shorter, or
    /// begin it earlier, to finish earlier.
    pub critical: Vec<(usize, Because)>,
}

impl Plan {
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
    /// use evenhand_core::analysis::plan::{Hours, Step, plan};
    ///
    /// let hours = Hours::new(8 * 60, 17 * 60)?;
    /// let steps = [Step { minutes: 120, ..Step::default() }];
    /// let days = plan(&steps, 16 * 60, hours)?.days(hours);
    /// assert_eq!(days.len(), 2);
    /// assert_eq!(days[1].pieces[0], (0, (24 + 8) * 60, (24 + 9) * 60));
    /// # Ok::<(), evenhand_core::analysis::plan::PlanError>(())
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

/// One day of the plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Day {
    /// The day, 0 for the first on the clock.
    pub day: i64,
    /// Step, from and to, in order.
    pub pieces: Vec<(usize, i64, i64)>,
}

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
/// As [`plan`].
///
/// ```
/// use evenhand_core::analysis::plan::{Stands, Step, stands};
///
/// let cauls_in = Step { minutes: 120, wait: 12 * 60, after: vec![], done: Some(1000) };
/// let cauls_out = Step { minutes: 30, wait: 0, after: vec![0], done: None };
/// let now = stands(&[cauls_in, cauls_out], 1100)?;
/// assert_eq!(now, [Stands::Done, Stands::Waits(0, 1720)]);
/// # Ok::<(), evenhand_core::analysis::plan::PlanError>(())
/// ```
pub fn stands(steps: &[Step], now: i64) -> Result<Vec<Stands>, PlanError> {
    sorted(steps)?;
    let standing = |step: &Step| {
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

/// How many partial orders are looked at before the best so far is taken.
const LOOKED_AT: u32 = 2_000;

/// The most steps that are planned.
const MOST_STEPS: usize = 250;

/// Finds an order of the open steps that finishes as early as can be, from `now` on.
///
/// **Rule**: branch and bound over the active schedules (P: Giffler and Thompson 1960: a step is
/// never begun while another one could be finished before it). The first order tried takes
/// what can begin first and, of those, what has the longest way to the end behind it.
/// **Range**: the best order for certain up to six open steps, and for most real jobs, as a
/// bound shows that nothing is better; beyond that the best of some 2 000 partial orders, with
/// the bound beside it ([`Plan::no_earlier_than`]).
///
/// # Errors
/// Refuses steps that wait for each other in a circle, or for a step that does not exist, and
/// more than 250 steps.
///
/// ```
/// use evenhand_core::analysis::plan::{Hours, Step, plan};
///
/// let cauls = Step { minutes: 120, wait: 12 * 60, ..Step::default() };
/// let knuckles = Step { minutes: 60, ..Step::default() };
/// let cauls_out = Step { minutes: 30, after: vec![1], ..Step::default() };
/// let best = plan(&[knuckles, cauls, cauls_out], 8 * 60, Hours::new(8 * 60, 17 * 60)?)?;
/// // The cure runs overnight, so the cauls go in first.
/// assert_eq!(best.first(), Some(1));
/// assert!(best.is_best());
/// assert_eq!(best.finish, (24 + 8) * 60 + 30);
/// # Ok::<(), evenhand_core::analysis::plan::PlanError>(())
/// ```
pub fn plan(steps: &[Step], now: i64, hours: Hours) -> Result<Plan, PlanError> {
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
    let no_earlier_than = if search.looked_at < LOOKED_AT {
        finish
    } else {
        bound.min(finish)
    };
    Ok(Plan {
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

/// As [`plan`], but of the orders that finish as early one that keeps to the order in which the
/// steps are given, as far as that costs no time.
///
/// **Rule**: the first step in the given order is taken whose choice still lets the rest finish
/// in time, as far as the bound can tell; where that ends late after all, the order of
/// [`plan`] stands.
///
/// # Errors
/// As [`plan`].
///
/// ```
/// use evenhand_core::analysis::plan::{Hours, Step, plan_in_order};
///
/// let tops = Step { minutes: 30, ..Step::default() };
/// let knuckles = Step { minutes: 60, ..Step::default() };
/// let hours = Hours::new(8 * 60, 17 * 60)?;
/// // Nothing cures, so nothing is won by another order than the one that is usual.
/// let plan = plan_in_order(&[tops, knuckles], 8 * 60, hours)?;
/// assert_eq!(plan.first(), Some(0));
/// # Ok::<(), evenhand_core::analysis::plan::PlanError>(())
/// ```
pub fn plan_in_order(steps: &[Step], now: i64, hours: Hours) -> Result<Plan, PlanError> {
    let best = plan(steps, now, hours)?;
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
    Ok(Plan {
        critical: critical(steps, &order, now, hours),
        order,
        ..best
    })
}

/// The search for the best order.
struct Search<'a> {
    steps: &'a [Step],
    hours: Hours,
    /// The steps so that none stands before one that it comes after.
    sorted: Vec<usize>,
    /// Minutes from the end of each step to the end of the job, by the longest chain.
    tails: Vec<u64>,
    /// Of each step, when what comes after it can begin; nothing while it is not placed.
    free: Vec<Option<i64>>,
    /// When the waits of steps already done are over, as far as they are still to come.
    waiting: Option<i64>,
    looked_at: u32,
    best: Option<(i64, Vec<Placed>)>,
}

impl Search<'_> {
    fn new(steps: &[Step], sorted: Vec<usize>, now: i64, hours: Hours) -> Search<'_> {
        let mut tails = vec![0u64; steps.len()];
        for &i in sorted.iter().rev() {
            let way = tails[i] + u64::from(steps[i].wait) + u64::from(steps[i].minutes);
            for &before in &steps[i].after {
                tails[before] = tails[before].max(way);
            }
        }
        let free: Vec<Option<i64>> = steps
            .iter()
            .map(|s| Some(s.done?.saturating_add(i64::from(s.wait))))
            .collect();
        let waiting = free.iter().copied().flatten().filter(|f| *f > now).max();
        Search {
            steps,
            hours,
            sorted,
            tails,
            free,
            waiting,
            looked_at: 0,
            best: None,
        }
    }

    /// When a step's work begins and ends if nothing but what comes before it holds it up.
    fn earliest(&self, step: usize, now: i64, free: &[Option<i64>]) -> Option<Placed> {
        let mut ready = now;
        for &before in &self.steps[step].after {
            ready = ready.max(free[before]?);
        }
        let start = self.hours.begin(ready);
        let end = self.hours.end(start, u64::from(self.steps[step].minutes));
        Some(Placed {
            step,
            start,
            end,
            free: end.saturating_add(i64::from(self.steps[step].wait)),
        })
    }

    /// No order of what is not placed yet finishes before this, with the technician free at `now`.
    fn bound(&self, now: i64) -> i64 {
        let mut free = self.free.clone();
        let mut minutes = 0u64;
        let mut shortest_wait = u32::MAX;
        for &i in &self.sorted {
            if free[i].is_none() {
                minutes += u64::from(self.steps[i].minutes);
                shortest_wait = shortest_wait.min(self.steps[i].wait);
                free[i] = self.earliest(i, now, &free).map(|p| p.free);
            }
        }
        let chains = free.into_iter().flatten().max().unwrap_or(now);
        if shortest_wait == u32::MAX {
            return chains;
        }
        let work = self.hours.end(now, minutes);
        chains.max(work.saturating_add(i64::from(shortest_wait)))
    }

    /// Places the first step in the given order after which the rest can still finish in time.
    fn take_first(&mut self, now: i64, finish: i64) -> Option<Placed> {
        for i in 0..self.steps.len() {
            if self.free[i].is_some() {
                continue;
            }
            let Some(placed) = self.earliest(i, now, &self.free) else {
                continue;
            };
            self.free[i] = Some(placed.free);
            if placed.free <= finish && self.bound(placed.end) <= finish {
                return Some(placed);
            }
            self.free[i] = None;
        }
        None
    }

    /// Tries every next step after those placed, the most promising first.
    fn try_next(&mut self, now: i64, placed: &mut Vec<Placed>) {
        self.looked_at += 1;
        let bound = self.bound(now);
        if self
            .best
            .as_ref()
            .is_some_and(|(finish, _)| bound >= *finish)
        {
            return;
        }
        let mut next: Vec<Placed> = (0..self.steps.len())
            .filter(|i| self.free[*i].is_none())
            .filter_map(|i| self.earliest(i, now, &self.free))
            .collect();
        if next.is_empty() {
            self.best = Some((bound, placed.clone()));
            return;
        }
        let first_end = next.iter().map(|p| (p.end, p.step)).min();
        next.retain(|p| first_end.is_some_and(|(end, step)| p.start < end || p.step == step));
        next.sort_by_key(|p| {
            let way = self.tails[p.step] + u64::from(self.steps[p.step].wait);
            (p.start, Reverse(way), p.step)
        });
        for candidate in next {
            if self.looked_at >= LOOKED_AT && self.best.is_some() {
                return;
            }
            self.free[candidate.step] = Some(candidate.free);
            placed.push(candidate);
            self.try_next(candidate.end, placed);
            placed.pop();
            self.free[candidate.step] = None;
        }
    }
}

/// Walks back from the step that is over last to what held each one up.
fn critical(steps: &[Step], order: &[Placed], now: i64, hours: Hours) -> Vec<(usize, Because)> {
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
fn sorted(steps: &[Step]) -> Result<Vec<usize>, PlanError> {
    if steps.len() > MOST_STEPS {
        return Err(PlanError::TooMany);
    }
    let mut left: Vec<usize> = (0..steps.len()).collect();
    let mut is_placed = vec![false; steps.len()];
    let mut sorted = Vec::with_capacity(steps.len());
    if let Some(i) = left
        .iter()
        .find(|i| steps[**i].after.iter().any(|b| *b >= steps.len()))
    {
        return Err(PlanError::Unknown(*i));
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
            return Err(PlanError::Circle(left));
        }
    }
    Ok(sorted)
}

/// Why there is no plan.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlanError {
    /// The hours do not close after they open.
    Hours,
    /// This step comes after one that does not exist.
    Unknown(usize),
    /// These steps wait for each other, or for ones that do.
    Circle(Vec<usize>),
    /// More steps than are planned.
    TooMany,
}

impl fmt::Display for PlanError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PlanError::Hours => write!(
                f,
                "The working day must end after it begins, on the same day. Set the hours, such as 8:00 to 17:00."
            ),
            PlanError::Unknown(step) => write!(
                f,
                "Step {} comes after a step that is not in the job. Take that step in, or take the requirement out.",
                step + 1
            ),
            PlanError::Circle(steps) => {
                let numbers: Vec<String> = steps.iter().map(|s| (s + 1).to_string()).collect();
                write!(
                    f,
                    "Steps {} wait for each other, so none of them can begin. Take out one of the requirements.",
                    numbers.join(", ")
                )
            }
            PlanError::TooMany => {
                write!(
                    f,
                    "A plan holds at most {MOST_STEPS} steps. Join some of them."
                )
            }
        }
    }
}

impl std::error::Error for PlanError {}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn day() -> Hours {
        Hours::new(8 * 60, 17 * 60).unwrap()
    }

    fn step(minutes: u32, wait: u32, after: &[usize]) -> Step {
        Step {
            minutes,
            wait,
            after: after.to_vec(),
            done: None,
        }
    }

    #[test]
    fn work_stops_at_closing_and_goes_on_at_opening() {
        assert_eq!(day().begin(0), 8 * 60);
        assert_eq!(day().begin(17 * 60), (24 + 8) * 60);
        assert_eq!(day().end(8 * 60, 9 * 60), 17 * 60);
        assert_eq!(day().end(8 * 60, 9 * 60 + 1), (24 + 8) * 60 + 1);
        assert_eq!(day().end(16 * 60, 60 + 2 * 9 * 60), (48 + 17) * 60);
        assert_eq!(day().begin(-1), 8 * 60);
        assert!(Hours::new(17 * 60, 8 * 60).is_err() && Hours::new(0, 24 * 60 + 1).is_err());
    }

    #[test]
    fn a_cure_over_night_costs_no_working_time() {
        // Cauls in, cure 12 h, cauls out; enough other work for the day.
        let steps = [step(120, 720, &[]), step(30, 0, &[0]), step(400, 0, &[])];
        let best = plan(&steps, 8 * 60, day()).unwrap();
        assert_eq!(best.first(), Some(0));
        assert_eq!(best.finish, (24 + 8) * 60 + 30);
        assert!(best.is_best());
    }

    #[test]
    fn the_critical_path_names_what_holds_the_job_up() {
        let steps = [step(120, 720, &[]), step(30, 0, &[0]), step(60, 0, &[])];
        let best = plan(&steps, 8 * 60, day()).unwrap();
        assert_eq!(
            best.critical,
            [(0, Because::Start), (1, Because::Follows(0))]
        );
        let chain = [step(60, 0, &[]), step(60, 0, &[])];
        let busy = plan(&chain, 8 * 60, day()).unwrap();
        assert_eq!(busy.critical[1].1, Because::Busy(busy.critical[0].0));
    }

    #[test]
    fn what_can_be_done_now_is_told_from_what_cures_and_what_is_behind() {
        let mut steps = [
            step(120, 720, &[]),
            step(30, 0, &[0]),
            step(10, 0, &[1]),
            step(60, 0, &[]),
        ];
        steps[0].done = Some(600);
        assert_eq!(
            stands(&steps, 700).unwrap(),
            [
                Stands::Done,
                Stands::Waits(0, 1320),
                Stands::Behind(vec![1]),
                Stands::Ready
            ]
        );
        assert_eq!(stands(&steps, 1320).unwrap()[1], Stands::Ready);
        let rest = plan(&steps, 700, day()).unwrap();
        assert!(rest.order.iter().all(|p| p.step != 0));
        assert_eq!(rest.first(), Some(3));
        assert_eq!(rest.finish, (24 + 8) * 60 + 40);
    }

    #[test]
    fn circles_and_unknown_steps_are_refused_with_their_numbers() {
        let circle = [step(1, 0, &[1]), step(1, 0, &[0]), step(1, 0, &[])];
        let said = plan(&circle, 0, day()).unwrap_err().to_string();
        assert!(said.contains("Steps 1, 2"), "{said}");
        assert_eq!(
            plan(&[step(1, 0, &[7])], 0, day()),
            Err(PlanError::Unknown(0))
        );
        assert!(plan(&vec![Step::default(); 251], 0, day()).is_err());
    }

    #[test]
    fn a_finished_job_is_finished() {
        assert_eq!(plan(&[], 500, day()).unwrap().finish, 500);
        let cured = Step {
            done: Some(100),
            wait: 720,
            ..Step::default()
        };
        let left = plan(&[cured], 500, day()).unwrap();
        assert_eq!((left.finish, left.first()), (820, None));
    }

    #[test]
    fn the_days_hold_all_the_work_within_hours() {
        let steps = [step(500, 0, &[]), step(700, 30, &[0]), step(45, 0, &[])];
        let best = plan(&steps, 10 * 60, day()).unwrap();
        let days = best.days(day());
        let pieces = || days.iter().flat_map(|d| &d.pieces);
        assert_eq!(pieces().map(|(_, from, to)| to - from).sum::<i64>(), 1245);
        for d in &days {
            for (_, from, to) in &d.pieces {
                assert!(*from >= d.day * DAY + 8 * 60 && *to <= d.day * DAY + 17 * 60);
            }
        }
        let endless = plan(&[step(u32::MAX, 0, &[])], i64::MAX, day()).unwrap();
        assert_eq!(endless.days(day()).len(), 366);
    }

    #[test]
    fn a_job_of_real_size_is_planned() {
        let steps: Vec<Step> = (0..60)
            .map(|i| {
                step(
                    30,
                    if i % 11 == 0 { 720 } else { 0 },
                    &if i < 4 { vec![] } else { vec![i - 4] },
                )
            })
            .collect();
        let best = plan(&steps, 8 * 60, day()).unwrap();
        assert_eq!(best.order.len(), 60);
        assert!(best.no_earlier_than <= best.finish);
    }

    /// The earliest finish over every order that keeps to what comes before what.
    fn exhaustive(steps: &[Step], now: i64, free: &mut Vec<Option<i64>>, latest: i64) -> i64 {
        let mut best = i64::MAX;
        for i in 0..steps.len() {
            let mut before = steps[i].after.iter().map(|b| free[*b]);
            let Some(ready) = before.try_fold(now, |r, f| Some(r.max(f?))) else {
                continue;
            };
            if free[i].is_some() {
                continue;
            }
            // By the minute, not by the sum: work only in minutes that are within hours.
            let mut clock = ready;
            while !(8 * 60..17 * 60).contains(&clock.rem_euclid(DAY)) {
                clock += 1;
            }
            let mut left = steps[i].minutes;
            while left > 0 {
                let within = (8 * 60..17 * 60).contains(&clock.rem_euclid(DAY));
                left -= u32::from(within);
                clock += 1;
            }
            free[i] = Some(clock + i64::from(steps[i].wait));
            let over = latest.max(clock + i64::from(steps[i].wait));
            best = best.min(exhaustive(steps, clock, free, over));
            free[i] = None;
        }
        if free.iter().all(Option::is_some) {
            latest
        } else {
            best
        }
    }

    fn graph() -> impl Strategy<Value = Vec<Step>> {
        let one = (
            0u32..40,
            prop::sample::select(vec![0u32, 0, 60, 500, 900]),
            any::<u8>(),
        );
        prop::collection::vec(one, 0..6).prop_map(|rows| {
            let steps = rows.iter().enumerate();
            steps
                .map(|(i, (tens, wait, mask))| {
                    let after: Vec<usize> = (0..i)
                        .filter(|b| (mask & (mask >> 4)) >> b & 1 == 1)
                        .collect();
                    step(tens * 10, *wait, &after)
                })
                .collect()
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]
        #[test]
        fn keeping_to_the_given_order_costs_no_time(steps in graph(), now in 300i64..1300) {
            let best = plan(&steps, now, day()).unwrap();
            let kept = plan_in_order(&steps, now, day()).unwrap();
            prop_assert_eq!(kept.finish, best.finish);
            prop_assert_eq!(kept.order.len(), best.order.len());
            let last = kept.order.iter().map(|p| p.free).max();
            prop_assert!(last.is_none_or(|last| last <= kept.finish));
        }

        #[test]
        fn no_order_finishes_earlier_than_the_plan(steps in graph(), now in 300i64..1300) {
            let found = plan(&steps, now, day()).unwrap();
            let best = exhaustive(&steps, now, &mut vec![None; steps.len()], now);
            prop_assert_eq!(found.finish, best);
            prop_assert!(found.is_best());
        }

        #[test]
        fn the_plan_keeps_to_what_comes_before_what(steps in graph(), now in 300i64..1300) {
            let found = plan(&steps, now, day()).unwrap();
            prop_assert_eq!(found.order.len(), steps.len());
            for (i, placed) in found.order.iter().enumerate() {
                for before in &steps[placed.step].after {
                    let earlier = found.order[..i].iter().find(|p| p.step == *before).unwrap();
                    prop_assert!(earlier.free <= placed.start);
                }
                if i > 0 {
                    prop_assert!(found.order[i - 1].end <= placed.start);
                }
            }
            if let Some((last, _)) = found.critical.last() {
                let placed = found.order.iter().find(|p| p.step == *last).unwrap();
                prop_assert_eq!(placed.free, found.finish);
            }
        }
    }
}
