//! The Undo button of the bar, and what it says.

use evenhand_core::job::{EntryKind, State};
use leptos::prelude::*;

use super::icons::{Icon, UNDO};
use crate::state::use_session;
use crate::text;

/// A button that undoes the latest act of this phone, and says what it was.
#[component]
pub fn UndoTool() -> impl IntoView {
    let session = use_session();
    let undo = move |_| match session.undo() {
        Some((act, undo)) => {
            let said = session.app.with_state_untracked(|s| taken_back(s, &act));
            session.app.notify_undo(&said.unwrap_or_default(), undo);
        }
        None => session
            .app
            .notify_undo("Nothing to undo on this phone.", None),
    };
    view! {
        <button class="tool" type="button" aria-label="Undo" on:click=undo>
            <Icon path=UNDO/>
        </button>
    }
}

/// What brings back what was just undone.
pub const BRING_BACK: &str = "Bring back";

/// Returns the sentence that says what was undone: `Taken back: Let-off of C4, 2.1 mm.`
pub fn taken_back(state: &State, act: &EntryKind) -> String {
    format!("Taken back: {}.", named(state, act))
}

/// Returns an act in words; of a reading or an adjustment also of what, and the value.
pub fn named(state: &State, act: &EntryKind) -> String {
    let measure = |id: &str| state.measure(id);
    let name = |id: &str| measure(id).map_or_else(|| id.to_owned(), |m| m.name.to_string());
    match act {
        EntryKind::Reading {
            measure: id,
            on,
            value,
            ..
        } => {
            let shown = measure(id.as_str()).map(|m| {
                let length = state.length_unit();
                let shown = m.shown(*value, length);
                match m.kind.is_number() {
                    true => m.with_unit(&shown, length),
                    false => shown,
                }
            });
            let of = text::of_subject(*on);
            format!("{}{of}, {}", name(id.as_str()), shown.unwrap_or_default())
        }
        EntryKind::Correction {
            measure: id, on, ..
        } => {
            let of = text::of_subject(*on);
            format!("an adjustment, {}{of}", name(id.as_str()))
        }
        EntryKind::Swept { measure: id, .. } => format!("a sweep, {}", name(id.as_str())),
        EntryKind::MarkedOut {
            measure: id, on, ..
        } => {
            let of = text::of_subject(*on);
            format!("a mark, {}{of}", name(id.as_str()))
        }
        act => kind_of(act).to_owned(),
    }
}

/// Returns what kind of act it is.
fn kind_of(act: &EntryKind) -> &'static str {
    match act {
        EntryKind::Details { .. } => "a change of the job’s details",
        EntryKind::Setup { .. } => "a change of the setup",
        EntryKind::Target { .. } => "a change of a target",
        EntryKind::NotRemeasured { .. } => "that a note is not measured again",
        EntryKind::Remark { fault: true, .. } => "a fault",
        EntryKind::Remark { .. } => "a remark",
        EntryKind::RemarkChanged { .. } => "a change of a remark",
        EntryKind::Archived { archived: true } => "that the job was archived",
        EntryKind::Archived { archived: false } => "that the job was taken out of the archive",
        EntryKind::Photographed { .. } => "a photo or its caption",
        EntryKind::FaultFixed { .. } => "that a fault was fixed",
        EntryKind::DryingStarted { .. } => "the start of a drying time",
        EntryKind::DryingEnded { .. } => "the end of a drying time",
        EntryKind::MinutesStated { .. } => "a change of working time",
        EntryKind::KindChosen { .. }
        | EntryKind::LeftOut { .. }
        | EntryKind::OwnStep { .. }
        | EntryKind::Arranged { .. } => "a change of the order",
        _ => "the latest record",
    }
}
