//! The response: what a turn does on this instrument, learned from readings before and after turns.
//!
//! Turns are positive if they make the reading larger, so a response is always above 0: a capstan
//! turned down makes more blow, a button turned down a wider let-off, a drop screw turned down more
//! drop.
//!
//! **Rule.** The change of the reading is proportional to the turn, `Δ = b·t`, a line through the
//! origin. `b` is estimated robustly: it starts from the median slope weighted by the turns and is
//! refined by Tukey's bisquare (P: Beaton and Tukey 1974, tuning constant 4.685), so that an
//! outlier (a turn the wrong way, a misread digit) loses its weight instead of changing the slope.
//! The prior (a default, a one-turn trial, the other sections) counts as one more observation with
//! its own standard deviation (P: normal prior, precision-weighted mean): with few readings the
//! response shrinks toward it, with many it follows the readings. If the trials agree with each
//! other and contradict the prior, the prior loses its weight by the same bisquare.
//!
//! **Range**: turns that stay on the thread, felt that has settled.
//! **Error**: given as the standard error of each response. Backlash makes small turns look weaker
//! than they are.

mod fit;
mod model;

pub use fit::median_slope;
pub use model::{NoiseModel, Prior, Response, TurnResult};

use fit::{TrialChange, first_trials, refined};

use super::{SumError, positive};
use crate::note::{Note, Sections};

/// The standard deviation between the sections of one action, as a fraction: the value assumed
/// until it can be estimated (M), and the minimum.
const SECTIONS: (f64, f64) = (0.08, 0.02);

/// Learns a response from trials and a prior.
///
/// Fewer than three trials cannot separate an outlier from an unusual instrument. So a trial that
/// lies more than 3.5 standard deviations from the prior is set aside; three that agree with each
/// other overrule it.
///
/// # Errors
/// [`SumError::NotPositive`] if the response or the standard deviation of the prior is not above 0.
///
/// ```
/// use evenhand_core::analysis::response::{Prior, NoiseModel, TurnResult, learn};
/// use evenhand_core::unit::{Length, Turns};
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let trial = |turned, before, after| TurnResult {
///     turned: Turns::from_64ths(turned), before: mm(before), after: mm(after),
/// };
/// // A default of 8 mm a turn; this instrument does 10, and the last reading slipped.
/// let seen = [trial(8, 4600, 4725), trial(-8, 4600, 4475), trial(16, 4400, 4650), trial(8, 4600, 4400)];
/// let response = learn(&seen, Prior::rough(8.0), NoiseModel::default())?;
/// assert!((response.mm_per_turn - 10.0).abs() < 0.2);
/// assert_eq!(response.set_aside, [3]);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn learn(
    trials: &[TurnResult],
    prior: Prior,
    scatter: NoiseModel,
) -> Result<Response, SumError> {
    positive(prior.mm_per_turn, "The response known beforehand")?;
    positive(prior.spread, "The spread of the response known beforehand")?;
    let points: Vec<(f64, f64)> = trials.iter().map(TurnResult::point).collect();
    let middle = match points.iter().filter(|p| p.0 != 0.0).count() {
        0..=2 => None,
        _ => median_slope(&points),
    };
    let notes = scatter.between_notes() * middle.unwrap_or(prior.mm_per_turn).abs();
    let rows: Vec<TrialChange> = points
        .iter()
        .map(|&(turns, change)| TrialChange {
            turns,
            change,
            scale: scatter.of_change().hypot(notes * turns),
        })
        .collect();
    let fit = match middle {
        Some(start) => refined(&rows, start, prior),
        None => first_trials(&rows, prior),
    };
    let set_aside: Vec<usize> = (0..rows.len())
        .filter(|i| rows[*i].turns == 0.0 || fit.weights[*i] <= 0.0)
        .collect();
    Ok(Response {
        mm_per_turn: fit.slope,
        standard_error: fit.information.sqrt().recip(),
        used: rows.len() - set_aside.len(),
        set_aside,
        reading: scatter.reading.abs(),
    })
}

/// The responses of one kind of screw over the whole action and in its sections. [`learn_action`]
/// computes them; it has no default.
///
/// ```
/// use evenhand_core::analysis::response::{Prior, NoiseModel, TurnResult, learn_action};
/// use evenhand_core::note::{Note, Sections};
/// use evenhand_core::unit::{Length, Turns};
///
/// let trial = TurnResult {
///     turned: Turns::from_64ths(8),
///     before: Length::from_mm_hundredths(4500),
///     after: Length::from_mm_hundredths(4625),
/// };
/// let sections = Sections::new([Note::new(44)?]).unwrap();
/// let learned = learn_action(&[(Note::FIRST, trial)], &sections, Prior::rough(8.0), NoiseModel::default()).unwrap();
/// // The bass has a trial of 10 mm per turn; the treble follows it with a larger standard error.
/// let [bass, treble] = &learned.sections[..] else { panic!("two sections") };
/// assert!(bass.mm_per_turn > 8.0 && treble.mm_per_turn > 8.0);
/// assert!(treble.standard_error > bass.standard_error);
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Over all notes.
    pub whole: Response,
    /// Of each section, bass first.
    pub sections: Vec<Response>,
}

/// Learns the response over the whole action and in each section.
///
/// The prior of a section is the response of all *other* sections, with the standard deviation
/// observed between sections (P: DerSimonian and Laird 1986, the moment estimate), so that nothing
/// is counted twice: a section without trials takes the response of the rest, one with many its
/// own. `set_aside` of `whole` holds indices into `trials`; that of a section, indices among its
/// own trials.
///
/// # Errors
/// As [`learn`].
pub fn learn_action(
    trials: &[(Note, TurnResult)],
    sections: &Sections,
    prior: Prior,
    scatter: NoiseModel,
) -> Result<Learned, SumError> {
    let all: Vec<TurnResult> = trials.iter().map(|(_, t)| *t).collect();
    let whole = learn(&all, prior, scatter)?;
    let differ = sections_differ(trials, sections, prior, scatter)?;
    let learned = (0..sections.count())
        .map(|section| of_section(trials, sections, section, (prior, differ), scatter));
    Ok(Learned {
        sections: learned.collect::<Result<_, _>>()?,
        whole,
    })
}

/// Learns the response of one section as [`learn_action`] does, without computing the others.
///
/// # Errors
/// As [`learn`].
pub fn learn_section(
    trials: &[(Note, TurnResult)],
    sections: &Sections,
    section: usize,
    prior: Prior,
    scatter: NoiseModel,
) -> Result<Response, SumError> {
    let differ = sections_differ(trials, sections, prior, scatter)?;
    of_section(trials, sections, section, (prior, differ), scatter)
}

/// Returns the trials of a section, and those of the others.
fn split(
    trials: &[(Note, TurnResult)],
    sections: &Sections,
    section: usize,
) -> (Vec<TurnResult>, Vec<TurnResult>) {
    let (mut here, mut there) = (Vec::new(), Vec::new());
    for (note, trial) in trials {
        match sections.of(*note) == section {
            true => here.push(*trial),
            false => there.push(*trial),
        }
    }
    (here, there)
}

fn sections_differ(
    trials: &[(Note, TurnResult)],
    sections: &Sections,
    prior: Prior,
    scatter: NoiseModel,
) -> Result<f64, SumError> {
    let alone: Vec<Response> = (0..sections.count())
        .map(|section| learn(&split(trials, sections, section).0, prior, scatter))
        .collect::<Result<_, _>>()?;
    Ok(spread_of(&alone))
}

fn of_section(
    trials: &[(Note, TurnResult)],
    sections: &Sections,
    section: usize,
    (prior, differ): (Prior, f64),
    scatter: NoiseModel,
) -> Result<Response, SumError> {
    let (here, there) = split(trials, sections, section);
    let elsewhere = learn(&there, prior, scatter)?;
    // A negative response from the other sections is not evidence for this one.
    let known = match elsewhere.mm_per_turn > 0.0 {
        true => elsewhere.as_prior(differ),
        false => prior,
    };
    learn(&here, known, scatter)
}

/// Learns the response of one note from its own trials, with that of its section as the prior. The
/// section was learned from these trials too; they are a small part of its evidence.
///
/// # Errors
/// As [`learn`].
pub fn learn_note(
    section: &Response,
    trials: &[TurnResult],
    scatter: NoiseModel,
) -> Result<Response, SumError> {
    let prior = section.as_prior(scatter.between_notes());
    let own = NoiseModel {
        notes: 0.0,
        ..scatter
    };
    learn(trials, prior, own)
}

/// Returns the standard deviation between sections, as a fraction of their mean response, from
/// those with three trials or more.
fn spread_of(sections: &[Response]) -> f64 {
    let known: Vec<(f64, f64)> = sections
        .iter()
        .filter(|r| r.used >= 3)
        .map(|r| (r.mm_per_turn, r.standard_error.powi(-2)))
        .collect();
    if known.len() < 3 {
        return SECTIONS.0;
    }
    let weight: f64 = known.iter().map(|k| k.1).sum();
    let mean = known.iter().map(|k| k.0 * k.1).sum::<f64>() / weight;
    let q: f64 = known.iter().map(|k| k.1 * (k.0 - mean).powi(2)).sum();
    let c = weight - known.iter().map(|k| k.1.powi(2)).sum::<f64>() / weight;
    let between = ((q - (known.len() - 1) as f64) / c).max(0.0).sqrt();
    let fraction = between / mean;
    if fraction.is_finite() {
        fraction.clamp(SECTIONS.1, 1.0)
    } else {
        SECTIONS.0
    }
}

#[cfg(test)]
mod tests;
