//! What to do to a note that is off its target, and the one tap that says it was done.

use evenhand_core::analysis::advice::{Missing, Movement, Why, advice};
use evenhand_core::analysis::balance::{balance, measure_of};
use evenhand_core::analysis::travel::Dimension;
use evenhand_core::job::{Correction, Item, ItemState, State};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, Occasion, Place, Step, StepId, Verdict};
use leptos::prelude::*;

use super::state::PassState;
use crate::route::Route;
use crate::text;

/// A correction as it is shown.
#[derive(Clone, PartialEq)]
pub struct Advised {
    /// What to do: `button down 1/8`.
    pub words: String,
    /// What is moved by it: the measure that was read, or the one that floats for it.
    pub moves: MeasureId,
    /// What says that it was done, and what the tap records.
    pub done: Option<(String, Correction)>,
    /// The screen to go to first, and what the way there says: what is missing is filled in, or another length changed.
    pub first: Option<(Route, &'static str)>,
}

/// The correction for an item as it stands, where there is one.
pub fn advised(walk: PassState, state: &State, item: &Item) -> Option<Advised> {
    let place = walk.step.with_value(|step| step.place_or(state.place()));
    let advice = advice(state, item.measure.as_str(), item.on, place)?;
    let length = state.length_unit();
    let moved = state.measure(advice.moves.as_str())?;
    let done = advice.made().map(|made| (text::made(moved, &made), made));
    let mut words = advice.words(length);
    let first = match &advice.movement {
        Movement::ReadAgain { .. } => return None,
        // A target that is met needs no words beside its verdict.
        Movement::Leave(Why::OnAim) => return None,
        Movement::Leave(Why::Floats) if advice.verdict == Verdict::Out => {
            let note = item.on.note()?;
            let back;
            (words, back) = strayed(state, note, place)?;
            let to = |job| Route::PassAt(job, back.0, note);
            state.id().map(|job| (to(job), back.1))
        }
        Movement::Missing(missing) => state.id().map(|job| {
            let screen = match missing {
                Missing::NaturalKey | Missing::SharpKey => Route::Setup(job, "keys"),
                Missing::Papers => Route::Setup(job, "papers"),
                Missing::Floats => Route::Targets(job, MeasureId::of("aftertouch")),
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
    Some(Advised {
        words,
        done,
        moves: advice.moves,
        first,
    })
}

/// What to do about a length that floats and was read beyond what is plausible: it is brought back by the lengths it
/// follows from, so the way leads to one of them.
fn strayed(state: &State, note: Note, place: Place) -> Option<(String, (StepId, &'static str))> {
    let of = balance(state, place).note(note);
    let (others, label) = match of.floats? {
        Dimension::Blow => ([Dimension::Dip, Dimension::Aftertouch], "To the dip"),
        Dimension::Dip => ([Dimension::Blow, Dimension::Aftertouch], "To the blow"),
        _ => ([Dimension::Blow, Dimension::Dip], "To the blow"),
    };
    let strayed = of.floated.as_ref().and_then(|f| f.strayed.as_ref());
    let words = match strayed {
        Some(strayed) => {
            let back = text::ways_back(strayed, &others, state.length_unit());
            format!("it floats: set {}", back.join(" or "))
        }
        // The others do not agree with it: one of the readings slipped.
        None => {
            let [one, other] = others.map(Dimension::name);
            format!("it does not fit {one} and {other}: read all three again")
        }
    };
    let to = MeasureId::of(measure_of(others[0], note));
    let order = state.order();
    let takes = |s: &&Step| s.occasion() == Occasion::Working && s.takes.contains(&to);
    let step = order.steps().iter().find(takes)?;
    Some((words, (step.id.clone(), label)))
}

/// A correction that can be taken up with one tap.
#[derive(Clone, PartialEq)]
pub struct Offer {
    /// What it is for.
    pub item: Item,
    /// Its name and what is said of it, where another is in hand.
    pub of: Option<String>,
    /// What to do.
    pub advised: Advised,
}

impl Offer {
    /// Records that it was done as advised.
    pub fn take_up(&self, walk: PassState) {
        if let Some((_, made)) = &self.advised.done {
            walk.adjust(&self.item, self.advised.moves.clone(), made.clone());
        }
    }
}

/// The correction of the item in hand where it was read and is out, else that of the item that
/// was just read and is out, while the next is in hand; else that of the item in hand.
pub fn offer(walk: PassState) -> Option<Offer> {
    let at = |item: &Item, s: &State| {
        let stands = stands(walk, s, item);
        let read = matches!(stands, ItemState::Read(..));
        let advised = if read { advised(walk, s, item) } else { None };
        advised.map(|advised| (stands.is_out(), advised))
    };
    let own = walk.item().and_then(|item| {
        let (out, advised) = walk.session.app.with_state(|s| at(&item, s))??;
        Some((
            out,
            Offer {
                item,
                of: None,
                advised,
            },
        ))
    });
    if let Some((true, offer)) = own {
        return Some(offer);
    }
    just_read(walk).or(own.map(|(_, offer)| offer))
}

/// The correction of the item that was just read, where it is out.
fn just_read(walk: PassState) -> Option<Offer> {
    let item = walk.last.get()?;
    let (of, advised) = walk.session.app.with_state(|s| {
        let stands = stands(walk, s, &item);
        if !stands.is_out() {
            return None;
        }
        let (value, judged) = (stands.reading()?.value, stands.judged()?);
        let measure = s.measure(item.measure.as_str())?;
        let verdict = text::verdict(measure, &judged, value, s.length_unit());
        let of = format!("{} {verdict}", text::subject(item.on));
        Some((of, advised(walk, s, &item)?))
    })??;
    Some(Offer {
        item,
        of: Some(of),
        advised,
    })
}

fn stands<'a>(walk: PassState, state: &'a State, item: &Item) -> ItemState<'a> {
    walk.step.with_value(|step| state.item_state(step, item))
}
