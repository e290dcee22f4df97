//! What a look along the row can see, and the final look that is proposed.

use super::super::sweep::{SweepNotes, row_of, wants_gauge};
use super::model::{Belief, density, normal_below};
use crate::job::{Item, State};
use crate::note::Note;
use crate::trade::Step;

/// How a measure is looked along: the deviation that is flagged, and how well it is seen, in mm. [`Look::of`] returns it; it
/// has no default.
///
/// ```
/// use evenhand_core::analysis::belief::Look;
///
/// // By eye, and with a gauge at the string.
/// assert_eq!(Look::of("blow").map(|look| look.flagged), Some(0.6));
/// assert_eq!(Look::of("let_off").map(|look| look.eye), Some(0.1));
/// // Nothing is known of how well springs are seen.
/// assert_eq!(Look::of("spring"), None);
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// What stands out by as much is measured, above 0.
    pub flagged: f64,
    /// The standard deviation of what is seen, above 0.
    pub eye: f64,
}

impl Look {
    /// Returns how a measure is looked along, or `None` if nothing is known of it.
    ///
    /// **Rule** (M): by eye to 0.18 mm, which is 0.14 of the eye and 0.11 of the line that it follows, at the back checks to
    /// 0.3 mm; with a gauge at the string to 0.1 mm, and under the finger to 0.07 mm. At these, fewer than 0.1 of 88 notes are missed
    /// ([`missed_by_look`]).
    pub fn of(measure: &str) -> Option<Look> {
        let (flagged, eye) = match measure {
            "blow" => (0.6, 0.18),
            "drop" => (0.4, 0.18),
            "checking" => (1.0, 0.3),
            "let_off" => (0.3, 0.1),
            "aftertouch" => (0.15, 0.07),
            _ => return None,
        };
        Some(Look { flagged, eye })
    }
}

/// The standard deviation of a value of which nothing is known before it is looked at, in mm (M).
const UNKNOWN: f64 = 2.0;

impl Belief {
    /// Returns the belief before a look of which nothing is known: around the aim, in mm.
    pub(super) fn unknown(aim: f64) -> Belief {
        let variance = UNKNOWN * UNKNOWN;
        Belief {
            mean: aim,
            variance,
        }
    }

    /// Returns the belief after a look in which the value did not stand out from the aim, in mm. It stays as it is where
    /// that is all but impossible.
    ///
    /// **Rule** (P: the moments of a truncated normal, Johnson and Kotz 1970): what is seen is the value with an error of
    /// the standard deviation s, so `N(m, S)`, `S = V + s²`, cut at ±d around the aim. With a and b the cuts in
    /// units of √S from m and `Z = Φ(b) − Φ(a)`, `E = √S·(φ(a) − φ(b))/Z` and
    /// `W = S·(1 + (a·φ(a) − b·φ(b))/Z) − E²`: `m + V/S·E`, and `V − V²/S + (V/S)²·W`.
    ///
    /// ```
    /// use evenhand_core::analysis::belief::{Belief, Look};
    ///
    /// // Nothing known before: even within 0.6 mm, blurred by the eye.
    /// let before = Belief { mean: 45.0, variance: 100.0 };
    /// let known = before.looked(45.0, Look { flagged: 0.6, eye: 0.18 });
    /// assert!((known.mean - 45.0).abs() < 1e-9 && (known.variance - 0.12 - 0.0324).abs() < 1e-3);
    /// ```
    pub fn looked(self, aim: f64, look: Look) -> Belief {
        let seen = self.variance + look.eye * look.eye;
        let (root, off) = (seen.sqrt(), self.mean - aim);
        let (low, high) = ((-look.flagged - off) / root, (look.flagged - off) / root);
        let inside = normal_below(high) - normal_below(low);
        if inside < 1e-4 {
            return self;
        }
        let (at_low, at_high) = (density(low), density(high));
        let shift = root * (at_low - at_high) / inside;
        let left = seen * (1.0 + (low * at_low - high * at_high) / inside) - shift * shift;
        let part = self.variance / seen;
        Belief {
            mean: self.mean + part * shift,
            variance: self.variance * (1.0 - part) + part * part * left,
        }
    }
}

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
