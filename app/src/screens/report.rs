//! The report of a job, to read and to print.

use evenhand_core::analysis::compare::{Compared, ReadingSet};
use evenhand_core::analysis::drift::{Direction, Drift, Drifted};
use evenhand_core::analysis::evenness::{Evenness, Moments};
use evenhand_core::analysis::handover::{Handover, adjustments, handover};
use evenhand_core::analysis::profile::Profile;
use evenhand_core::job::{Job, State};
use evenhand_core::note::Sections;
use evenhand_core::trade::{Caution, Measure, Occasion, Place};
use evenhand_core::unit::{InchForm, LengthUnit, Value};
use leptos::prelude::*;

use crate::device::{self, local_time};
use crate::parts::conflicts::said_by;
use crate::parts::letter::{Letter, lines, pairs, part, sentence, table};
use crate::parts::plot::{self, PlotSize};
use crate::parts::require_open_job::RequireOpenJob;
use crate::state::use_session;
use crate::text;

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
    let done: Vec<String> = done.chain(adjustments(job)).collect();
    let out = (report.out > 0).then(|| format!("Out of tolerance now: {}.", report.out));
    let left: Vec<String> = out.into_iter().chain(report.left.clone()).collect();
    let cautions = std::iter::once(Caution::FIRST.to_owned());
    let cautions = cautions.chain(report.cautions.iter().map(|c| c.text().to_owned()));
    view! {
        {when(report)}
        {lines("What was found", report.found.clone())}
        {lines("What was done", done)}
        {lines("What was left, and why", left)}
        {open_conflicts(report)}
        {lines("Remarks", report.remarks.clone())}
        {report.drift.as_ref().map(|d| since_last_time(d, state))}
        {before_and_after(&report.compared, state)}
        {hours(report)}
        {materials(report, length)}
        {climate(report)}
        {next_visit(report)}
        {signature(report, job)}
        <div class="care">{lines("Care", cautions.collect())}</div>
    }
}

/// What two people said differently and nobody has settled yet.
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
        <p>"Two people said different things, and neither knew of the other. The later counts until it is settled."</p>
        {table(&["What", "Said", "By", "Counts"], rows.collect())}
    };
    Some(part("Conflicts", body))
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

/// Returns a computed figure, with one decimal more than readings have.
fn shown_mean(measure: &Measure, base: f64, length: LengthUnit) -> String {
    let decimals = match length {
        LengthUnit::Inch => 3,
        LengthUnit::Millimeter => measure.form.1 + 1,
    };
    let base = base.round() as i64;
    measure
        .kind
        .shown_in(InchForm::Decimal, base, length, decimals)
}

fn in_tolerance(figures: Option<&Evenness>) -> String {
    figures.map_or_else(String::new, |e| {
        format!("{} of {}", e.in_accept, e.moments.count)
    })
}

/// Returns the mean and standard deviation; empty for grades.
fn mean(measure: &Measure, moments: Option<&Moments>, length: LengthUnit) -> String {
    let Some(moments) = moments.filter(|_| measure.kind.is_number()) else {
        return String::new();
    };
    let mean = shown_mean(measure, moments.mean, length);
    match moments.sd {
        Some(sd) => format!("{mean} ± {}", shown_mean(measure, sd, length)),
        None => mean,
    }
}

fn named(measure: &Measure, length: LengthUnit) -> String {
    match measure.kind.symbol(length) {
        "" => measure.name.to_string(),
        unit => format!("{}, {unit}", measure.name),
    }
}

const FIGURES: [&str; 5] = [
    "Section",
    "Found in tolerance",
    "Found, mean ± SD",
    "Left in tolerance",
    "Left, mean ± SD",
];

fn figures_row(
    name: String,
    of: &Compared,
    found: Option<&Evenness>,
    left: Option<&Evenness>,
    length: LengthUnit,
) -> Vec<String> {
    let judged = |e: Option<&Evenness>| in_tolerance(e.filter(|_| of.judged));
    let mean = |e: Option<&Evenness>| mean(&of.measure, e.map(|e| &e.moments), length);
    vec![name, judged(found), mean(found), judged(left), mean(left)]
}

fn before_and_after(all: &[Compared], state: &State) -> Option<impl IntoView + use<>> {
    if all.is_empty() {
        return None;
    }
    let length = state.length_unit();
    let summary = all.iter().map(|c| {
        let (found, left) = (c.found.whole.as_ref(), c.left.whole.as_ref());
        figures_row(named(&c.measure, length), c, found, left, length)
    });
    let sections = state.sections();
    // A picture if there is something to compare: what was found and left by one reading is the same.
    let differs = |c: &&Compared| {
        let read = !c.found.readings.is_empty() && !c.left.readings.is_empty();
        read && c.found.readings != c.left.readings
    };
    let quantities = all.iter().filter(differs);
    let blocks = quantities
        .map(|c| quantity(c, state, sections))
        .collect_view();
    let body = view! {
        <p>"SD is the standard deviation from note to note. What later work spoiled and was not re-measured is not counted as left. In the pictures hollow marks are as found, full or ringed ones as left; round for naturals, square for sharps, on a stem where out. The dark band is on target, the light one acceptable."</p>
        {table(&[&["Quantity"], &FIGURES[1..]].concat(), summary.collect())}
        {blocks}
    };
    Some(part("Before and after", body))
}

/// One quantity by section, with its picture.
fn quantity(c: &Compared, state: &State, sections: &Sections) -> impl IntoView + use<> {
    let length = state.length_unit();
    let at = |row: &ReadingSet, s: usize| row.sections.get(s).copied().flatten();
    let rows = (0..sections.count()).map(|s| {
        let (found, left) = (at(&c.found, s), at(&c.left, s));
        figures_row(
            text::section(sections, s),
            c,
            found.as_ref(),
            left.as_ref(),
            length,
        )
    });
    let bench = match c.left_on_bench {
        0 => None,
        n if n == c.left.readings.len() => Some("Left: measured on the bench.".to_owned()),
        n => Some(format!(
            "Left: {n} of {} measured on the bench.",
            c.left.readings.len()
        )),
    };
    let step = |(text, e): (&str, Option<Evenness>)| {
        let step = e?.greatest_step?;
        let by = shown_mean(&c.measure, step.by.saturating_abs() as f64, length);
        Some(format!(
            "{text}: biggest jump {by}, {} to {}.",
            step.from, step.to
        ))
    };
    let steps = [("Found", c.found.whole), ("Left", c.left.whole)];
    let small: Vec<String> = steps.into_iter().filter_map(step).chain(bench).collect();
    let rows: Vec<Vec<String>> = rows.collect();
    view! {
        <section class="quantity">
            <h4>{named(&c.measure, length)}</h4>
            {picture(c, state, sections)}
            {(rows.len() > 1).then(|| table(&FIGURES, rows))}
            <p class="small">{small.join(" ")}</p>
        </section>
    }
}

/// The width of a picture on paper, in its own units.
const PAPER: f32 = 1160.0;

/// The readings as found beside those as left, or as they are now if the final check has fewer.
fn picture(c: &Compared, state: &State, sections: &Sections) -> Option<impl IntoView + use<>> {
    let order = state.order();
    let of = order.steps().iter();
    let of = of.filter(|s| s.takes.contains(&c.measure.id));
    let profiles = of.filter_map(|step| Profile::of(state, step, &c.measure.id));
    // The step with the most later readings: that of the bench or that of the return.
    let profile = profiles.max_by_key(|p| p.count(1) + p.count(2))?;
    let left = profile.count(2) >= profile.count(1);
    let size = PlotSize {
        width: if device::is_at_least(600) {
            PAPER
        } else {
            PAPER / 2.0
        },
        em: 27.0,
    };
    let shown = [true, !left, left];
    let plot = plot::profile::draw(&profile, shown, sections, state.length_unit(), size);
    let drawing = plot.drawing;
    let view_box = format!("0 0 {} {}", size.width as i32, drawing.height as i32);
    let label = format!("{}, found and left, note by note", c.measure.name);
    let svg = view! { <svg class="plot" viewBox=view_box role="img" aria-label=label inner_html=drawing.svg/> };
    Some(svg)
}

fn since_last_time(drift: &Drift, state: &State) -> impl IntoView + use<> {
    let length = state.length_unit();
    let sections = state.sections();
    let change = |d: &Drifted, moments: Option<&Moments>| mean(&d.measure, moments, length);
    let mut rows = Vec::new();
    for d in &drift.quantities {
        let way = match d.direction {
            Direction::Stayed => "stayed",
            Direction::Wear => "as wear goes",
            Direction::AgainstWear => "against wear",
            Direction::Moved => "moved",
        };
        let row = |name: String, moments: Option<&Moments>, way: &str, out: String| {
            let notes = moments.map_or_else(String::new, |m| m.count.to_string());
            vec![name, notes, change(d, moments), way.to_owned(), out]
        };
        let out = match d.went_out {
            0 => "none".to_owned(),
            n => n.to_string(),
        };
        rows.push(row(named(&d.measure, length), Some(&d.change), way, out));
        if sections.count() > 1 {
            let each = d.sections.iter().enumerate();
            rows.extend(each.filter(|(_, m)| m.is_some()).map(|(s, moments)| {
                let name = format!("– section {}", text::section(sections, s));
                row(name, moments.as_ref(), "", String::new())
            }));
        }
    }
    let head = [
        "Quantity",
        "Notes",
        "Change, mean ± SD",
        "Direction",
        "Gone out",
    ];
    let words = format!(
        "Left on {}, found on {}: {} days. Each change is what was found now less what was left then, on the notes measured both times.",
        local_time::long_date(drift.left_at_ms),
        local_time::long_date(drift.found_at_ms),
        drift.days(),
    );
    let body = match rows.is_empty() {
        true => sentence("Nothing was measured both times yet.".to_owned()).into_any(),
        false => view! { {sentence(words)}{table(&head, rows)} }.into_any(),
    };
    part("Since the last time", body)
}

/// How many steps of a technician are named; the rest are counted.
const MAX_NAMED_STEPS: usize = 12;

fn hours(report: &Handover) -> Option<impl IntoView + use<>> {
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
    let money = price(report);
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
        {money.map(sentence)}
        {warnings}
        {(!who.is_empty()).then(|| table(&["Who", "Time", "Readings", "Adjustments"], who))}
        <p class="small">{steps.join(" ")}</p>
    };
    Some(part("Hours", body))
}

fn price(report: &Handover) -> Option<String> {
    let currency = report.details.currency.clone().unwrap_or_default();
    let rate = i64::from(report.details.rate()?);
    Some(format!(
        "At {} {currency} an hour: {} {currency}.",
        text::cents(rate),
        text::cents(report.total.cents?),
    ))
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

fn next_visit(report: &Handover) -> impl IntoView + use<> {
    let next = &report.next;
    let months = |m: u32| text::counted(m as usize, "a month", "months");
    let between = match next.between {
        Some((soonest, Some(latest))) if soonest != latest => {
            format!(", between {soonest} and {latest}")
        }
        Some((_, None)) => ", or later".to_owned(),
        _ => String::new(),
    };
    let first = format!("Suggested in {}{between}.", months(next.months));
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
        <p class="small">{format!("Job {id}, {} entries.", job.log().len())}</p>
    }
}
