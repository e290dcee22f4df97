//! What follows from the string heights for all 88 notes: the heights between, and the hammers at rest.

use evenhand_core::analysis::bench::{Heights, heights};
use evenhand_core::analysis::heights::NoteLengths;
use evenhand_core::job::{ControlNote, Setup};
use evenhand_core::note::{Note, Sections};
use evenhand_core::unit::{InchForm, Length, LengthUnit};
use leptos::prelude::*;

use crate::parts::fields::{FieldSpec, Fields, Validation};
use crate::parts::icons::{CLOSE, Icon};
use crate::state::Session;
use crate::text;

/// The control notes, the picture and the table.
pub fn all_heights(session: Session) -> impl IntoView {
    let found = move || {
        let unit = session.app.length_unit();
        let of = |s: &evenhand_core::job::State| shown(&heights(s), s.sections(), unit);
        session.app.with_state(of)
    };
    view! {
        <h3>"All 88 notes"</h3>
        {found}
        <h3>"Control notes"</h3>
        <p class="quiet">
            "How much higher the bench measures: the same hammer at rest, over the bench’s datum and over the key bed. One note will do; three tell whether the bench is flat."
        </p>
        {control_rows(session)}
        {new_control(session)}
    }
}

fn shown(found: &Heights, sections: &Sections, unit: LengthUnit) -> impl IntoView + use<> {
    if found.strings.iter().all(Option::is_none) {
        return view! {
            <p class="quiet">"Measure both ends of a section, and the height of every string and hammer at rest in it stands here."</p>
        }
        .into_any();
    }
    let missing = (!found.missing.is_empty()).then(|| {
        let words = format!("Not measured yet: {}.", text::notes(&found.missing));
        view! { <p class="quiet">{words}</p> }
    });
    let offset = match &found.offset {
        Ok(offset) => {
            let (note, furthest) = offset.furthest;
            format!(
                "The bench reads {} {} higher; {note} is farthest from that, by {}.",
                text::length(offset.offset, unit),
                unit.symbol(),
                text::length(furthest.abs(), unit)
            )
        }
        Err(_) => "Measure a control note below to get the stand-in.".to_owned(),
    };
    view! {
        {picture(found, sections)}
        <ul class="legend" aria-hidden="true">
            <li class="of-strings">"strings"</li>
            <li class="of-hammers">"hammers at rest"</li>
        </ul>
        {missing}
        <p class="quiet">{offset}</p>
        <details class="all">
            <summary>"All heights as a table"</summary>
            <div class="all-in" role="region" aria-label="Heights of all 88 notes" tabindex="0">{table(found, unit)}</div>
        </details>
    }
    .into_any()
}

const WIDTH: f64 = 352.0;
const HEIGHT: f64 = 96.0;

/// The strings above and the hammers at rest below, each to its own scale: their shape matters.
fn picture(found: &Heights, sections: &Sections) -> impl IntoView + use<> {
    let strings = lines(&found.strings, sections, 6.0);
    let hammers = lines(&found.at_rest, sections, HEIGHT / 2.0 + 6.0);
    let breaks: String = sections
        .breaks()
        .iter()
        .map(|b| format!("M{} 0V{HEIGHT}", u32::from(b.number()) * 4))
        .collect();
    view! {
        <svg class="heights" viewBox=format!("0 0 {} {}", WIDTH as i64, HEIGHT as i64) role="img"
            aria-label="String heights and hammers at rest by note; the table below has the figures.">
            <path class="breaks" d=breaks/>
            <path class="strings" d=strings/>
            <path class="hammers" d=hammers/>
        </svg>
    }
}

/// Returns the path of a row, interrupted at the breaks and where no value is known.
fn lines(row: &NoteLengths, sections: &Sections, top: f64) -> String {
    let known = || row.iter().flatten().map(|l| l.nm());
    let (low, high) = (known().min().unwrap_or(0), known().max().unwrap_or(0));
    let span = (high - low).max(1_000_000) as f64;
    let room = HEIGHT / 2.0 - 12.0;
    let mut path = String::new();
    let mut before: Option<usize> = None;
    for note in Note::all() {
        let Some(length) = row[note.index()] else {
            before = None;
            continue;
        };
        let section = sections.of(note);
        let pen = if before == Some(section) { 'L' } else { 'M' };
        let x = u32::from(note.number()) * 4 - 2;
        let y = top + room * (high - length.nm()) as f64 / span;
        path.push_str(&format!("{pen}{x} {}", y.round() as i64));
        before = Some(section);
    }
    path
}

fn table(found: &Heights, unit: LengthUnit) -> impl IntoView + use<> {
    let cell = |length: Option<Length>| {
        let shown = |l: Length| match unit {
            // Most are interpolated, so all have decimals.
            LengthUnit::Inch => l.shown_in(InchForm::Decimal, unit, 3),
            LengthUnit::Millimeter => text::length(l, unit),
        };
        let words = length.map_or_else(|| "–".to_owned(), shown);
        view! { <td class="num">{words}</td> }
    };
    let row = |note: Note| {
        let at = note.index();
        view! {
            <tr>
                <th scope="row">{format!("{note}")}</th>
                {cell(found.strings[at])}
                {cell(found.at_rest[at])}
                {cell(found.stand_in[at])}
                {cell(found.at_rest_on_bench[at])}
            </tr>
        }
    };
    let rows = Note::all().map(row).collect_view();
    view! {
        <table class="table">
            <thead>
                <tr>
                    <th scope="col">"Note"</th>
                    <th scope="col" class="num">"String"</th>
                    <th scope="col" class="num">"Hammer"</th>
                    <th scope="col" class="num">"Stand-in"</th>
                    <th scope="col" class="num">"Hammer, bench"</th>
                </tr>
            </thead>
            <tbody>{rows}</tbody>
        </table>
    }
}

fn controls(session: Session) -> Vec<ControlNote> {
    let all = session
        .app
        .with_state_untracked(|s| s.setup().control_notes.clone());
    all.flatten().unwrap_or_default()
}

fn set_controls(session: Session, mut controls: Vec<ControlNote>) {
    controls.sort_unstable_by_key(|c| c.note);
    session.record_setup(Setup {
        control_notes: Some(controls),
        ..Setup::default()
    });
}

fn control_rows(session: Session) -> impl IntoView {
    let row = move |control: &ControlNote| {
        let unit = session.app.length_unit();
        let note = control.note;
        let figures = format!(
            "{} on the bench, {} over the key bed",
            text::length(control.bench_nm, unit),
            text::length(control.key_bed_nm, unit)
        );
        let remove = move |_| {
            let mut all = controls(session);
            all.retain(|c| c.note != note);
            set_controls(session, all);
        };
        let label = format!("Take out the control note {note}");
        view! {
            <li>
                <span>{format!("{note}")} <small>{figures}</small></span>
                <button class="tool" type="button" aria-label=label on:click=remove><Icon path=CLOSE/></button>
            </li>
        }
    };
    let rows = move || {
        let all = session.app.setup().control_notes.unwrap_or_default();
        all.iter().map(row).collect_view()
    };
    view! { <ul class="rows">{rows}</ul> }
}

fn new_control(session: Session) -> impl IntoView {
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let control = match read_control(session, &typed) {
            Ok(control) => control,
            Err(sentence) => return Validation::Refused(sentence),
        };
        let mut all = controls(session);
        // A note that is re-measured replaces its earlier reading.
        all.retain(|c| c.note != control.note);
        all.push(control);
        set_controls(session, all);
        Validation::Accepted
    });
    let unit = session.app.length_unit().symbol();
    let specs = vec![
        FieldSpec::text("Note"),
        FieldSpec::number("Over the bench", unit),
        FieldSpec::number("Over the key bed", unit),
    ];
    view! {
        <Fields key="control".to_owned() legend="Another control note" specs now=Signal::stored(vec![String::new(); 3]) record button="Add"/>
    }
}

fn read_control(session: Session, typed: &[String]) -> Result<ControlNote, String> {
    let unit = session.app.length_unit_untracked();
    let read = |text: &String| Length::read(text, unit).map_err(|e| e.to_string());
    let note = typed[0].parse::<Note>().map_err(|e| e.to_string())?;
    Ok(ControlNote {
        note,
        bench_nm: read(&typed[1])?,
        key_bed_nm: read(&typed[2])?,
    })
}
