//! The one question before a value is recorded.

use leptos::prelude::*;

use super::state::{Asked, Doubt, PassState};
use crate::device::local_time;
use crate::parts::pad::PadAction;
use crate::text;

/// The one question before a value is recorded.
#[component]
pub fn Ask(pass: PassState, asked: Asked) -> impl IntoView {
    let length = pass.session.app.length_unit_untracked();
    let measure = pass.measure();
    let measure = measure.as_ref();
    let words = match &asked.doubt {
        Doubt::Implausible => measure.map(|m| text::doubt(m, asked.value, length)),
        Doubt::Drying { of, until_ms } => Some(format!(
            "“{of}” is drying until {}. Done already?",
            local_time::day_and_time(*until_ms)
        )),
    };
    let is_implausible = matches!(asked.doubt, Doubt::Implausible);
    let other = measure.filter(|_| is_implausible);
    let other = other.and_then(|m| m.in_other_unit(&asked.typed, length));
    let other = other.map(|other| {
        let words = other.0.clone();
        view! {
            <button class="button" type="button" on:click=move |_| pass.enter_in_other_unit(other.clone())>{words}</button>
        }
    });
    view! {
        <div class="message ask">
            <p>{words}</p>
            {other}
            <button class="button" type="button" on:click=move |_| pass.press(PadAction::Undo)>"No"</button>
            <button class="button" type="button" on:click=move |_| pass.press(PadAction::Enter)>"Keep it"</button>
        </div>
    }
}
