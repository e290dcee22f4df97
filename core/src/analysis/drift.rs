//! The same piano a year later: what an earlier job left, compared with what is found today, and
//! when to check again. The file is long because its types carry their examples.

mod interval;
mod model;

pub use model::{Direction, Drifted, Interval, MIN_NOTES};

use interval::interval;
use model::standard_error;

use super::compare::{ReadingSet, left, quantities};
use super::evenness::Moments;
use super::hours::is_real;
use super::learned::responses;
use crate::job::{
    Details, Earlier, EntryKind, FaultOrigin, Item, Job, Left, Setup, State, Subject,
};
use crate::note::Note;
use crate::trade::{Instrument, Measure, MeasureId, Place, Stage, Step, StepId, Verdict};
use crate::unit::Value;

/// The comparison of a job with an earlier job on the same instrument. [`drift()`] computes it; it
/// has no default.
///
/// ```
/// use evenhand_core::analysis::drift::Drift;
///
/// let drift = Drift {
///     left_at_ms: 1_790_000_000_000,
///     found_at_ms: 1_790_000_000_000 + 30 * 86_400_000,
///     quantities: vec![],
///     responses: 0,
///     interval: None,
/// };
/// assert_eq!(drift.days(), 30);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Drift {
    /// When the earlier job was left, in milliseconds since 1970 (UTC).
    pub left_at_ms: i64,
    /// When the instrument was found, in milliseconds since 1970 (UTC).
    pub found_at_ms: i64,
    /// The measures that were read both times.
    pub quantities: Vec<Drifted>,
    /// How many learned responses the earlier job left.
    pub responses: usize,
    /// When to check again, or `None` if nothing was measured both times or too little time passed.
    pub interval: Option<Interval>,
}

impl Drift {
    /// Returns the whole days between the two jobs.
    pub fn days(&self) -> i64 {
        (self.found_at_ms - self.left_at_ms).max(0) / DAY_MS
    }

    /// Returns `true` if something was measured both times, and of no quantity enough notes to tell a pace.
    pub fn is_of_too_few(&self) -> bool {
        let mut counts = self.quantities.iter().map(|d| d.change.count);
        !self.quantities.is_empty() && counts.all(|count| count < MIN_NOTES)
    }
}

const DAY_MS: i64 = 86_400_000;
/// The mean length of a month in days (Gregorian calendar).
const MONTH_DAYS: f64 = 365.2425 / 12.0;

/// Returns the direction in which wear changes a measure: 1 if it grows, −1 if it shrinks, 0 if
/// there is no rule. There is none for the grand: the source speaks of the upright.
///
/// P: <https://mmdigest.com/Archives/Digests/201002/2010.02.15.07.html>: dip grows, blow grows, let-off and
/// checking distance shrink.
pub fn wear_goes(instrument: Instrument, measure: &str) -> i64 {
    if instrument == Instrument::Grand {
        return 0;
    }
    match measure {
        "natural_dip" | "sharp_dip" | "blow" => 1,
        "let_off" | "checking" => -1,
        _ => 0,
    }
}

/// Returns what a job leaves for the next one on the same instrument: every reading that holds, the
/// real minutes ([`is_real`]) of the steps that were completely measured, and the learned responses. Returns `None` if
/// the job has no id.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, JobId};
/// use evenhand_core::analysis::drift::earlier;
///
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
/// let carried = earlier(&Job::from_entries(entries)).unwrap();
/// assert_eq!(carried.job, JobId::new(1));
/// assert!(carried.left.iter().any(|l| l.measure.as_str() == "blow"));
/// ```
pub fn earlier(job: &Job) -> Option<Earlier> {
    let state = job.state();
    let mut rows: Vec<Left> = Vec::new();
    let mut left_at_ms = 0;
    let mut keep = |measure: &MeasureId, on: Subject| {
        let Some((reading, place)) = left(state, measure.as_str(), on) else {
            return;
        };
        left_at_ms = left_at_ms.max(reading.at_ms);
        let row = rows
            .iter()
            .position(|l| l.measure == *measure && l.place == place);
        let row = row.unwrap_or_else(|| {
            rows.push(Left {
                measure: measure.clone(),
                place,
                readings: Vec::new(),
            });
            rows.len() - 1
        });
        rows[row].readings.push((on, reading.value));
    };
    for measure in quantities(state) {
        for note in Note::all() {
            keep(&measure.id, Subject::Note(note));
        }
    }
    for whole in ["pitch_a4", "humidity", "temperature"] {
        keep(&MeasureId::of(whole), Subject::Whole);
    }
    let all = state.progress(left_at_ms);
    let minutes = all
        .into_iter()
        .filter(|(step, p)| p.is_read() && is_real(state, step, p))
        .map(|(step, p)| (step.id, u32::try_from(p.minutes).unwrap_or(u32::MAX)));
    Some(Earlier {
        job: job.id()?,
        left_at_ms,
        left: rows,
        responses: responses(state),
        minutes: minutes.collect(),
    })
}

/// Returns the usual prices, as the acts that a new job begins with, less those that these acts set already: a next job
/// has the prices of the one before, and what that one lacks is the usual.
///
/// ```
/// use evenhand_core::analysis::drift::usual_prices_beside;
/// use evenhand_core::job::{Details, EntryKind};
///
/// let prices = |travel_cents, tax_percent_hundredths| EntryKind::Details {
///     set: Box::new(Details { travel_cents, tax_percent_hundredths, ..Details::default() }),
/// };
/// let usual = [prices(Some(2_500), Some(1_900))];
/// let beside = usual_prices_beside(&[prices(Some(3_000), None)], usual.to_vec());
/// assert_eq!(beside, [prices(None, Some(1_900))]);
/// assert_eq!(usual_prices_beside(&[], usual.to_vec()), usual);
/// ```
pub fn usual_prices_beside(acts: &[EntryKind], usual: Vec<EntryKind>) -> Vec<EntryKind> {
    let (mut details, mut setup) = (Details::default(), Setup::default());
    for act in acts {
        match act {
            EntryKind::Details { set } => details.take(set),
            EntryKind::Setup { set } => setup.take(set),
            _ => {}
        }
    }
    let own = setup.part_prices_cents.unwrap_or_default();
    let beside = usual.into_iter().filter_map(|act| match act {
        EntryKind::Details { mut set } => {
            let keep = |usual: Option<u32>, own: Option<u32>| usual.filter(|_| own.is_none());
            set.travel_cents = keep(set.travel_cents, details.travel_cents);
            let tax = set.tax_percent_hundredths;
            set.tax_percent_hundredths = keep(tax, details.tax_percent_hundredths);
            set.valid_days = keep(set.valid_days, details.valid_days);
            (*set != Details::default()).then_some(EntryKind::Details { set })
        }
        EntryKind::Setup { mut set } => {
            // The prices of parts are one field.
            let mut all = set.part_prices_cents.take().unwrap_or_default();
            all.extend(own.clone());
            set.part_prices_cents = (all != own).then_some(all);
            (*set != Setup::default()).then_some(EntryKind::Setup { set })
        }
        other => Some(other),
    });
    beside.collect()
}

/// Returns the entries that begin the next job on the same instrument: its details (without the
/// scope and the technician, which belong to the new job), its setup, targets and own steps, what
/// this job leaves to compare with, and the faults that are open, each with the job in which it was
/// noted first.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, JobId};
/// use evenhand_core::analysis::drift::next_job;
///
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
/// let first = Job::from_entries(entries);
/// let mut next = Job::new();
/// for act in next_job(&first) {
///     next.apply(next.draft(ReplicaId::new(3), 1_800_000_000_000, act));
/// }
/// assert_eq!(next.state().sections(), first.state().sections());
/// assert_eq!(next.state().details().scope, None);
/// assert_eq!(next.state().setup().earlier.as_ref().unwrap().job, JobId::new(1));
/// ```
pub fn next_job(job: &Job) -> Vec<EntryKind> {
    let state = job.state();
    let details = Details {
        scope: None,
        technician: None,
        for_client: None,
        travel_cents: None,
        tax_percent_hundredths: None,
        valid_days: None,
        price_cents: None,
        ..state.details().clone()
    };
    // Apart, so that releases before 0.5 read the rest. The remark and the price agreed were of this job.
    let prices = Details {
        travel_cents: state.details().travel_cents,
        tax_percent_hundredths: state.details().tax_percent_hundredths,
        valid_days: state.details().valid_days,
        ..Details::default()
    };
    let setup = Setup {
        earlier: None,
        sample_seed: None,
        measure_all: None,
        earlier_fixed: None,
        part_prices_cents: None,
        ..state.setup().clone()
    };
    // A separate entry, so that a version that cannot read it still reads the rest of the setup.
    let carried = earlier(job).map(|earlier| Setup {
        earlier: Some(Box::new(earlier)),
        ..Setup::default()
    });
    // What releases before 0.4 cannot read; the same notes are measured again.
    let fixed = carried.is_some().then(|| Setup {
        earlier_fixed: Some(fixed(state)),
        sample_seed: state.setup().sample_seed,
        measure_all: state.setup().measure_all,
        ..Setup::default()
    });
    let kept = job.log().entries().iter().filter(|entry| {
        let act = &entry.kind;
        matches!(act, EntryKind::Target { .. } | EntryKind::OwnStep { .. })
            && state.is_alive(entry.id)
    });
    let faults = state.open_faults().filter_map(|fault| {
        let origin = fault.origin.clone();
        let origin = origin.or_else(|| {
            Some(FaultOrigin {
                job: state.id()?,
                job_name: state.details().name.clone(),
                noted_at_ms: fault.at_ms,
            })
        })?;
        Some(EntryKind::FaultCarried {
            on: fault.on,
            text: fault.text.clone(),
            from: origin.job,
            from_name: origin.job_name,
            noted_at_ms: origin.noted_at_ms,
        })
    });
    let details =
        std::iter::once(details).chain(Some(prices).filter(|prices| *prices != Details::default()));
    let details = details.map(|set| EntryKind::Details { set: Box::new(set) });
    let mut acts: Vec<EntryKind> = details.collect();
    let prices = state.setup().part_prices_cents.clone();
    let prices = prices.map(|prices| Setup {
        part_prices_cents: Some(prices),
        ..Setup::default()
    });
    let setups = std::iter::once(setup)
        .chain(carried)
        .chain(fixed)
        .chain(prices);
    acts.extend(setups.map(|set| EntryKind::Setup { set: Box::new(set) }));
    acts.extend(kept.map(|entry| entry.kind.clone()));
    acts.extend(faults);
    acts
}

/// Returns how many percent of the notes of each regulating step were worked on: adjusted, or first measured as
/// out.
fn fixed(state: &State) -> Vec<(StepId, u8)> {
    let regulating = state.order().steps().iter();
    let regulating = regulating.filter(|s| s.stage == Stage::Regulate);
    let percent = |step: &Step| {
        let items = state.items(step);
        let worked = |item: &&Item| {
            [Place::Bench, Place::Piano].into_iter().any(|place| {
                let known = state.measure_state(item.measure.as_str(), item.on, place);
                known.is_some_and(|known| {
                    let first = known.readings().next();
                    let judged =
                        first.and_then(|r| state.judge(item.measure.as_str(), item.on, r.value));
                    known.changes().next().is_some()
                        || judged.is_some_and(|j| j.verdict == Verdict::Out)
                })
            })
        };
        let count = items.iter().filter(worked).count();
        (100 * count / items.len().max(1)) as u8
    };
    regulating.map(|s| (s.id.clone(), percent(s))).collect()
}

/// Compares a job with the earlier one that it carries, or returns `None` if it carries none.
///
/// **Rule**: on the notes measured both times, the change is today's reading minus the one left. A
/// measure moved if its mean change is more than twice its standard error (about 95 %) and more
/// than half of the difference that two readings of the same thing may show (M: another gauge,
/// another hand).
pub fn drift(job: &Job) -> Option<Drift> {
    let state = job.state();
    let earlier = state.setup().earlier.as_deref()?;
    let mut found_at_ms = 0;
    let mut all = Vec::new();
    for measure in quantities(state).into_iter().filter(|m| m.kind.is_number()) {
        let (mut then, mut now, mut bench) = (Vec::new(), Vec::new(), 0);
        for note in Note::all() {
            let on = Subject::Note(note);
            let id = measure.id.as_str();
            let (Some(today), Some((was, place))) =
                (state.surveyed(id, on), earlier.left_on(id, on))
            else {
                continue;
            };
            if was.kind() == today.value.kind() {
                then.push((note, was.base()));
                now.push((note, today.value.base()));
                bench += usize::from(place == Place::Bench);
                found_at_ms = found_at_ms.max(today.at_ms);
            }
        }
        let drifted = drifted(job, measure, then, now);
        all.extend(drifted.map(|d| Drifted {
            then_on_bench: bench,
            ..d
        }));
    }
    let days = (found_at_ms - earlier.left_at_ms) as f64 / DAY_MS as f64;
    Some(Drift {
        left_at_ms: earlier.left_at_ms,
        found_at_ms: found_at_ms.max(earlier.left_at_ms),
        responses: earlier.responses.len(),
        interval: interval(job, &all, days / MONTH_DAYS),
        quantities: all,
    })
}

fn drifted(
    job: &Job,
    measure: &Measure,
    then: Vec<(Note, i64)>,
    now: Vec<(Note, i64)>,
) -> Option<Drifted> {
    let state = job.state();
    let sections = state.sections();
    let change = |section: Option<usize>| {
        let pairs = then.iter().zip(&now);
        let here = pairs.filter(|((n, _), _)| section.is_none_or(|s| sections.of(*n) == s));
        Moments::of(
            here.map(|((_, was), (_, is))| is.saturating_sub(*was))
                .collect::<Vec<_>>(),
        )
    };
    let whole = change(None)?;
    let is_out = |(note, base): &(Note, i64)| {
        let value = Value::from_base(measure.kind, *base);
        let judged = state.judge(measure.id.as_str(), Subject::Note(*note), value);
        judged.is_some_and(|j| j.verdict == Verdict::Out)
    };
    let went_out = then
        .iter()
        .zip(&now)
        .filter(|(was, is)| !is_out(was) && is_out(is))
        .count();
    Some(Drifted {
        sections: (0..sections.count()).map(|s| change(Some(s))).collect(),
        direction: direction(state.instrument(), measure, &whole),
        change: whole,
        went_out,
        then: ReadingSet::of(state, measure, then),
        now: ReadingSet::of(state, measure, now),
        then_on_bench: 0,
        measure: measure.clone(),
    })
}

fn direction(instrument: Instrument, measure: &Measure, change: &Moments) -> Direction {
    let Some(error) = standard_error(change) else {
        return Direction::Stayed;
    };
    if change.mean.abs() <= (2.0 * error).max(measure.repeat as f64 / 2.0) {
        return Direction::Stayed;
    }
    match change.mean * wear_goes(instrument, measure.id.as_str()) as f64 {
        way if way > 0.0 => Direction::Wear,
        way if way < 0.0 => Direction::AgainstWear,
        _ => Direction::Moved,
    }
}
