//! The measurements in the report: found and left, and what moved since the last time.

use evenhand_core::analysis::compare::{Compared, ReadingSet};
use evenhand_core::analysis::drift::{Direction, Drift, Drifted};
use evenhand_core::analysis::evenness::{Evenness, Moments};
use evenhand_core::analysis::profile::Profile;
use evenhand_core::job::State;
use evenhand_core::note::Sections;
use evenhand_core::trade::Measure;
use evenhand_core::unit::{InchForm, LengthUnit};
use leptos::prelude::*;

use crate::device::{self, local_time};
use crate::parts::letter::{part, sentence, table};
use crate::parts::plot::{self, PlotSize};
use crate::text;

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

fn in_tolerance(counts: Option<(usize, usize)>) -> String {
    counts.map_or_else(String::new, |(within, of)| format!("{within} of {of}"))
}

/// Returns the mean and standard deviation; empty for grades.
fn mean(measure: &Measure, moments: Option<&Moments>, length: LengthUnit) -> String {
    let Some(moments) = moments.filter(|_| measure.kind.is_number()) else {
        return String::new();
    };
    let mean = shown_mean(measure, moments.mean, length);
    match moments.sd {
        Some(sd) => format!("{mean}, SD {}", shown_mean(measure, sd, length)),
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
    "Found, mean and SD",
    "Left in tolerance",
    "Left, mean and SD",
];

fn figures_row(
    name: String,
    of: &Compared,
    section: Option<usize>,
    length: LengthUnit,
) -> Vec<String> {
    let judged = |set: &ReadingSet| in_tolerance(set.in_tolerance(section).filter(|_| of.judged));
    let figures = |set: &ReadingSet| match section {
        Some(at) => set.sections.get(at).copied().flatten(),
        None => set.whole,
    };
    let mean = |set: &ReadingSet| {
        mean(
            &of.measure,
            figures(set).map(|e| e.moments).as_ref(),
            length,
        )
    };
    let (found, left) = (&of.found, &of.left);
    vec![name, judged(found), mean(found), judged(left), mean(left)]
}

pub fn before_and_after(all: &[Compared], state: &State) -> Option<impl IntoView + use<>> {
    if all.is_empty() {
        return None;
    }
    let length = state.length_unit();
    let summary = all
        .iter()
        .map(|c| figures_row(named(&c.measure, length), c, None, length));
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
        <p>"SD is the standard deviation from note to note. What later work spoiled and was not re-measured does not count as left. In the pictures, hollow marks are as found, full or ringed marks as left; naturals are round, sharps square; marks with a stem are out. The dark band is on target, the light one acceptable."</p>
        {table(&[&["Quantity"], &FIGURES[1..]].concat(), summary.collect())}
        {blocks}
    };
    Some(part("Before and after", body))
}

/// One quantity by section, with its picture.
fn quantity(c: &Compared, state: &State, sections: &Sections) -> impl IntoView + use<> {
    let length = state.length_unit();
    let rows =
        (0..sections.count()).map(|s| figures_row(text::section(sections, s), c, Some(s), length));
    let bench = match c.left_on_bench {
        0 => None,
        n if n == c.left.readings.len() => Some("Left: measured on the bench.".to_owned()),
        n => Some(format!(
            "Left: {n} of {} measured on the bench.",
            c.left.readings.len()
        )),
    };
    let step = |(text, e): (&str, Option<Evenness>)| {
        let step = e?.shown_jump(&c.measure)?;
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

pub fn since_last_time(drift: &Drift, state: &State) -> impl IntoView + use<> {
    let length = state.length_unit();
    let sections = state.sections();
    let change = |d: &Drifted, moments: Option<&Moments>| mean(&d.measure, moments, length);
    let mut rows = Vec::new();
    for d in &drift.quantities {
        let way = match d.direction {
            Direction::Stayed => "stayed",
            Direction::Wear => "with wear",
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
        "Change, mean and SD",
        "Direction",
        "Gone out",
    ];
    let words = format!(
        "Left on {}, found on {}: {} days. Each change is found now less left then, on the notes measured both times.",
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
