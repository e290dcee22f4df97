//! What a turn does on the instrument of a job: learned from its log, by section and by note.
//!
//! **Rule**: the rough response of the trade is corrected by the trials of the setup, and the
//! result by every before / turned / after in the job ([`turns_of_note`]): over the whole action,
//! then for the section, then for the note ([`super::response`]). Notes are turned because they read
//! far off, and part of that is the error of the reading; so a first reading counts as its section's
//! first readings let expect ([`FirstReadings`]), in what is learned and in the turn.
//! **Range**: measures of lengths that are moved by turning.
//! **Error**: the standard error of each response.

use std::cell::OnceCell;

use super::response::{
    LEAST_SPREAD, NoiseModel, Prior, Response, Trials, TurnResult, learn, learn_note, learn_whole,
};
use super::screw::Screw;
use super::turn_observation::{TurnObservation, latest_turns, turns_of_note};
use crate::job::{LogPosition, MeasureView, Reading, Responded, State, Subject};
use crate::note::{Note, Sections};
use crate::trade::{MeasureId, Occasion, Place};
use crate::unit::Length;

/// The number of latest turns of a section that are used. More would add little, since the
/// differences between notes then exceed the uncertainty of the mean, and the cost would grow.
const MAX: usize = 24;

/// The first readings of the work over one section, or over the whole action if the section has few: what
/// the next first reading is likely to be. [`FirstReadings::of`] computes it; it has no default.
///
/// **Rule** (P: errors in variables, Fuller 1987): of a reading r with the standard deviation σ, drawn from values
/// with the mean m and the standard deviation τ, the value to expect is `r − λ(r − m)`,
/// `λ = σ²/(σ² + τ²)`. The readings themselves vary by `σ² + τ²`.
/// **Range**: eight readings or more; otherwise readings stay as they are.
///
/// ```
/// use evenhand_core::analysis::learned::FirstReadings;
///
/// let read = [1.0, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.4];
/// let known = FirstReadings::of(&read, 0.1).unwrap();
/// // σ² is 0.01, the readings vary by 0.24.
/// assert!((known.expected(2.4) - (2.4 - 0.01 / 0.24 * 0.7)).abs() < 1e-12);
/// assert_eq!(FirstReadings::of(&read[..7], 0.1), None);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FirstReadings {
    /// Their mean, in mm.
    pub mean: f64,
    /// The variance of the values behind them, in mm²; 0 or more.
    pub variance: f64,
    /// The part by which a reading is moved to the mean, 0 to 1.
    pub pull: f64,
}

impl FirstReadings {
    /// Computes it from readings in mm, or returns `None` for fewer than eight.
    pub fn of(readings: &[f64], sd: f64) -> Option<FirstReadings> {
        let count = readings.len() as f64;
        if readings.len() < 8 {
            return None;
        }
        let mean = readings.iter().sum::<f64>() / count;
        let squares = readings
            .iter()
            .map(|r| (r - mean) * (r - mean))
            .sum::<f64>();
        let all = squares / (count - 1.0);
        let noise = sd * sd;
        Some(FirstReadings {
            mean,
            variance: (all - noise).max(0.0),
            pull: if all > noise { noise / all } else { 1.0 },
        })
    }

    /// Returns the value to expect behind a first reading, in mm.
    pub fn expected(&self, reading: f64) -> f64 {
        reading - self.pull * (reading - self.mean)
    }
}

/// Returns the first reading of the work on a note, wherever the action was.
fn first_reading<'a>(view: &MeasureView<'a>, note: Note) -> Option<&'a Reading> {
    let at = |place| {
        let known = view.measure_state(Subject::Note(note), place)?;
        known.readings().find(|r| r.occasion != Occasion::AsFound)
    };
    let both = [Place::Bench, Place::Piano].into_iter().filter_map(at);
    both.min_by_key(|r| r.position)
}

/// The first readings of the work, note by note and by section.
#[derive(Clone, Debug)]
struct First {
    /// Where the first reading of each note stands in the log.
    at: Vec<Option<LogPosition>>,
    sections: [Option<FirstReadings>; Sections::MAX],
}

impl First {
    fn of(view: &MeasureView<'_>, sections: &Sections) -> First {
        let sd = NoiseModel::default().reading.mm();
        let mut at = vec![None; Note::COUNT];
        let mut all: Vec<(usize, f64)> = Vec::with_capacity(Note::COUNT);
        for note in Note::all() {
            let Some(read) = first_reading(view, note) else {
                continue;
            };
            at[note.index()] = Some(read.position);
            all.extend(read.value.length().map(|l| (sections.of(note), l.mm())));
        }
        let of = |section: Option<usize>| {
            let here = all
                .iter()
                .filter(|(s, _)| section.is_none_or(|at| *s == at));
            let here: Vec<f64> = here.map(|(_, mm)| *mm).collect();
            FirstReadings::of(&here, sd)
        };
        let whole = of(None);
        let of_section = |section| {
            let of_it = (section < sections.count()).then(|| of(Some(section)));
            of_it.flatten().or(whole)
        };
        First {
            at,
            sections: std::array::from_fn(of_section),
        }
    }

    /// Returns the first readings that a reading of a note is compared with, if it is the first itself and there are enough.
    fn compared(
        &self,
        sections: &Sections,
        note: Note,
        read: LogPosition,
    ) -> Option<&FirstReadings> {
        let of_section = self.sections.get(sections.of(note))?.as_ref();
        of_section.filter(|_| self.at[note.index()] == Some(read))
    }
}

/// The responses of one measure on the instrument of a job, each computed on first use. [`learned`] returns it; it has
/// no default.
///
/// ```
/// use evenhand_core::analysis::learned::learned;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// let let_off = learned(job.state(), "let_off").unwrap();
/// assert_eq!(let_off.screw.part, "button");
/// // There is one section if none is set.
/// assert_eq!(let_off.section(0).unwrap().mm_per_turn, 5.0);
/// assert!(let_off.section(1).is_none());
/// ```
#[derive(Clone, Debug)]
pub struct Responses {
    /// The part that is turned.
    pub screw: Screw,
    trials: Vec<(Note, TurnResult)>,
    prior: Prior,
    sections: Sections,
    first: First,
    prepared: OnceCell<Option<Trials>>,
    learned: [OnceCell<Option<Response>>; Sections::MAX],
}

/// Returns what is learned of turning for a measure, or `None` if it is not moved by turning.
///
/// ```
/// use evenhand_core::job::Job;
/// use evenhand_core::analysis::learned::learned;
///
/// let job = Job::new();
/// let blow = learned(job.state(), "blow").and_then(|l| l.whole()).unwrap();
/// assert_eq!((blow.mm_per_turn, blow.used), (8.0, 0));
/// assert!(learned(job.state(), "checking").is_none());
/// ```
pub fn learned(state: &State, measure: &str) -> Option<Responses> {
    let screw = Screw::of(state.measure(measure)?)?;
    let lately = latest_turns(state, measure, MAX);
    let sections = state.sections();
    let first = First::of(&state.looked(measure), sections);
    let trials = lately
        .iter()
        .filter_map(|t| Some((t.note, trial(&first, sections, t)?)));
    Some(Responses {
        trials: trials.collect(),
        prior: prior(state, measure, &screw)?,
        sections: sections.clone(),
        first,
        prepared: OnceCell::new(),
        learned: Default::default(),
        screw,
    })
}

impl Responses {
    /// Returns the response over the whole action.
    pub fn whole(&self) -> Option<Response> {
        learn_whole(&self.trials, self.prior, NoiseModel::default()).ok()
    }

    /// Returns the response of a section, 0 in the bass, or `None` if there is no such section.
    pub fn section(&self, section: usize) -> Option<&Response> {
        let prepare = || {
            let scatter = NoiseModel::default();
            Trials::new(&self.trials, &self.sections, self.prior, scatter).ok()
        };
        let learn = || {
            let prepared = self.prepared.get_or_init(prepare).as_ref();
            prepared?.section(section).ok()
        };
        let learned = self
            .learned
            .get(section)
            .filter(|_| section < self.sections.count());
        learned?.get_or_init(learn).as_ref()
    }

    /// Returns the first readings that a reading is compared with. `None` if it is not the first of its note, or there are
    /// too few.
    pub fn compared(&self, note: Note, read: LogPosition) -> Option<&FirstReadings> {
        self.first.compared(&self.sections, note, read)
    }

    /// Returns the response of a note: that of its section, corrected by its own turns.
    pub fn of(&self, state: &State, measure: &str, note: Note) -> Option<Response> {
        let section = self.section(self.sections.of(note))?;
        let own = turns_of_note(state, measure, note);
        let own: Vec<TurnResult> = own
            .iter()
            .filter_map(|turn| trial(&self.first, &self.sections, turn))
            .collect();
        learn_note(section, &own, NoiseModel::default()).ok()
    }
}

/// Returns the prior, before the job's own turns are used: what an earlier job on the instrument
/// learned, otherwise the rough response of the trade, combined with the trials of the setup. Trials
/// are evidence from few notes: their standard deviation is at least [`LEAST_SPREAD`].
fn prior(state: &State, measure: &str, screw: &Screw) -> Option<Prior> {
    let rough = carried(state, measure).unwrap_or(Prior::rough(screw.mm_per_turn));
    let trials = state.setup().trials.iter().flatten();
    let trials: Vec<TurnResult> = trials
        .filter(|t| t.measure.as_str() == measure)
        .take(MAX)
        .map(|t| TurnResult {
            turned: t.turned_64ths,
            before: t.before_nm,
            after: t.after_nm,
        })
        .collect();
    let known = learn(&trials, rough, NoiseModel::default()).ok()?;
    match known.mm_per_turn > 0.0 {
        true if trials.is_empty() => Some(rough),
        true => Some(Prior {
            mm_per_turn: known.mm_per_turn,
            spread: known.standard_error.max(LEAST_SPREAD * known.mm_per_turn),
        }),
        // Trials with a negative response were entered with the wrong sign.
        false => Some(rough),
    }
}

/// Returns the response that the earlier job carried by this one learned. Parts may have been
/// worked on since, so its standard deviation is increased by that between notes.
fn carried(state: &State, measure: &str) -> Option<Prior> {
    let earlier = state.setup().earlier.as_deref()?;
    let whole = |r: &&Responded| r.measure.as_str() == measure && r.section.is_none();
    let known = earlier.responses.iter().find(whole)?;
    let mm_per_turn = known.per_turn_nm.mm();
    let spread = known
        .give_or_take_nm
        .mm()
        .hypot(NoiseModel::default().notes * mm_per_turn);
    // The file is not trusted: an impossible response is ignored.
    (mm_per_turn > 0.0).then_some(Prior {
        mm_per_turn,
        spread,
    })
}

/// Returns the responses learned in a job, for the next job on the instrument: for each measure
/// that was turned and re-measured, over the whole action and by section.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, JobId};
/// use evenhand_core::analysis::learned::responses;
///
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
/// let taught = responses(Job::from_entries(entries).state());
/// let blow = taught.iter().find(|r| r.measure.as_str() == "blow" && r.section.is_none()).unwrap();
/// assert!((8.0..9.5).contains(&blow.per_turn_nm.mm()) && blow.trials > 5);
/// ```
pub fn responses(state: &State) -> Vec<Responded> {
    let mut all = Vec::new();
    let mut done: Vec<MeasureId> = Vec::new();
    for measure in state.order().steps().iter().flat_map(|s| &s.takes) {
        if done.contains(measure) {
            continue;
        }
        done.push(measure.clone());
        let Some(known) = learned(state, measure.as_str()) else {
            continue;
        };
        let sections =
            (0..state.sections().count()).map(|s| (Some(s as u8), known.section(s).cloned()));
        let each = std::iter::once((None, known.whole())).chain(sections);
        let learned = each.filter_map(|(section, r)| Some((section, r.filter(|r| r.used > 0)?)));
        all.extend(learned.map(|(section, r)| Responded {
            measure: measure.clone(),
            section,
            per_turn_nm: Length::from_mm(r.mm_per_turn),
            give_or_take_nm: Length::from_mm(r.standard_error),
            trials: r.used as u32,
        }));
    }
    all
}

fn trial(first: &First, sections: &Sections, turn: &TurnObservation) -> Option<TurnResult> {
    let mut before = turn.before.length()?;
    if let Some(first) = first.compared(sections, turn.note, turn.before_at) {
        before = Length::from_mm(first.expected(before.mm()));
    }
    Some(TurnResult {
        turned: turn.turned,
        before,
        after: turn.after.length()?,
    })
}
