//! What to do to a note that is off its target, and the one tap that says it was done.

use evenhand_core::job::{Correction, Item, ItemState, State};
use evenhand_core::reckon::advice::{Missing, Movement, Why, advice};
use evenhand_core::trade::{MeasureId, StepId};

use super::walk::Walk;
use crate::place::Screen;
use crate::words;

/// A correction as it is shown.
#[derive(Clone, PartialEq)]
pub struct Advised {
    /// What to do: `button down 1/8`.
    pub words: String,
    /// What is moved by it: the measure that was read, or the one that floats for it.
    pub moves: MeasureId,
    /// What says that it was done, and what the tap records.
    pub done: Option<(String, Correction)>,
    /// The screen on which what is missing is filled in.
    pub missing: Option<Screen>,
}

/// The correction for an item as it stands, where there is one.
pub fn advised(walk: Walk, state: &State, item: &Item) -> Option<Advised> {
    let place = walk.step.with_value(|step| step.place_or(state.place()));
    let advice = advice(state, item.measure.as_str(), item.on, place)?;
    let length = state.length_unit();
    let missing = match &advice.movement {
        Movement::ReadAgain { .. } => return None,
        // A target that is met needs no words beside its verdict.
        Movement::Leave(Why::OnAim) => return None,
        Movement::Missing(missing) => state.id().map(|job| match missing {
            Missing::NaturalKey | Missing::SharpKey => Screen::Setup(job, "keys"),
            Missing::Papers => Screen::Setup(job, "papers"),
            Missing::Floats => Screen::Targets(job, MeasureId::of("aftertouch")),
            Missing::Aftertouch => Screen::Pass(job, StepId::of("aftertouch")),
        }),
        _ => None,
    };
    let moved = state.measure(advice.moves.as_str())?;
    let done = advice.made().map(|made| (words::made(&moved, &made), made));
    Some(Advised {
        words: advice.words(length),
        done,
        moves: advice.moves,
        missing,
    })
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
    pub fn take_up(&self, walk: Walk) {
        if let Some((_, made)) = &self.advised.done {
            walk.adjust(&self.item, self.advised.moves.clone(), made.clone());
        }
    }
}

/// The correction of the item in hand where it was read and is out, else that of the item that
/// was just read and is out, while the next is in hand; else that of the item in hand.
pub fn offer(walk: Walk) -> Option<Offer> {
    let at = |item: &Item, s: &State| {
        let stands = stands(walk, s, item);
        let read = matches!(stands, ItemState::Read(..));
        let advised = if read { advised(walk, s, item) } else { None };
        advised.map(|advised| (stands.is_out(), advised))
    };
    let own = walk.item().and_then(|item| {
        let (out, advised) = walk.desk.look(|s| at(&item, s))??;
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
fn just_read(walk: Walk) -> Option<Offer> {
    let item = walk.last.get()?;
    let (of, advised) = walk.desk.look(|s| {
        let stands = stands(walk, s, &item);
        if !stands.is_out() {
            return None;
        }
        let (value, judged) = (stands.reading()?.value, stands.judged()?);
        let measure = s.measure(item.measure.as_str())?;
        let verdict = words::verdict(&measure, &judged, value, s.length_unit());
        let of = format!("{} {verdict}", words::subject(item.on));
        Some((of, advised(walk, s, &item)?))
    })??;
    Some(Offer {
        item,
        of: Some(of),
        advised,
    })
}

fn stands<'a>(walk: Walk, state: &'a State, item: &Item) -> ItemState<'a> {
    walk.step.with_value(|step| state.item_state(step, item))
}
