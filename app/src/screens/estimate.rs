//! The estimate before the work, to read, to print and to sign.

use evenhand_core::analysis::estimate::{Estimate, estimate};
use evenhand_core::analysis::quote::{Quote, quote};
use evenhand_core::job::{Job, State};
use evenhand_core::trade::Stage;
use leptos::prelude::*;

use crate::device::local_time;
use crate::parts::disclosure::Disclosure;
use crate::parts::letter::{Letter, lines, part, sentence, table};
use crate::parts::prices::{PartPrices, Prices};
use crate::parts::require_open_job::RequireOpenJob;
use crate::state::use_session;
use crate::text;

/// The estimate before the work, to read, to print and to sign.
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
    let session = use_session();
    let now_ms = session.app.now_ms.get_untracked();
    let known = session
        .app
        .with_state_untracked(|s| (s.details().clone(), s.instrument()));
    // Prices are typed on this screen, so it is drawn again when one changes.
    let drawn = move || {
        let body = |job: &Job| body(&estimate(job), job, now_ms);
        session
            .app
            .open_job
            .with(|o| o.as_ref().map(|o| body(&o.job)))
    };
    known.map(|(details, instrument)| {
        view! {
            <Letter title="Estimate" details instrument>
                <div class="prices-typed form">
                    <Disclosure name="prices" title="Prices" open=false summary=Signal::stored("travel, tax, parts".to_owned())>
                        <Prices/>
                        <PartPrices/>
                    </Disclosure>
                </div>
                {drawn}
            </Letter>
        }
    })
}

fn body(estimate: &Estimate, job: &Job, now_ms: i64) -> impl IntoView + use<> {
    let quote = quote(job, estimate);
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
        {total(estimate, &quote, job.state())}
        {part("Price", price(&quote, job.state()))}
        {accept(&quote, now_ms)}
        {lines("Parts and treatment", parts.collect())}
        {lines("Drying times", drying.collect())}
        {part("What it is based on", rests_on(estimate, &quote))}
        {part("Step by step", table(&["Step", "Based on", "Likely"], steps.collect()))}
    }
}

fn currency(state: &State) -> String {
    state.details().currency.clone().unwrap_or_default()
}

fn total(estimate: &Estimate, quote: &Quote, state: &State) -> impl IntoView + use<> {
    let currency = currency(state);
    let money = |cents| text::money(cents, &currency);
    let likely = text::minutes(estimate.totals[1].minutes);
    let high = quote.high.as_ref();
    let under = high.map(|high| format!(", 8 in 10 jobs under {}", text::minutes(high.minutes)));
    let mut total = format!("Likely {likely}{}.", under.unwrap_or_default());
    if let Some(cents) = quote.total_cents {
        let tax = match quote.tax_percent_hundredths {
            0 => "",
            _ => ", tax included",
        };
        let under = high.and_then(|high| high.cents);
        let under = under.map(|cents| format!(", 8 in 10 jobs under {}", money(cents)));
        total += &format!(" {}{tax}{}.", money(cents), under.unwrap_or_default());
    }
    let [_, days, most] = estimate.days;
    let range = match days == most || high.is_none() {
        true => String::new(),
        false => format!(", 8 in 10 jobs on {most} or fewer"),
    };
    let noun = if days == 1 { "day" } else { "days" };
    let drying = match estimate.drying.is_empty() {
        true => "",
        false => ", with drying",
    };
    total += &format!(" At eight hours a day{drying}, the work takes {days} {noun}{range}.");
    view! { <p class="sum">{total}</p> }
}

/// Returns the name of a stage in the price: that of the survey says what it is.
fn stage_name(stage: Stage) -> &'static str {
    match stage {
        Stage::Survey => "Survey and measuring",
        other => other.name(),
    }
}

/// The work, the parts, travel and tax, which add up to the total; only the hours where no rate is agreed.
fn price(quote: &Quote, state: &State) -> impl IntoView + use<> {
    let currency = currency(state);
    let money = |cents: Option<i64>| cents.map(|c| text::money(c, &currency)).unwrap_or_default();
    let row = |name: String, of: String, cents| vec![name, of, money(cents)];
    let mut rows: Vec<Vec<String>> = quote
        .stages
        .iter()
        .map(|s| {
            row(
                stage_name(s.stage).to_owned(),
                text::minutes(s.minutes),
                s.cents,
            )
        })
        .collect();
    let minutes: i64 = quote.stages.iter().map(|s| s.minutes).sum();
    let Some(total) = quote.total_cents else {
        rows.push(vec![
            "Total".to_owned(),
            text::minutes(minutes),
            String::new(),
        ]);
        let said = "Enter the rate in Setup for a price.";
        return view! { {table(&["Work", "Time", "Price"], rows)}{sentence(said.to_owned())} }
            .into_any();
    };
    rows.extend(quote.parts.iter().filter(|p| p.cents.is_some()).map(|p| {
        let each = p.part.each_cents.map(i64::from);
        let of = format!("{} at {}", p.part.count, money(each));
        row(text::capital(p.part.name), of, p.cents)
    }));
    if quote.travel_cents > 0 {
        rows.push(row(
            "Travel".to_owned(),
            String::new(),
            Some(quote.travel_cents),
        ));
    }
    if quote.tax_percent_hundredths > 0 {
        rows.push(row("Sum".to_owned(), String::new(), quote.net_cents));
        let percent = text::percent(quote.tax_percent_hundredths);
        rows.push(row("Tax".to_owned(), percent, Some(quote.tax_cents)));
    }
    rows.push(row("Total".to_owned(), text::minutes(minutes), Some(total)));
    let mut said: Vec<String> = Vec::new();
    if !quote.unpriced.is_empty() {
        said.push(format!(
            "Not in the price yet: {}.",
            quote.unpriced.join(", ")
        ));
    }
    if !quote.not_fitted.is_empty() {
        said.push(format!(
            "Fitting is not in this price: {}. No step of the job fits them.",
            quote.not_fitted.join(", ")
        ));
    }
    let fitting = quote.parts.iter().filter(|p| p.fitting_minutes > 0);
    let fitting: Vec<String> = fitting
        .map(|p| format!("{} {}", p.part.name, text::minutes(p.fitting_minutes)))
        .collect();
    if !fitting.is_empty() {
        said.push(format!(
            "Fitting the new parts is in the work: {}.",
            fitting.join(", ")
        ));
    }
    if let Some(rate) = state.details().rate() {
        let rate = text::money(i64::from(rate), &currency);
        said.push(format!("An hour costs {rate}."));
    }
    view! { {table(&["Work", "Time", "Price"], rows)}{sentence(said.join(" "))} }.into_any()
}

/// How long it holds, and the line for the client to accept it.
fn accept(quote: &Quote, now_ms: i64) -> impl IntoView + use<> {
    let until = local_time::long_date(now_ms + i64::from(quote.valid_days) * 86_400_000);
    let days = text::counted(quote.valid_days as usize, "one day", "days");
    view! {
        <p>{format!("This estimate holds for {days}, until {until}.")}</p>
        <p>"Accepted:"</p>
        <div class="accept"><span>"Place"</span><span>"Date"</span><span>"Signature"</span></div>
    }
}

fn rests_on(estimate: &Estimate, quote: &Quote) -> impl IntoView + use<> {
    let mut sentences = match (estimate.sample, &quote.high) {
        (0, _) => "No sample notes measured yet: every step counts in full, and no range is given."
            .to_owned(),
        (n, None) => format!(
            "{n} sample notes were measured before the work. They limit no step of it, so no range is given."
        ),
        (n, Some(_)) => format!(
            "{n} sample notes were measured before the work. What they need is what all notes likely need. The upper figure allows for the notes that were not measured, and for a pace that varies from job to job."
        ),
    };
    sentences += " Half the time of a regulating step goes into measuring each note. Stage times are rounded to quarter hours. New parts count where they are decided.";
    if estimate.from_earlier > 0 {
        sentences += &format!(
            " {} steps count the time that they took on this instrument before, less what it then found to do.",
            estimate.from_earlier
        );
    }
    sentence(sentences)
}
