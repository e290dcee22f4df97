//! How well readings repeat: the noise of one reading in this job.

use super::model::{ALONE, Repeatability};
use crate::job::{Item, ItemState, LogPosition, MeasureView, State, Subject};
use crate::note::Note;
use crate::trade::{Measure, Occasion, Place, Step};
use crate::unit::{Kind, Length, Value};

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
    let view = state.looked(measure);
    let mut differences = Vec::new();
    for note in Note::all() {
        for place in [Place::Bench, Place::Piano] {
            repeats(&view, (note, place), &mut differences);
        }
    }
    // What differs by more was no second reading of the same thing.
    differences.retain(|d| d.abs() <= ALONE * usual * std::f64::consts::SQRT_2);
    Some(Repeatability::of(usual, &differences))
}

/// Returns how well readings of the let-off or the blow repeat, once enough notes were read twice; before that the notes
/// to read again, evenly over those measured. `None` for other steps, and while too few are measured.
///
/// ```
/// use evenhand_core::analysis::belief::twice;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// assert_eq!(twice(job.state(), job.state().step("blow").unwrap()), None, "nothing is measured yet");
/// ```
pub fn twice(state: &State, step: &Step) -> Option<Result<String, Vec<Item>>> {
    let id = step.takes.first().map(|m| m.as_str());
    let id = id.filter(|id| matches!(*id, "blow" | "let_off"))?;
    if step.occasion != Occasion::Working {
        return None;
    }
    let known = repeatability(state, id)?;
    if known.pairs >= Repeatability::NOTES {
        return Some(Ok(known.sentence()));
    }
    let mut read = state.items(step);
    read.retain(|i| matches!(state.item_state(step, i), ItemState::Read(..)));
    let count = read.len();
    let at = |k: usize| read[k * count / Repeatability::NOTES].clone();
    (count >= Repeatability::NOTES).then(|| Err((0..Repeatability::NOTES).map(at).collect()))
}

/// Adds the differences of two readings of a note that follow each other without work between, in mm.
fn repeats(view: &MeasureView<'_>, (note, place): (Note, Place), to: &mut Vec<f64>) {
    let Some(own) = view.measure_state(Subject::Note(note), place) else {
        return;
    };
    let mut last = None;
    for reading in own.readings().filter(|r| r.occasion != Occasion::AsFound) {
        if let Some((was, value)) = last
            .zip(mm(reading.value))
            .map(|((position, was), value): ((LogPosition, f64), f64)| (position, value - was))
        {
            let turned = own
                .changes()
                .any(|c| was < c.position && c.position < reading.position);
            if !turned && !view.moved_between(was, reading.position, note, place) {
                to.push(value);
            }
        }
        last = mm(reading.value).map(|value| (reading.position, value));
    }
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
pub(super) fn noise(state: &State, measure: &str) -> Option<f64> {
    let sd = repeatability(state, measure)?.sd;
    let decimals = state.measure(measure)?.form.1;
    let step = 0.1f64.powi(decimals.min(6) as i32);
    Some(sd * sd + step * step / 12.0)
}

/// Returns a reading of a length in mm.
pub(super) fn mm(value: Value) -> Option<f64> {
    Some(value.length()?.mm())
}
