//! The report of a job, to read and to print.

use evenhand_core::analysis::handover::{Handover, adjustments, handover};
use evenhand_core::analysis::letter::LetterPrice;
use evenhand_core::analysis::overview::check_on;
use evenhand_core::job::{Job, Photo, State};
use evenhand_core::trade::{Caution, Occasion, Place};
use evenhand_core::unit::{InchForm, LengthUnit, Value};
use leptos::prelude::*;

use crate::device::local_time;
use crate::parts::conflicts::said_by;
use crate::parts::letter::{Letter, lines, pairs, part, price_rows, sentence, table};
use crate::parts::photos;
use crate::parts::require_open_job::RequireOpenJob;
use crate::state::use_session;
use crate::text;

mod measurements;

use measurements::{before_and_after, since_last_time};

/// The report of a job, to read and to print.
#[component]
pub fn ReportScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <ReportOfJob/>
        </RequireOpenJob>
    }
}

#[component]
fn ReportOfJob() -> impl IntoView {
    let session = use_session();
    let now_ms = session.app.now_ms.get_untracked();
    let letter = |job: &Job| {
        let report = handover(job, now_ms);
        let (details, instrument) = (report.details.clone(), report.instrument);
        let body = body(&report, job);
        view! { <Letter title="Regulation report" details instrument>{body}</Letter> }
    };
    session
        .app
        .open_job
        .with_untracked(|o| o.as_ref().map(|o| letter(&o.job)))
}

fn body(report: &Handover, job: &Job) -> impl IntoView + use<> {
    let state = job.state();
    let length = state.length_unit();
    let done = report
        .done
        .iter()
        .map(|d| format!("{}: {}.", d.stage.name(), d.steps.join("; ")));
    let swept = report.swept.iter().cloned();
    let done: Vec<String> = done.chain(swept).chain(adjustments(job)).collect();
    let out = (report.out > 0).then(|| format!("Out of tolerance now: {}.", report.out));
    let left: Vec<String> = out.into_iter().chain(report.left.clone()).collect();
    let cautions = std::iter::once(Caution::FIRST.to_owned());
    let cautions = cautions.chain(report.cautions.iter().map(|c| c.text().to_owned()));
    view! {
        {when(report)}
        {lines("What was found", report.found.clone())}
        {lines("What was decided", report.decided.clone())}
        {parts_to_order(report)}
        {lines("What was done", done)}
        {lines("What was left, and why", left)}
        {open_conflicts(report)}
        {lines("Remarks and faults fixed", report.remarks.clone())}
        {before_after_photos(state)}
        {report.drift.as_ref().map(|d| since_last_time(d, state))}
        {before_and_after(&report.compared, state)}
        {hours(report, job)}
        {materials(report, length)}
        {climate(report)}
        {next_visit(report, job)}
        {signature(report, job)}
        // For the workshop: the paper goes to the client.
        <div class="care screen-only">
            {lines("Not part of this job", report.left_out.clone().into_iter().collect())}
            {lines("Care", cautions.collect())}
        </div>
    }
}

/// The photos from before and after, two to a row, and then those that have no other beside them.
fn before_after_photos(state: &State) -> Option<impl IntoView + use<>> {
    let pairs = state.photo_pairs();
    let of_pairs: Vec<&Photo> = pairs
        .iter()
        .flat_map(|(before, after)| [*before, *after])
        .collect();
    let rest = state
        .photos()
        .filter(|p| of_pairs.iter().all(|of| of.position != p.position));
    let all: Vec<&Photo> = of_pairs.iter().copied().chain(rest).collect();
    let with_words = |photo: &&Photo| (photo.sha256, photos::words(state, photo));
    let all: Vec<_> = all.iter().map(with_words).collect();
    (!all.is_empty()).then(|| part("Photos", photos::side_by_side(all)))
}

/// The parts to order, for the office.
fn parts_to_order(report: &Handover) -> Option<impl IntoView + use<>> {
    if report.parts.is_empty() {
        return None;
    }
    let rows = report.parts.iter().map(|line| {
        let size = line.size.clone();
        let measured = (!line.measured.is_empty()).then(|| line.measured.clone());
        let size = size
            .or(measured)
            .unwrap_or_else(|| "not known yet".to_owned());
        vec![
            line.name.to_owned(),
            size,
            line.count.to_string(),
            line.on.clone(),
        ]
    });
    Some(part(
        "Parts to order",
        table(&["Part", "Size", "Count", "For"], rows.collect()),
    ))
}

/// What two people said differently and nobody has settled yet: on the screen alone, since paper goes to the client.
fn open_conflicts(report: &Handover) -> Option<impl IntoView + use<>> {
    if report.conflicts.is_empty() {
        return None;
    }
    let rows = report.conflicts.iter().flat_map(|conflict| {
        conflict.statements.iter().enumerate().map(|(at, s)| {
            let counts = if at == 0 { "yes" } else { "no" };
            vec![
                conflict.about.clone(),
                s.value.clone(),
                said_by(s),
                counts.to_owned(),
            ]
        })
    });
    let body = view! {
        <p>"Two people said different things, and neither knew of the other. The later one counts until it is settled."</p>
        {table(&["What", "Said", "By", "Counts"], rows.collect())}
    };
    Some(view! { <div class="screen-only">{part("Conflicts", body)}</div> })
}

fn when(report: &Handover) -> impl IntoView + use<> {
    let span = report.span_ms.map(|(first, last)| {
        let (from, to) = (local_time::long_date(first), local_time::long_date(last));
        match from == to {
            true => from,
            false => format!("{from} to {to}"),
        }
    });
    pairs(span.map(|span| ("Work", span)).into_iter().collect())
}

/// How many steps of a technician are named; the rest are counted.
const MAX_NAMED_STEPS: usize = 12;

fn hours(report: &Handover, job: &Job) -> Option<impl IntoView + use<>> {
    if report.total.minutes == 0 && report.who.is_empty() && report.time_warnings.is_empty() {
        return None;
    }
    let mut rows: Vec<Vec<String>> = report
        .hours
        .iter()
        .map(|(stage, minutes)| vec![stage.name().to_owned(), text::minutes(*minutes)])
        .collect();
    rows.push(vec![
        "Total".to_owned(),
        text::minutes(report.total.minutes),
    ]);
    let price = LetterPrice::of(job);
    let rate = price_of_hour(report, price.as_ref());
    let currency = report.details.currency.as_deref().unwrap_or_default();
    let price = price.map(|price| table(&["Price", "For", "Amount"], price_rows(&price, currency)));
    let warnings = report.time_warnings.iter().cloned().map(sentence);
    let warnings = warnings.collect_view();
    let who = report.who.iter().map(|w| {
        let name = w.name.clone();
        vec![
            text::technician(name),
            text::minutes(w.minutes),
            w.readings.to_string(),
            w.corrections.to_string(),
        ]
    });
    let who: Vec<Vec<String>> = who.collect();
    let steps = report
        .who
        .iter()
        .filter(|w| w.name.is_some() && !w.steps.is_empty());
    let steps = steps.map(|w| {
        let name = w.name.clone().unwrap_or_default();
        let (named, rest) = w.steps.split_at(w.steps.len().min(MAX_NAMED_STEPS));
        let more = match rest.len() {
            0 => String::new(),
            n => format!("; and {n} more steps"),
        };
        format!("{name}: {}{more}.", named.join("; "))
    });
    let steps: Vec<String> = steps.collect();
    let body = view! {
        {table(&["Stage", "Time"], rows)}
        {rate.map(sentence)}
        {price}
        {warnings}
        {(!who.is_empty()).then(|| table(&["Who", "Time", "Readings", "Adjustments"], who))}
        <p class="small">{steps.join(" ")}</p>
    };
    Some(part("Hours", body))
}

/// What an hour costs, unless a price is agreed for the whole job.
fn price_of_hour(report: &Handover, price: Option<&LetterPrice>) -> Option<String> {
    let rate = report.details.rate().map(i64::from)?;
    let currency = report.details.currency.as_deref().unwrap_or_default();
    let is_agreed = price.is_some_and(|p| p.is_agreed);
    (!is_agreed).then(|| format!("At {} an hour.", text::money(rate, currency)))
}

fn materials(report: &Handover, length: LengthUnit) -> Option<impl IntoView + use<>> {
    if report.punchings.is_empty() {
        return None;
    }
    let rows = report.punchings.iter().map(|(thickness, count)| {
        let punching = format!(
            "{} {}",
            thickness.shown_in(InchForm::Decimal, length, 3),
            length.symbol()
        );
        let count = match *count {
            n if n < 0 => format!("{} taken out", -n),
            n => n.to_string(),
        };
        vec![punching, count]
    });
    Some(part(
        "Materials",
        table(&["Punching", "Count"], rows.collect()),
    ))
}

fn climate(report: &Handover) -> Option<impl IntoView + use<>> {
    if report.climate.is_empty() {
        return None;
    }
    let rows = report.climate.iter().map(|c| {
        let when = match (c.occasion, c.place) {
            (Occasion::AsFound, _) => "As found",
            (Occasion::AsLeft, _) => "As left",
            (_, Place::Bench) => "On the bench",
            (_, Place::Piano) => "Back in the piano",
        };
        let shown = |value: Value| {
            let kind = value.kind();
            let symbol = kind.symbol(LengthUnit::Millimeter);
            format!(
                "{} {symbol}",
                kind.shown(value.base(), LengthUnit::Millimeter, 1)
            )
        };
        let (humidity, temperature) = c.read;
        vec![
            when.to_owned(),
            local_time::long_date(c.at_ms),
            shown(humidity),
            shown(temperature),
        ]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    let body = view! {
        {table(&["When", "Date", "Humidity", "Temperature"], rows)}
        {report.climate_warning.clone().map(sentence)}
    };
    Some(part("Climate", body))
}

fn next_visit(report: &Handover, job: &Job) -> impl IntoView + use<> {
    let next = &report.next;
    let now_ms = local_time::now_ms();
    let day = check_on(job, now_ms, local_time::utc_offset_minutes(now_ms));
    let (year, month, _) = day.date();
    let month = local_time::month_and_year(year, month);
    let months = text::counted(next.months as usize, "a month", "months");
    let first = format!("Suggested in {month}, {months} after the last work.");
    let all = std::iter::once(first).chain(next.reasons.iter().cloned());
    lines("Next visit", all.collect())
}

fn signature(report: &Handover, job: &Job) -> impl IntoView + use<> {
    let names: Vec<String> = report.who.iter().filter_map(|w| w.name.clone()).collect();
    let id = job
        .state()
        .id()
        .map(|id| id.to_string())
        .unwrap_or_default();
    view! {
        <p class="signature">{names.join(", ")}</p>
        <p class="small">{format!("Job {id}.")}</p>
    }
}
