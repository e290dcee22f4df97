//! The estimate as an offer that a client can sign: work, parts, travel and tax, in whole hundredths of the currency.
//!
//! **Rule**: the hours are those of [`estimate`](super::estimate::estimate) at the rate of the job; the parts are those to renew
//! ([`parts_decided`]) at the price of a piece. Every amount is a whole number of hundredths, and the lines add up to
//! the total: the price of each stage is rounded, so that equal times cost the same, and the tax is rounded once, half up.

use super::decisions::parts_decided;
use super::estimate::{Basis, Estimate};
use super::hours::Total;
use crate::job::{Details, Job, PartToOrder};
use crate::trade::Stage;

/// The work of one stage. Part of [`Quote`]; it has no default.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuoteStage {
    /// The stage.
    pub stage: Stage,
    /// The likely minutes, in whole quarters of an hour.
    pub minutes: i64,
    /// Their price in hundredths of the currency; `None` without a rate.
    pub cents: Option<i64>,
}

/// A part to renew with its price. Part of [`Quote`]; it has no default.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct QuotePart {
    /// The part, its count and the price of a piece.
    pub part: PartToOrder,
    /// The price of all pieces in hundredths of the currency; `None` if that of a piece is not known.
    pub cents: Option<i64>,
    /// The likely minutes for fitting it, which are part of the work of its stage.
    pub fitting_minutes: i64,
}

/// What a job will cost. [`quote`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::estimate::estimate;
/// use evenhand_core::analysis::quote::quote;
/// use evenhand_core::job::{Details, EntryKind, Job, ReplicaId};
///
/// let mut job = Job::new();
/// let set = Details {
///     rate_per_hour_cents: Some(6_000),
///     travel_cents: Some(2_500),
///     tax_percent_hundredths: Some(1_900),
///     ..Details::default()
/// };
/// job.apply(job.draft(ReplicaId::new(7), 0, EntryKind::Details { set: Box::new(set) }));
/// let estimate = estimate(&job);
/// let quote = quote(&job, &estimate);
/// // A euro a minute, the travel, and 19 % on both.
/// let net = 100 * estimate.totals[1].minutes + 2_500;
/// assert_eq!((quote.net_cents, quote.tax_cents), (Some(net), (net * 19 + 50) / 100));
/// assert_eq!(quote.total_cents, Some(net + quote.tax_cents));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quote {
    /// The work, by stage.
    pub stages: Vec<QuoteStage>,
    /// The new parts.
    pub parts: Vec<QuotePart>,
    /// The price of the travel in hundredths of the currency, 0 for none.
    pub travel_cents: i64,
    /// The sum of work, parts with a price and travel; `None` without a rate.
    pub net_cents: Option<i64>,
    /// The tax on all prices, in hundredths of a percent, 0 for none.
    pub tax_percent_hundredths: u32,
    /// The tax on the sum, in hundredths of the currency.
    pub tax_cents: i64,
    /// What the client pays; `None` without a rate.
    pub total_cents: Option<i64>,
    /// What 8 in 10 jobs stay under, if sample notes support it.
    pub high: Option<Total>,
    /// The parts without a price, which are in no sum.
    pub unpriced: Vec<&'static str>,
    /// The parts that no step of the job fits, so that fitting them is in no sum.
    pub not_fitted: Vec<&'static str>,
    /// For how many days it holds.
    pub valid_days: u32,
}

/// Returns the tax on a sum, rounded half up.
pub(super) fn tax(details: &Details, cents: i64) -> i64 {
    let percent = tax_percent(details);
    let exact = i128::from(cents) * i128::from(percent);
    i64::try_from((exact + 5_000).div_euclid(10_000)).unwrap_or(i64::MAX)
}

/// Returns the tax in a sum that includes it, rounded half up.
pub(super) fn tax_in(details: &Details, cents: i64) -> i64 {
    let percent = i128::from(tax_percent(details));
    let whole = 10_000 + percent;
    let tax = (i128::from(cents) * percent * 2 + whole).div_euclid(2 * whole);
    i64::try_from(tax).unwrap_or(i64::MAX)
}

/// Returns the tax in hundredths of a percent, at most 100 %.
pub(super) fn tax_percent(details: &Details) -> u32 {
    let percent = details.tax_percent_hundredths.unwrap_or(0);
    percent.min(Details::MAX_TAX)
}

/// Returns the parts to order with their prices, and how long it takes to fit them.
fn parts(job: &Job, estimate: &Estimate) -> Vec<QuotePart> {
    let line = |part: PartToOrder| {
        let renewal = part.part.renewal();
        let fits = |takes: &[crate::trade::MeasureId]| takes.iter().any(|m| m.as_str() == renewal);
        let fitting = estimate.lines.iter().filter(|l| fits(&l.step.takes));
        QuotePart {
            cents: part
                .each_cents
                .map(|each| i64::from(each) * part.count as i64),
            fitting_minutes: fitting.map(|l| l.minutes[1]).sum(),
            part,
        }
    };
    parts_decided(job.state()).into_iter().map(line).collect()
}

/// Returns what a job will cost by its estimate.
///
/// The range is that of the hours alone, and only where a step rests on sample notes: without them nothing supports one.
pub fn quote(job: &Job, estimate: &Estimate) -> Quote {
    let details = job.state().details();
    let parts = parts(job, estimate);
    let travel_cents = i64::from(details.travel_cents.unwrap_or(0));
    let price = |minutes| Total::of(details, minutes).cents;
    let stage = |&(stage, minutes): &(Stage, i64)| QuoteStage {
        stage,
        minutes,
        cents: price(minutes),
    };
    let stages: Vec<QuoteStage> = estimate.stages.iter().map(stage).collect();
    let priced: i64 = parts.iter().filter_map(|p| p.cents).sum();
    let all = |work: i64| work.saturating_add(priced).saturating_add(travel_cents);
    let work: i64 = stages.iter().filter_map(|s| s.cents).sum();
    let net_cents = details.rate().map(|_| all(work));
    let with_tax = |net: i64| net.saturating_add(tax(details, net));
    let is_sampled = |basis: Basis| matches!(basis, Basis::Sampled { .. });
    let has_range = estimate.lines.iter().any(|l| is_sampled(l.basis));
    let high = estimate.totals[2].clone();
    Quote {
        stages,
        travel_cents,
        net_cents,
        tax_percent_hundredths: tax_percent(details),
        tax_cents: net_cents.map_or(0, |net| tax(details, net)),
        total_cents: net_cents.map(with_tax),
        high: has_range.then(|| Total {
            cents: high.cents.map(|work| with_tax(all(work))),
            ..high
        }),
        unpriced: parts
            .iter()
            .filter(|p| p.cents.is_none())
            .map(|p| p.part.name)
            .collect(),
        not_fitted: parts
            .iter()
            .filter(|p| p.fitting_minutes == 0)
            .map(|p| p.part.name)
            .collect(),
        parts,
        valid_days: match details.valid_days {
            None | Some(0) => Details::VALID_DAYS,
            Some(days) => days,
        },
    }
}

#[cfg(test)]
mod tests;
