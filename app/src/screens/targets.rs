//! The targets of a job by stage, and the travel balance.

use evenhand_core::analysis::conflicts::Conflict;
use evenhand_core::analysis::targets::{inch_aims, target_of, targets_by_stage};
use evenhand_core::job::{Scope, Topic};
use evenhand_core::trade::{Measure, MeasureId};
use leptos::prelude::*;

use crate::device;
use crate::parts::conflicts::{OpenConflicts, marked, open_conflicts};
use crate::parts::disclosure::Disclosure;
use crate::parts::header::{Header, Saved};
use crate::parts::require_open_job::RequireOpenJob;
use crate::parts::undo::UndoTool;
use crate::state::{Session, use_session};
use crate::text;

mod band_format;
mod editor;
mod travel;

/// The targets and tolerances by stage, and the travel balance.
#[component]
pub fn TargetsScreen(
    /// The measure whose target is opened.
    measure: MeasureId,
) -> impl IntoView {
    view! {
        <RequireOpenJob>
            <TargetsOfJob measure=measure.clone()/>
        </RequireOpenJob>
    }
}

#[component]
fn TargetsOfJob(measure: MeasureId) -> impl IntoView {
    let session = use_session();
    let (back, back_label) = session.app.way_back();
    let title = Signal::stored("Targets".to_owned());
    let line = Signal::derive(move || session.app.job_name());
    let following =
        Signal::derive(move || session.app.with_state(travel::summary).unwrap_or_default());
    let travel_open = matches!(measure.as_str(), "" | "travel");
    let stages = session
        .app
        .with_state_untracked(targets_by_stage)
        .unwrap_or_default();
    let opened = measure.to_string();
    let open = open_conflicts(session, |topic| match topic {
        Topic::Setup(field) => field == "floats",
        topic => matches!(topic, Topic::Target(..)),
    });
    let of_travel = Memo::new(move |_| {
        let mut open = open.get();
        open.retain(|c| matches!(c.topic, Topic::Setup(_)));
        open
    });
    let shown = opened.clone();
    Effect::new(move |_| device::show_part(&shown));
    let stages = stages.into_iter().map(|(stage, measures)| {
        let rows = measures
            .into_iter()
            .map(|m| row(session, m, &opened, open))
            .collect_view();
        view! {
            <section class="stage" aria-label=stage.name()>
                <h2>{stage.name()}</h2>
                <div class="parts">{rows}</div>
            </section>
        }
    });
    let stages = stages.collect_view();
    view! {
        <Header back back_label title line>
            <Saved/>
            <UndoTool/>
        </Header>
        <main class="page targets">
            <p class="quiet lead">
                "Starting values: your own figures, the maker’s figures and the player’s wish come first. A change counts at once."
            </p>
            <InchAims/>
            <Disclosure name="travel" title="Travel balance" open=travel_open || conflict_in(of_travel) summary=marked(of_travel, following)>
                <OpenConflicts open=of_travel/>
                {move || travel::travel(session)}
            </Disclosure>
            {stages}
        </main>
    }
}

/// The key that sets aims in round fractions, in a job in inches that has none of its own for them.
#[component]
fn InchAims() -> impl IntoView {
    let session = use_session();
    let missing = Memo::new(move |_| session.app.with_state(inch_aims).unwrap_or_default());
    let set = move |_| {
        for aim in missing.get_untracked() {
            session.record(aim);
        }
    };
    view! {
        <Show when=move || !missing.with(Vec::is_empty)>
            <button class="button" type="button" on:click=set>"Set aims to round fractions: blow 1 3/4, let-off 1/16"</button>
        </Show>
    }
}

/// Returns whether a part holds a conflict, and so is open to begin with.
fn conflict_in(open: Memo<Vec<Conflict>>) -> bool {
    open.with_untracked(|open| !open.is_empty())
}

/// One measure, folded to its target for the job.
fn row(
    session: Session,
    measure: Measure,
    opened: &str,
    open_conflicts: Memo<Vec<Conflict>>,
) -> impl IntoView + use<> {
    let id = measure.id.clone();
    let name = measure.name.to_string();
    let own = id.clone();
    let conflicts = Memo::new(move |_| {
        let mut open = open_conflicts.get();
        open.retain(
            |c| matches!(&c.topic, Topic::Target(measure, _) if measure.as_str() == own.as_str()),
        );
        open
    });
    let open = id.as_str() == opened || conflict_in(conflicts);
    let summary = {
        let id = id.clone();
        Signal::derive(move || {
            session
                .app
                .with_state(|s| target_summary(s, id.as_str()))
                .unwrap_or_default()
        })
    };
    let measure = StoredValue::new(measure);
    view! {
        <Disclosure name=id.to_string() title=name open summary=marked(conflicts, summary)>
            <OpenConflicts open=conflicts/>
            {move || editor::editor(session, measure)}
        </Disclosure>
    }
}

/// Returns the job's target in words, and which sections and notes have their own.
fn target_summary(state: &evenhand_core::job::State, measure: &str) -> String {
    let unit = state.length_unit();
    let target = target_of(state, measure, Scope::Job);
    let mut words = match &target {
        Some(_) => text::target(state, measure, target.as_ref(), unit),
        None => "no target yet".to_owned(),
    };
    if state.target_set(measure, Scope::Job).is_some() {
        words.push_str(", changed for this job");
    }
    let apart = state.targets_apart(measure);
    let sections = apart.iter().filter(|s| matches!(s, Scope::Section(_)));
    let sections = sections.count();
    let notes = apart.len() - sections;
    let sections = (sections > 0).then(|| text::counted(sections, "1 section", "sections"));
    let notes = (notes > 0).then(|| text::counted(notes, "1 note", "notes"));
    let apart: Vec<String> = sections.into_iter().chain(notes).collect();
    if !apart.is_empty() {
        words.push_str(&format!("; except {}", apart.join(", ")));
    }
    words
}
