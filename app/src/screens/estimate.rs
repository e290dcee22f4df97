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
        let [_, likely, high] = l.minutes;
        vec![
            l.step.name.to_string(),
            l.basis.words(job.state()),
            text::minutes(likely),
            text::minutes(high),
        ]
    });
    view! {
        {total(estimate, job)}
        {part("By stage", stages(estimate))}
        {lines("Parts and treatment", parts.collect())}
        {lines("Drying times", drying.collect())}
        {part("What it is based on", rests_on(estimate))}
        {part("Step by step", table(&["Step", "Based on", "Likely", "At most"], steps.collect()))}
    }
}

fn total(estimate: &Estimate, job: &Job) -> impl IntoView + use<> {
    let [low, likely, high] = &estimate.totals;
    // If nothing is known that could make it less or more, there is one number.
    let range = |low: String, likely: String, high: String| match low == high {
        true => likely,
        false => format!("{likely}, between {low} and {high}"),
    };
    let [least, most_likely, most] = [low, likely, high].map(|t| text::minutes(t.minutes));
    let mut total = format!("Likely {}.", range(least, most_likely, most));
    let details = job.state().details();
    let currency = details.currency.clone().unwrap_or_default();
    if let (Some(low), Some(likely), Some(high)) = (low.cents, likely.cents, high.cents) {
        let [low, likely, high] = [low, likely, high].map(|c| text::money(c, &currency));
        let rate = i64::from(details.rate().unwrap_or_default());
        let price = range(low, likely, high);
        total += &format!(
            " At {} an hour that is {price}.",
            text::money(rate, &currency)
        );
    }
    let [fewest, days, most] = estimate.days;
    let range = match fewest == most {
        true => String::new(),
        false => format!(" ({fewest} to {most})"),
    };
    let noun = if most == 1 { "day" } else { "days" };
    total += &format!(" At eight hours a day, with drying, the work takes {days}{range} {noun}.");
    view! { <p class="sum">{total}</p> }
}

fn stages(estimate: &Estimate) -> impl IntoView + use<> {
    let row = |name: &str, minutes: [i64; 3]| {
        let mut cells = vec![name.to_owned()];
        cells.extend(minutes.map(text::minutes));
        cells
    };
    let mut rows: Vec<Vec<String>> = estimate
        .stages
        .iter()
        .map(|(s, m)| row(s.name(), *m))
        .collect();
    let totals = [0, 1, 2].map(|end| estimate.totals[end].minutes);
    rows.push(row("Total", totals));
    table(&["Stage", "At least", "Likely", "At most"], rows)
}

fn rests_on(estimate: &Estimate) -> impl IntoView + use<> {
    let mut sentences = match estimate.sample {
        0 => "No sample notes measured yet, so every step counts in full.".to_owned(),
        n => format!(
            "{n} sample notes were measured before the work. How many of them were out gives the likely share of all notes, and its range: right 19 times out of 20."
        ),
    };
    sentences += " Stage times are rounded to quarter hours. New parts count where they are decided. The survey does not count.";
    if estimate.from_earlier > 0 {
        sentences += &format!(
            " {} steps count the time that they took on this instrument before.",
            estimate.from_earlier
        );
    }
    sentence(sentences)
}
