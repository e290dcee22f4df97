use leptos::prelude::*;

use crate::desk::Desk;
use crate::parts::notices::Notices;
use crate::place::Screen;
use crate::screens::{
    corrections, estimate, handover, jobs, new_job, order, pass, plan, preferences, profile,
    report, setup, targets,
};

/// The whole app: one screen at a time, chosen by the place in the address.
#[component]
pub fn App() -> impl IntoView {
    let desk = Desk::new();
    provide_context(desk);
    desk.start();
    take_dropped_files(desk);
    let is_wide = RwSignal::new(wide());
    let resized = window_event_listener(leptos::ev::resize, move |_| {
        if wide() != is_wide.get_untracked() {
            is_wide.set(wide());
        }
    });
    on_cleanup(move || resized.remove());
    // In the office the jobs stand beside the open one.
    let beside = Memo::new(move |_| is_wide.get() && desk.screen.with(|s| *s != Screen::Jobs));
    view! {
        <Notices/>
        <Show when=move || beside.get()>
            <aside class="side" aria-label="Jobs on this device">
                <jobs::JobList/>
            </aside>
        </Show>
        <div class="screen">{move || {
            let screen = desk.screen.get();
            document_title(&screen);
            match screen {
                Screen::Jobs => view! { <jobs::Jobs/> }.into_any(),
                Screen::NewJob => view! { <new_job::NewJob/> }.into_any(),
                Screen::Preferences => view! { <preferences::PreferencesScreen/> }.into_any(),
                Screen::NextJob(_) => view! { <new_job::NextJob/> }.into_any(),
                Screen::Order(_) => view! { <order::OrderScreen/> }.into_any(),
                Screen::Pass(_, step) => view! { <pass::Pass step/> }.into_any(),
                Screen::PassAt(_, step, note) => view! { <pass::Pass step at=note/> }.into_any(),
                Screen::Setup(_, part) => view! { <setup::SetupScreen part/> }.into_any(),
                Screen::Targets(_, measure) => view! { <targets::Targets measure/> }.into_any(),
                Screen::Profile(_, step, measure) => {
                    view! { <profile::ProfileScreen step measure/> }.into_any()
                }
                Screen::Corrections(_, step) => {
                    view! { <corrections::CorrectionsScreen step/> }.into_any()
                }
                Screen::Plan(_) => view! { <plan::PlanScreen/> }.into_any(),
                Screen::Handover(_) => view! { <handover::Handover/> }.into_any(),
                Screen::Report(_) => view! { <report::Report/> }.into_any(),
                Screen::Estimate(_) => view! { <estimate::EstimateScreen/> }.into_any(),
            }
        }}</div>
    }
}

/// Whether two panes have room: from 900 CSS pixels.
fn wide() -> bool {
    let width = window().inner_width().ok().and_then(|w| w.as_f64());
    width.is_some_and(|w| w >= 900.0)
}

/// Opens job files that are dropped on the window, wherever it is.
fn take_dropped_files(desk: Desk) {
    let over = window_event_listener(leptos::ev::dragover, |event| event.prevent_default());
    let dropped = window_event_listener(leptos::ev::drop, move |event| {
        event.prevent_default();
        desk.open_files(event.data_transfer().and_then(|d| d.files()));
    });
    on_cleanup(move || {
        over.remove();
        dropped.remove();
    });
}

/// The title says which screen, never whose job: titles end up in histories.
fn document_title(screen: &Screen) {
    document().set_title(&format!("{} – Evenhand", screen.title()));
}
