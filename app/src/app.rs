use leptos::prelude::*;

use crate::desk::Desk;
use crate::parts::notices::Notices;
use crate::place::Screen;
use crate::screens::{
    corrections, handover, jobs, new_job, order, pass, plan, preferences, profile, setup, targets,
};

/// The whole app: one screen at a time, chosen by the place in the address.
#[component]
pub fn App() -> impl IntoView {
    let desk = Desk::new();
    provide_context(desk);
    desk.start();
    view! {
        <Notices/>
        {move || {
            let screen = desk.screen.get();
            document_title(&screen);
            match screen {
                Screen::Jobs => view! { <jobs::Jobs/> }.into_any(),
                Screen::NewJob => view! { <new_job::NewJob/> }.into_any(),
                Screen::Preferences => view! { <preferences::PreferencesScreen/> }.into_any(),
                Screen::Order(_) => view! { <order::OrderScreen/> }.into_any(),
                Screen::Pass(_, step) => view! { <pass::Pass step/> }.into_any(),
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
            }
        }}
    }
}

/// The title says which screen, never whose job: titles end up in histories.
fn document_title(screen: &Screen) {
    document().set_title(&format!("{} – Evenhand", screen.title()));
}
