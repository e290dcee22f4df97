//! What to do to which note, in working order, with a tick for each correction made.

mod missing;
mod punchings;
mod state;
mod summary;
mod to_do;

use evenhand_core::trade::{MeasureId, Step, StepId};
use leptos::prelude::*;

use crate::parts::header::{Header, Saved};
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::use_session;
use missing::{MarkedOut, MissingData, ReadFirst, StrayedLine};
use punchings::PickList;
use state::CorrectionsState;
use summary::Summary;
use to_do::ToDo;

/// The corrections of one step, or of all steps that can be done where the action is, in working order.
#[component]
pub fn CorrectionsScreen(
    /// The step; all steps if its id is empty.
    step: StepId,
) -> impl IntoView {
    view! {
        <RequireOpenJob>
            <CorrectionsOfJob step=step.clone()/>
        </RequireOpenJob>
    }
}

#[component]
fn CorrectionsOfJob(step: StepId) -> impl IntoView {
    let session = use_session();
    let corrections = CorrectionsState::new(session);
    let CorrectionsState {
        job, chosen, steps, ..
    } = corrections;
    let known = steps.with_untracked(|steps| steps.iter().any(|s| s.id == step));
    corrections.choose(known.then_some(step));
    let rows = Memo::new(move |_| corrections.rows());
    let title = Signal::derive(move || match chosen.get() {
        Some(step) => steps.with(|all| {
            let step = all.iter().find(|s| s.id == step);
            step.map(|s| s.name.to_string()).unwrap_or_default()
        }),
        None => "All steps".to_owned(),
    });
    let (back, back_label) = session.app.way_back();
    let profile = move || {
        let step = chosen.get()?;
        Some(Route::Profile(job?, step, MeasureId::of("")).href())
    };
    let read = move || Some(Route::Pass(job?, chosen.get()?).href());
    view! {
        <Header back back_label title line=Signal::stored("Corrections".to_owned())>
            <Saved/>
        </Header>
        <main class="page corrections">
            <Chooser corrections/>
            <Narrow corrections/>
            <Summary corrections rows/>
            <div class="panes">
                <div class="pane" tabindex="0" role="region" aria-label="To do">
                    <MarkedOut corrections/>
                    <MissingData corrections/>
                    <StrayedLine corrections/>
                    <ToDo corrections rows/>
                </div>
                <div class="pane">
                    <ReadFirst corrections/>
                    <PickList corrections rows/>
                </div>
            </div>
        </main>
        <Show when=move || chosen.get().is_some()>
            <footer class="reach">
                <div class="pair">
                    <a class="button" href=profile>"Profile"</a>
                    <a class="button" href=read>"Measure this step"</a>
                </div>
            </footer>
        </Show>
    }
}

/// The choice between what is out alone and all that is off its target.
#[component]
fn Narrow(corrections: CorrectionsState) -> impl IntoView {
    let choice = move |(all, words): (bool, &'static str)| {
        let count = move || {
            let (out, every) = corrections.counts();
            if all { every } else { out }
        };
        view! {
            <button class="button" type="button" aria-pressed=move || (corrections.is_narrowed() != all).to_string()
                on:click=move |_| corrections.all.set(all)>{words}" "{count}</button>
        }
    };
    let offers = move || {
        let (out, all) = corrections.counts();
        0 < out && out < all
    };
    view! {
        <Show when=offers>
            <div class="choices pair">{[(false, "Only those out:"), (true, "All off target:")].map(choice).collect_view()}</div>
        </Show>
    }
}

/// A select of all steps or one.
#[component]
fn Chooser(corrections: CorrectionsState) -> impl IntoView {
    let options = move || {
        let chosen = corrections.chosen.get_untracked();
        let option = |step: &Step| {
            let is = chosen.as_ref() == Some(&step.id);
            view! { <option value=step.id.to_string() selected=is>{step.name.to_string()}</option> }
        };
        corrections
            .steps
            .with(|steps| steps.iter().map(option).collect_view())
    };
    let choose = move |event: web_sys::Event| {
        let value = event_target_value(&event);
        let step = StepId::from(value.as_str());
        if let Some(job) = corrections.job {
            let route = Route::Corrections(job, step.clone());
            corrections.session.app.note_route(route);
        }
        corrections.choose((!value.is_empty()).then_some(step));
    };
    view! {
        <label class="choose">
            <span class="hidden">"Whose corrections"</span>
            <select on:change=choose>
                <option value="">"All steps"</option>
                {options}
            </select>
        </label>
    }
}
