use evenhand_core::trade::Caution;
use leptos::prelude::*;

use super::{NoteOrder, Walk};
use crate::parts::icons::{AWAY, Icon};
use crate::words;

/// The step's sheet: how it is done, what to beware of, and in which order the notes come.
#[component]
pub fn Sheet(walk: Walk) -> impl IntoView {
    let step = walk.step.get_value();
    let orders = [
        (NoteOrder::Up, "Up"),
        (NoteOrder::Down, "Down"),
        (NoteOrder::NaturalsFirst, "Naturals, then sharps"),
        (NoteOrder::Samples, "Sample notes"),
        (NoteOrder::OnlyOut, "Only those out"),
        (NoteOrder::OnlyAgain, "Only those disturbed"),
    ];
    let choose = move |order| {
        walk.arrange(order);
        walk.sheet.set(false);
    };
    let cautions = (!step.cautions.is_empty()).then(|| {
        view! {
            <section class="cautions">
                <h3>"Caution"</h3>
                {step.cautions.iter().map(|c| view! { <p>{c.text()}</p> }).collect_view()}
                <p>{Caution::FIRST}</p>
            </section>
        }
    });
    let cure = (step.wait_minutes > 0).then(|| {
        view! { <p>"It cures "{words::minutes(i64::from(step.wait_minutes))}" before what follows."</p> }
    });
    let close = NodeRef::<leptos::html::Button>::new();
    Effect::new(move |_| {
        if let Some(button) = close.get() {
            let _ = button.focus();
        }
    });
    view! {
        <div class="sheet-back" on:click=move |_| walk.sheet.set(false)></div>
        <section class="sheet" role="dialog" aria-modal="true" aria-label="About this step"
            on:keydown=move |e| if e.key() == "Escape" { walk.sheet.set(false) }>
            <header>
                <h2>{step.name.to_string()}</h2>
                <button node_ref=close class="tool" type="button" aria-label="Close" on:click=move |_| walk.sheet.set(false)>
                    <Icon path=AWAY/>
                </button>
            </header>
            <p>{step.how.to_string()}</p>
            <p class="quiet">{step.wrong.to_string()}</p>
            {cure}
            {(!step.tools.is_empty()).then(|| view! { <p><b>"At hand: "</b>{step.tools.to_string()}</p> })}
            {cautions}
            <h3>"Order of the notes"</h3>
            <div class="choices">
                {orders
                    .into_iter()
                    .map(|(order, name)| {
                        view! {
                            <button class="button" type="button" aria-pressed=move || (walk.order.get() == order).to_string()
                                on:click=move |_| choose(order)>{name}</button>
                        }
                    })
                    .collect_view()}
            </div>
        </section>
    }
}
