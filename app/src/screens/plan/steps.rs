//! The table of all steps that are left, with their times.

use leptos::prelude::*;

use super::state::PlanState;
use crate::device::local_time;
use crate::parts::plot;
use crate::text;

/// Everything that is left, in order, with its times.
#[component]
pub fn Steps(plan: PlanState) -> impl IntoView {
    let rows = move || {
        let mut rows = String::new();
        plan.job_plan.with(|job_plan| {
            for (at, line) in job_plan.lines.iter().enumerate() {
                let mut more = text::minutes(i64::from(line.minutes));
                if line.free_ms > line.end_ms {
                    let until = local_time::day_and_time(line.free_ms);
                    more = format!("{more}, drying until {until}");
                }
                if line.critical.is_none() {
                    more = format!("{more}, can wait");
                }
                let again = if line.remeasure { ", to re-measure" } else { "" };
                rows.push_str(&format!(
                    "<tr><td class=\"num\">{}</td><th scope=\"row\"><a class=\"to-step\" href=\"{}\">{}{again}</a><small>{more}</small></th><td class=\"num\">{}</td></tr>",
                    at + 1,
                    plot::escaped(&plan.pass(line).unwrap_or_default()),
                    plot::escaped(&line.name),
                    local_time::day_and_time(line.start_ms),
                ));
            }
        });
        rows
    };
    view! {
        <section class="pane steps" aria-label="Steps in order" tabindex="0">
            <h2>"Steps in order"</h2>
            <table class="table">
                <thead>
                    <tr><th scope="col" class="num">"No."</th><th scope="col">"Step"</th><th scope="col" class="num">"Begins"</th></tr>
                </thead>
                <tbody inner_html=rows></tbody>
            </table>
        </section>
    }
}
