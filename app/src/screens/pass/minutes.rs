//! The working time of a step, and a field to state that of today.

use evenhand_core::analysis::hours::{is_untimed, read_minutes};
use evenhand_core::job::{State, WorkDay};
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use super::state::PassState;
use crate::device::local_time;
use crate::parts::refusal::Refusal;
use crate::route::Route;
use crate::storage::preferences;
use crate::text;

/// The working time of the step, and a field to state that of this technician today.
///
/// If the step is done and no time was counted, it says so, and offers the time that the pass was open.
#[component]
pub fn Minutes(pass: PassState) -> impl IntoView {
    let session = pass.session;
    let step = pass.step.with_value(|s| s.id.clone());
    let typed = RwSignal::new(String::new());
    let refused = RwSignal::new(String::new());
    let own = {
        let step = step.clone();
        Memo::new(move |_| {
            let now_ms = session.app.now_ms.get_untracked();
            let of = |s: &State| {
                let all = s.progress(now_ms);
                let (step, progress) = all.into_iter().find(|(s, _)| s.id == step)?;
                let open = s.pass_open_minutes(session.replica(), now_ms);
                let untimed = is_untimed(&step, &progress, open.unwrap_or(0));
                Some((progress.minutes, progress.time_stated, untimed))
            };
            session.app.with_state(of).flatten().unwrap_or_default()
        })
    };
    let untimed = Memo::new(move |_| own.get().2);
    Effect::new(move |_| {
        let now_ms = session.app.now_ms.get_untracked();
        let open = session
            .app
            .with_state_untracked(|s| s.pass_open_minutes(session.replica(), now_ms));
        let open = open.flatten().filter(|open| *open > 0 && untimed.get());
        if let (Some(open), true) = (open, typed.with_untracked(String::is_empty)) {
            typed.set(open.to_string());
        }
    });
    let so_far = move || match own.get() {
        (.., true) => "Done, no time counted. How long did it take?".to_owned(),
        (minutes, true, _) => format!("{} so far, as stated.", text::minutes(minutes)),
        (minutes, false, _) => format!("{} so far, counted.", text::minutes(minutes)),
    };
    let technician = preferences::technician();
    let label = match &technician {
        Some(name) => format!("Working time today, {name}"),
        None => "Working time today".to_owned(),
    };
    let state = move |event: SubmitEvent| {
        event.prevent_default();
        match typed.with_untracked(|text| read_minutes(text)) {
            Ok(minutes) => {
                refused.set(String::new());
                typed.set(String::new());
                let worked = WorkDay {
                    day: local_time::day(local_time::now_ms()),
                    technician: technician.clone(),
                };
                let stated = session.app.with_state_untracked(|s| {
                    s.minutes_stated(step.clone(), minutes, worked, None)
                });
                stated.map(|stated| session.record(stated));
            }
            Err(error) => refused.set(format!("{error} The old time still counts.")),
        }
    };
    let hours = session
        .app
        .job_untracked()
        .map(|id| Route::Hours(id).href());
    // What is offered is replaced by what is typed.
    let select =
        |event: web_sys::FocusEvent| event_target::<web_sys::HtmlInputElement>(&event).select();
    view! {
        <div class="minutes">
            <p class:untimed=move || untimed.get() class:quiet=move || !untimed.get()>{so_far}</p>
            <form class="line" on:submit=state>
                <label>
                    {label}
                    <input type="text" autocomplete="off" maxlength="12" placeholder="95 or 1:35" bind:value=typed on:focus=select/>
                </label>
                <button class="button" type="submit">"Set"</button>
            </form>
            <Refusal words=refused/>
            <a class="or" href=hours>"Hours: another person or day"</a>
        </div>
    }
}
