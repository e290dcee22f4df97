//! The tables: every reading, and the figures of evenness.

use evenhand_core::analysis::evenness::Evenness;
use evenhand_core::analysis::profile::{Mark, Profile};
use evenhand_core::unit::{InchForm, LengthUnit, Value};
use leptos::prelude::*;

use super::state::{OCCASIONS, ProfileState, inch_form, is_settled, latest, standing};
use crate::parts::plot::escaped;
use crate::text;

/// Appends a row of a table: its head, then its cells.
fn row(out: &mut String, class: &str, head: &str, cells: &[String]) {
    out.push_str("<tr class=\"");
    out.push_str(class);
    out.push_str("\"><th scope=\"row\">");
    out.push_str(head);
    out.push_str("</th>");
    for cell in cells {
        out.push_str("<td class=\"num\">");
        out.push_str(cell);
        out.push_str("</td>");
    }
    out.push_str("</tr>");
}

/// Returns the head of a table.
fn head(columns: &[String]) -> String {
    let mut out = String::from("<tr>");
    for (at, column) in columns.iter().enumerate() {
        out.push_str(if at == 0 {
            "<th scope=\"col\">"
        } else {
            "<th scope=\"col\" class=\"num\">"
        });
        out.push_str(column);
        out.push_str("</th>");
    }
    out.push_str("</tr>");
    out
}

/// Every note that was read, as the picture shows it.
#[component]
pub fn Readings(profile: ProfileState) -> impl IntoView {
    let columns = move || {
        let shown = profile.shown();
        let mut columns = vec!["Note".to_owned()];
        columns.extend(
            (0..3)
                .filter(|i| shown[*i])
                .map(|i| OCCASIONS[i].to_owned()),
        );
        columns.push("Against the target".to_owned());
        head(&columns)
    };
    let rows = move || {
        let shown = profile.shown();
        profile.with(|p| {
            let mut out = String::new();
            let form = inch_form(p);
            for line in &p.lines {
                let settled = is_settled(line);
                let holds = |i: &usize| line.marks[*i].filter(|_| *i != 1 || !settled);
                let read = (0..3).filter(|i| shown[*i]).map(|i| holds(&i));
                let read: Vec<Option<Mark>> = read.collect();
                if read.iter().all(Option::is_none) && !settled {
                    continue;
                }
                let shown = |mark: &Option<Mark>| {
                    mark.map_or_else(
                        || "–".to_owned(),
                        |m| escaped(&p.measure.shown_in(form, m.value, profile.length)),
                    )
                };
                let mut cells: Vec<String> = read.iter().map(shown).collect();
                cells.push(escaped(&standing(p, line, form, profile.length)));
                let mark = latest(line);
                let class = match mark.and_then(Mark::verdict) {
                    _ if settled => "",
                    _ if mark.is_some_and(|m| m.remeasure) => "again",
                    Some(evenhand_core::trade::Verdict::Out) => "out",
                    _ => "",
                };
                let head = match line.on.note() {
                    Some(note) => format!("{} <small>{}</small>", note.name(), note.number()),
                    None => text::subject(line.on),
                };
                row(&mut out, class, &head, &cells);
            }
            out
        })
    };
    let unit = move || profile.with(|p| text::unit(&p.measure, profile.length).to_owned());
    view! {
        <section class="pane readings" aria-label="Readings" tabindex="0">
            <h2>"Readings"{move || match unit().as_str() {
                "" => String::new(),
                unit => format!(", {unit}"),
            }}</h2>
            <table class="table">
                <thead inner_html=columns></thead>
                <tbody inner_html=rows></tbody>
            </table>
        </section>
    }
}

/// The figures of evenness, for all notes and each section.
#[component]
pub fn FiguresTable(profile: ProfileState) -> impl IntoView {
    let body = move || profile.with(|p| figures(p, profile.shown(), profile.length));
    let unit = move || profile.with(|p| text::unit(&p.measure, profile.length).to_owned());
    view! {
        <Show when=move || !body().is_empty()>
            <section aria-label="Figures">
                <h2>"Figures"{move || match unit().as_str() {
                    "" => String::new(),
                    unit => format!(", {unit}"),
                }}</h2>
                <div class="sideways" tabindex="0" role="region" aria-label="Figures by section">
                    <table class="table figures-of" inner_html=body></table>
                </div>
            </section>
        </Show>
    }
}

/// Returns the rows of figures, a group for each occasion.
fn figures(profile: &Profile, shown: [bool; 3], length: LengthUnit) -> String {
    let measure = &profile.measure;
    let said = |base: f64| {
        let value = Value::from_base(measure.kind, base.round() as i64);
        measure.shown_in(InchForm::Decimal, value, length)
    };
    let of = |e: &Evenness| {
        let step = e.shown_jump(measure).map_or_else(
            || "–".to_owned(),
            |s| {
                let by = said(s.by.unsigned_abs() as f64);
                format!("{by} <small>{} to {}</small>", s.from.name(), s.to.name())
            },
        );
        [
            e.moments.count.to_string(),
            e.in_aim.to_string(),
            e.in_accept.to_string(),
            said(e.moments.mean),
            e.moments.sd.map_or_else(|| "–".to_owned(), said),
            said(e.range() as f64),
            step,
        ]
    };
    const ROWS: [&str; 7] = [
        "Measured",
        "On target",
        "In tolerance",
        "Mean",
        "SD (n − 1)",
        "Range",
        "Biggest jump",
    ];
    let mut out = String::new();
    for occasion in (0..3).filter(|i| shown[*i]) {
        let Some(figures) = &profile.figures[occasion] else {
            continue;
        };
        let sections = figures.sections.iter().enumerate();
        let several = figures.sections.len() > 1;
        let mut columns = vec![OCCASIONS[occasion].to_owned(), "All".to_owned()];
        let mut of_columns = vec![Some(of(&figures.all))];
        for (at, section) in sections.filter(|_| several) {
            columns.push(format!("<span class=\"hidden\">Section </span>{}", at + 1));
            of_columns.push(section.as_ref().map(of));
        }
        out.push_str("<tbody>");
        out.push_str(&head(&columns));
        for (at, name) in ROWS.iter().enumerate() {
            if (at == 1 || at == 2) && !profile.has_target() {
                continue;
            }
            let cell = |c: &Option<[String; 7]>| {
                c.as_ref().map_or_else(|| "–".to_owned(), |c| c[at].clone())
            };
            let cells: Vec<String> = of_columns.iter().map(cell).collect();
            row(&mut out, "", name, &cells);
        }
        out.push_str("</tbody>");
    }
    out
}
