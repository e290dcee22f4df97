//! What a turn does on this instrument, learned from every reading before and after a turn, and
//! the turn that a reading calls for.
//!
//! Turns are positive when they make the reading larger, so a response is always above zero:
//! a capstan turned down makes more blow, a button turned down a wider let-off, a drop screw
//! turned down more drop.
//!
//! **Rule.** The change of the reading is taken as proportional to the turn, `Δ = b·t`, a line
//! through the origin. `b` is found robustly: it starts from the median slope weighted by the
//! turns and is refined by Tukey's bisquare (P: Beaton and Tukey 1974, tuning constant 4.685),
//! so that a slip (a turn the wrong way, a misread digit) loses its say instead of bending
//! the line. What was known before (a default, a one-turn trial, the other sections) counts
//! as one more observation with its own spread (P: normal prior, precision-weighted mean), so
//! with few readings the response stays near it and with many it follows them. Where the
//! trials agree with each other and contradict it, it loses its say by the same bisquare.
//!
//! **Range**: turns that stay on the thread, felts that are settled. **Error**: stated as a
//! standard error beside each response. Backlash makes small turns look weaker than they are.

use std::cmp::Ordering;

use super::{SumError, positive, robust_scale};
use crate::note::{Note, Sections};
use crate::trade::{Adjuster, Measure};
use crate::unit::{Kind, Length, Turns};

/// A reading before and after a turn of the same note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Trial {
    /// How far it was turned, positive for a larger reading.
    pub turned: Turns,
    /// The reading before.
    pub before: Length,
    /// The reading after.
    pub after: Length,
}

impl Trial {
    fn point(&self) -> (f64, f64) {
        (self.turned.turns(), (self.after - self.before).mm())
    }
}

/// How much readings and notes scatter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scatter {
    /// The standard deviation of one reading; 0.1 mm is usual (M).
    pub reading: Length,
    /// By how much the response differs from note to note, as a fraction; 0.08 is usual (M).
    pub notes: f64,
}

impl Default for Scatter {
    fn default() -> Scatter {
        Scatter {
            reading: Length::from_nm(100_000),
            notes: 0.08,
        }
    }
}

impl Scatter {
    /// The standard deviation of a difference of two readings, in mm; never quite zero.
    fn of_change(&self) -> f64 {
        self.reading.mm().abs().max(1e-3) * std::f64::consts::SQRT_2
    }

    /// The fraction by which notes differ, made harmless.
    fn between_notes(&self) -> f64 {
        if self.notes.is_finite() {
            self.notes.clamp(0.0, 1.0)
        } else {
            0.0
        }
    }
}

/// What is known of a response before any reading is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Millimetres of reading for one turn.
    pub mm_per_turn: f64,
    /// How far that may be off: a standard deviation, in mm per turn.
    pub spread: f64,
}

/// How far a rough default may be off, as a fraction (M).
const ROUGH: f64 = 0.35;

/// How much the sections of one action differ, as a fraction, until there is enough to tell (M),
/// and at the least.
const SECTIONS: (f64, f64) = (0.08, 0.02);

/// How many standard deviations from what was known make one of the first trials incredible (M).
const INCREDIBLE: f64 = 3.5;

/// The tuning constant of the bisquare (P: Beaton and Tukey 1974; 95 % efficiency at the normal).
const BISQUARE: f64 = 4.685;

impl Prior {
    /// A default from lever lengths and thread pitch: off by a third, as likely as not (M).
    pub const fn rough(mm_per_turn: f64) -> Prior {
        Prior {
            mm_per_turn,
            spread: mm_per_turn * ROUGH,
        }
    }

    /// From a deliberate trial on one note of this instrument, which says of the other notes
    /// what one note can.
    ///
    /// # Errors
    /// Refuses a trial that was not turned, or in which the reading went the other way.
    pub fn from_trial(trial: &Trial, scatter: Scatter) -> Result<Prior, SumError> {
        let (turns, mm) = trial.point();
        let slope = mm / turns;
        let slope = positive(slope, "What the trial's turn did to the reading")?;
        let reading = scatter.of_change() / turns.abs();
        Ok(Prior {
            mm_per_turn: slope,
            spread: reading.hypot(scatter.between_notes() * slope),
        })
    }
}

/// What a turn does, and how well that is known.
#[derive(Clone, Debug, PartialEq)]
pub struct Response {
    /// Millimetres of reading for one turn.
    pub mm_per_turn: f64,
    /// Its standard error, in mm per turn.
    pub standard_error: f64,
    /// How many trials it rests on.
    pub used: usize,
    /// Which trials have no say, as places in the slice given: slips, or nothing was turned.
    pub set_aside: Vec<usize>,
    /// The scatter of one reading that it was learned with.
    reading: Length,
}

impl Response {
    /// As what is known beforehand of something that differs from this by a fraction.
    pub fn as_prior(&self, differs: f64) -> Prior {
        Prior {
            mm_per_turn: self.mm_per_turn,
            spread: self.standard_error.hypot(differs * self.mm_per_turn),
        }
    }
}

/// Learns a response from trials, starting from what was known.
///
/// With fewer than three trials nothing tells a slip from a strange instrument, so a trial
/// that lies more than 3.5 standard deviations from what was known is set aside; three that
/// agree with each other overrule it.
///
/// # Errors
/// Refuses a prior whose response or spread is not above zero.
///
/// ```
/// use evenhand_core::analysis::response::{Prior, Scatter, Trial, learn};
/// use evenhand_core::unit::{Length, Turns};
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let trial = |turned, before, after| Trial {
///     turned: Turns::from_64ths(turned), before: mm(before), after: mm(after),
/// };
/// // A default of 8 mm a turn; this instrument does 10, and the last reading slipped.
/// let seen = [trial(8, 4600, 4725), trial(-8, 4600, 4475), trial(16, 4400, 4650), trial(8, 4600, 4400)];
/// let response = learn(&seen, Prior::rough(8.0), Scatter::default())?;
/// assert!((response.mm_per_turn - 10.0).abs() < 0.2);
/// assert_eq!(response.set_aside, [3]);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn learn(trials: &[Trial], prior: Prior, scatter: Scatter) -> Result<Response, SumError> {
    positive(prior.mm_per_turn, "The response known beforehand")?;
    positive(prior.spread, "The spread of the response known beforehand")?;
    let points: Vec<(f64, f64)> = trials.iter().map(Trial::point).collect();
    let middle = match points.iter().filter(|p| p.0 != 0.0).count() {
        0..=2 => None,
        _ => median_slope(&points),
    };
    let notes = scatter.between_notes() * middle.unwrap_or(prior.mm_per_turn).abs();
    let rows: Vec<Row> = points
        .iter()
        .map(|&(turns, change)| Row {
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

/// A trial ready for the fit: turns, the change in mm, and how far that may lie from the line, in mm.
struct Row {
    turns: f64,
    change: f64,
    scale: f64,
}

impl Row {
    /// How far it lies from the line with this slope, in units of its scale.
    fn away(&self, slope: f64) -> f64 {
        (self.change - slope * self.turns) / self.scale
    }
}

struct Fit {
    slope: f64,
    /// One over the square of the standard error.
    information: f64,
    weights: Vec<f64>,
}

impl Fit {
    /// The precision-weighted mean of the trials, each with its weight, and the prior with its `trust`.
    fn of(rows: &[Row], weights: Vec<f64>, prior: Prior, trust: f64) -> Fit {
        let known = trust / prior.spread.powi(2);
        let sum = |f: fn(&Row) -> f64| -> f64 {
            let weighed = rows.iter().zip(&weights);
            weighed.map(|(row, w)| w * f(row) / row.scale.powi(2)).sum()
        };
        let information = sum(|r| r.turns * r.turns) + known;
        let slope = (sum(|r| r.turns * r.change) + prior.mm_per_turn * known) / information;
        Fit {
            slope,
            information,
            weights,
        }
    }
}

/// One or two trials have their say in full, or none if the prior makes them incredible.
fn first_trials(rows: &[Row], prior: Prior) -> Fit {
    let weight = |row: &Row| {
        let doubt = row.scale.hypot(prior.spread * row.turns);
        let off = (row.change - prior.mm_per_turn * row.turns).abs();
        if off <= INCREDIBLE * doubt { 1.0 } else { 0.0 }
    };
    Fit::of(rows, rows.iter().map(weight).collect(), prior, 1.0)
}

/// The bisquare refinement from `start`, with the prior as one more observation.
fn refined(rows: &[Row], start: f64, prior: Prior) -> Fit {
    let turned = rows.iter().filter(|row| row.turns != 0.0);
    let seen: Vec<f64> = turned.map(|row| row.away(start)).collect();
    // The scatter seen widens the scale; it never narrows it below what reading allows.
    let wide = robust_scale(&seen).max(1.0);
    let rows: Vec<Row> = rows
        .iter()
        .map(|row| Row {
            scale: wide * row.scale,
            ..*row
        })
        .collect();
    let step = |slope: f64| {
        let weights = rows.iter().map(|row| bisquare(row.away(slope) / BISQUARE));
        let off = (slope - prior.mm_per_turn) / prior.spread;
        Fit::of(&rows, weights.collect(), prior, bisquare(off / BISQUARE))
    };
    let mut fit = step(start);
    for _ in 0..50 {
        let next = step(fit.slope);
        // If nothing is left that has a say, what was known stands.
        if !next.slope.is_finite() {
            return Fit::of(&rows, vec![0.0; rows.len()], prior, 1.0);
        }
        let settled = (next.slope - fit.slope).abs() <= 1e-9 * next.slope.abs();
        fit = next;
        if settled {
            break;
        }
    }
    fit
}

/// Tukey's weight for a residual in units of the cut: 1 at the line, 0 from the cut on.
fn bisquare(u: f64) -> f64 {
    if u.abs() < 1.0 {
        (1.0 - u * u).powi(2)
    } else {
        0.0
    }
}

/// The slope through the origin with the smallest sum of absolute residuals: the median of
/// `y/x` with weights `|x|` (P: the L1 line). Points at `x = 0` have no say; nothing if there
/// are no others. Of two equally good slopes the mean.
///
/// ```
/// use evenhand_core::analysis::response::median_slope;
///
/// assert_eq!(median_slope(&[(1.0, 5.0), (-1.0, -5.0), (1.0, -5.0)]), Some(5.0));
/// ```
pub fn median_slope(points: &[(f64, f64)]) -> Option<f64> {
    let mut slopes: Vec<(f64, f64)> = points
        .iter()
        .map(|(x, y)| (y / x, x.abs()))
        .filter(|(slope, weight)| slope.is_finite() && weight.is_finite() && *weight > 0.0)
        .collect();
    slopes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = slopes.iter().map(|s| s.1).sum::<f64>() / 2.0;
    let mut below = 0.0;
    for (i, (slope, weight)) in slopes.iter().enumerate() {
        below += weight;
        match below.total_cmp(&half) {
            Ordering::Less => continue,
            Ordering::Equal => {
                return Some((slope + slopes.get(i + 1).map_or(*slope, |s| s.0)) / 2.0);
            }
            Ordering::Greater => return Some(*slope),
        }
    }
    None
}

/// The responses of one kind of screw over the whole action.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// Over all notes.
    pub whole: Response,
    /// Of each section, bass first.
    pub sections: Vec<Response>,
}

/// Learns over the whole action and for each section.
///
/// A section starts from what all *other* sections taught, with the spread that sections are
/// seen to have (P: DerSimonian and Laird 1986, the moment estimate), so that nothing is
/// counted twice: a section without trials answers as the rest does, one with many as itself.
/// `set_aside` of `whole` are places in `trials`; of a section, places among its own.
///
/// # Errors
/// As [`learn`].
pub fn learn_action(
    trials: &[(Note, Trial)],
    sections: &Sections,
    prior: Prior,
    scatter: Scatter,
) -> Result<Learned, SumError> {
    let all: Vec<Trial> = trials.iter().map(|(_, t)| *t).collect();
    let whole = learn(&all, prior, scatter)?;
    let differ = sections_differ(trials, sections, prior, scatter)?;
    let learned = (0..sections.count())
        .map(|section| of_section(trials, sections, section, (prior, differ), scatter));
    Ok(Learned {
        sections: learned.collect::<Result<_, _>>()?,
        whole,
    })
}

/// What [`learn_action`] learns for one section, without the others.
///
/// # Errors
/// As [`learn`].
pub fn learn_section(
    trials: &[(Note, Trial)],
    sections: &Sections,
    section: usize,
    prior: Prior,
    scatter: Scatter,
) -> Result<Response, SumError> {
    let differ = sections_differ(trials, sections, prior, scatter)?;
    of_section(trials, sections, section, (prior, differ), scatter)
}

/// The trials of a section, and those of the others.
fn split(
    trials: &[(Note, Trial)],
    sections: &Sections,
    section: usize,
) -> (Vec<Trial>, Vec<Trial>) {
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
    trials: &[(Note, Trial)],
    sections: &Sections,
    prior: Prior,
    scatter: Scatter,
) -> Result<f64, SumError> {
    let alone: Vec<Response> = (0..sections.count())
        .map(|section| learn(&split(trials, sections, section).0, prior, scatter))
        .collect::<Result<_, _>>()?;
    Ok(spread_of(&alone))
}

fn of_section(
    trials: &[(Note, Trial)],
    sections: &Sections,
    section: usize,
    (prior, differ): (Prior, f64),
    scatter: Scatter,
) -> Result<Response, SumError> {
    let (here, there) = split(trials, sections, section);
    let elsewhere = learn(&there, prior, scatter)?;
    // If the others say that turning does the opposite, they do not know this screw either.
    let known = match elsewhere.mm_per_turn > 0.0 {
        true => elsewhere.as_prior(differ),
        false => prior,
    };
    learn(&here, known, scatter)
}

/// Learns the response of one note from its own trials, starting from its section's.
/// The section has seen these trials too, a small part of what it rests on.
///
/// # Errors
/// As [`learn`].
pub fn learn_note(
    section: &Response,
    trials: &[Trial],
    scatter: Scatter,
) -> Result<Response, SumError> {
    let prior = section.as_prior(scatter.between_notes());
    let own = Scatter {
        notes: 0.0,
        ..scatter
    };
    learn(trials, prior, own)
}

/// How much sections differ, as a fraction of their mean response, from those with three trials or more.
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

/// The furthest that anything is turned before it is read again: one turn (M).
pub const MOST: Turns = Turns::from_64ths(64);

/// Something that is turned to move a reading, as the trade has it ([`Adjuster::Turned`]).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Screw {
    /// Its name in the trade.
    pub part: &'static str,
    /// The way to turn it for a larger reading, and for a smaller.
    pub directions: (&'static str, &'static str),
    /// Reading in millimetres for one turn, before anything is known of the instrument.
    pub mm_per_turn: f64,
    /// The finest turn that a hand can do.
    pub resolution: Turns,
}

impl Screw {
    /// What a measure of lengths is moved by, where that is turned.
    ///
    /// ```
    /// use evenhand_core::analysis::response::Screw;
    /// use evenhand_core::trade::Instrument;
    ///
    /// let of = |id| Screw::of(Instrument::Grand.measure(id).unwrap());
    /// assert_eq!(of("blow").unwrap().part, "capstan");
    /// assert_eq!(of("checking"), None);
    /// ```
    pub fn of(measure: &Measure) -> Option<Screw> {
        match measure.adjuster? {
            Adjuster::Turned {
                part,
                directions,
                response,
                resolution,
            } if measure.kind == Kind::Length => Some(Screw {
                part,
                directions,
                mm_per_turn: Length::from_nm(response).mm(),
                resolution,
            }),
            _ => None,
        }
    }
}

/// What to do with a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Correction {
    /// Nothing: what is wanted is finer than a hand can turn.
    Leave,
    /// The response is not known well enough to say which way it goes: turn once, read again.
    TryFirst,
    /// Turn.
    Turn {
        /// How far; positive for a larger reading.
        turns: Turns,
        /// Which way.
        direction: &'static str,
        /// What should be read after it.
        expected: Length,
        /// How far off that may be: one standard deviation.
        give_or_take: Length,
    },
}

/// The turn that brings a reading to its target.
///
/// **Rule**: `t = −e·b/(b² + s²)`, the turn with the smallest expected squared error when the
/// response is `b ± s` (P: decision under a normal posterior). It is never more than `−e/b`,
/// and the less is known of `b` the less it is. If `b` is not above twice its standard error there is no turn
/// at all. Then it is cut to [`MOST`] and rounded to whole steps of the screw's resolution, halves towards
/// less; since the expected squared error is a parabola over the steps, the nearest whole number of them
/// is the best that a hand can do. Where that is none, it says leave it.
///
/// ```
/// use evenhand_core::analysis::response::{Correction, Prior, Scatter, Screw, correction, learn};
/// use evenhand_core::trade::Instrument;
/// use evenhand_core::unit::{Length, Turns};
///
/// let mm = |hundredths| Length::from_mm_hundredths(hundredths);
/// let button = Instrument::Grand.measure("let_off").and_then(Screw::of).unwrap();
/// let unknown = learn(&[], Prior::rough(button.mm_per_turn), Scatter::default())?;
/// let Correction::Turn { turns, direction, .. } = correction(mm(130), mm(200), &unknown, &button) else {
///     panic!("0.7 mm is worth a turn");
/// };
/// assert_eq!((turns.to_string().as_str(), direction), ("1/8", "down"));
/// assert_eq!(correction(mm(190), mm(200), &unknown, &button), Correction::Leave);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
pub fn correction(
    reading: Length,
    target: Length,
    response: &Response,
    screw: &Screw,
) -> Correction {
    let (b, s) = (response.mm_per_turn, response.standard_error);
    // Written so that a response that is not a number is not turned by.
    if !(b > 2.0 * s && b.is_finite()) {
        return Correction::TryFirst;
    }
    let wanted = (target - reading).mm() * b / (b * b + s * s) * 64.0;
    let resolution = screw.resolution.in_64ths().max(1);
    let most = (MOST.in_64ths() / resolution).max(1);
    let steps = wanted / resolution as f64;
    // Halves go towards less; the cast saturates, so nothing overflows before the cut.
    let whole = ((steps.abs() - 0.5).ceil() as i64).min(most);
    if whole < 1 {
        return Correction::Leave;
    }
    let counted = whole.saturating_mul(resolution);
    let turns = Turns::from_64ths(if wanted < 0.0 { -counted } else { counted });
    let twice_read = response.reading.mm() * std::f64::consts::SQRT_2;
    Correction::Turn {
        turns,
        direction: if wanted < 0.0 {
            screw.directions.1
        } else {
            screw.directions.0
        },
        expected: reading + Length::from_mm(turns.turns() * b),
        give_or_take: Length::from_mm((turns.turns() * s).hypot(twice_read)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mm(mm: f64) -> Length {
        Length::from_mm(mm)
    }

    fn trial(turned: i64, per_turn: f64) -> Trial {
        let turned = Turns::from_64ths(turned);
        Trial {
            turned,
            before: mm(46.0),
            after: mm(46.0 + turned.turns() * per_turn),
        }
    }

    fn n(number: i64) -> Note {
        Note::new(number).unwrap()
    }

    fn screw(id: &str) -> Screw {
        let measure = crate::trade::Instrument::Grand.measure(id).unwrap();
        Screw::of(measure).unwrap()
    }

    const ROUGHLY_8: Prior = Prior::rough(8.0);

    fn learned(trials: &[Trial]) -> Response {
        learn(trials, ROUGHLY_8, Scatter::default()).unwrap()
    }

    #[test]
    fn without_trials_the_default_stands_with_its_doubt() {
        let response = learned(&[]);
        assert!((response.mm_per_turn - 8.0).abs() < 1e-12);
        assert!((response.standard_error - 2.8).abs() < 1e-12);
    }

    #[test]
    fn trials_move_the_response_towards_the_instrument_and_make_it_surer() {
        let mut before = learned(&[]);
        for count in 1..12 {
            let now = learned(&vec![trial(8, 10.0); count]);
            assert!((now.mm_per_turn - 10.0).abs() < (before.mm_per_turn - 10.0).abs());
            assert!(now.standard_error < before.standard_error);
            before = now;
        }
    }

    #[test]
    fn slips_do_not_bend_the_line() {
        let mut trials = vec![trial(8, 10.0); 9];
        let clean = learned(&trials);
        trials.extend([trial(8, -10.0), trial(-12, -9.0), trial(6, 90.0)]);
        let with_slips = learned(&trials);
        assert_eq!(with_slips.set_aside, [9, 10, 11]);
        assert!((with_slips.mm_per_turn - clean.mm_per_turn).abs() < 0.15);
    }

    #[test]
    fn a_first_turn_the_wrong_way_is_set_aside() {
        let response = learned(&[trial(8, -8.0)]);
        assert_eq!(response.set_aside, [0]);
        assert_eq!(response.mm_per_turn, 8.0);
    }

    #[test]
    fn a_strange_instrument_is_believed_when_it_says_so_three_times() {
        let response = learned(&[trial(8, 24.0), trial(-8, 24.0), trial(16, 24.0)]);
        assert!(response.set_aside.is_empty());
        assert!((response.mm_per_turn - 24.0).abs() < 2.0, "{response:?}");
    }

    #[test]
    fn nothing_turned_says_nothing() {
        let response = learned(&[trial(0, 8.0)]);
        assert_eq!((response.used, response.mm_per_turn), (0, 8.0));
    }

    #[test]
    fn a_trial_makes_a_narrower_prior_than_a_default() {
        let prior = Prior::from_trial(&trial(64, 9.0), Scatter::default()).unwrap();
        assert!((prior.mm_per_turn - 9.0).abs() < 1e-6);
        assert!(prior.spread < Prior::rough(9.0).spread);
        assert!(Prior::from_trial(&trial(64, -9.0), Scatter::default()).is_err());
        assert!(Prior::from_trial(&trial(0, 9.0), Scatter::default()).is_err());
    }

    #[test]
    fn a_section_without_trials_answers_as_the_rest_and_one_with_many_as_itself() {
        let sections = Sections::new([n(20), n(40), n(60)]).unwrap();
        let mut trials = Vec::new();
        for _ in 0..20 {
            trials.push((n(5), trial(8, 7.0)));
            trials.push((n(30), trial(8, 8.0)));
            trials.push((n(50), trial(8, 9.0)));
        }
        let all = learn_action(&trials, &sections, ROUGHLY_8, Scatter::default()).unwrap();
        let of = |s: usize| all.sections[s].mm_per_turn;
        assert!(
            (of(0) - 7.0).abs() < 0.25 && (of(2) - 9.0).abs() < 0.25,
            "{all:?}"
        );
        assert!((of(3) - 8.0).abs() < 0.3);
        assert!(all.sections[3].standard_error > all.sections[2].standard_error);
    }

    #[test]
    fn a_section_with_one_trial_leans_on_the_others() {
        let sections = Sections::new([n(44)]).unwrap();
        let mut trials = vec![(n(5), trial(8, 8.0)); 20];
        trials.push((n(60), trial(8, 12.0)));
        let all = learn_action(&trials, &sections, ROUGHLY_8, Scatter::default()).unwrap();
        let treble = all.sections[1].mm_per_turn;
        assert!(treble > 8.0 && treble < 10.5, "{treble}");
    }

    #[test]
    fn a_note_of_its_own_kind_is_learned_from_its_own_turns() {
        let section = learned(&vec![trial(8, 8.0); 30]);
        let once = learn_note(&section, &[trial(8, 9.5)], Scatter::default()).unwrap();
        let often = learn_note(&section, &[trial(8, 9.5); 6], Scatter::default()).unwrap();
        assert!(section.mm_per_turn < once.mm_per_turn && once.mm_per_turn < often.mm_per_turn);
    }

    #[test]
    fn the_less_is_known_the_less_is_turned() {
        let sure = learned(&vec![trial(32, 8.0); 40]);
        let unsure = learned(&[]);
        let turned =
            |response: &Response| match correction(mm(50.0), mm(45.0), response, &screw("blow")) {
                Correction::Turn { turns, .. } => -turns.in_64ths(),
                other => panic!("{other:?}"),
            };
        assert!(turned(&unsure) < turned(&sure));
        assert_eq!(turned(&sure), 40);
    }

    #[test]
    fn directions_are_those_of_the_trade() {
        let sure = learned(&vec![trial(32, 8.0); 40]);
        let way = |reading, target, id| match correction(mm(reading), mm(target), &sure, &screw(id))
        {
            Correction::Turn { direction, .. } => direction,
            other => panic!("{other:?}"),
        };
        assert_eq!(way(46.0, 45.0, "blow"), "up");
        assert_eq!(way(1.0, 2.0, "let_off"), "down");
        assert_eq!(way(1.0, 2.0, "drop"), "down");
    }

    #[test]
    fn a_response_that_may_be_none_is_tried_first() {
        let vague = Prior {
            mm_per_turn: 8.0,
            spread: 5.0,
        };
        let vague = learn(&[], vague, Scatter::default()).unwrap();
        let asked = correction(mm(50.0), mm(45.0), &vague, &screw("blow"));
        assert_eq!(asked, Correction::TryFirst);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(learn(&[], Prior::rough(bad), Scatter::default()).is_err());
        }
    }

    proptest! {
        #[test]
        fn a_turn_is_whole_steps_never_beyond_the_target_and_never_too_far(
            reading in -60.0..60.0f64, target in -60.0..60.0f64, count in 0usize..5, per_turn in 4.0..12.0f64,
        ) {
            let response = learned(&vec![trial(8, per_turn); count]);
            match correction(mm(reading), mm(target), &response, &screw("blow")) {
                Correction::Turn { turns, expected, .. } => {
                    prop_assert_eq!(turns.in_64ths() % 2, 0);
                    prop_assert!(turns.in_64ths().abs() <= 64);
                    let step = response.mm_per_turn / 32.0;
                    let left = (mm(target) - expected).mm();
                    let error = target - reading;
                    // Rounding may pass the target by half a step at most.
                    prop_assert!(left.abs() <= error.abs() + 1e-6);
                    prop_assert!(left * error.signum() >= -0.5 * step - 1e-6);
                }
                Correction::Leave => prop_assert!(
                    (target - reading).abs() < response.mm_per_turn / 32.0 * 1.2
                ),
                Correction::TryFirst => prop_assert!(false),
            }
        }

        #[test]
        fn no_trials_make_it_stumble(
            trials in prop::collection::vec((1i64..=88, any::<i64>(), any::<i64>(), any::<i64>()), 0..12),
            prior in any::<f64>(), reading in any::<i64>(), notes in any::<f64>(),
        ) {
            let trials: Vec<(Note, Trial)> = trials.into_iter().map(|(k, turned, before, after)| (n(k), Trial {
                turned: Turns::from_64ths(turned), before: Length::from_nm(before), after: Length::from_nm(after),
            })).collect();
            let scatter = Scatter { reading: Length::from_nm(reading), notes };
            let sections = Sections::new([n(30)]).unwrap();
            for prior in [Prior::rough(prior), ROUGHLY_8] {
                if let Ok(learned) = learn_action(&trials, &sections, prior, scatter) {
                    let _ = correction(mm(1.0), mm(2.0), &learned.whole, &screw("blow"));
                }
            }
        }
    }
}
