//! The order of the log: by time, and never before what the writer of an entry knew.
//!
//! **Rule**: hybrid logical clocks (P: S. Kulkarni et al., "Logical Physical Clocks and Consistent Snapshots in
//! Globally Distributed Databases", 2014), with the Lamport clock as the counter. The time of an entry is the latest of:
//!
//! 1. its own: the wall time, or [`Knew::ms`] if that is later;
//! 2. the times of the entries that its replica wrote before it;
//! 3. the times of the entries that it refers to, if they were written before it;
//! 4. for each smaller clock, the earliest time of the entries that have it: whoever writes with clock 5 has read
//!    an entry with clock 4, whose writer had read one with clock 3, and so on, but not every one of them.
//!
//! An own time that another entry calls more than a day ahead ([`Knew::ahead`]) counts as the wall time of that entry.
//!
//! Release 0.1 wrote neither [`Knew`] nor ranked by time; points 2 to 4 are what its entries tell of what their
//! writers knew. In a job that was only ever in one place each clock stands once, so its order is that of the clocks.
//!
//! Every term is a function of the set of entries, whatever the order in which they arrive.

use std::collections::HashMap;

use super::{Entry, EntryId, Knew, LogPosition, ReplicaId};

/// A clock this far ahead of the clock of the device, in milliseconds, is wrong: it is told, and not followed.
pub(super) const MAX_AHEAD_MS: i64 = 24 * 60 * 60 * 1_000;

/// What ranking the entries so far leaves for the next.
#[derive(Clone, Debug, Default)]
pub(super) struct Ranking {
    /// The largest clock, and the earliest time of the entries that have it. `None` before the first entry.
    level: Option<(u64, i64)>,
    /// The time of point 4 for an entry with that clock.
    floor_ms: i64,
    /// The latest own time.
    own_ms: i64,
    replicas: HashMap<ReplicaId, Times>,
    limits: Limits,
}

/// The latest times of one replica.
#[derive(Clone, Copy, Debug)]
struct Times {
    /// The latest own time.
    own_ms: i64,
    /// The latest time.
    ms: i64,
}

/// By when the entries of a replica were there, if another calls them ahead: (sequence number, wall time) for all up to
/// this number, rising in both.
#[derive(Clone, Debug, Default)]
struct Limits(HashMap<ReplicaId, Vec<(u64, i64)>>);

impl Limits {
    /// Returns the limits that these entries set; `find` returns an entry of the log.
    fn of<'a>(entries: &'a [Entry], find: impl Fn(EntryId) -> Option<&'a Entry>) -> Limits {
        let mut limits: HashMap<ReplicaId, Vec<(u64, i64)>> = HashMap::new();
        for entry in entries {
            for named in entry.knew.iter().flat_map(|knew| &knew.ahead) {
                if find(*named).is_some_and(|e| e.written() < entry.written()) {
                    let of = limits.entry(named.replica).or_default();
                    of.push((named.seq, entry.at_ms));
                }
            }
        }
        for of in limits.values_mut() {
            of.sort_unstable();
            let mut least = i64::MAX;
            for (_, ms) in of.iter_mut().rev() {
                least = least.min(*ms);
                *ms = least;
            }
        }
        Limits(limits)
    }

    fn of_entry(&self, id: EntryId) -> Option<i64> {
        let of = self.0.get(&id.replica)?;
        let at = of.partition_point(|(seq, _)| *seq < id.seq);
        Some(of.get(at)?.1)
    }
}

impl Ranking {
    /// Returns a ranking to be begun with the first of these entries.
    pub fn begin<'a>(entries: &'a [Entry], find: impl Fn(EntryId) -> Option<&'a Entry>) -> Ranking {
        Ranking {
            limits: Limits::of(entries, find),
            ..Ranking::default()
        }
    }

    /// Returns the largest clock, 0 before the first entry.
    pub fn clock(&self) -> u64 {
        self.level.map_or(0, |(clock, _)| clock)
    }

    /// Returns `true` if an entry follows those ranked so far and changes the time of none.
    pub fn is_next(&self, entry: &Entry) -> bool {
        self.level.is_none_or(|(clock, _)| clock < entry.clock)
            && entry.knew.as_ref().is_none_or(|k| k.ahead.is_empty())
    }

    /// Ranks the next entry in the order of [`Entry::written`], and returns its position. `time_of` returns the time of
    /// an entry that was ranked before.
    pub fn rank(&mut self, entry: &Entry, time_of: impl Fn(EntryId) -> Option<i64>) -> LogPosition {
        let least = match self.level {
            Some((clock, least)) if clock == entry.clock => least,
            level => {
                let least = level.map_or(0, |(_, least)| least);
                self.floor_ms = self.floor_ms.max(least);
                i64::MAX
            }
        };
        let own_ms = self.own_ms(entry);
        let of = self.replicas.entry(entry.id.replica);
        let of = of.or_insert(Times { own_ms, ms: own_ms });
        let referred = entry.references().filter_map(time_of);
        let ms = referred.fold(own_ms.max(of.ms).max(self.floor_ms), i64::max);
        *of = Times {
            own_ms: own_ms.max(of.own_ms),
            ms,
        };
        self.own_ms = self.own_ms.max(own_ms);
        self.level = Some((entry.clock, least.min(ms)));
        LogPosition {
            ms,
            clock: entry.clock,
            id: entry.id,
        }
    }

    /// Returns the own time of an entry.
    fn own_ms(&self, entry: &Entry) -> i64 {
        let last_followed = entry.at_ms.saturating_add(MAX_AHEAD_MS);
        let knew = entry.knew.as_ref().map_or(0, |k| k.ms.min(last_followed));
        let own = entry.at_ms.max(knew);
        match self.limits.of_entry(entry.id) {
            Some(limit) if own > limit.saturating_add(MAX_AHEAD_MS) => limit,
            _ => own,
        }
    }

    /// Returns the last entry of each replica whose own time is more than a day after `at_ms`, sorted.
    pub fn ahead(&self, entries: &[Entry], at_ms: i64) -> Vec<EntryId> {
        let limit = at_ms.saturating_add(MAX_AHEAD_MS);
        if self.own_ms <= limit {
            return Vec::new();
        }
        let mut last: HashMap<ReplicaId, EntryId> = HashMap::new();
        for entry in entries.iter().filter(|e| self.own_ms(e) > limit) {
            let of = last.entry(entry.id.replica).or_insert(entry.id);
            *of = entry.id.max(*of);
        }
        let mut ahead: Vec<EntryId> = last.into_values().collect();
        ahead.sort_unstable();
        ahead
    }

    /// Returns what the next entry of a replica must state so that it ranks after all others, or `None` if its wall
    /// time says it already. A clock more than a day ahead is named, and not followed.
    pub fn knew(&self, entries: &[Entry], replica: ReplicaId, at_ms: i64) -> Option<Knew> {
        let limit = at_ms.saturating_add(MAX_AHEAD_MS);
        let ahead = self.ahead(entries, at_ms);
        let followed = |ms: &i64| *ms <= limit;
        let ms = if ahead.is_empty() {
            self.own_ms
        } else {
            let own = entries.iter().map(|e| self.own_ms(e));
            own.filter(followed).max().unwrap_or(0)
        };
        // What this replica has stated before need not be stated again.
        let stated = self.replicas.get(&replica).map(|of| of.own_ms);
        let stated = stated.filter(followed).unwrap_or(0);
        (at_ms.max(stated) < ms || !ahead.is_empty()).then_some(Knew {
            ms: ms.max(at_ms),
            ahead,
        })
    }
}
