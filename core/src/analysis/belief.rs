//! What is known of a value, and how well: a mean and a variance for each note of a measure, from its readings, its
//! turns, and what work on other measures did to it. It decides which notes are measured again.
//!
//! **Rule** (P: the Kalman filter, Kalman 1960, with one value a note).
//! - A reading r of an unknown value is believed with its own variance `R = σ² + q²/12`, σ the standard deviation of a
//!   reading and q the step to which it is rounded. A first reading counts as the first readings of its section let
//!   expect ([`FirstReadings`]).
//! - Another reading moves the mean by `V/(V + R)` of its difference. One that lies 3.5 standard deviations off is not
//!   averaged: it stands alone.
//! - A turn of t moves the mean by `0.96·b·t`, b the response learned here: the felt takes a little back. It adds
//!   `t²(s_b² + (h b)²) + (0.025 b t)² + (0.004 b)²` to the variance: the response, how notes and turns of this hand
//!   differ ([`Response::hand`]), the felt, and the play of the screw (M: 0.96, 0.025 and 0.004).
//! - Bending or setting by eye brings it to the aim, as far off as it was where it was measured after (the mean square,
//!   less that of a reading, shrunk by four notes to a quarter of the accepted deviation, M).
//! - Work on another measure moves it by the travel balance: aftertouch by the change of dip less that of blow,
//!   more that of let-off, both over the action ratio; drop by half of the change of let-off against it, ±0.2 of it (M);
//!   checking by what the dip loses (M).
//! - After any other work nothing is known until it is measured.
//!
//! A note is not measured again if it is out with a probability of at most 0.005, lies within its aim, at least three
//! turns of its section were measured, and the alarm is silent ([`Alarm`]).
//! **Range**: lengths, on notes. **Error**: a screw turned the wrong way is not seen until the row is looked along; so a
//! final look is proposed.

mod look;
mod walk;

pub use look::{FinalLook, final_look, missed_by_look, sweep_caution};

use super::learned::{Responses, learned};
use super::response::Response;
use crate::job::{EntryKind, Item, ItemState, State, Subject};
use crate::note::Note;
use crate::trade::{Band, Measure, Place, Step};
use crate::unit::{Kind, Length, Value};

#[cfg(doc)]
use super::learned::FirstReadings;

/// What is said of a note that is not measured again.
pub const NOT_AGAIN: &str = "not measured again: the turn is known well here";

/// The largest probability of being out at which a note is not measured again.
const MAX_OUT: f64 = 0.005;
/// The probability of being out beyond which a note that was not measured again is measured after all. It is larger, so
/// that what is learned from note to note does not change the mind each time.
const DOUBTFUL: f64 = 0.02;
/// The number of turns of a section that must be measured before any is trusted.
const VERIFIED: usize = 3;
/// The number of standard deviations beyond which a reading stands alone.
const ALONE: f64 = 3.5;

/// The mean of a value and its variance, in mm and mm²; the variance is above 0. It has no default.
///
/// ```
/// use evenhand_core::analysis::belief::Belief;
///
/// // Two readings of 0.1 mm: their mean, with half of the variance.
/// let twice = Belief { mean: 2.0, variance: 0.01 }.read(2.2, 0.01).belief;
/// assert!((twice.mean - 2.1).abs() < 1e-12 && (twice.variance - 0.005).abs() < 1e-12);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Belief {
    /// The mean, in mm.
    pub mean: f64,
    /// The variance, in mm².
    pub variance: f64,
}

/// What a reading made of a belief. [`Belief::read`] returns it; it has no default.
///
/// ```
/// use evenhand_core::analysis::belief::Belief;
///
/// let known = Belief { mean: 2.0, variance: 0.01 };
/// let near = known.read(2.1, 0.01);
/// assert!((near.z - 0.1 / 0.02f64.sqrt()).abs() < 1e-9 && near.gain == 0.5);
/// // A reading far off is no error of reading: something was done.
/// let far = known.read(3.0, 0.01);
/// assert_eq!((far.belief, far.gain), (Belief { mean: 3.0, variance: 0.01 }, 1.0));
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Update {
    /// The belief after it.
    pub belief: Belief,
    /// How many standard deviations the reading lies from what was expected of it.
    pub z: f64,
    /// The part of the difference by which the mean moved, 0 to 1.
    pub gain: f64,
}

impl Belief {
    /// Updates it by a reading in mm with this variance.
    pub fn read(self, reading: f64, noise: f64) -> Update {
        let off = reading - self.mean;
        let all = self.variance + noise;
        let (z, gain) = (off / all.sqrt(), self.variance / all);
        if z.abs() > ALONE {
            let belief = Belief {
                mean: reading,
                variance: noise,
            };
            return Update {
                belief,
                z,
                gain: 1.0,
            };
        }
        let belief = Belief {
            mean: self.mean + gain * off,
            variance: (1.0 - gain) * self.variance,
        };
        Update { belief, z, gain }
    }

    /// Moves it by a change in mm with this variance.
    pub fn moved(self, change: f64, variance: f64) -> Belief {
        Belief {
            mean: self.mean + change,
            variance: self.variance + variance,
        }
    }

    /// Returns the probability that the value lies outside two limits, in mm; infinite where there is none.
    ///
    /// **Rule**: `1 − Φ((high − m)/√V) + Φ((low − m)/√V)`. **Error**: below 1e-7 ([`normal_below`]).
    ///
    /// ```
    /// use evenhand_core::analysis::belief::Belief;
    ///
    /// let known = Belief { mean: 0.0, variance: 1.0 };
    /// assert!((known.out(-1.96, 1.96) - 0.05).abs() < 1e-4);
    /// assert!((known.out(f64::NEG_INFINITY, 0.0) - 0.5).abs() < 1e-6);
    /// ```
    pub fn out(self, low: f64, high: f64) -> f64 {
        let sd = self.variance.max(1e-12).sqrt();
        normal_below((self.mean - high) / sd) + normal_below((low - self.mean) / sd)
    }
}

/// Returns what a turn adds to a belief: the change of the mean in mm, and the variance.
///
/// ```
/// use evenhand_core::analysis::belief::turned;
/// use evenhand_core::analysis::response::{NoiseModel, Prior, learn};
///
/// let rough = learn(&[], Prior::rough(8.0), NoiseModel::default()).unwrap();
/// let (change, variance) = turned(0.125, &rough);
/// assert!((change - 0.96).abs() < 1e-12);
/// let expected = 0.125f64.powi(2) * (2.8f64.powi(2) + (0.17f64 * 8.0).powi(2)) + 0.025f64.powi(2) + 0.032f64.powi(2);
/// assert!((variance - expected).abs() < 1e-9);
/// ```
pub fn turned(turns: f64, response: &Response) -> (f64, f64) {
    let (b, s) = (response.mm_per_turn, response.standard_error);
    let of_response = turns * turns * (s * s + (response.hand * b).powi(2));
    let of_felt = (0.025 * b * turns).powi(2) + (0.004 * b).powi(2);
    (0.96 * b * turns, of_response + of_felt)
}

/// Returns the probability that a standard normal variable is below z.
///
/// **Rule** (P: Abramowitz and Stegun 1964, 26.2.17). **Error**: below 7.5e-8.
///
/// ```
/// use evenhand_core::analysis::belief::normal_below;
///
/// assert!((normal_below(-1.959_964) - 0.025).abs() < 1e-7);
/// ```
pub fn normal_below(z: f64) -> f64 {
    let size = z.abs();
    if size > 8.0 {
        return if z > 0.0 { 1.0 } else { 0.0 };
    }
    let t = 1.0 / (1.0 + 0.231_641_9 * size);
    let polynomial = t
        * (0.319_381_530
            + t * (-0.356_563_782
                + t * (1.781_477_937 + t * (-1.821_255_978 + t * 1.330_274_429))));
    let above = density(size) * polynomial;
    if z > 0.0 { 1.0 - above } else { above }
}

/// Returns the density of the standard normal distribution.
fn density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Whether readings fall as far from what is expected of them as they should. The default is silent.
///
/// **Rule** (P: Page 1954, a cumulative sum): `S = max(0, S + z² − 1.75)` over the readings after turns; it
/// sounds from 5 on. One reading counts for at most z = 3.5, so that a single slip sounds for some seven
/// readings and not for the rest of the job.
///
/// ```
/// use evenhand_core::analysis::belief::Alarm;
///
/// let mut alarm = Alarm::default();
/// [0.3, -1.2, 0.8].map(|z| alarm.add(z));
/// assert!(!alarm.sounds());
/// [2.1, -1.9, 2.0].map(|z| alarm.add(z));
/// assert!(alarm.sounds());
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Alarm(f64);

impl Alarm {
    /// Adds a reading that lies z standard deviations from what was expected.
    pub fn add(&mut self, z: f64) {
        let z = z.clamp(-ALONE, ALONE);
        self.0 = (self.0 + z * z - 1.75).max(0.0);
    }

    /// Returns `true` if nothing should be taken as known.
    pub fn sounds(&self) -> bool {
        self.0 >= 5.0
    }
}

/// How well readings of a measure repeat. [`repeatability`] computes it; it has no default.
///
/// ```
/// use evenhand_core::analysis::belief::Repeatability;
///
/// let fine = Repeatability { sd: 0.1, pairs: 12 };
/// assert_eq!(fine.sentence(), "Your readings repeat to 0.1 mm.");
/// let coarse = Repeatability { sd: 0.152, pairs: 12 };
/// assert_eq!(coarse.sentence(), "Your readings repeat to 0.15 mm: more notes are measured twice than with 0.1 mm.");
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Repeatability {
    /// The standard deviation of one reading, in mm.
    pub sd: f64,
    /// The number of notes read twice that it rests on.
    pub pairs: usize,
}

impl Repeatability {
    /// The number of notes to read twice that is offered.
    pub const NOTES: usize = 12;

    /// Computes it from the differences between two readings of the same note, in mm.
    ///
    /// **Rule**: `σ̂² = (10·σ0² + Σd²/2)/(10 + n)`, σ0 what is usual of the measure (M).
    pub fn of(usual: f64, differences: &[f64]) -> Repeatability {
        let squares: f64 = differences.iter().map(|d| d * d / 2.0).sum();
        let variance = (10.0 * usual * usual + squares) / (10.0 + differences.len() as f64);
        Repeatability {
            sd: variance.sqrt(),
            pairs: differences.len(),
        }
    }

    /// Returns it as a sentence.
    pub fn sentence(&self) -> String {
        let hundredths = (self.sd * 100.0).round() as i64;
        let shown = Length::from_mm_hundredths(hundredths).shown(
            crate::unit::LengthUnit::Millimeter,
            if hundredths % 10 == 0 { 1 } else { 2 },
        );
        match self.sd > 0.115 {
            true => format!(
                "Your readings repeat to {shown} mm: more notes are measured twice than with 0.1 mm."
            ),
            false => format!("Your readings repeat to {shown} mm."),
        }
    }
}

/// Returns how well readings of a measure repeat in this job, from notes that were read twice with no work between;
/// without any what is usual. `None` if the measure is not a length.
///
/// ```
/// use evenhand_core::analysis::belief::repeatability;
/// use evenhand_core::job::Job;
///
/// let found = repeatability(Job::new().state(), "let_off").unwrap();
/// assert_eq!((found.sd, found.pairs), (0.1, 0));
/// ```
pub fn repeatability(state: &State, measure: &str) -> Option<Repeatability> {
    let of = state.measure(measure).filter(|m| m.kind == Kind::Length)?;
    let usual = usual_sd(of);
    let mut differences = Vec::new();
    for note in Note::all() {
        for place in [Place::Bench, Place::Piano] {
            walk::repeats(state, measure, (note, place), &mut differences);
        }
    }
    // What differs by more was no second reading of the same thing.
    differences.retain(|d| d.abs() <= ALONE * usual * std::f64::consts::SQRT_2);
    Some(Repeatability::of(usual, &differences))
}

/// What is known of one measure at one place, note by note. [`Beliefs::of`] computes it.
///
/// ```
/// use evenhand_core::analysis::belief::Beliefs;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let mut job = Job::new();
/// let (on, place) = (Subject::Note(Note::FIRST), Place::Bench);
/// let (let_off, value) = (MeasureId::of("let_off"), Value::Nm(Length::from_mm_hundredths(210)));
/// job.apply(job.reading(ReplicaId::new(7), 0, let_off, on, place, Occasion::Working, value, "2.1"));
/// let known = Beliefs::of(job.state(), "let_off", place).unwrap();
/// // 0.1 mm of a reading, and what rounding to 0.1 mm adds.
/// let belief = known.note(Note::FIRST).unwrap();
/// assert!((belief.mean - 2.1).abs() < 1e-12 && (belief.variance - 0.01 - 0.01 / 12.0).abs() < 1e-12);
/// assert!(!known.is_known(Note::FIRST));
/// ```
pub struct Beliefs<'a> {
    state: &'a State,
    measure: &'a str,
    place: Place,
    notes: Vec<Option<Belief>>,
    alarm: Alarm,
    /// Of each section, whether enough of its turns were measured.
    verified: Vec<bool>,
}

impl<'a> Beliefs<'a> {
    /// Computes what is known of a measure, or returns `None` if it is not a length.
    pub fn of(state: &'a State, measure: &'a str, place: Place) -> Option<Beliefs<'a>> {
        let walk = walk::Walker::new(state, measure, place)?;
        let mut seen = Vec::new();
        let notes = Note::all().map(|note| walk.note(note, &mut seen).belief);
        let notes = notes.collect();
        seen.sort_unstable_by_key(|(position, _)| *position);
        let mut alarm = Alarm::default();
        seen.iter().for_each(|(_, z)| alarm.add(*z));
        Some(Beliefs {
            state,
            measure,
            place,
            notes,
            alarm,
            verified: walk.verified(),
        })
    }

    /// Returns what is known of a note, or `None` if nothing is.
    pub fn note(&self, note: Note) -> Option<Belief> {
        self.notes[note.index()]
    }

    /// Returns whether readings fall farther from what is expected than they should.
    pub fn alarm(&self) -> Alarm {
        self.alarm
    }

    /// Returns the probability that a note is out, or `None` if nothing is known of it or it has no target.
    pub fn out(&self, note: Note) -> Option<f64> {
        let band = self.state.band(self.measure, Subject::Note(note))?;
        let (low, high) = limits(band.accept);
        Some(self.note(note)?.out(low, high))
    }

    /// Returns `true` if a note that was worked on need not be measured again.
    pub fn is_known(&self, note: Note) -> bool {
        self.is_good(note) && !self.alarm.sounds()
    }

    fn is_good(&self, note: Note) -> bool {
        let section = self.state.sections().of(note);
        let in_aim = |belief: Belief, band: Band| {
            let (low, high) = limits(band.within);
            low <= belief.mean && belief.mean <= high
        };
        let band = self.state.band(self.measure, Subject::Note(note));
        self.verified.get(section) == Some(&true)
            && self
                .note(note)
                .zip(band)
                .is_some_and(|(b, band)| in_aim(b, band))
            && self.out(note).is_some_and(|p| p <= MAX_OUT)
    }

    /// Returns `true` if a note that was measured lies so near a limit that a second reading should decide.
    pub fn is_at_the_edge(&self, note: Note) -> bool {
        let band = self.state.band(self.measure, Subject::Note(note));
        let outside = |belief: Belief, band: Band| {
            let (low, high) = limits(band.accept);
            belief.mean < low || high < belief.mean
        };
        let is_out = self
            .note(note)
            .zip(band)
            .is_some_and(|(b, band)| outside(b, band));
        !is_out && self.out(note).is_some_and(|p| p > MAX_OUT)
    }

    /// Returns the place that it was computed for.
    pub fn place(&self) -> Place {
        self.place
    }
}

fn limits((low, high): (Option<i64>, Option<i64>)) -> (f64, f64) {
    let mm = |nm: i64| Length::from_nm(nm).mm();
    (
        low.map_or(f64::NEG_INFINITY, mm),
        high.map_or(f64::INFINITY, mm),
    )
}

/// Returns the entries to record right after a correction: one for each measure of the note that it moved and that need
/// not be measured again. None if the job measures every note again ([`Setup::measure_all`](crate::job::Setup)).
///
/// ```
/// use evenhand_core::analysis::belief::after_correction;
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// // Nothing was turned and measured yet, so nothing is known.
/// let job = Job::new();
/// assert!(after_correction(job.state(), "let_off", Subject::Note(Note::FIRST), Place::Bench).is_empty());
/// ```
pub fn after_correction(state: &State, measure: &str, on: Subject, place: Place) -> Vec<EntryKind> {
    let (Some(note), None | Some(false)) = (on.note(), state.setup().measure_all) else {
        return Vec::new();
    };
    let own = std::iter::once(measure);
    let moved = own.chain(walk::moved_by(measure).iter().copied());
    let known = |measure: &str| {
        // Only what was measured before, and is to measure again.
        state.disturbed(measure, on, place)?;
        let beliefs = Beliefs::of(state, measure, place)?;
        let belief = beliefs.note(note).filter(|_| beliefs.is_known(note))?;
        Some(EntryKind::NotRemeasured {
            measure: state.measure(measure)?.id.clone(),
            note,
            place,
            expected_nm: Length::from_mm(belief.mean),
        })
    };
    moved.filter_map(known).collect()
}

/// Returns the notes of a step that were not measured again and should be after all, since what was learned from the
/// others makes them less certain.
pub fn doubtful(state: &State, step: &Step) -> Vec<Item> {
    let place = step.place_or(state.place());
    let mut all = Vec::new();
    for measure in &step.takes {
        let mut beliefs = None;
        for item in state.items(step) {
            let (true, Some(note)) = (item.measure == *measure, item.on.note()) else {
                continue;
            };
            let ItemState::Swept(sweep) = state.item_state(step, &item) else {
                continue;
            };
            if sweep.expected.is_none() {
                continue;
            }
            let known = beliefs.get_or_insert_with(|| Beliefs::of(state, measure.as_str(), place));
            let is_doubtful = |b: &Beliefs<'_>| b.out(note).is_none_or(|p| p > DOUBTFUL);
            if known.as_ref().is_none_or(is_doubtful) {
                all.push(item);
            }
        }
    }
    all
}

/// Returns the usual standard deviation of a reading, in mm: readings within two of them count as unchanged. Of the checking,
/// which is read with a rule to half a millimeter, it is 0.3 mm (M).
fn usual_sd(measure: &Measure) -> f64 {
    match measure.id.as_str() {
        "checking" => 0.3,
        _ => Length::from_nm(measure.repeat).mm() / 2.0,
    }
}

/// Returns the variance of a reading of a measure in this job, in mm², its rounding included.
fn noise(state: &State, measure: &str) -> Option<f64> {
    let sd = repeatability(state, measure)?.sd;
    let decimals = state.measure(measure)?.form.1;
    let step = 0.1f64.powi(decimals.min(6) as i32);
    Some(sd * sd + step * step / 12.0)
}

/// Returns a reading of a length in mm.
fn mm(value: Value) -> Option<f64> {
    Some(value.length()?.mm())
}

/// Returns the responses of a measure that is turned.
fn responses(state: &State, measure: &str) -> Option<Responses> {
    learned(state, measure)
}

#[cfg(test)]
mod tests;
