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
//! response shrinks toward it, with many it follows the readings. The farther the trials contradict
//! the prior, both being as uncertain as they are, the less it counts; but it always counts.
//! Trials of one note that follow each other share a reading, so they are fitted as readings on the
//! cumulative turns, with one intercept for the note.
//!
//! **Range**: turns that stay on the thread, felt that has settled.
//! **Error**: given as the standard error of each response. Backlash makes small turns look weaker
//! than they are.

mod fit;
mod model;

pub use fit::median_slope;
pub use model::{LEAST_SPREAD, NoiseModel, Prior, Response, TurnResult};

use fit::{TrialChange, first_trials, refined};
use model::{Point, chained, hand_of, hand_weight, spread_factor};

use super::{SumError, positive};
use crate::note::{Note, Sections};

/// The standard deviation between the sections of one action, as a fraction: the value assumed
/// until it can be estimated, and the number of sections that it counts as (M).
const SECTIONS: (f64, f64) = (0.08, 3.0);

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
    let points: Vec<Point> = trials.iter().map(TurnResult::alone).collect();
    fitted(&points, prior, scatter)
}

fn fitted(points: &[Point], prior: Prior, scatter: NoiseModel) -> Result<Response, SumError> {
    positive(prior.mm_per_turn, "The response known beforehand")?;
    positive(prior.spread, "The spread of the response known beforehand")?;
    let middle = match points.iter().filter(|p| p.turns != 0.0).count() {
        0..=2 => None,
        _ => {
            let slopes: Vec<(f64, f64)> = points.iter().map(|p| (p.turns, p.change)).collect();
            median_slope(&slopes)
        }
    };
    let notes = scatter.between_notes() * middle.unwrap_or(prior.mm_per_turn).abs();
    let rows: Vec<TrialChange> = points
        .iter()
        .map(|p| TrialChange {
            turns: p.turns,
            change: p.change,
            scale: (scatter.of_readings(p.readings).powi(2) + (notes * p.turns).powi(2)).sqrt(),
        })
        .collect();
    let fit = match middle {
        Some(start) => refined(&rows, start, prior),
        None => first_trials(&rows, prior),
    };
    let set_aside: Vec<usize> = (0..rows.len())
        .filter(|i| rows[*i].turns == 0.0 || fit.weights[*i] <= 0.0)
        .collect();
    let used = rows.len() - set_aside.len();
    let kept = (0..rows.len()).filter(|i| !set_aside.contains(i));
    let squares: f64 = kept.map(|i| rows[i].away(fit.slope).powi(2)).sum();
    let noise = scatter.of_change().powi(2);
    let mut hand_sums = (0.0, 0.0);
    for i in (0..rows.len()).filter(|i| !set_aside.contains(i)) {
        let moved = fit.slope * rows[i].turns;
        let off = rows[i].change - moved;
        let read = scatter.of_readings(points[i].readings).powi(2);
        let weight = hand_weight(moved, noise);
        hand_sums.0 += weight * (off * off - read) * moved * moved;
        hand_sums.1 += weight * moved.powi(4);
    }
    Ok(Response {
        mm_per_turn: fit.slope,
        standard_error: fit.information.sqrt().recip(),
        hand: hand_of(hand_sums, noise),
        hand_sums,
        spread_factor: spread_factor(squares, used as f64),
        used,
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
    let whole = learn_whole(trials, prior, scatter)?;
    let each = Trials::new(trials, sections, prior, scatter)?;
    let learned = (0..sections.count()).map(|section| each.section(section));
    Ok(Learned {
        sections: learned.collect::<Result<_, _>>()?,
        whole,
    })
}

/// Learns the response over the whole action, from the trials of its notes.
///
/// # Errors
/// As [`learn`].
pub fn learn_whole(
    trials: &[(Note, TurnResult)],
    prior: Prior,
    scatter: NoiseModel,
) -> Result<Response, SumError> {
    let points: Vec<Point> = by_note(trials).into_iter().map(|(_, p)| p).collect();
    fitted(&points, prior, scatter)
}

/// Returns the points of all trials, chained within each note, in the order of the trials.
fn by_note(trials: &[(Note, TurnResult)]) -> Vec<(Note, Point)> {
    let mut points: Vec<(Note, Point)> = trials.iter().map(|(n, t)| (*n, t.alone())).collect();
    let mut counts = [0u32; Note::COUNT];
    trials.iter().for_each(|(n, _)| counts[n.index()] += 1);
    let mut own: Vec<TurnResult> = Vec::new();
    // One trial is its own chain, and most notes have no more.
    for note in Note::all().filter(|note| counts[note.index()] > 1) {
        own.clear();
        own.extend(trials.iter().filter(|(n, _)| *n == note).map(|(_, t)| *t));
        let here = points.iter_mut().filter(|(n, _)| *n == note);
        for ((_, point), chained) in here.zip(chained(&own)) {
            *point = chained;
        }
    }
    points
}

/// The trials of an action, prepared once for all its sections.
#[derive(Clone, Debug)]
pub(super) struct Trials {
    points: Vec<(Note, Point)>,
    sections: Sections,
    prior: Prior,
    /// How much the sections differ, as a fraction.
    differ: f64,
    scatter: NoiseModel,
}

impl Trials {
    /// Fails as [`learn`].
    pub fn new(
        trials: &[(Note, TurnResult)],
        sections: &Sections,
        prior: Prior,
        scatter: NoiseModel,
    ) -> Result<Trials, SumError> {
        let points = by_note(trials);
        Ok(Trials {
            differ: sections_differ(&points, sections, prior, scatter)?,
            points,
            sections: sections.clone(),
            prior,
            scatter,
        })
    }

    /// Learns the response of one section as [`learn_action`] does, without computing the others. Fails as [`learn`].
    pub fn section(&self, section: usize) -> Result<Response, SumError> {
        let known = (self.prior, self.differ);
        of_section(&self.points, &self.sections, section, known, self.scatter)
    }
}

/// Returns the points of a section, and those of the others.
fn split(
    points: &[(Note, Point)],
    sections: &Sections,
    section: usize,
) -> (Vec<Point>, Vec<Point>) {
    let (mut here, mut there) = (Vec::new(), Vec::new());
    for (note, point) in points {
        match sections.of(*note) == section {
            true => here.push(*point),
            false => there.push(*point),
        }
    }
    (here, there)
}

fn sections_differ(
    points: &[(Note, Point)],
    sections: &Sections,
    prior: Prior,
    scatter: NoiseModel,
) -> Result<f64, SumError> {
    let alone: Vec<Response> = (0..sections.count())
        .map(|section| fitted(&split(points, sections, section).0, prior, scatter))
        .collect::<Result<_, _>>()?;
    Ok(spread_of(&alone))
}

fn of_section(
    points: &[(Note, Point)],
    sections: &Sections,
    section: usize,
    (prior, differ): (Prior, f64),
    scatter: NoiseModel,
) -> Result<Response, SumError> {
    let (here, there) = split(points, sections, section);
    let elsewhere = fitted(&there, prior, scatter)?;
    let turned = |s: &usize| *s != section && points.iter().any(|(n, _)| sections.of(*n) == *s);
    let others = (0..sections.count()).filter(turned).count().max(1) as f64;
    // The mean of the others is off by their own differences, too.
    let differ = differ * (1.0 + 1.0 / others).sqrt();
    // A negative response from the other sections is not evidence for this one.
    let known = match elsewhere.mm_per_turn > 0.0 {
        true => elsewhere.as_prior(differ),
        false => prior,
    };
    let learned = forward(fitted(&here, known, scatter)?, known, scatter)?;
    let [a, b] = [&elsewhere, &learned].map(|r| r.hand_sums);
    let hand_sums = (a.0 + b.0, a.1 + b.1);
    // The hand and the screws are those of the whole action.
    let kept = [&elsewhere, &learned].map(|r| {
        let used = 1.0 + r.used as f64;
        (r.spread_factor.powi(2) * used - 1.0, r.used as f64)
    });
    let (squares, used) = (kept[0].0 + kept[1].0, kept[0].1 + kept[1].1);
    Ok(Response {
        spread_factor: spread_factor(squares, used),
        hand: hand_of(hand_sums, scatter.of_change().powi(2)),
        hand_sums,
        ..learned
    })
}

/// Returns what was learned, or what was known beforehand if the trials say that the screw works backward: few trials
/// with slips among them. No screw does.
fn forward(learned: Response, known: Prior, scatter: NoiseModel) -> Result<Response, SumError> {
    match learned.mm_per_turn > 0.0 {
        true => Ok(learned),
        false => fitted(&[], known, scatter),
    }
}

/// Learns the response of one note from its own trials, with that of its section as the prior. The
/// section was learned from these trials too; they are a small part of its evidence. How far turns
/// fall from what is expected is that of the section.
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
    let learned = forward(fitted(&chained(trials), prior, own)?, prior, own)?;
    Ok(Response {
        spread_factor: section.spread_factor.max(learned.spread_factor),
        hand: section.hand,
        ..learned
    })
}

/// Returns the standard deviation between sections, as a fraction of their mean response, from
/// those with three trials or more.
///
/// **Rule**: the moment estimate `δ²` of DerSimonian and Laird, shrunk to the value assumed:
/// `(3·0.08² + (k − 1)·δ²)/(3 + k − 1)` for k sections.
fn spread_of(sections: &[Response]) -> f64 {
    let known: Vec<(f64, f64)> = sections
        .iter()
        .filter(|r| r.used >= 3)
        .map(|r| (r.mm_per_turn, r.standard_error.powi(-2)))
        .collect();
    if known.len() < 2 {
        return SECTIONS.0;
    }
    let weight: f64 = known.iter().map(|k| k.1).sum();
    let mean = known.iter().map(|k| k.0 * k.1).sum::<f64>() / weight;
    let q: f64 = known.iter().map(|k| k.1 * (k.0 - mean).powi(2)).sum();
    let c = weight - known.iter().map(|k| k.1.powi(2)).sum::<f64>() / weight;
    let free = (known.len() - 1) as f64;
    let between = ((q - free) / c).max(0.0) / (mean * mean);
    let assumed = SECTIONS.1 * SECTIONS.0.powi(2);
    let fraction = ((assumed + free * between) / (SECTIONS.1 + free)).sqrt();
    if fraction.is_finite() {
        fraction.min(1.0)
    } else {
        SECTIONS.0
    }
}

#[cfg(test)]
mod tests;
