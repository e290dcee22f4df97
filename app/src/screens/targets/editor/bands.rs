//! The fields of the bands of a target: one band, one for each section, or the points of a taper.

use evenhand_core::note::Note;
use evenhand_core::trade::{Band, Target};
use leptos::prelude::*;

use super::state::{Editor, bands};
use crate::parts::fields::{FieldSpec, Fields, Validation};
use crate::parts::icons::{CLOSE, Icon};

/// The fields of one band for all notes.
pub fn flat(editor: Editor) -> impl IntoView {
    view! {
        {band_fields(editor, "flat".to_owned(), String::new(), 0, Target::Flat)}
        {limits_key(editor)}
    }
}

/// The fields of a band for each section.
pub fn by_section(editor: Editor) -> impl IntoView {
    let sections = editor.sections();
    let count = sections.count();
    let fields: Vec<_> = (0..count)
        .map(|at| {
            let make_target = move |band: Band| {
                let mut all = editor
                    .target
                    .with_untracked(|t| t.as_ref().map(bands))
                    .unwrap_or_default();
                let last = all.last().copied().unwrap_or(band);
                all.resize(count.max(all.len()), last);
                all[at] = band;
                Target::BySection(all)
            };
            band_fields(
                editor,
                format!("section-{at}"),
                format!("Section {}", text::section(&sections, at)),
                at,
                make_target,
            )
        })
        .collect();
    view! { {fields} {limits_key(editor)} }
}

/// The fields of the points of a taper, and of a new point.
pub fn tapered(editor: Editor) -> impl IntoView {
    let notes = Memo::new(move |_| match editor.target.get() {
        Some(Target::Tapered(points)) => points.iter().map(|(note, _)| *note).collect(),
        _ => Vec::new(),
    });
    let fields = move || {
        let notes: Vec<Note> = notes.get();
        let alone = notes.len() < 2;
        let point = |note: Note| point(editor, note, alone);
        notes.into_iter().map(point).collect_view()
    };
    view! {
        {fields}
        {new_point(editor)}
        {limits_key(editor)}
    }
}

fn points(editor: Editor) -> Vec<(Note, Band)> {
    match editor.target.get_untracked() {
        Some(Target::Tapered(points)) => points,
        _ => Vec::new(),
    }
}
use crate::text;

/// One point of a taper, named by its note.
fn point(editor: Editor, note: Note, alone: bool) -> impl IntoView {
    let at = points(editor)
        .iter()
        .position(|(n, _)| *n == note)
        .unwrap_or(0);
    let make_target = move |band: Band| {
        let mut points = points(editor);
        for point in &mut points {
            if point.0 == note {
                point.1 = band;
            }
        }
        Target::Tapered(points)
    };
    let remove = move |_| {
        let mut points = points(editor);
        points.retain(|(n, _)| *n != note);
        drop(editor.set(Target::Tapered(points)));
    };
    let label = format!("Take out the point at {note}");
    let out = (!alone).then(|| view! { <button class="tool" type="button" aria-label=label on:click=remove><Icon path=CLOSE/></button> });
    view! {
        <div class="point">
            {band_fields(editor, format!("point-{}", note.number()), format!("At {note}"), at, make_target)}
            {out}
        </div>
    }
}

fn new_point(editor: Editor) -> impl IntoView {
    let mut specs = vec![FieldSpec::text("Note")];
    specs.extend(editor.with_format(|format| format.specs()));
    let empty = vec![String::new(); specs.len()];
    let record = Callback::new(move |(texts, sure): (Vec<String>, bool)| {
        let note: Note = match texts[0].parse() {
            Ok(note) => note,
            Err(error) => return Validation::Refused(format!("{error}")),
        };
        match editor.with_format(|format| format.read(&texts[1..], sure)) {
            Ok(band) => {
                let mut points = points(editor);
                points.push((note, band));
                points.sort_by_key(|(n, _)| *n);
                editor.set(Target::Tapered(points))
            }
            Err(kept) => kept,
        }
    });
    view! {
        <Fields key=editor.key("point") legend="Another point" specs now=Signal::stored(empty) record button="Add"/>
    }
}

/// The fields of one band; `make_target` makes the new target from the band that is typed.
fn band_fields(
    editor: Editor,
    what: String,
    legend: String,
    at: usize,
    make_target: impl Fn(Band) -> Target + Send + Sync + 'static,
) -> impl IntoView {
    let specs = editor.with_format(|format| format.specs());
    let now = Signal::derive(move || {
        let band = editor.target.with(|t| {
            let bands = t.as_ref().map(bands).unwrap_or_default();
            bands.get(at).or(bands.last()).copied()
        });
        editor.with_format(|format| format.texts(band.as_ref()))
    });
    let record = Callback::new(move |(texts, sure): (Vec<String>, bool)| {
        match editor.with_format(|format| format.read(&texts, sure)) {
            Ok(band) => editor.set(make_target(band)),
            Err(kept) => kept,
        }
    });
    view! { <Fields key=editor.key(&what) legend specs now record/> }
}

/// The button that switches between an aim with widths and separate limits.
fn limits_key(editor: Editor) -> impl IntoView {
    let words = match editor.limits.get_untracked() {
        true => "Even on both sides",
        false => "Each limit by itself",
    };
    view! {
        <button class="button" type="button" on:click=move |_| editor.limits.update(|l| *l = !*l)>{words}</button>
    }
}
