//! The Undo button of the bar, and what it says.

use evenhand_core::job::Act;
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
            None => "There is nothing on this phone to take back.".to_owned(),
        };
        session.app.notify(&sentence);
    };
    view! {
        <button class="tool" type="button" aria-label="Undo" on:click=undo>
            <Icon path=UNDO/>
        </button>
    }
}

/// Returns the sentence that says what was undone.
pub fn taken_back(act: &Act) -> String {
    format!("Taken back: {}.", named(act))
}

/// Returns an act in words.
fn named(act: &Act) -> &'static str {
    match act {
        Act::Details { .. } => "a change of the job’s details",
        Act::Setup { .. } => "a change of the setup",
        Act::Target { .. } => "a change of a target",
        Act::Reading { .. } => "a reading",
        Act::Correction { .. } => "an adjustment",
        Act::Remark { .. } => "a remark",
        Act::FaultMended { .. } => "that a fault was mended",
        Act::WaitStarted { .. } => "the beginning of a cure",
        Act::WaitEnded { .. } => "the end of a cure",
        Act::MinutesStated { .. } => "a statement of working time",
        Act::LeftOut { .. } | Act::OwnStep { .. } | Act::Arranged { .. } => "a change of the order",
        _ => "the latest entry",
    }
}
