//! The pass: one step through the notes.

use evenhand_core::job::{EntryKind, Item, State, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{Step, StepId};
use leptos::prelude::*;

use crate::device::{local_time, wake_lock};
use crate::parts::header::{Header, Saved};
use crate::parts::icons::{Icon, SHEET};
use crate::parts::photos::TakePhoto;
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::{LeftPass, PhotoOf, Session, use_session};
use crate::storage::local_storage;
use crate::storage::preferences::NoteOrder;
use conflict::ConflictSheet;
use entry::PadOfPass;
use note::NoteSheet;
use picture::StripOfPass;
use reading::{NO_TARGET, ReadingPane, current_item};
use sheet::StepSheet;
use state::{OpenSheet, PassState, arranged, first_unread, usual_order};
use summary::PassSummary;

mod announce;
mod ask;
mod conflict;
mod correction;
mod draft;
mod entry;
mod keyboard;
mod known;
mod mark;
mod minutes;
mod note;
mod picture;
mod press;
mod reading;
mod sheet;
mod state;
mod summary;
mod sweep;
mod undo;

/// The main screen: one step through the notes, from where it was left or from a note.
#[component]
pub fn PassScreen(step: StepId, #[prop(optional)] at: Option<Note>) -> impl IntoView {
    view! {
        <RequireOpenJob>
            <PassOfJob id=step.clone() at/>
        </RequireOpenJob>
    }
}

#[component]
fn PassOfJob(id: StepId, at: Option<Note>) -> impl IntoView {
    let session = use_session();
    let step = session
        .app
        .open_job
        .with_untracked(|o| o.as_ref()?.job.state().step(id.as_str()).cloned());
    match step {
        Some(step) => view! { <PassOfStep step at/> }.into_any(),
        None => {
            let back = session.app.route.with_untracked(Route::order_href);
            view! {
                <Header back title=Signal::stored("Pass".to_owned())/>
                <main class="page"><p>"This step is not in this job. Go back and choose another."</p></main>
            }
            .into_any()
        }
    }
}

#[component]
fn PassOfStep(step: Step, at: Option<Note>) -> impl IntoView {
    let session = use_session();
    let job = session.app.job_untracked();
    let left = session.app.take_left_pass(&step.id);
    let pass = match left.filter(|_| at.is_none()) {
        Some(left) => go_on(session, &step, left),
        None => begin(session, &step, at),
    };
    let id = step.id.clone();
    if let (Some(_), Some(job)) = (at, job) {
        // After a reload the pass begins as usual.
        session.app.note_route(Route::Pass(job, id.clone()));
    }
    let opened = session.record(EntryKind::PassOpened {
        step: id.clone(),
        utc_offset_minutes: Some(local_time::utc_offset_minutes(local_time::now_ms())),
    });
    pass.opened.set_value(opened);
    on_cleanup(move || {
        if let Some(left) = job.map(|job| pass.left(job)) {
            session.app.leave_pass(left);
        }
        session.record(EntryKind::PassClosed { step: id.clone() });
    });
    draft::keep(pass);
    let offer = Memo::new(move |_| correction::offer(pass));
    let sweeps = Memo::new(move |_| sweep::offered(pass));
    keyboard::follow(pass, offer);
    wake_lock::stay_awake();
    announce::say(pass, "");

    let current = Memo::new(move |_| {
        let item = pass.item()?;
        session
            .app
            .with_state(|s| pass.step.with_value(|step| current_item(s, step, &item)))?
    });
    let title = Signal::stored(step.name.to_string());
    let (how, wrong) = (step.how.to_string(), step.wrong.to_string());
    let line = Signal::derive(move || {
        current.with(|h| {
            let target = h.as_ref().map(|h| h.target.clone()).unwrap_or_default();
            // A number with its limits is seen to be one; a word would be read as how the note stands.
            let is_number = h.as_ref().is_some_and(|h| h.measure.kind.is_number());
            match target.as_str() {
                "" | NO_TARGET => target,
                _ if is_number => target,
                target => format!("target: {target}"),
            }
        })
    });
    let back = session.app.route.with_untracked(Route::order_href);
    let through = Memo::new(move |_| pass.at.get() >= pass.items.with(Vec::len));
    view! {
        <div class="pass">
            <Header back back_label="Back to the order" title line>
                <Saved/>
                <TakePhoto of=photo_now(pass) camera=true class="tool" label="Take a photo" has_words=false/>
                <button class="tool" type="button" aria-label="About this step" on:click=move |_| pass.sheet.set(OpenSheet::Step)>
                    <Icon path=SHEET/>
                </button>
            </Header>
            <main class="read" tabindex="0" on:pointerdown=swipe_from() on:pointerup=swipe_to(pass)>
                <Show when=move || !through.get() fallback=move || view! { <PassSummary pass offer/> }>
                    <ReadingPane pass current offer sweeps/>
                </Show>
            </main>
            <StripOfPass pass current sweeps/>
            <aside class="told-beside" aria-label="How it is done">
                <p>{how}</p>
                <p class="quiet">{wrong}</p>
            </aside>
            <Show when=move || !through.get()>
                <PadOfPass pass current sweeps/>
            </Show>
            {move || match pass.sheet.get() {
                OpenSheet::None => ().into_any(),
                OpenSheet::Step => view! { <StepSheet pass/> }.into_any(),
                OpenSheet::Note => view! { <NoteSheet pass/> }.into_any(),
                OpenSheet::Conflict => view! { <ConflictSheet pass/> }.into_any(),
            }}
        </div>
    }
}

/// Goes on with a pass that was left for a page about it, at the same item and in the same order; begins anew if
/// readings were disturbed meanwhile, or if none of its items is left.
fn go_on(session: Session, step: &Step, left: LeftPass) -> PassState {
    let of_order = |order| {
        session
            .app
            .with_state_untracked(|s| arranged(s, step, order))
            .unwrap_or_default()
    };
    let again = of_order(NoteOrder::OnlyAgain);
    // Another setup may have taken notes out of the step.
    let all = of_order(NoteOrder::Up);
    let current = left.items.get(left.at).cloned();
    let mut items = left.items;
    items.retain(|item| all.contains(item));
    // Or have put some in, as another choice of the sample does.
    let is_part = matches!(left.order, NoteOrder::OnlyOut | NoteOrder::OnlyAgain);
    if !is_part && all.iter().any(|item| !items.contains(item)) {
        items = of_order(left.order);
    }
    if items.is_empty() || (!again.is_empty() && again != left.again) {
        return begin(session, step, None);
    }
    let at = match current {
        Some(item) => items.iter().position(|i| *i == item).unwrap_or(0),
        None => items.len(),
    };
    PassState::new(session, step.clone(), items, at, left.order)
}

/// Begins a pass through a step: with a note, through all items from there; else through the disturbed readings if
/// there are any; else through all items, from where the pass was left or from the first that is not read.
fn begin(session: Session, step: &Step, at: Option<Note>) -> PassState {
    let of_order = |order| {
        session
            .app
            .with_state_untracked(|s| arranged(s, step, order))
            .unwrap_or_default()
    };
    let again = match at {
        Some(_) => Vec::new(),
        None => of_order(NoteOrder::OnlyAgain),
    };
    if !again.is_empty() {
        return PassState::new(session, step.clone(), again, 0, NoteOrder::OnlyAgain);
    }
    let mut order = usual_order(session);
    let mut items = of_order(order);
    let of_note = |items: &[Item]| items.iter().position(|i| at.is_some() && i.on.note() == at);
    let mut named = of_note(&items);
    if at.is_some() && named.is_none() {
        // The usual order may leave the note out, as samples do.
        order = NoteOrder::Up;
        items = of_order(order);
        named = of_note(&items);
    }
    let job = session.app.job_untracked();
    let left = job.and_then(|j| local_storage::pass_item(j, step.id.as_str()));
    let left = left.and_then(|left| items.iter().position(|i| *i == left));
    let unread = |at: &usize| {
        let state = |s: &State| !s.item_state(step, &items[*at]).is_valid();
        session.app.with_state_untracked(state) == Some(true)
    };
    let first = || {
        session
            .app
            .with_state_untracked(|s| first_unread(s, step, &items))
            .unwrap_or(0)
    };
    let at = named.or(left.filter(unread)).unwrap_or_else(first);
    PassState::new(session, step.clone(), items, at, order)
}

/// Returns what a photo taken now is of: the current note or section, or the whole once the pass is through.
fn photo_now(pass: PassState) -> Signal<Option<PhotoOf>> {
    Signal::derive(move || {
        let on = pass.item().map_or(Subject::Whole, |item| item.on);
        Some(pass.photo_of(on))
    })
}

/// Returns a handler that stores where a swipe begins.
fn swipe_from() -> impl Fn(web_sys::PointerEvent) + 'static {
    move |event| SWIPE.with(|s| s.set(Some((event.client_x(), event.client_y()))))
}

/// Returns a handler that goes on or back by a swipe over the upper half.
fn swipe_to(pass: PassState) -> impl Fn(web_sys::PointerEvent) + 'static {
    move |event| {
        let Some((x, y)) = SWIPE.with(std::cell::Cell::take) else {
            return;
        };
        let (dx, dy) = (event.client_x() - x, event.client_y() - y);
        const MIN_SWIPE: i32 = 40;
        if dx.abs() > MIN_SWIPE && dx.abs() > 2 * dy.abs() {
            pass.step_by(if dx < 0 { 1 } else { -1 });
        }
    }
}

thread_local! {
    static SWIPE: std::cell::Cell<Option<(i32, i32)>> = const { std::cell::Cell::new(None) };
}
