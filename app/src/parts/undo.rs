use evenhand_core::job::Act;
use leptos::prelude::*;

use super::icons::{Icon, UNDO};
use crate::desk::desk;

/// Takes back the latest thing done on this phone, and says what it was.
#[component]
pub fn UndoTool() -> impl IntoView {
    let desk = desk();
    let undo = move |_| {
        let said = match desk.undo() {
            Some(act) => format!("Taken back: {}.", named(&act)),
            None => "There is nothing on this phone to take back.".to_owned(),
        };
        desk.say(&said);
    };
    view! {
        <button class="tool" type="button" aria-label="Undo" on:click=undo>
            <Icon path=UNDO/>
        </button>
    }
    .into_any()
}

/// What was taken back, in words.
fn named(act: &Act) -> &'static str {
    match act {
        Act::Details { .. } => "a change of the job’s details",
        Act::Setup { .. } => "a change of the setup",
        Act::Target { .. } => "a change of a target",
        Act::Reading { .. } => "a reading",
        Act::Correction { .. } => "an adjustment",
        Act::Remark { .. } => "a remark",
        _ => "the latest entry",
    }
}
