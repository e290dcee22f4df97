//! Whether a note that was adjusted is measured again.
//!
//! **Rule**. What is known of the values decides ([`after_correction`]). But until two adjustments of a measure were
//! measured after in this job, every note is measured again, also where the lever lengths of the setup say what a punching
//! does: a length that was entered wrong must not spoil a row unseen (M: two).

use super::belief::after_correction;
use crate::job::{EntryKind, State, Subject};
use crate::note::Note;
use crate::trade::Place;

/// How many adjustments of a measure are measured after before one need not be (M).
const MIN_PAIRS: usize = 2;

/// Returns the entries to record right after a correction: one for each measure of the note that need not be measured
/// again.
///
/// ```
/// use evenhand_core::analysis::remeasure::not_remeasured;
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Place;
///
/// let job = Job::new();
/// assert!(not_remeasured(job.state(), "natural_dip", Subject::Note(Note::FIRST), Place::Bench).is_empty());
/// ```
pub fn not_remeasured(state: &State, measure: &str, on: Subject, place: Place) -> Vec<EntryKind> {
    match measured_after(state, measure) < MIN_PAIRS {
        true => Vec::new(),
        false => after_correction(state, measure, on, place),
    }
}

/// Returns on how many notes a measure was adjusted and measured after.
fn measured_after(state: &State, measure: &str) -> usize {
    let looked = state.looked(measure);
    let is_measured_after = |on: Subject, place: Place| {
        let known = looked.measure_state(on, place);
        let first = known.and_then(|s| s.changes().map(|c| c.position).min());
        let last = known.and_then(|s| s.readings().map(|r| r.position).max());
        first.zip(last).is_some_and(|(first, last)| first < last)
    };
    let notes = Note::all().map(Subject::Note);
    let places = [Place::Bench, Place::Piano];
    notes
        .filter(|on| {
            places
                .into_iter()
                .any(|place| is_measured_after(*on, place))
        })
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::tests::{BENCH, Phone, on};
    use crate::job::{Correction, KeyLever, Setup};
    use crate::trade::MeasureId;
    use crate::unit::Length;

    #[test]
    fn the_first_two_notes_that_get_a_punching_are_measured_again() {
        let mut phone = Phone::new(1);
        let mm = Length::from_mm;
        phone.setup(Setup {
            natural_key: Some(KeyLever {
                front_nm: mm(240.0),
                back_nm: mm(250.0),
                front_pin_nm: mm(220.0),
            }),
            ..Setup::default()
        });
        let mut asked = Vec::new();
        for number in [4, 6, 8, 9] {
            phone.read("natural_dip", on(number), BENCH, 10_400_000);
            phone.act(EntryKind::Correction {
                measure: MeasureId::of("natural_dip"),
                on: on(number),
                place: BENCH,
                made: Correction::Punchings(vec![mm(0.38)]),
            });
            let known = not_remeasured(phone.state(), "natural_dip", on(number), BENCH);
            asked.push(known.is_empty());
            phone.read("natural_dip", on(number), BENCH, 10_000_000);
        }
        assert_eq!(asked, [true, true, false, false]);
    }
}
