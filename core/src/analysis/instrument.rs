//! Which jobs are visits to the same instrument.
//!
//! **Rule** (M). A job that was made from another one is of its instrument. So are two jobs with the same serial number,
//! if the client or the description of the instrument is the same: makers use the same numbers.

use std::collections::BTreeMap;

use super::drift::drift;
use super::overview::Overview;
use crate::job::{Job, JobId};
use crate::unit::Value;

/// What tells which instrument a job is of. It has no default and no order.
///
/// ```
/// use evenhand_core::analysis::instrument::{Identity, instruments};
/// use evenhand_core::job::JobId;
///
/// let of = |job, serial, client, earlier| Identity { job: JobId::new(job), serial, client, described: "", earlier };
/// let jobs = [
///     of(1, "No. 11 902", "School", None),
///     of(2, "", "", Some(JobId::new(1))),
///     of(3, "no 11902", "school", None),
///     of(4, "11902", "Church", None),
/// ];
/// assert_eq!(instruments(&jobs), [0, 0, 0, 3]);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Identity<'a> {
    /// The job.
    pub job: JobId,
    /// The serial number; empty if it is not known.
    pub serial: &'a str,
    /// The client; empty if none is named.
    pub client: &'a str,
    /// What the instrument is; empty if it is not said.
    pub described: &'a str,
    /// The job that it was made from.
    pub earlier: Option<JobId>,
}

impl<'a> Identity<'a> {
    /// Returns that of a job by what a list shows of it.
    pub fn of(job: JobId, shown: &'a Overview, described: &'a str) -> Identity<'a> {
        Identity {
            job,
            serial: &shown.serial,
            client: &shown.client,
            described,
            earlier: shown.earlier,
        }
    }
}

/// Returns the instrument of each job: the place of the first job of the instrument in the list, from 0.
pub fn instruments(all: &[Identity<'_>]) -> Vec<usize> {
    let mut group: Vec<usize> = (0..all.len()).collect();
    let mut join = |a: usize, b: usize| {
        let [a, b] = [first_of(&group, a), first_of(&group, b)];
        group[a.max(b)] = a.min(b);
    };
    let places: BTreeMap<JobId, usize> =
        all.iter().enumerate().map(|(at, i)| (i.job, at)).collect();
    let mut known: BTreeMap<(String, u8, String), usize> = BTreeMap::new();
    for (at, identity) in all.iter().enumerate() {
        if let Some(earlier) = identity.earlier.and_then(|job| places.get(&job)) {
            join(at, *earlier);
        }
        let serial = plain(identity.serial);
        // “No. 11902” is 11902.
        let serial = ["no", "nr"]
            .iter()
            .find_map(|word| serial.strip_prefix(word))
            .unwrap_or(&serial);
        for (which, word) in [(0, plain(identity.client)), (1, plain(identity.described))] {
            if !serial.is_empty() && !word.is_empty() {
                join(
                    at,
                    *known.entry((serial.to_owned(), which, word)).or_insert(at),
                );
            }
        }
    }
    (0..all.len()).map(|at| first_of(&group, at)).collect()
}

fn first_of(group: &[usize], mut at: usize) -> usize {
    while group[at] != at {
        at = group[at];
    }
    at
}

/// Returns the letters and digits of a text, in small letters.
fn plain(text: &str) -> String {
    let letters = text.chars().filter(|c| c.is_alphanumeric());
    letters.flat_map(char::to_lowercase).collect()
}

/// Returns the latest job of each instrument, by when each was worked on, as `true` for its place in the list.
///
/// ```
/// use evenhand_core::analysis::instrument::latest;
///
/// assert_eq!(latest(&[0, 0, 2], &[10, 20, 5]), [false, true, true]);
/// ```
pub fn latest(instruments: &[usize], worked_ms: &[i64]) -> Vec<bool> {
    let mut best: BTreeMap<usize, usize> = BTreeMap::new();
    for (at, instrument) in instruments.iter().enumerate() {
        let best = best.entry(*instrument).or_insert(at);
        if worked_ms[at] > worked_ms[*best] {
            *best = at;
        }
    }
    let is = |(at, instrument): (usize, &usize)| best.get(instrument) == Some(&at);
    instruments.iter().enumerate().map(is).collect()
}

/// Returns an id of the instrument of each job, which stays when a next job is made: that of its first job or, if that job is
/// not in the list, that of the job from which the first one was made.
///
/// ```
/// use evenhand_core::analysis::instrument::{Identity, instrument_ids};
/// use evenhand_core::job::JobId;
///
/// let of = |job, earlier: Option<u64>| {
///     let earlier = earlier.map(JobId::new);
///     Identity { job: JobId::new(job), serial: "", client: "", described: "", earlier }
/// };
/// let ids = |jobs: &[Identity], worked_ms: &[i64]| instrument_ids(jobs, worked_ms);
/// let first = JobId::new(9);
/// assert_eq!(ids(&[of(9, None)], &[10]), [first]);
/// assert_eq!(ids(&[of(2, Some(9)), of(9, None)], &[20, 10]), [first; 2]);
/// // The first job was deleted.
/// assert_eq!(ids(&[of(2, Some(9))], &[20]), [first]);
/// ```
pub fn instrument_ids(all: &[Identity<'_>], worked_ms: &[i64]) -> Vec<JobId> {
    let instruments = instruments(all);
    let mut first: BTreeMap<usize, usize> = BTreeMap::new();
    for (at, instrument) in instruments.iter().enumerate() {
        let first = first.entry(*instrument).or_insert(at);
        if worked_ms[at] < worked_ms[*first] {
            *first = at;
        }
    }
    let of = |instrument: &usize| {
        let first = &all[first[instrument]];
        first.earlier.unwrap_or(first.job)
    };
    instruments.iter().map(of).collect()
}

/// What the page of an instrument shows of one visit. [`visit`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::instrument::visit;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Subject};
///
/// let mut job = Job::new();
/// let text = "Hammer flange loose.".to_owned();
/// job.apply(job.draft(ReplicaId::new(7), 0, EntryKind::Remark { on: Subject::Whole, step: None, fault: true, text }));
/// assert_eq!(visit(&job).faults, ["Whole piano: Hammer flange loose."]);
/// assert_eq!(visit(&job).drift, None);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Visit {
    /// How far each quantity drifted since the visit before, as sentences; `None` if the job carries no earlier one.
    pub drift: Option<Vec<String>>,
    /// The open faults, as sentences.
    pub faults: Vec<String>,
}

/// Returns what the page of an instrument shows of a visit.
pub fn visit(job: &Job) -> Visit {
    let state = job.state();
    let unit = state.length_unit();
    let drifts = drift(job).map(|drift| {
        let said = drift.quantities.iter().map(|d| {
            let mean = Value::from_base(d.measure.kind, d.change.mean.round() as i64);
            let shown = d.measure.with_unit(&d.measure.shown(mean, unit), unit);
            let sign = if d.change.mean > 0.0 { "+" } else { "" };
            let out = match d.went_out {
                0 => "none went out".to_owned(),
                n => format!("{n} went out"),
            };
            let notes = if d.change.count == 1 { "note" } else { "notes" };
            format!(
                "{}: {sign}{shown} on {} {notes}, {out}.",
                d.measure.name, d.change.count
            )
        });
        said.collect()
    });
    let faults = state
        .open_faults()
        .map(|fault| format!("{}: {}", fault.on.words(), fault.text));
    Visit {
        drift: drifts,
        faults: faults.collect(),
    }
}
