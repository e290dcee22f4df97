//! What another technician read of the current item, neither knowing of the other.

use evenhand_core::analysis::conflicts::{Conflict, conflict_about};
use evenhand_core::job::Topic;
use evenhand_core::trade::Occasion;
use leptos::prelude::*;

use super::state::{OpenSheet, PassState};
use crate::device::local_time;
use crate::parts::conflicts::{conflict_card, technician};
use crate::parts::sheet::Sheet;

/// Returns the open conflict about the reading of the current item.
fn open_conflict(pass: PassState) -> Memo<Option<Conflict>> {
    Memo::new(move |_| {
        let item = pass.item()?;
        pass.session.app.open_job.with(|open| {
            let job = &open.as_ref()?.job;
            let of_step = |place| pass.step.with_value(|s| (s.place_or(place), s.occasion));
            let (place, occasion) = of_step(job.state().place());
            let topic = Topic::Reading {
                measure: item.measure,
                on: item.on,
                place,
                as_found: occasion == Occasion::AsFound,
            };
            conflict_about(job, &topic)
        })
    })
}

/// The other value with who read it and when, beside the correction and not in its place.
#[component]
pub fn DifferingReading(pass: PassState) -> impl IntoView {
    let open = open_conflict(pass);
    let line = move || {
        let others = open.get()?.statements.into_iter().skip(1);
        let others = others.map(|s| {
            let when = local_time::day_and_time(s.at_ms);
            format!("{} by {}, {when}", s.value, technician(&s))
        });
        let others = others.collect::<Vec<_>>().join("; ");
        Some(view! {
            <button class="differing" type="button" on:click=move |_| pass.sheet.set(OpenSheet::Conflict)>
                <span>{format!("Also {others}")}</span>
                <b>"Settle"</b>
            </button>
        })
    };
    view! { <div class="differing-place" aria-live="polite">{line}</div> }
}

/// Both values, and the keys that keep one.
#[component]
pub fn ConflictSheet(pass: PassState) -> impl IntoView {
    let open = open_conflict(pass);
    let close = Callback::new(move |()| pass.sheet.set(OpenSheet::None));
    Effect::new(move |_| {
        if open.with(Option::is_none) {
            close.run(());
        }
    });
    let card = move || open.get().map(|c| conflict_card(pass.session, c, None));
    view! {
        <Sheet title="Two people differ" close>
            <p>"Neither knew of the other. Keep one, or close this and re-measure."</p>
            {card}
        </Sheet>
    }
}
