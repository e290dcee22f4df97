//! The rows of notes in a letter, before and after.

use super::super::compare::{Compared, ReadingSet};
use super::done::Row;
use super::found::name;
use crate::job::{State, Subject};
use crate::note::Note;
use crate::trade::Measure;
use crate::unit::{Kind, Value};

/// The most pictures in a letter, so that it stays on its page.
const MAX_PICTURES: usize = 2;

/// A row of notes before and after. Part of [`ClientLetter`](super::ClientLetter); it has no default.
///
/// A note stands for its deviation from the aim: from −1 to 1 it is within the tolerance, and beyond ±[`LetterPicture::END`]
/// it is drawn there.
#[derive(Clone, Debug, PartialEq)]
pub struct LetterPicture {
    /// What was measured: `Let-off`.
    pub name: String,
    /// As found: each note with its deviation.
    pub before: Vec<(Note, f32)>,
    /// As left.
    pub after: Vec<(Note, f32)>,
    /// The notes that were looked along or done in one stroke, and have no number.
    pub swept: Vec<Note>,
}

impl LetterPicture {
    /// The largest deviation that is drawn, in tolerances.
    pub const END: f32 = 2.5;

    /// Returns the words below the picture.
    pub fn caption(&self) -> String {
        let swept = match self.swept.len() {
            0 => String::new(),
            count => format!(", {count} judged by eye or gauge"),
        };
        format!(
            "{}, bass to treble. Above: before, {} measured. Below: after, {} measured{swept}. Gray: the tolerance.",
            self.name,
            self.before.len(),
            self.after.len(),
        )
    }
}

/// Returns the pictures of a letter: of the quantities that were out and were worked on, those with the most that came in.
pub(super) fn pictures(state: &State, compared: &[Compared], rows: &[Row]) -> Vec<LetterPicture> {
    let row = |c: &Compared| rows.iter().find(|row| row.measure.id == c.measure.id);
    let mut worked: Vec<(&Compared, &Row)> = compared
        .iter()
        .filter(|c| c.judged && c.found.out() > 0 && c.found.readings != c.left.readings)
        .filter_map(|c| Some((c, row(c)?)))
        .collect();
    // Of equal gains the earlier step first.
    worked.sort_by_key(|(c, _)| std::cmp::Reverse(c.found.out().saturating_sub(c.left.out())));
    let picture = |(c, row): (&Compared, &Row)| {
        let is_measured = |note: &Note| c.left.readings.iter().any(|(n, _)| n == note);
        let mut swept = row.swept.clone();
        swept.retain(|note| !is_measured(note));
        LetterPicture {
            name: name(&c.measure),
            before: deviations(state, &c.measure, &c.found),
            after: deviations(state, &c.measure, &c.left),
            swept,
        }
    };
    worked.into_iter().take(MAX_PICTURES).map(picture).collect()
}

/// Returns each reading as its deviation from the aim, in halves of the accepted band.
fn deviations(state: &State, measure: &Measure, set: &ReadingSet) -> Vec<(Note, f32)> {
    let one = |(note, base): &(Note, i64)| {
        let value = Value::from_base(measure.kind, *base);
        let judged = state.judge(measure.id.as_str(), Subject::Note(*note), value)?;
        let (low, high) = judged.band.accept;
        let aim = judged.band.aim;
        let below = low.map_or(0, |low| aim.saturating_sub(low));
        let above = high.map_or(0, |high| high.saturating_sub(aim));
        let half = match (measure.kind, below.max(above)) {
            // A grade beside the aim is out.
            (Kind::Grade, 0) => 0.6,
            (_, half) => half.max(1) as f64,
        };
        let end = f64::from(LetterPicture::END);
        let off = (judged.off as f64 / half).clamp(-end, end);
        Some((*note, off as f32))
    };
    set.readings.iter().filter_map(one).collect()
}
