//! The choice of the kind of a new job, and its steps to tick.

use evenhand_core::job::EntryKind;
use evenhand_core::trade::StepId;
use leptos::prelude::*;

use super::form::{Form, INSTRUMENTS};
use crate::parts::kinds::{OfferedKind, offered};
use crate::storage::preferences;
use crate::text;

/// Returns the kind that is chosen, or the first where none is.
fn chosen(of: &[OfferedKind], name: &str) -> OfferedKind {
    let named = of.iter().find(|o| o.kind.name == name);
    named.unwrap_or(&of[0]).clone()
}

/// Returns the acts that the kind begins a job with, and those for the steps that were ticked otherwise.
pub fn chosen_acts(form: Form) -> Vec<EntryKind> {
    let instrument = INSTRUMENTS[form.instrument.get_untracked().min(1)];
    let kind = chosen(&offered(instrument), &form.kind.get_untracked());
    let others = form.other_steps.get_untracked();
    let others = others.split_whitespace().map(StepId::from);
    let others = others.map(|step| EntryKind::LeftOut {
        out: kind.kind.includes(&step),
        step,
    });
    let others: Vec<EntryKind> = others.collect();
    kind.acts.into_iter().chain(others).collect()
}

/// The kinds of job, and the steps of the one that is chosen.
#[component]
pub fn KindChoice(form: Form) -> impl IntoView {
    // Plain functions: a memo of each type would cost more than asking again.
    let all = move || offered(INSTRUMENTS[form.instrument.get().min(1)]);
    let now = move || chosen(&all(), &form.kind.get());
    let choose = move |name: String| {
        form.kind.set(name);
        form.other_steps.set(String::new());
    };
    let row = move |offered: OfferedKind| {
        let name = offered.kind.name;
        let (value, own) = (name.clone(), name.clone());
        view! {
            <label class="kind">
                <input type="radio" name="kind" value=value prop:checked=move || now().kind.name == own
                    on:change=move |event| choose(event_target_value(&event))/>
                <span>{name}</span>
                <span class="num">{offered.time}</span>
                <small>{offered.about}</small>
            </label>
        }
        .into_any()
    };
    let shown = RwSignal::new(false);
    let forget = move |_| {
        preferences::forget_kind(&untrack(now).kind.name);
        choose(String::new());
        // The list is drawn anew.
        form.instrument.update(|_| ());
    };
    let count = move || {
        let others = form.other_steps.get();
        let is_in = |(id, _, of_kind): &(StepId, String, bool)| {
            *of_kind != others.split(' ').any(|o| o == id.as_str())
        };
        let choices = now().kind.choices();
        text::counted(
            choices.iter().filter(|c| is_in(c)).count(),
            "One step",
            "steps",
        )
    };
    view! {
        <fieldset class="kinds">
            <legend>"What will you do?"</legend>
            {move || all().into_iter().map(row).collect_view()}
        </fieldset>
        <details class="more" on:toggle=move |_| shown.set(true)>
            <summary>{count}", to leave out or add"</summary>
            <div class="more-in">
                <Show when=move || shown.get()>
                    {move || now().kind.choices().into_iter().map(|choice| step_line(form, choice)).collect_view()}
                    <Show when=move || now().is_own>
                        <button class="button" type="button" on:click=forget>"Forget this kind"</button>
                    </Show>
                </Show>
            </div>
        </details>
    }
}

/// A step to tick.
fn step_line(form: Form, (id, name, of_kind): (StepId, String, bool)) -> AnyView {
    let (own, other) = (id.to_string(), id.to_string());
    let is_other = move |others: &str| others.split(' ').any(|o| o == own);
    let is_ticked = move || form.other_steps.with(|others| is_other(others)) != of_kind;
    let tick = move |_| {
        form.other_steps.update(|others| {
            let mut ids: Vec<&str> = others.split_whitespace().collect();
            match ids.iter().position(|id| *id == other) {
                Some(at) => drop(ids.remove(at)),
                None => ids.push(&other),
            }
            *others = ids.join(" ");
        });
    };
    view! {
        <label class="tick-step">
            <input type="checkbox" prop:checked=is_ticked on:change=tick/>
            {name}
        </label>
    }
    .into_any()
}
