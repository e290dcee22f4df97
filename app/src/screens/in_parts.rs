//! The screens that the first one does not need: each group is a file of its own, loaded after it.
//!
//! `wasm_split` is what the framework loads its own lazy routes by. What it writes for a function links to another
//! file of the program, which cannot be done without unsafe code; beside `state/in_parts.rs` there is no other in Evenhand.
#![allow(unsafe_code)]

use futures_util::FutureExt;
use leptos::prelude::*;
use leptos::task::spawn_local;
use leptos::wasm_split::{SplitLoaderError, wasm_split};

use super::{
    corrections, estimate, handover, hours, instrument, letter, new_job, order, pass, plan,
    preferences, profile, report, setup, targets,
};
use crate::parts::busy_bar::BusyBar;
use crate::parts::header::Header;
use crate::route::Route;
use crate::state::{Busy, in_parts};
use crate::text::NOT_LOADED;

/// Returns the screen of a route other than the list of jobs, once its part of the program is loaded.
pub fn screen(route: Route) -> AnyView {
    match route {
        Route::NewJob
        | Route::NextJob(_)
        | Route::Order(_)
        | Route::Pass(..)
        | Route::PassAt(..) => loaded(move || work(route.clone()), load_work),
        _ => loaded(move || office(route.clone()), load_office),
    }
}

/// Loads all parts, one after the other, so that nobody waits for one later. What fails is tried again by its screen.
pub async fn load_all() {
    let _ = load_work().await;
    in_parts::load().await;
    let _ = load_office().await;
}

/// What a technician needs to begin: the new job, the order and the pass.
#[wasm_split(work, wasm_split_path = ::leptos::wasm_split, preload(load_work), fallible)]
fn work(route: Route) -> Result<AnyView, SplitLoaderError> {
    Ok(match route {
        Route::NewJob => view! { <new_job::NewJobScreen/> }.into_any(),
        Route::NextJob(_) => view! { <new_job::NextJobScreen/> }.into_any(),
        Route::Pass(_, step) => view! { <pass::PassScreen step/> }.into_any(),
        Route::PassAt(_, step, note) => view! { <pass::PassScreen step at=note/> }.into_any(),
        _ => view! { <order::OrderScreen/> }.into_any(),
    })
}

/// The other screens: what is set up, concluded and handed out.
#[wasm_split(office, wasm_split_path = ::leptos::wasm_split, preload(load_office), fallible)]
fn office(route: Route) -> Result<AnyView, SplitLoaderError> {
    Ok(match route {
        Route::Preferences => view! { <preferences::PreferencesScreen/> }.into_any(),
        Route::Setup(_, part) => view! { <setup::SetupScreen part/> }.into_any(),
        Route::Targets(_, measure) => view! { <targets::TargetsScreen measure/> }.into_any(),
        Route::Profile(_, step, measure) => {
            view! { <profile::ProfileScreen step measure/> }.into_any()
        }
        Route::Corrections(_, step) => view! { <corrections::CorrectionsScreen step/> }.into_any(),
        Route::Plan(_) => view! { <plan::PlanScreen/> }.into_any(),
        Route::Hours(_) => view! { <hours::HoursScreen/> }.into_any(),
        Route::Report(_) => view! { <report::ReportScreen/> }.into_any(),
        Route::Estimate(_) => view! { <estimate::EstimateScreen/> }.into_any(),
        Route::Letter(_) => view! { <letter::LetterScreen/> }.into_any(),
        Route::Instrument(_) => view! { <instrument::InstrumentScreen/> }.into_any(),
        _ => view! { <handover::HandoverScreen/> }.into_any(),
    })
}

/// Shows a screen of a part at once if the part is here, else when it is loaded.
fn loaded<S, L>(
    screen: impl Fn() -> S + Send + 'static,
    load: impl Fn() -> L + Copy + Send + Sync + 'static,
) -> AnyView
where
    S: Future<Output = Result<AnyView, SplitLoaderError>>,
    L: Future<Output = Result<(), SplitLoaderError>> + 'static,
{
    // Whether the last attempt to load it went well; `None` while it goes on.
    let outcome = RwSignal::new(None);
    let start = move || {
        spawn_local(async move {
            let is_loaded = load().await.is_ok();
            // The screen may have been left meanwhile.
            let _ = outcome.try_set(Some(is_loaded));
        });
    };
    (move || match (outcome.get(), screen().now_or_never()) {
        (_, Some(Ok(screen))) => screen,
        (None, _) => {
            start();
            let busy = Busy { with: "Loading…", percent: None };
            view! { <main class="page"><BusyBar busy/></main> }.into_any()
        }
        (Some(_), _) => view! {
            <Header back=Route::Jobs.href() back_label="Back to the jobs" title=Signal::stored("Not loaded".to_owned())/>
            <main class="page">
                <p class="refused" role="alert">{NOT_LOADED}</p>
                <button class="button main" type="button" on:click=move |_| outcome.set(None)>"Try again"</button>
            </main>
        }
        .into_any(),
    })
    .into_any()
}
