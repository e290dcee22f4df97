//! What a look along the row can see, and the final look that is proposed.

use super::super::sweep::{SweepNotes, row_of, wants_gauge};
use super::model::{density, normal_below};
use crate::job::{Item, State};
use crate::note::Note;
use crate::trade::Step;

/// Returns how many notes a look along the row misses: truly out, and not flagged.
///
/// **Rule**: `2·n·f(A)·s·G((A − d)/s)`, `G(z) = φ(z) − z·Φ(−z)`, with n notes, the density f of their deviations at the
/// accepted deviation A, the standard deviation s of what the eye sees, and the deviation d that is flagged. It is
/// the count of notes beyond A seen below d, with f constant there.
/// **Range**: lengths in one unit, s above 0.
///
/// ```
/// use evenhand_core::analysis::belief::missed_by_look;
///
/// // 88 notes, 0.05 of them in each mm at a limit of 1 mm, seen to 0.14 mm.
/// let missed = |d| missed_by_look(88, 0.05, 0.14, 1.0, d);
/// assert!(missed(0.74) < 0.03 && missed(0.95) > missed(0.74));
/// ```
pub fn missed_by_look(notes: usize, density_at: f64, sd: f64, accept: f64, flagged: f64) -> f64 {
    let z = (accept - flagged) / sd;
    let beyond = density(z) - z * normal_below(-z);
    2.0 * notes as f64 * density_at * sd * beyond
}

/// The look along the row that is proposed at the end of a step. [`final_look`] returns it; it has no default.
#[derive(Clone, Debug, PartialEq)]
pub struct FinalLook {
    /// The notes that were turned and not measured again, of one measure: at least one.
    pub items: Vec<Item>,
    /// The sweep that settles them; what is open or out between them is an exception.
    pub sweep: SweepNotes,
}

impl FinalLook {
    /// Returns it as a sentence.
    ///
    /// ```
    /// use evenhand_core::analysis::belief::FinalLook;
    /// use evenhand_core::analysis::sweep::SweepNotes;
    /// use evenhand_core::job::{Item, Subject, SweptNotes};
    /// use evenhand_core::note::Note;
    /// use evenhand_core::trade::MeasureId;
    ///
    /// let items = vec![Item { measure: MeasureId::of("blow"), on: Subject::Note(Note::FIRST) }];
    /// let notes = SweptNotes { from: Note::FIRST, to: Note::FIRST, except: vec![] };
    /// let says = FinalLook { items, sweep: SweepNotes { notes, count: 1 } }.sentence();
    /// assert_eq!(says, "Look along the row once more: 1 note was not measured again. Measure what stands out.");
    /// ```
    pub fn sentence(&self) -> String {
        let notes = match self.items.len() {
            1 => "1 note was".to_owned(),
            count => format!("{count} notes were"),
        };
        let measure = self.items.first().map_or("", |i| i.measure.as_str());
        let gauge = match wants_gauge(measure) {
            true => " By eye alone it is easily missed: use a gauge.",
            false => "",
        };
        format!(
            "Look along the row once more: {notes} not measured again. Measure what stands out.{gauge}"
        )
    }
}

/// Returns the look to propose at the end of a step: along the notes of its first measure that were turned and not
/// measured again. `None` if there are none.
///
/// ```
/// use evenhand_core::analysis::belief::final_look;
/// use evenhand_core::job::Job;
///
/// let job = Job::new();
/// assert_eq!(final_look(job.state(), job.state().step("let_off").unwrap()), None);
/// ```
pub fn final_look(state: &State, step: &Step) -> Option<FinalLook> {
    let (mut items, mut except) = (Vec::<Item>::new(), Vec::new());
    for item in state.items(step) {
        let of = items.first().map(|i| &i.measure);
        let Some(note) = item
            .on
            .note()
            .filter(|_| of.is_none_or(|m| *m == item.measure))
        else {
            continue;
        };
        let now = state.item_state(step, &item);
        if now.should_read().is_some() {
            items.push(item);
        } else if !now.is_valid() || now.is_out() {
            except.push(note);
        }
    }
    let notes: Vec<Note> = items.iter().filter_map(|i| i.on.note()).collect();
    let sweep = row_of(&notes, except)?;
    Some(FinalLook { items, sweep })
}
