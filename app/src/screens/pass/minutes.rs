//! The working time of a step, and a field to state it.

use evenhand_core::job::EntryKind;
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use super::state::PassState;
use crate::text;

/// The working time of the step, counted or stated, and a field to state it.
#[component]
pub fn Minutes(pass: PassState) -> impl IntoView {
    let session = pass.session;
    let step = pass.step.with_value(|s| s.id.clone());
    let typed = RwSignal::new(String::new());
    let refused = RwSignal::new("");
    let so_far = {
        let step = step.clone();
        move || {
            let announcement = session
                .app
                .with_state(|s| (s.spent_ms(step.as_str()), s.is_time_stated(step.as_str())));
            let (ms, stated) = announcement.unwrap_or_default();
            let how = if stated { "as stated" } else { "counted" };
            format!("{} so far, {how}.", text::minutes(ms / 60_000))
        }
    };
    let state = move |event: SubmitEvent| {
        event.prevent_default();
        match typed.get_untracked().trim().parse::<u32>() {
            Ok(minutes) if minutes <= MAX_MINUTES => {
                refused.set("");
                typed.set(String::new());
                let step = step.clone();
                session.record(EntryKind::MinutesStated { step, minutes });
            }
            _ => refused.set("Type whole minutes, up to 6000. What stood there still holds."),
        }
    };
    view! {
        <form class="line" on:submit=state>
            <label>
                "Working minutes, all in all"
                <input type="text" inputmode="numeric" autocomplete="off" maxlength="4" bind:value=typed/>
            </label>
            <button class="button" type="submit">"Set"</button>
        </form>
        <p class="quiet">{so_far}</p>
        <p class="refused" role="alert">{refused}</p>
    }
}

/// The most minutes that can be stated for a step: a hundred hours.
const MAX_MINUTES: u32 = 6000;
