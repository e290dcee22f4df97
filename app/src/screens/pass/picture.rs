//! The note strip of a pass, with the buttons below it.

use evenhand_core::analysis::job_plan::minutes_left;
use evenhand_core::job::State;
use leptos::prelude::*;

use super::reading::CurrentItem;
use super::state::{OpenSheet, PassState};
use super::sweep::Offer;
use crate::parts::icons::{Icon, MORE, SKIP};
use crate::parts::strip::{Strip, bars, weighs_both};
use crate::state::use_session;
use crate::text;

/// The note strip, and below it the state of the step between the buttons for the note.
#[component]
pub fn StripOfPass(
    pass: PassState,
    current: Memo<Option<CurrentItem>>,
    sweeps: Memo<Vec<Offer>>,
) -> impl IntoView {
    let session = use_session();
    // One picture for a step in which the measure changes with each reading.
    let first = pass
        .step
        .with_value(|s| s.takes.first().filter(|_| weighs_both(s)).cloned());
    let measure = Memo::new(move |_| {
        let current = || current.with(|h| h.as_ref().map(|h| h.measure.id.clone()));
        first.clone().or_else(current)
    });
    let items = Memo::new(move |_| {
        let all = session
            .app
            .with_state(|s| pass.step.with_value(|step| s.items(step)));
        let mut all = all.unwrap_or_default();
        let measure = measure
            .get()
            .or_else(|| all.last().map(|i| i.measure.clone()));
        // Without a strip, the whole step is counted.
        if all.iter().any(|i| i.on.note().is_some()) {
            all.retain(|i| Some(&i.measure) == measure.as_ref());
        }
        all
    });
    let bars = Memo::new(move |_| {
        let of = |s: &State| {
            pass.step
                .with_value(|step| items.with(|items| bars(s, step, items)))
        };
        session.app.with_state(of).unwrap_or_default()
    });
    let is_out =
        Memo::new(move |_| current.with(|h| h.as_ref().is_some_and(CurrentItem::is_measured_out)));
    let current = Memo::new(move |_| current.with(|h| h.as_ref().and_then(|h| h.on.note())));
    let caption = move || bars.with(|b| b.1.clone());
    let by_note = Memo::new(move |_| bars.with(|b| b.0.iter().any(Option::is_some)));
    let breaks = session
        .app
        .with_state_untracked(|s| s.sections().breaks().to_vec())
        .unwrap_or_default();
    let zoom = Memo::new(move |_| session.app.preferences.with(|p| p.zoom));
    let idle = move || current.with(Option::is_none);
    let ranging = Memo::new(move |_| pass.range.with(Option::is_some));
    let bracket = Memo::new(move |_| {
        let offered = |(_, _, sweep): &Offer| (sweep.notes.from, sweep.notes.to);
        let hides = is_out.get() || pass.typed.with(|t| !t.is_empty());
        let first = || sweeps.with(|all| all.first().filter(|_| !hides).map(offered));
        pass.range.get().or_else(first)
    });
    let mark = Callback::new(move |note| {
        let typing = pass.typed.with_untracked(|t| !t.is_empty());
        if typing || current.get_untracked() != Some(note) {
            pass.go_to(note);
        }
        // A touch while something is typed travels, as ever.
        if !typing {
            pass.mark();
        }
    });
    // By the minute: a touch asks for none of it.
    let minute = Memo::new(move |_| session.app.now_ms.get() / 60_000);
    let time = Memo::new(move |_| {
        let _ = minute.get();
        let of = |s: &State| {
            pass.step.with_value(|step| {
                let progress = s.progress_of(step);
                (progress.minutes > 0).then(|| {
                    let took = text::minutes(progress.minutes);
                    match minutes_left(s, step, &progress) {
                        0 => took,
                        left => format!("{took}, about {} left", text::minutes(i64::from(left))),
                    }
                })
            })
        };
        session.app.with_state_untracked(of).flatten()
    });
    view! {
        <section class="picture" aria-label="The notes of this step">
            <Show when=move || by_note.get()>
                <Strip bars current zoom breaks=breaks.clone() travel=Callback::new(move |n| pass.go_to(n)) mark bracket ranging
                    drag=Callback::new(move |(from, to)| pass.drag_range(from, to))
                    pinch=Callback::new(move |wider| session.app.change_preferences(|p| p.zoom = if wider { (p.zoom + 1).min(2) } else { p.zoom.saturating_sub(1) }))/>
            </Show>
            <div class="below">
                <button class="tool" type="button" aria-label="More on this note" disabled=idle
                    on:click=move |_| pass.sheet.set(OpenSheet::Note)>
                    <Icon path=MORE/><small>"More"</small>
                </button>
                <p class="caption">{caption}{move || time.get().map(|t| view! { <small class="time">{t}</small> })}</p>
                <Show when=move || by_note.get()>
                    <button class="tool zoom" type="button"
                        on:click=move |_| session.app.change_preferences(|p| p.zoom = (p.zoom + 1) % 3)>
                        {move || ["×1", "×2", "×4"][usize::from(zoom.get().min(2))]}
                        <span class="hidden">" Widen the strip"</span>
                    </button>
                </Show>
                <button class="tool" type="button" aria-label="Skip this note" disabled=idle on:click=move |_| pass.step_by(1)>
                    <Icon path=SKIP/><small>"Skip"</small>
                </button>
            </div>
        </section>
    }
}
