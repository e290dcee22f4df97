//! What can be begun now, and what is dries.

use evenhand_core::analysis::job_plan::{DryingStep, Due, PlanLine};
use evenhand_core::job::EntryKind;
use leptos::prelude::*;

use super::state::{MINUTE_MS, PlanState};
use crate::device::local_time;
use crate::text;

/// The finish, the work left and the number of days.
#[component]
pub fn PlanFigures(plan: PlanState) -> impl IntoView {
    let finish = move || {
        plan.job_plan
            .with(|p| local_time::day_and_time(p.finish_ms))
    };
    let left = move || plan.job_plan.with(|p| text::minutes(p.minutes()));
    let days = move || plan.job_plan.with(|p| p.days.len().to_string());
    view! {
        <dl class="figures three">
            <div><dt>"Finished"</dt><dd>{finish}</dd></div>
            <div><dt>"Work left"</dt><dd>{left}</dd></div>
            <div><dt>"Days"</dt><dd>{days}</dd></div>
        </dl>
    }
}

/// The steps that can be begun now, and the drying to begin.
#[component]
pub fn Now(plan: PlanState) -> impl IntoView {
    let due = move |due: Due| {
        let (step, minutes) = (due.step, due.minutes);
        let begin = move |_| {
            let step = step.clone();
            plan.session
                .record(EntryKind::DryingStarted { step, minutes });
        };
        view! {
            <li>
                <span>{due.name}<small>{format!("is ready to dry for {}", text::minutes(i64::from(minutes)))}</small></span>
                <button class="button" type="button" on:click=begin>"Start drying"</button>
            </li>
        }
    };
    let ready = move |(at, line): (usize, PlanLine)| {
        let first = (at == 0).then_some(": do it first to finish soonest");
        view! {
            <li>
                <span>{plan.link(&line)}<small>{text::minutes(i64::from(line.minutes))}{first}</small></span>
            </li>
        }
    };
    view! {
        <section>
            <h2>"Can be done now"</h2>
            <ul class="points lines">
                {move || plan.job_plan.with(|p| p.due.clone()).into_iter().map(due).collect_view()}
                {move || {
                    let lines = plan.job_plan.with(|p| p.lines.clone());
                    let lines = lines.into_iter().enumerate().filter(|(_, l)| l.ready);
                    let lines: Vec<_> = lines.map(ready).collect();
                    if lines.is_empty() {
                        view! { <li>"Nothing: all that is left is drying."</li> }.into_any()
                    } else {
                        lines.into_any()
                    }
                }}
            </ul>
        </section>
    }
}

/// The drying that run, until when, and the steps that wait for them.
#[component]
pub fn DryingNow(plan: PlanState) -> impl IntoView {
    let line = move |drying: DryingStep| {
        let now_ms = plan.now_ms.get();
        let left = text::minutes((drying.until_ms - now_ms).max(0) / MINUTE_MS);
        let until = local_time::day_and_time(drying.until_ms);
        let then = match drying.frees.as_slice() {
            [] => String::new(),
            frees => format!("; then {}", frees.join(", ")),
        };
        view! { <li><span>{drying.name}<small>{format!("until {until}, {left} left{then}")}</small></span></li> }
    };
    (move || {
        let drying = plan.job_plan.with(|p| p.drying.clone());
        (!drying.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"Drying"</h2>
                    <ul class="points lines">{drying.into_iter().map(line).collect_view()}</ul>
                </section>
            }
        })
    })
    .into_any()
}
