//! The picture of the readings, with the note that was chosen in it.

use evenhand_core::analysis::profile::ProfileLine;
use evenhand_core::note::Note;
use leptos::html::Figure;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::state::{OCCASIONS, ProfileState, inch_form, is_settled, latest, standing};
use crate::parts::plot::{self, profile::ProfileDrawing};

/// Buttons for the occasions that are shown, which are also the legend.
#[component]
pub fn Occasions(profile: ProfileState) -> impl IntoView {
    let button = move |i: usize| {
        let count = move || profile.with(|p| p.count(i));
        let toggle = move |_| profile.wanted.update(|w| w[i] = !w[i]);
        view! {
            <button
                class="button"
                type="button"
                disabled=move || count() == 0
                aria-pressed=move || profile.shown()[i].to_string()
                on:click=toggle
            >
                <svg class="plot key" viewBox="0 0 14 14" aria-hidden="true" inner_html=plot::profile::legend_mark(i)/>
                <span>{OCCASIONS[i]}<small class="num">{move || count().to_string()}</small></span>
            </button>
        }
    };
    view! { <div class="occasions" role="group" aria-label="Shown">{[0, 1, 2].map(button).collect_view()}</div> }
}

/// The picture, and the readings of the note chosen by touch, slider or arrow keys.
#[component]
pub fn Picture(profile: ProfileState) -> impl IntoView {
    let place = NodeRef::<Figure>::new();
    let size = plot::plot_size(place);
    let sections = move || {
        profile
            .session
            .app
            .with_state(|s| s.sections().clone())
            .unwrap_or_default()
    };
    let drawn = Memo::new(move |_| {
        let (shown, sections) = (profile.shown(), sections());
        profile.current.with(|p| {
            p.as_ref()
                .map(|p| plot::profile::draw(p, shown, &sections, profile.length, size.get()))
        })
    });
    let draw = move |of: fn(&ProfileDrawing) -> String| {
        drawn.with(|d| d.as_ref().map(of)).unwrap_or_default()
    };
    let view_box = move || {
        let height = drawn.with(|d| d.as_ref().map_or(0.0, |d| d.drawing.height)) as i32;
        format!("0 0 {} {height}", size.get().width as i32)
    };
    let picked = profile.picked;
    let on_point = move |event: web_sys::PointerEvent| {
        let target: Option<web_sys::Element> =
            event.current_target().and_then(|t| t.dyn_into().ok());
        let Some(target) = target else { return };
        let x = event.client_x() as f32 - target.get_bounding_client_rect().left() as f32;
        if let Some(note) = drawn.with_untracked(|d| d.as_ref().map(|d| d.notes.note_at(x))) {
            picked.set(nearest(profile, note, None));
        }
    };
    let slid = move |event: web_sys::Event| {
        if let Some(note) = event_target_value(&event)
            .parse()
            .ok()
            .and_then(|n| Note::new(n).ok())
        {
            // A step of the slider always leaves the note, even if the next note has no reading of this measure.
            let from = picked.get_untracked().filter(|from| *from != note);
            picked.set(nearest(profile, note, from));
        }
    };
    let words = move || match picked.get() {
        Some(note) => read_out(profile, note),
        None => "Tap the picture, or move the slider, for a note.".to_owned(),
    };
    let at = move || {
        let note = picked.get()?;
        let x = drawn.with(|d| d.as_ref().map(|d| d.notes.x(f32::from(note.number()))))?;
        Some(format!("left:{}px", x as i32))
    };
    let notes = move || profile.with(|p| p.lines.iter().any(|l| l.on.note().is_some()));
    view! {
        <figure class="picture-of" node_ref=place>
            <svg
                class="plot"
                viewBox=view_box
                role="img"
                aria-label=move || caption(profile)
                inner_html=move || draw(|d| d.drawing.svg.clone())
                on:pointerdown=on_point
            />
            {move || at().map(|at| view! { <i class="pick" style=at></i> })}
            <Show when=notes>
                <input
                    type="range"
                    min="1"
                    max="88"
                    aria-label="Note"
                    aria-valuetext=words
                    prop:value=move || picked.get().map_or(1, Note::number).to_string()
                    on:input=slid
                />
                <p class="read-out">{words}</p>
            </Show>
            <figcaption class="quiet">
                "Inner band: on target. Outer band: acceptable. Round: natural. Square: sharp. With a stem: out. Hatched: re-measure. Diamond: not measured again, where it should read. Cross: swept."
                " The strong line is the biggest jump between neighbors."
            </figcaption>
        </figure>
    }
}

/// Returns the note nearest to `note` on which the measure is taken, except `but`.
fn nearest(profile: ProfileState, note: Note, but: Option<Note>) -> Option<Note> {
    profile.current.with_untracked(|p| {
        let notes = p.as_ref()?.lines.iter().filter_map(|l| l.on.note());
        let notes = notes.filter(|n| Some(*n) != but);
        notes.min_by_key(|n| n.number().abs_diff(note.number()))
    })
}

/// Returns the description of the picture for screen readers.
fn caption(profile: ProfileState) -> String {
    profile.with(|p| {
        let counted = (0..3).filter(|i| p.count(*i) > 0);
        let mut counts: Vec<String> = counted
            .map(|i| format!("{} measured {}", p.count(i), OCCASIONS[i].to_lowercase()))
            .collect();
        let known = |l: &&ProfileLine| l.swept.is_some_and(|s| s.expected.is_some());
        match p.lines.iter().filter(known).count() {
            0 => {}
            known => counts.push(format!("{known} not measured again")),
        }
        format!(
            "{} by note against its band: {}. The tables hold the same figures.",
            p.measure.name,
            counts.join(", ")
        )
    })
}

/// Returns the readings of a note in words.
fn read_out(profile: ProfileState, note: Note) -> String {
    profile.with(|p| {
        let line = p.lines.iter().find(|l| l.on.note() == Some(note));
        let Some(line) = line else {
            return String::new();
        };
        let settled = is_settled(line);
        let read = (0..3).filter_map(|i| {
            let value = line.marks[i].filter(|_| i != 1 || !settled)?.value;
            let shown = p.measure.shown_in(inch_form(p), value, profile.length);
            Some(format!("{} {shown}", OCCASIONS[i].to_lowercase()))
        });
        let read: Vec<String> = read.collect();
        let words = match latest(line) {
            _ if settled => standing(p, line, inch_form(p), profile.length),
            Some(_) => {
                let read = p.measure.with_unit(&read.join(", "), profile.length);
                format!(
                    "{read}, {}",
                    standing(p, line, inch_form(p), profile.length)
                )
            }
            None => "not measured".to_owned(),
        };
        format!("{} ({}): {words}", note.name(), note.number())
    })
}
