//! What is said and offered of a note that was turned and not measured again.

use evenhand_core::analysis::belief::{self, final_look};
use evenhand_core::job::{Item, ItemState, Setup, State};
use evenhand_core::trade::{Occasion, Step};
use leptos::prelude::*;

use super::state::PassState;
use crate::text;

/// Returns what a note that was not measured again should read, or that a reading lies at the edge.
pub fn said(state: &State, step: &Step, item: &Item) -> Option<String> {
    let place = step.place_or(state.place());
    let item_state = state.item_state(step, item);
    if let Some(expected) = item_state.should_read() {
        let measure = state.measure(item.measure.as_str())?;
        let reads = belief::should_read(state, item, place, expected)?;
        let (says, reads) = (
            text::capital(text::not_again(measure)),
            text::capital(&reads),
        );
        return Some(format!("{says}. {reads}."));
    }
    // What is known of all notes takes long to compute, and a note that is to do asks for it at every touch.
    let is_read = matches!(item_state, ItemState::Read(..)) && step.occasion == Occasion::Working;
    let note = item.on.note().filter(|_| is_read)?;
    let of = belief::Beliefs::of(state, item.measure.as_str(), place)?;
    of.asks_again(note)
        .then(|| "At the edge: measure once more.".to_owned())
}

/// What is said of a note that was not measured again, with the one touch that asks for every note.
#[component]
pub fn NotAgain(pass: PassState, words: String) -> impl IntoView {
    let is_chosen = pass.session.app.setup().measure_all == Some(true);
    let every = (!is_chosen).then(|| {
        let measure = move |_| pass.measure_every_note();
        view! { <button class="button every" type="button" aria-label="Measure every note" on:click=measure>"Every note"</button> }
    });
    let next = move |_| pass.step_by(1);
    view! {
        <div class="message act">
            <p>{words}</p>
            {every}
            <button class="button every" type="button" on:click=next>"Next note"</button>
        </div>
    }
}

impl PassState {
    /// Has every note measured again from here on, and goes to those of the step that were not.
    pub fn measure_every_note(self) {
        self.session.record_setup(Setup {
            measure_all: Some(true),
            ..Setup::default()
        });
        let of = |s: &State| self.step.with_value(|step| final_look(s, step));
        if let Some(look) = self.session.app.with_state_untracked(of).flatten() {
            self.join(look.items);
        }
    }
}
