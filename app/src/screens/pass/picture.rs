//! The note strip of a pass, with the buttons below it.

use evenhand_core::job::State;
use leptos::prelude::*;

use super::reading::CurrentItem;
use super::state::{OpenSheet, PassState};
use crate::parts::icons::{Icon, MORE, SKIP};
use crate::parts::strip::{Strip, bars, weighs_both};
use crate::state::use_session;

/// The note strip, and below it the state of the step between the buttons for the note.
#[component]
pub fn StripOfPass(pass: PassState, current: Memo<Option<CurrentItem>>) -> impl IntoView {
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
    let current = Memo::new(move |_| current.with(|h| h.as_ref().and_then(|h| h.on.note())));
    let caption = move || bars.with(|b| b.1.clone());
    let by_note = Memo::new(move |_| bars.with(|b| b.0.iter().any(Option::is_some)));
    let breaks = session
        .app
        .with_state_untracked(|s| s.sections().breaks().to_vec())
        .unwrap_or_default();
    let zoom = Memo::new(move |_| session.app.preferences.with(|p| p.zoom));
    let idle = move || current.with(Option::is_none);
    view! {
        <section class="picture" aria-label="The notes of this step">
            <Show when=move || by_note.get()>
                <Strip bars current zoom breaks=breaks.clone() travel=Callback::new(move |n| pass.go_to(n))
                    pinch=Callback::new(move |wider| session.app.change_preferences(|p| p.zoom = if wider { (p.zoom + 1).min(2) } else { p.zoom.saturating_sub(1) }))/>
            </Show>
            <div class="below">
                <button class="tool" type="button" aria-label="More on this note" disabled=idle
                    on:click=move |_| pass.sheet.set(OpenSheet::Note)>
                    <Icon path=MORE/>
                </button>
                <p class="caption">{caption}</p>
                <Show when=move || by_note.get()>
                    <button class="tool zoom" type="button"
                        on:click=move |_| session.app.change_preferences(|p| p.zoom = (p.zoom + 1) % 3)>
                        {move || ["×1", "×2", "×4"][usize::from(zoom.get().min(2))]}
                        <span class="hidden">" Widen the strip"</span>
                    </button>
                </Show>
                <button class="tool" type="button" aria-label="Skip this note" disabled=idle on:click=move |_| pass.step_by(1)>
                    <Icon path=SKIP/>
                </button>
            </div>
        </section>
    }
}
