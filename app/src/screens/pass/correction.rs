//! The correction of a note that is off its target, and the tap that records it.

use evenhand_core::analysis::advice::{LeaveReason, Missing, Movement, advice};
use evenhand_core::analysis::balance::{balance, measure_of};
use evenhand_core::analysis::travel::Dimension;
use evenhand_core::job::{Correction, Item, ItemState, State};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, Occasion, Place, Step, StepId, Verdict};
use evenhand_core::unit::Value;
use leptos::prelude::*;

use super::state::PassState;
use crate::route::Route;
use crate::text;

/// A correction as it is shown.
#[derive(Clone, PartialEq)]
pub struct CorrectionHint {
    /// What to do: `button down 1/8`.
    pub words: String,
    /// The measure that is moved: the one that was read, or the length left to follow in its place.
    pub moves: MeasureId,
    /// The label of the button, and what its tap records.
    pub done: Option<(String, Correction)>,
    /// The screen to go to first, and the label of its link: to fill in what is missing, or to change another length.
    pub first: Option<(Route, &'static str)>,
}

/// Returns the correction for the present state of an item. `None` if there is none.
pub fn hint(pass: PassState, state: &State, item: &Item) -> Option<CorrectionHint> {
    let place = pass.step.with_value(|step| step.place_or(state.place()));
    let advice = advice(state, item.measure.as_str(), item.on, place)?;
    let length = state.length_unit();
    let moved = state.measure(advice.moves.as_str())?;
    let done = advice.made().map(|made| (text::made(moved, &made), made));
    let mut words = advice.words(length);
    let first = match &advice.movement {
        Movement::Remeasure { .. } => return None,
        // A reading on target needs no words beside its verdict.
        Movement::Leave(LeaveReason::OnTarget) => return None,
        Movement::Leave(LeaveReason::Follows) if advice.verdict == Verdict::Out => {
            let note = item.on.note()?;
            let back;
            (words, back) = strayed(state, note, place)?;
            let to = |job| Route::PassAt(job, back.0, note);
            state.id().map(|job| (to(job), back.1))
        }
        Movement::Missing(missing) => state.id().map(|job| {
            let screen = match missing {
                Missing::NaturalKey | Missing::SharpKey => Route::Setup(job, "keys"),
                Missing::Punchings => Route::Setup(job, "punchings"),
                Missing::FollowingLength => Route::Targets(job, MeasureId::of("travel")),
                Missing::Aftertouch => {
                    let step = StepId::of("aftertouch");
                    match item.on.note() {
                        Some(note) => Route::PassAt(job, step, note),
                        None => Route::Pass(job, step),
                    }
                }
            };
            (screen, "Fill in")
        }),
        _ => None,
    };
    if advice.moves != item.measure
        && let Movement::Turn { expected, .. } = advice.movement
        && let Some(beyond) = goes_beyond(state, &advice.moves, item, expected)
    {
        words = format!("{words}; {beyond}");
    }
    Some(CorrectionHint {
        words,
        done,
        moves: advice.moves,
        first,
    })
}

/// Returns where the length left to follow goes with a correction, if that is outside what is accepted:
/// `blow goes to 42.5, outside 43.0 to 49.0`.
fn goes_beyond(state: &State, moves: &MeasureId, item: &Item, expected: i64) -> Option<String> {
    let (measure, band) = (
        state.measure(moves.as_str())?,
        state.band(moves.as_str(), item.on)?,
    );
    let (low, high) = (band.accept.0?, band.accept.1?);
    let shown = |base| measure.shown(Value::from_base(measure.kind, base), state.length_unit());
    let [to, low, high] = [expected, low, high].map(shown);
    let name = measure.name.to_lowercase();
    let is_beyond = band.judge(expected) == Verdict::Out;
    is_beyond.then(|| format!("{name} goes to {to}, outside {low} to {high}"))
}

/// Returns what to do about a length left to follow that is outside its plausible range, and the step that corrects it:
/// it is brought back by the lengths it follows from.
fn strayed(state: &State, note: Note, place: Place) -> Option<(String, (StepId, &'static str))> {
    let of = balance(state, place).note(note);
    let (others, label) = match of.following? {
        Dimension::Blow => ([Dimension::Dip, Dimension::Aftertouch], "To the dip"),
        Dimension::Dip => ([Dimension::Blow, Dimension::Aftertouch], "To the blow"),
        _ => ([Dimension::Blow, Dimension::Dip], "To the blow"),
    };
    let strayed = of.solved.as_ref().and_then(|f| f.strayed.as_ref());
    let words = match strayed {
        Some(strayed) => {
            let back = text::ways_back(strayed, &others, state.length_unit());
            format!("it follows: change {}", back.join(" or "))
        }
        // The others do not agree with it: one of the readings is wrong.
        None => {
            let [one, other] = others.map(Dimension::name);
            format!("does not fit {one} and {other}: re-measure all three")
        }
    };
    let to = MeasureId::of(measure_of(others[0], note));
    let order = state.order();
    let takes = |s: &&Step| s.occasion == Occasion::Working && s.takes.contains(&to);
    let step = order.steps().iter().find(takes)?;
    Some((words, (step.id.clone(), label)))
}

/// A correction that can be recorded with one tap.
#[derive(Clone, PartialEq)]
pub struct OfferedCorrection {
    /// What it is for.
    pub item: Item,
    /// Its name and verdict, if it is not the current item.
    pub of: Option<String>,
    /// What to do.
    pub hint: CorrectionHint,
    /// Whether its reading is out.
    pub is_out: bool,
}

impl OfferedCorrection {
    /// Records that it was done as advised.
    pub fn record(&self, pass: PassState) {
        if let Some((_, made)) = &self.hint.done {
            pass.adjust(&self.item, self.hint.moves.clone(), made.clone());
        }
    }
}

/// Returns the correction of the current item if it was read and is out, else that of the item that was just read if it
/// is out, else that of the current item.
pub fn offer(pass: PassState) -> Option<OfferedCorrection> {
    let at = |item: &Item, s: &State| {
        let item_state = item_state(pass, s, item);
        let read = matches!(item_state, ItemState::Read(..));
        let hint = if read { hint(pass, s, item) } else { None };
        hint.map(|hint| (item_state.is_out(), hint))
    };
    let own = pass.item().and_then(|item| {
        let (is_out, hint) = pass.session.app.with_state(|s| at(&item, s))??;
        Some(OfferedCorrection {
            item,
            of: None,
            hint,
            is_out,
        })
    });
    match own {
        Some(offer) if offer.is_out => Some(offer),
        own => just_read(pass).or(own),
    }
}

/// Returns the correction of the item that was just read. `None` if it is not out.
fn just_read(pass: PassState) -> Option<OfferedCorrection> {
    let item = pass.last.get()?;
    let (of, hint) = pass.session.app.with_state(|s| {
        let item_state = item_state(pass, s, &item);
        if !item_state.is_out() {
            return None;
        }
        let (value, judged) = (item_state.reading()?.value, item_state.judged()?);
        let measure = s.measure(item.measure.as_str())?;
        let verdict = text::verdict(measure, &judged, value, s.length_unit());
        let of = format!("{} {verdict}", text::subject(item.on));
        Some((of, hint(pass, s, &item)?))
    })??;
    Some(OfferedCorrection {
        item,
        of: Some(of),
        hint,
        is_out: true,
    })
}

fn item_state<'a>(pass: PassState, state: &'a State, item: &Item) -> ItemState<'a> {
    pass.step.with_value(|step| state.item_state(step, item))
}
