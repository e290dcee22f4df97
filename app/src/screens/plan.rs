//! What can be done now, what drying until when, what sets the finish, and how the days end.

mod critical_path;
mod days;
mod now;
mod state;
mod steps;

use leptos::prelude::*;

use crate::parts::header::{Header, Saved};
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::use_session;
use critical_path::CriticalPath;
use days::{Days, WorkingDay};
use now::{DryingNow, Now, PlanFigures};
use state::PlanState;
use steps::Steps;

/// What can be done now, what drying until when, what sets the finish, and how the days end.
#[component]
pub fn PlanScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <PlanOfJob/>
        </RequireOpenJob>
    }
}

#[component]
fn PlanOfJob() -> impl IntoView {
    let session = use_session();
    let plan = PlanState::new(session);
    let back = session.app.route.with_untracked(Route::order_href);
    let name = Signal::derive(move || session.app.job_name());
    let anything = Memo::new(move |_| {
        plan.job_plan
            .with(|p| !p.lines.is_empty() || !p.drying.is_empty())
    });
    view! {
        <Header back back_label="Back to the order" title=Signal::stored("Plan".to_owned()) line=name>
            <Saved/>
        </Header>
        <main class="page plan" tabindex="0">
            {move || {
                if anything.get() {
                    view! {
                        <div class="panes">
                            <div class="pane">
                                <PlanFigures plan/>
                                <Now plan/>
                                <DryingNow plan/>
                                <Days plan/>
                                <CriticalPath plan/>
                                <WorkingDay plan/>
                            </div>
                            <Steps plan/>
                        </div>
                    }
                    .into_any()
                } else {
                    let handover = plan.job.map(|id| Route::Handover(id).href());
                    view! {
                        <div class="teach">
                            <h2>"Nothing is left to plan"</h2>
                            <p>"Every step is done and dry. Open Handover, and export the job for the office."</p>
                            <a class="button main" href=handover>"Handover"</a>
                        </div>
                    }
                    .into_any()
                }
            }}
        </main>
    }
}
