//! The Undo button of the bar, and what it says.

use evenhand_core::job::EntryKind;
use leptos::prelude::*;

use super::icons::{Icon, UNDO};
use crate::state::use_session;

/// A button that undoes the latest act of this phone, and says what it was.
#[component]
pub fn UndoTool() -> impl IntoView {
    let session = use_session();
    let undo = move |_| {
        let sentence = match session.undo() {
            Some(act) => taken_back(&act),
            None => "Nothing to undo on this phone.".to_owned(),
        };
        session.app.notify_undo(&sentence);
    };
    view! {
        <button class="tool" type="button" aria-label="Undo" on:click=undo>
            <Icon path=UNDO/>
        </button>
    }
}

/// Returns the sentence that says what was undone.
pub fn taken_back(act: &EntryKind) -> String {
    format!("Taken back: {}.", named(act))
}

/// Returns an act in words.
fn named(act: &EntryKind) -> &'static str {
    match act {
        EntryKind::Details { .. } => "a change of the job’s details",
        EntryKind::Setup { .. } => "a change of the setup",
        EntryKind::Target { .. } => "a change of a target",
        EntryKind::Reading { .. } => "a reading",
        EntryKind::Swept { .. } => "a sweep",
        EntryKind::MarkedOut { .. } => "a mark",
        EntryKind::NotRemeasured { .. } => "that a note is not measured again",
        EntryKind::Correction { .. } => "an adjustment",
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
