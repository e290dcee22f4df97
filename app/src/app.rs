//! The root component: one screen at a time, and the files dropped on the window.

use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device;
use crate::parts::notices::Notices;
use crate::parts::opened_jobs::OpenedJobs;
use crate::route::Route;
use crate::screens::{in_parts, jobs};
use crate::state::{self, Session};

/// The whole app: one screen at a time, chosen by the route.
#[component]
pub fn App() -> impl IntoView {
    let session = state::start();
    provide_context(session);
    let dragging = take_dropped_files(session);
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
    spawn_local(async {
        // The first screen is there and answers before the others are loaded.
        device::painted().await;
        in_parts::load_all().await;
    });
    view! {
        <button class="skip" type="button" on:click=move |_| device::focus_first(MAIN_ACTION)>"Skip to the main action"</button>
        <button class="skip" type="button" on:click=move |_| device::focus_first(LIST_STOP)>"Skip to the list of jobs"</button>
        <Notices/>
        <OpenedJobs/>
        <div class="screen">{move || {
            let screen = session.app.route.get();
            document_title(&screen);
            match screen {
                Route::Jobs => view! { <jobs::JobsScreen/> }.into_any(),
                further => in_parts::screen(further),
            }
        }}</div>
        <Show when=move || dragging.get()>
            <div class="drop-here" role="status"><p>"Drop job files here to open them."</p></div>
        </Show>
        <Show when=move || beside.get()>
            <aside class="side" aria-label="Jobs on this device">
                <jobs::JobsPane/>
            </aside>
        </Show>
    }
}

/// What the skip link leads to: what a screen is for, or its contents.
const MAIN_ACTION: &str = ".screen .button.main, .screen .pad button, .screen main[tabindex]";

/// The job of the list that Tab stops at; where no list is shown, what a screen is for.
const LIST_STOP: &str = ".jobs [tabindex='0'], .screen .button.main";

/// Where the focus goes when a key has removed what had it: to the first control of an open sheet, else to the title. The
/// list of jobs keeps its own.
const FOCUS_AFTER_LOSS: [&str; 2] = ["dialog[open] button", ".screen:not(:has(.jobs)) h1"];

/// Moves the focus to the title of each further screen, so that a keyboard goes on from its top and a screen reader
/// says it. A screen that has put the focus somewhere itself keeps it.
fn move_focus(session: Session) {
    // Without a focus the next Tab would begin at the top of the page, and a screen reader would say nothing.
    let focus_if_lost = |selectors: &'static [&'static str]| {
        // What was done is drawn by then.
        request_animation_frame(move || {
            for selector in selectors {
                if !device::is_focused() {
                    device::focus_first(selector);
                }
            }
        });
    };
    let focus_title = move || focus_if_lost(&[".screen h1"]);
    // A key may remove what had the focus, as the end of a pass removes its pad.
    let pressed =
        window_event_listener(leptos::ev::keyup, move |_| focus_if_lost(&FOCUS_AFTER_LOSS));
    on_cleanup(move || pressed.remove());
    let has_moved = StoredValue::new(false);
    Effect::new(move |before: Option<()>| {
        session.app.route.track();
        if before.is_some() {
            has_moved.set_value(true);
            focus_title();
        }
    });
    // The title of a job's screen is there once the job is read.
    let open = Memo::new(move |_| session.app.open_job.with(|o| o.as_ref().map(|o| o.id)));
    Effect::new(move |_| {
        // A memo that nobody reads follows nothing.
        open.get();
        if has_moved.get_value() {
            focus_title();
        }
    });
}

/// Opens job files that are dropped anywhere on the window. Returns whether files are dragged over it.
fn take_dropped_files(session: Session) -> RwSignal<bool> {
    let dragging = RwSignal::new(false);
    let over = window_event_listener(leptos::ev::dragover, move |event| {
        event.prevent_default();
        let types = event.data_transfer().map(|d| d.types());
        let has_files = types.is_some_and(|types| types.includes(&"Files".into(), 0));
        if has_files != dragging.get_untracked() {
            dragging.set(has_files);
        }
    });
    // It leaves the window if it goes nowhere else in it.
    let left = window_event_listener(leptos::ev::dragleave, move |event| {
        if event.related_target().is_none() {
            dragging.set(false);
        }
    });
    let dropped = window_event_listener(leptos::ev::drop, move |event| {
        event.prevent_default();
        dragging.set(false);
        session.open_files(event.data_transfer().and_then(|d| d.files()));
    });
    on_cleanup(move || {
        over.remove();
        left.remove();
        dropped.remove();
    });
    dragging
}

/// Sets the window's title to the name of the screen, never of the job: titles end up in the browser's history.
fn document_title(screen: &Route) {
    document().set_title(&format!("{} – Evenhand", screen.title()));
}
