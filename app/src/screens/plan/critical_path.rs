//! The critical path: the work and the drying that set the finish.

use evenhand_core::analysis::job_plan::{CriticalReason, JobPlan, PlanLine};
use leptos::prelude::*;

use super::state::PlanState;
use crate::device::local_time;
use crate::text;

/// What sets the finish; the work between two drying is one line.
#[component]
pub fn CriticalPath(plan: PlanState) -> impl IntoView {
    (move || {
        let links = plan.job_plan.with(critical_path);
        let best = plan.job_plan.with(|p| p.is_best);
        let only_work = links.len() == 1;
        (!links.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"What sets the finish"</h2>
                    <ol class="points chain">{links.into_iter().map(|l| view! { <li>{l}</li> }).collect_view()}</ol>
                    {only_work.then(|| view! { <p class="quiet">"No drying time holds the job up."</p> })}
                    {(!best).then(|| view! { <p class="quiet">"A slightly faster order may exist; this is the best one found."</p> })}
                </section>
            }
        })
    })
    .into_any()
}

fn critical_path(plan: &JobPlan) -> Vec<String> {
    let mut links: Vec<String> = Vec::new();
    let mut work: Vec<&PlanLine> = Vec::new();
    let close = |links: &mut Vec<String>, work: &mut Vec<&PlanLine>| {
        let minutes = text::minutes(work.iter().map(|l| i64::from(l.minutes)).sum());
        match work.as_slice() {
            [] => {}
            [only] => links.push(format!("{}: {minutes}", only.name)),
            [first, .., last] => links.push(format!(
                "{} steps one after the other, {} to {}: {minutes}",
                work.len(),
                first.name,
                last.name
            )),
        }
        work.clear();
    };
    for line in plan.critical() {
        let before = work.last().copied();
        let drying = match &line.critical {
            Some(CriticalReason::Follows(name)) => {
                let own = before.filter(|b| b.name == *name && b.free_ms > b.end_ms);
                let running = plan.drying.iter().find(|c| c.name == *name);
                own.map(|b| b.free_ms)
                    .or(running.map(|c| c.until_ms))
                    .map(|until| (name, until))
            }
            _ => None,
        };
        if let Some((name, until)) = drying {
            close(&mut links, &mut work);
            links.push(format!(
                "{name} drying until {}",
                local_time::day_and_time(until)
            ));
        }
        work.push(line);
    }
    let last = work.last().copied();
    close(&mut links, &mut work);
    if let Some(last) = last.filter(|l| l.free_ms > l.end_ms) {
        let until = local_time::day_and_time(last.free_ms);
        links.push(format!("{} drying until {until}", last.name));
    }
    links
}
