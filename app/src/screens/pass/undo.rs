//! Undo in a pass: what it took back, and the question before it takes back what is of another step.

use evenhand_core::job::{EntryId, EntryKind, Item};
use evenhand_core::trade::MeasureId;
use leptos::prelude::*;

use super::state::PassState;
use crate::parts::undo::{BRING_BACK, named, taken_back};

impl PassState {
    /// Clears what is typed; if nothing is, undoes the latest act and shows it.
    pub fn undo(self) {
        if self.asked.with_untracked(Option::is_some)
            || self.typed.with_untracked(|t| !t.is_empty())
        {
            self.typed.set(String::new());
            self.asked.set(None);
            return;
        }
        if let Some(asks) = self.asks_undo_of_another_step() {
            return self.asks_undo.set(asks);
        }
        let (entries, together) = self.together.get_value();
        let together = match together {
            0 => 1,
            _ if entries != self.entries() => 1,
            together => together,
        };
        self.together.set_value((0, 0));
        let mut undone = (0..together).map_while(|_| self.session.undo());
        // The last one undone was the first one done.
        let Some((act, undo)) = undone.by_ref().last() else {
            return self.refused.set("Nothing to undo.".to_owned());
        };
        let said = self
            .session
            .app
            .with_state_untracked(|s| taken_back(s, &act))
            .unwrap_or_default();
        let is_shown = match act {
            EntryKind::Reading { measure, on, .. }
            | EntryKind::Correction { measure, on, .. }
            | EntryKind::MarkedOut { measure, on, .. } => self.return_to(&Item { measure, on }),
            _ => false,
        };
        self.refused.set(String::new());
        self.clear_undo();
        if !is_shown {
            self.undone.set((said, undo.filter(|_| together == 1)));
        }
    }

    /// Returns what Undo would take back, if it was done before this pass and belongs to another step, and this was not
    /// asked yet.
    fn asks_undo_of_another_step(self) -> Option<String> {
        let (entry, act) = self.session.undoable()?;
        let opened = self.opened.get_value();
        if opened.is_some_and(|o| o.replica == entry.replica && o.seq < entry.seq) {
            return None;
        }
        let is_own = |id: &MeasureId| self.step.with_value(|s| s.takes.contains(id));
        match &act {
            EntryKind::Reading { measure, .. }
            | EntryKind::Correction { measure, .. }
            | EntryKind::MarkedOut { measure, .. }
            | EntryKind::Swept { measure, .. }
                if is_own(measure) =>
            {
                return None;
            }
            _ => {}
        }
        let named = self.session.app.with_state_untracked(|s| named(s, &act))?;
        let asks = format!("Take back {named}?");
        (self.asks_undo.get_untracked() != asks).then_some(asks)
    }

    /// Returns whether something is said or asked of Undo.
    pub fn says_of_undo(self) -> bool {
        self.undone.with(|(said, _)| !said.is_empty())
            || self.asks_undo.with(|asks| !asks.is_empty())
    }

    /// Brings back what was taken back last.
    pub fn bring_back(self, entry: EntryId) {
        self.clear_undo();
        self.session.record(EntryKind::Undo { entry });
    }
}

/// What Undo took back, with the key that brings it back; or the question before it takes back what is of another step.
#[component]
pub fn OfUndo(pass: PassState) -> impl IntoView {
    move || {
        let asks = pass.asks_undo.get();
        if !asks.is_empty() {
            return view! {
                <div class="message ask">
                    <p>{asks}</p>
                    <button class="button" type="button" on:click=move |_| pass.clear_undo()>"No"</button>
                    <button class="button" type="button" on:click=move |_| pass.undo()>"Take back"</button>
                </div>
            }
            .into_any();
        }
        let (said, undo) = pass.undone.get();
        let bring_back = undo.map(|entry| {
            view! { <button class="button" type="button" on:click=move |_| pass.bring_back(entry)>{BRING_BACK}</button> }
        });
        view! { <div class="message act"><p>{said}</p>{bring_back}</div> }.into_any()
    }
}
