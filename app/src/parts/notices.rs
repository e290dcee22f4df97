//! The notices above a screen: faults of the journal, work under way, updates, news and warnings.

use evenhand_core::job::EntryKind;
use leptos::prelude::*;

use super::icons::{CLOSE, EXPAND, Icon};
use super::undo::BRING_BACK;
use crate::device::shell;
use crate::parts::busy_bar::BusyBar;
use crate::parts::header::Saved;
use crate::state::{Notice, use_session};
use crate::storage::journal::Fault;

/// The button that takes an import back.
pub const TAKE_BACK: &str = "Take this import back";

/// The notices, each until it no longer applies or is dismissed.
#[component]
pub fn Notices() -> impl IntoView {
    let session = use_session();
    let lines = move || session.app.notices.get();
    view! {
        <div class="notices" role="status" aria-live="polite">
            {move || session.journal.fault.get().map(|fault| view! { <FaultNotice fault/> })}
            <BusyNotice/>
            <UpdateNotice/>
            <For each=lines key=|n| n.text.clone() let(notice)>
                <NoticeLine notice/>
            </For>
        </div>
    }
}

/// What the program is busy with. A long piece of work with a known end can be stopped.
#[component]
fn BusyNotice() -> impl IntoView {
    let app = use_session().app;
    let percent = move || app.busy.get().and_then(|busy| busy.percent);
    view! {
        {move || app.busy.get().map(|busy| view! { <BusyBar busy/> })}
        <Show when=move || percent().is_some()>
            <div class="stop">
                <button class="button" type="button" prop:disabled=move || app.stop.get() on:click=move |_| app.stop.set(true)>"Stop"</button>
            </div>
        </Show>
    }
}

/// A fault of the journal: shown until it is over, with the export one tap away.
#[component]
fn FaultNotice(fault: Fault) -> impl IntoView {
    let session = use_session();
    let has_job = move || session.app.open_job.with(Option::is_some);
    let only_here = move || match session.journal.only_here.get() {
        0 => String::new(),
        1 => "1 of them could not be put aside: it is lost when this page closes. ".to_owned(),
        n => format!("{n} of them could not be put aside: they are lost when this page closes. "),
    };
    // On a phone it takes two lines until it is expanded, so that work can go on below it.
    let whole = RwSignal::new(false);
    view! {
        <div class="notice trouble fault" class:whole=move || whole.get()>
            <p>{fault.sentence()} " " {only_here} <Saved/></p>
            <button class="tool" type="button" aria-label="Read all" aria-expanded=move || whole.get().to_string()
                on:click=move |_| whole.update(|w| *w = !*w)>
                <Icon path=EXPAND/>
            </button>
            <div class="notice-keys">
                <Show when=has_job>
                    <button class="button" type="button" on:click=move |_| session.download_open_job()>"Export"</button>
                </Show>
                <button class="button" type="button" on:click=move |_| session.journal.retry()>"Try again"</button>
            </div>
        </div>
    }
}

/// An update is ready: it starts when the user says so, and not while an entry is unsaved.
#[component]
fn UpdateNotice() -> impl IntoView {
    let session = use_session();
    let update = RwSignal::new(shell::update());
    let changed = shell::on_change(move || update.set(shell::update()));
    on_cleanup(move || changed.remove());
    let unsaved = session.journal.unsaved;
    let (words, button) = (
        move || match update.get() {
            Some(shell::Update::Older) => {
                "The site has gone back to an older version, which may not be able to read your jobs. Export them before you change."
            }
            _ => "A new version is ready. The job stays open at its place.",
        },
        move || match update.get() {
            Some(shell::Update::Older) => "Use the older one",
            _ => "Use it now",
        },
    );
    view! {
        <Show when=move || update.get().is_some()>
            <div class="notice newer">
                <p>{words}</p>
                <button class="button" type="button" prop:disabled=move || unsaved.get() != 0 on:click=move |_| shell::apply_update()>
                    {button}
                </button>
            </div>
        </Show>
    }
}

/// News or a warning, with a button to dismiss it.
#[component]
fn NoticeLine(notice: Notice) -> impl IntoView {
    let session = use_session();
    let Notice {
        text,
        more,
        is_warning,
        merged_into,
        undo,
        ..
    } = notice;
    let bring_back = undo.map(|entry| {
        let job = session.app.job_untracked();
        let bring_back = move |_| {
            session.of_job(job).record(EntryKind::Undo { entry });
        };
        view! { <button class="button" type="button" on:click=bring_back>{BRING_BACK}</button> }
    });
    let take_back = merged_into.map(|id| {
        let take_back = move |_| {
            session.app.dismiss_imports();
            session.of_job(Some(id)).turn_import();
        };
        // The job may not be read yet, or be left.
        let is_open = move || {
            session
                .app
                .open_job
                .with(|o| o.as_ref().is_some_and(|o| o.id == id))
        };
        view! {
            <Show when=is_open>
                <button class="button" type="button" on:click=take_back>{TAKE_BACK}</button>
            </Show>
        }
    });
    let count = more.len();
    let dismissed = text.clone();
    view! {
        <div class="notice" class:trouble=is_warning>
            <div class="notice-text">
                <p>{text}</p>
                {take_back}
                {bring_back}
                {(count > 0).then(|| view! {
                    <details>
                        <summary>{format!("{count} more")}</summary>
                        {more.into_iter().map(|line| view! { <p>{line}</p> }).collect_view()}
                    </details>
                })}
            </div>
            <button class="tool" aria-label="Put this away" on:click=move |_| session.app.dismiss(&dismissed)>
                <Icon path=CLOSE/>
            </button>
        </div>
    }
}
