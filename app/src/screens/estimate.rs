//! The estimate before the work, to read and to print.

use evenhand_core::analysis::estimate::{Estimate, estimate};
use evenhand_core::job::Job;
use leptos::prelude::*;

use crate::parts::letter::{Letter, lines, part, sentence, table};
use crate::parts::require_open_job::RequireOpenJob;
use crate::state::use_session;
use crate::text;

/// The estimate before the work, to read and to print.
#[component]
pub fn EstimateScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <EstimateOfJob/>
        </RequireOpenJob>
    }
}

#[component]
fn EstimateOfJob() -> impl IntoView {
    let letter = |job: &Job| {
        let state = job.state();
        let (details, instrument) = (state.details().clone(), state.instrument());
        let body = body(&estimate(job), job);
        view! { <Letter title="Estimate" details instrument>{body}</Letter> }
    };
    let session = use_session();
    session
        .app
        .open_job
        .with_untracked(|o| o.as_ref().map(|o| letter(&o.job)))
}

fn body(estimate: &Estimate, job: &Job) -> impl IntoView + use<> {
    let parts = estimate.parts.iter().map(|p| {
        let sections: Vec<String> = p.sections.iter().map(|s| (s + 1).to_string()).collect();
        let pieces = match p.pieces {
            0 => String::new(),
            n => format!(", {n} pieces"),
        };
        let remedy = p.remedy;
        let word = if sections.len() == 1 {
            "section"
        } else {
            "sections"
        };
        format!("{remedy}{pieces}, {word} {}.", sections.join(", "))
    });
    let drying = estimate.drying.iter();
    let drying = drying.map(|(step, m)| format!("{step}: {}.", text::minutes(i64::from(*m))));
    let steps = estimate.lines.iter().map(|l| {
        vec![
            l.step.name.to_string(),
            l.basis.words(job.state()),
            text::minutes(l.minutes[1]),
        ]
    });
    view! {
        {total(estimate, job)}
        {part("By stage", stages(estimate))}
        {lines("Parts and treatment", parts.collect())}
        {lines("Drying times", drying.collect())}
        {part("What it is based on", rests_on(estimate))}
        {part("Step by step", table(&["Step", "Based on", "Likely"], steps.collect()))}
    }
}

fn total(estimate: &Estimate, job: &Job) -> impl IntoView + use<> {
    let [_, likely, high] = &estimate.totals;
    let in_eight = |likely: String, high: String| format!("{likely}, 8 in 10 jobs under {high}");
    let [hours, under] = [likely, high].map(|t| text::minutes(t.minutes));
    let mut total = format!("Likely {}.", in_eight(hours, under));
    let details = job.state().details();
    let currency = details.currency.clone().unwrap_or_default();
    if let Some((likely, high)) = likely.cents.zip(high.cents) {
        let [likely, high] = [likely, high].map(|c| text::money(c, &currency));
        let rate = i64::from(details.rate().unwrap_or_default());
        let price = in_eight(likely, high);
        total += &format!(
            " At {} an hour that is {price}.",
            text::money(rate, &currency)
        );
    }
    let [_, days, most] = estimate.days;
    let range = match days == most {
        true => String::new(),
        false => format!(", 8 in 10 jobs on {most} or fewer"),
    };
    let noun = if days == 1 { "day" } else { "days" };
    total += &format!(" At eight hours a day, with drying, the work takes {days} {noun}{range}.");
    view! { <p class="sum">{total}</p> }
}

fn stages(estimate: &Estimate) -> impl IntoView + use<> {
    let row = |name: &str, minutes: i64| vec![name.to_owned(), text::minutes(minutes)];
    let mut rows: Vec<Vec<String>> = estimate
        .stages
        .iter()
        .map(|(s, m)| row(s.name(), *m))
        .collect();
    rows.push(row("Total", estimate.totals[1].minutes));
    table(&["Stage", "Likely"], rows)
}

fn rests_on(estimate: &Estimate) -> impl IntoView + use<> {
    let mut sentences = match estimate.sample {
        0 => "No sample notes measured yet, so every step counts in full; only the pace is uncertain.".to_owned(),
        n => format!(
            "{n} sample notes were measured before the work. What they need is what all notes likely need. The upper figure allows for the notes that were not measured, and for a pace that varies from job to job."
        ),
    };
    sentences += " Stage times are rounded to quarter hours. New parts count where they are decided. The survey does not count.";
    if estimate.from_earlier > 0 {
        sentences += &format!(
            " {} steps count the time that they took on this instrument before, less what it then found to do.",
            estimate.from_earlier
        );
    }
    sentence(sentences)
}
