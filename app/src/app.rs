//! The root component: one screen at a time, and the files dropped on the window.

use leptos::prelude::*;

use crate::device;
use crate::parts::notices::Notices;
use crate::parts::opened_jobs::OpenedJobs;
use crate::route::Route;
use crate::screens::{
    corrections, estimate, handover, hours, jobs, letter, new_job, order, pass, plan, preferences,
    profile, report, setup, targets,
};
use crate::state::{self, Session};

/// The whole app: one screen at a time, chosen by the route.
#[component]
pub fn App() -> impl IntoView {
    let session = state::start();
    provide_context(session);
    take_dropped_files(session);
    let is_wide = RwSignal::new(device::is_wide());
    let resized = window_event_listener(leptos::ev::resize, move |_| {
        if device::is_wide() != is_wide.get_untracked() {
            is_wide.set(device::is_wide());
        }
    });
    on_cleanup(move || resized.remove());
    // On a wide window the list of jobs is shown beside the open job.
    let beside = Memo::new(move |_| is_wide.get() && session.app.route.with(|s| *s != Route::Jobs));
    move_focus(session);
    view! {
        <button class="skip" type="button" on:click=move |_| device::focus_first(MAIN_ACTION)>"Skip to the main action"</button>
        <Notices/>
        <OpenedJobs/>
        <div class="screen">{move || {
            let screen = session.app.route.get();
            document_title(&screen);
            match screen {
                Route::Jobs => view! { <jobs::JobsScreen/> }.into_any(),
                Route::NewJob => view! { <new_job::NewJobScreen/> }.into_any(),
                Route::Preferences => view! { <preferences::PreferencesScreen/> }.into_any(),
                Route::NextJob(_) => view! { <new_job::NextJobScreen/> }.into_any(),
                Route::Order(_) => view! { <order::OrderScreen/> }.into_any(),
                Route::Pass(_, step) => view! { <pass::PassScreen step/> }.into_any(),
                Route::PassAt(_, step, note) => view! { <pass::PassScreen step at=note/> }.into_any(),
                Route::Setup(_, part) => view! { <setup::SetupScreen part/> }.into_any(),
                Route::Targets(_, measure) => view! { <targets::TargetsScreen measure/> }.into_any(),
                Route::Profile(_, step, measure) => {
                    view! { <profile::ProfileScreen step measure/> }.into_any()
                }
                Route::Corrections(_, step) => {
                    view! { <corrections::CorrectionsScreen step/> }.into_any()
                }
                Route::Plan(_) => view! { <plan::PlanScreen/> }.into_any(),
                Route::Hours(_) => view! { <hours::HoursScreen/> }.into_any(),
                Route::Handover(_) => view! { <handover::HandoverScreen/> }.into_any(),
                Route::Report(_) => view! { <report::ReportScreen/> }.into_any(),
                Route::Estimate(_) => view! { <estimate::EstimateScreen/> }.into_any(),
                Route::Letter(_) => view! { <letter::LetterScreen/> }.into_any(),
            }
        }}</div>
        <Show when=move || beside.get()>
            <aside class="side" aria-label="Jobs on this device">
                <jobs::JobsPane/>
            </aside>
        </Show>
    }
}

/// What the skip link leads to: what a screen is for, or its contents.
const MAIN_ACTION: &str = ".screen .button.main, .screen .pad button, .screen main[tabindex]";

/// Moves the focus to the title of each further screen, so that a keyboard goes on from its top and a screen reader
/// says it. A screen that has put the focus somewhere itself keeps it.
fn move_focus(session: Session) {
    Effect::new(move |before: Option<()>| {
        session.app.route.track();
        if before.is_some() {
            request_animation_frame(|| {
                if !device::is_focused() {
                    device::focus_first(".screen h1");
                }
            });
        }
    });
}

/// Opens job files that are dropped anywhere on the window.
fn take_dropped_files(session: Session) {
    let over = window_event_listener(leptos::ev::dragover, |event| event.prevent_default());
    let dropped = window_event_listener(leptos::ev::drop, move |event| {
        event.prevent_default();
        session.open_files(event.data_transfer().and_then(|d| d.files()));
    });
    on_cleanup(move || {
        over.remove();
        dropped.remove();
    });
}

/// Sets the window's title to the name of the screen, never of the job: titles end up in the browser's history.
fn document_title(screen: &Route) {
    document().set_title(&format!("{} – Evenhand", screen.title()));
}
