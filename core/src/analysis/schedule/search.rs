//! The search for the best order: branch and bound over the active schedules.

use std::cmp::Reverse;

use super::model::{OpeningHours, Placed, Task};

/// Largest number of partial orders examined before the best so far is returned.
pub const MAX_LOOKED_AT: u32 = 2_000;

/// The branch-and-bound search for the best order.
pub struct Search<'a> {
    steps: &'a [Task],
    hours: OpeningHours,
    /// The steps in topological order.
    sorted: Vec<usize>,
    /// Minutes from the end of each step to the end of the job, along the longest chain.
    tails: Vec<u64>,
    /// When the steps that depend on each step can start, or `None` while it is not placed.
    free: Vec<Option<i64>>,
    /// When the last running drying time of a step already done ends, if any.
    pub waiting: Option<i64>,
    pub looked_at: u32,
    pub best: Option<(i64, Vec<Placed>)>,
}

impl Search<'_> {
    pub fn new(steps: &[Task], sorted: Vec<usize>, now: i64, hours: OpeningHours) -> Search<'_> {
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

    /// Returns a step at the earliest time that its dependencies allow, or `None` if one of them is
    /// not placed.
    pub fn earliest(&self, step: usize, now: i64, free: &[Option<i64>]) -> Option<Placed> {
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

    /// Returns a lower bound for the finish of the steps not placed yet, with the technician free
    /// at `now`.
    pub fn bound(&self, now: i64) -> i64 {
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

    /// Places and returns the first step in the given order after which the rest can still finish
    /// in time.
    pub fn take_first(&mut self, now: i64, finish: i64) -> Option<Placed> {
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
    pub fn try_next(&mut self, now: i64, placed: &mut Vec<Placed>) {
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
            if self.looked_at >= MAX_LOOKED_AT && self.best.is_some() {
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
