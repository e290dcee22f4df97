//! The readings of a step against their band, as found, now and as left, with the figures.

mod picture;
mod state;
mod tables;
mod target;

use evenhand_core::analysis::profile::{Choice, ProfileLine, choices};
use evenhand_core::trade::{MeasureId, Stage, StepId};
use leptos::prelude::*;

use crate::parts::header::{Header, Saved};
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::use_session;
use picture::{Occasions, Picture};
use state::{ProfileState, named};
use tables::{FiguresTable, Readings};
use target::TargetInForce;

/// The readings of a step against their band, as found, now and as left, with the figures.
#[component]
pub fn ProfileScreen(
    /// The step.
    step: StepId,
    /// One of its measures; the first if its id is empty.
    measure: MeasureId,
) -> impl IntoView {
    view! {
        <RequireOpenJob>
            <ProfileOfJob step=step.clone() measure=measure.clone()/>
        </RequireOpenJob>
    }
}

#[component]
fn ProfileOfJob(step: StepId, measure: MeasureId) -> impl IntoView {
    let session = use_session();
    let choices = Memo::new(move |_| session.app.with_state(choices).unwrap_or_default());
    let chosen = choices.with_untracked(|all| named(all, &step, &measure));
    let profile = ProfileState::new(session, chosen);
    let job = session.app.job_untracked();
    let (back, back_label) = session.app.way_back();
    let title = Signal::derive(move || profile.with(|p| p.measure.name.to_string()));
    let is_read = Memo::new(move |_| profile.with(|p| p.lines.iter().any(ProfileLine::is_read)));
    let corrections = move || Some(Route::Corrections(job?, profile.chosen.get()?.0).href());
    let read = move || {
        let (job, (step, _)) = (job?, profile.chosen.get()?);
        Some(match profile.picked.get() {
            Some(note) => Route::PassAt(job, step, note).href(),
            None => Route::Pass(job, step).href(),
        })
    };
    let read_what = move || match profile.picked.get() {
        Some(note) => format!("Measure {}", note.name()),
        None => "Measure this step".to_owned(),
    };
    view! {
        <Header back back_label title line=Signal::stored("Profile".to_owned())>
            <Saved/>
        </Header>
        <main class="page profile">
            <Chooser profile choices/>
            {move || {
                if is_read.get() {
                    view! {
                        <div class="panes">
                            <div class="pane">
                                <Occasions profile/>
                                <Picture profile/>
                                <FiguresTable profile/>
                                <TargetInForce profile/>
                            </div>
                            <Readings profile/>
                        </div>
                    }
                    .into_any()
                } else {
                    view! { <NothingRead profile/> }.into_any()
                }
            }}
        </main>
        <footer class="reach">
            <div class="pair">
                <a class="button" href=read>{read_what}</a>
                <a class="button" href=corrections>"Corrections"</a>
            </div>
        </footer>
    }
}

/// A select of the measures by stage, with their counts of readings.
#[component]
fn Chooser(profile: ProfileState, choices: Memo<Vec<Choice>>) -> impl IntoView {
    let groups = move || {
        let all = choices.get();
        let chosen = profile.chosen.get_untracked();
        let group = |stage: Stage| {
            let of_stage = all.iter().enumerate().filter(|(_, c)| c.stage == stage);
            let options: Vec<_> = of_stage
                .map(|(at, c)| {
                    let words = match c.read {
                        0 => c.name.clone(),
                        read => format!("{}, {read} measured", c.name),
                    };
                    let is = chosen.as_ref() == Some(&(c.step.clone(), c.measure.clone()));
                    view! { <option value=at.to_string() selected=is>{words}</option> }
                })
                .collect();
            (!options.is_empty())
                .then(|| view! { <optgroup label=stage.name()>{options}</optgroup> })
        };
        Stage::ALL.map(group).collect_view()
    };
    let choose = move |event: web_sys::Event| {
        let at: Option<usize> = event_target_value(&event).parse().ok();
        let choice = choices.with_untracked(|all| all.get(at?).cloned());
        let Some(choice) = choice else { return };
        if let Some(job) = profile.session.app.job_untracked() {
            let route = Route::Profile(job, choice.step.clone(), choice.measure.clone());
            profile.session.app.note_route(route);
        }
        profile.chosen.set(Some((choice.step, choice.measure)));
    };
    view! {
        <label class="choose">
            <span class="hidden">"What is shown"</span>
            <select on:change=choose>{groups}</select>
        </label>
    }
}

/// What to do if nothing was read.
#[component]
fn NothingRead(profile: ProfileState) -> impl IntoView {
    let name = move || profile.with(|p| p.measure.name.to_lowercase());
    view! {
        <div class="teach">
            <h2>{move || format!("No {} measured yet", name())}</h2>
            <p>
                "Measure this step, and its notes stand here against their band: as found, now and as left, with mean, standard deviation and the biggest jump between neighbors."
            </p>
            <p class="quiet">"One reading is enough to start. Above, choose from what is measured already."</p>
        </div>
        <TargetInForce profile/>
    }
}
