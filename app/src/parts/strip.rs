//! The note strip: a bar for each note, at the place of its key.

mod outlines;

use std::time::Duration;

use evenhand_core::analysis::profile;
use evenhand_core::job::{Item, ItemState, State};
use evenhand_core::note::Note;
use evenhand_core::trade::Step;
use evenhand_core::unit::Value;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use crate::text;
use outlines::{BAND, Bar, BarShape, Bars, MIDDLE, notches, outlines};

/// Returns whether a step weighs each key down and up in turn. It is judged by the balance weight, half of their sum,
/// so the strip shows that.
pub fn weighs_both(step: &Step) -> bool {
    step.is_weighing() && step.takes.len() == 2
}

/// Returns the bars of these items, and their counts in words: `40 of 88 measured, 5 out, 3 to re-measure`.
pub fn bars(state: &State, step: &Step, items: &[Item]) -> (Bars, String) {
    let mut bars = vec![None; usize::from(SEEN)];
    let (mut read, mut swept, mut out, mut again, mut marked) = (0, 0, 0, 0, 0);
    let mut known = 0;
    let weighs = weighs_both(step);
    for item in items {
        let bar = if weighs {
            balance_weight(state, step, item)
        } else {
            bar(state, item, &state.item_state(step, item))
        };
        match bar.shape {
            BarShape::Hollow => {}
            BarShape::Hatched => again += 1,
            BarShape::Marked => marked += 1,
            BarShape::Solid => read += 1,
            BarShape::Swept => swept += 1,
            BarShape::Known => known += 1,
            BarShape::Notched => (read, out) = (read + 1, out + 1),
        }
        if let Some(note) = item.on.note() {
            bars[usize::from(note.number()) - 1] = Some(bar);
        }
    }
    // Of several measures the strip shows one, which is named, so that the count of the whole step does not surprise.
    let one = items.first().filter(|_| step.takes.len() > 1);
    let one = one.filter(|first| items.iter().all(|i| i.measure == first.measure));
    let one = one.and_then(|item| state.measure(item.measure.as_str()));
    let named = match one {
        _ if weighs => "balance weights".to_owned(),
        Some(measure) => measure.name.to_lowercase(),
        None => text::taken(state, step).to_owned(),
    };
    let mut words = match swept {
        0 => format!("{read} of {} {named}", items.len()),
        swept => {
            let left = items.len() - read - swept - known - again - marked;
            let left = if left > 0 {
                format!(", {left} left")
            } else {
                String::new()
            };
            let measured = if read > 0 {
                format!(", {read} {named}")
            } else {
                String::new()
            };
            format!("{swept} swept{measured}{left}")
        }
    };
    if known > 0 {
        words += &format!(", {known} not measured again");
    }
    if out > 0 {
        words += &format!(", {out} out");
    }
    if marked > 0 {
        words += &format!(", {marked} to come back to");
    }
    if again > 0 {
        words += &format!(", {again} to re-measure");
    }
    (bars, words)
}

fn bar(state: &State, item: &Item, item_state: &ItemState<'_>) -> Bar {
    if let Some(expected) = item_state.should_read() {
        let judged = state.judge(item.measure.as_str(), item.on, Value::Nm(expected));
        return Bar::new(BarShape::Known, judged);
    }
    let judged = item_state.judged();
    let shape = match item_state {
        ItemState::NotRead => BarShape::Hollow,
        ItemState::Remeasure(..) | ItemState::SweepAgain(..) => BarShape::Hatched,
        ItemState::Swept(_) => BarShape::Swept,
        ItemState::MarkedOut(_) => BarShape::Marked,
        ItemState::Read(..) => BarShape::of(judged.as_ref()),
    };
    Bar::new(shape, judged)
}

/// Returns the bar of a key's balance weight, once it was weighed down and up.
fn balance_weight(state: &State, step: &Step, item: &Item) -> Bar {
    let mark = profile::mark(state, step, "balance_weight", item.on, step.occasion);
    let shape = match &mark {
        None => BarShape::Hollow,
        Some(mark) if mark.remeasure => BarShape::Hatched,
        Some(mark) => BarShape::of(mark.judged.as_ref()),
    };
    Bar::new(shape, mark.and_then(|mark| mark.judged))
}

/// How long a touch is held to mark a note.
const HOLD: Duration = Duration::from_millis(500);
/// From how many pixels on a finger has moved.
const MIN_DRAG: i32 = 6;
/// The number of notes on the whole strip.
const SEEN: u8 = 88;
/// Rounds to a hundredth of the picture's unit: a float prints all its digits.
fn hundredths(x: f32) -> f32 {
    (x * 100.0).round() / 100.0
}

/// The 88 notes at the places of their keys. Each bar's offset from the center line is its deviation from the target,
/// so the strip shows the evenness while it is being made.
#[component]
pub fn Strip(
    /// The bars, and their counts in words.
    bars: Memo<(Bars, String)>,
    /// The note that is being read.
    current: Memo<Option<Note>>,
    /// How far it is drawn wider than the screen: 0 not at all, 1 twice, 2 four times.
    #[prop(into)]
    zoom: Signal<u8>,
    /// The last notes below the breaks.
    breaks: Vec<Note>,
    /// Called with the note that a finger or mouse is on.
    travel: Callback<Note>,
    /// Called with a note that was touched a second time, or held.
    mark: Callback<Note>,
    /// The notes that a key would sweep; a bracket below them.
    #[prop(into)]
    bracket: Signal<Option<(Note, Note)>>,
    /// Whether a range is chosen: a drag then takes it, and does not travel.
    #[prop(into)]
    ranging: Signal<bool>,
    /// Called with the ends of a drag while a range is chosen.
    drag: Callback<(Note, Note)>,
    /// Called when two fingers ask for a wider picture, or a narrower one.
    pinch: Callback<bool>,
) -> impl IntoView {
    let aim_half = BAND * 0.6;
    // The first note in view. It changes only when the current note leaves the view, so that the picture stays still
    // under a finger.
    let window = Memo::new(move |before: Option<&u8>| {
        let seen = SEEN >> zoom.get().min(2);
        let last_first = SEEN - seen;
        let before = before.copied().unwrap_or(0).min(last_first);
        let Some(at) = current.get().map(|n| n.number() - 1) else {
            return before;
        };
        if (before..before + seen).contains(&at) {
            before
        } else {
            at.saturating_sub(seen / 2).min(last_first)
        }
    });
    let wider = move || f32::from(1u8 << zoom.get().min(2));
    let along = move || {
        let wider = wider();
        format!(
            "translate({} 0) scale({} .1)",
            hundredths(-4.0 * wider * f32::from(window.get())),
            hundredths(wider / 10.0)
        )
    };
    let to_note = move |event: &web_sys::PointerEvent| {
        let target: web_sys::Element = event.current_target()?.dyn_into().ok()?;
        let rect = target.get_bounding_client_rect();
        // The picture is 360 by 127, centered if its box has another ratio.
        let scale = (rect.width() / 360.0).min(rect.height() / 127.0).max(0.01);
        let left = rect.left() + (rect.width() - 360.0 * scale) / 2.0;
        let along = (f64::from(event.client_x()) - left) / scale - 4.0;
        let wide = f64::from(4u8 << zoom.get_untracked().min(2));
        let from = i64::from(window.get_untracked());
        Note::new(from + (along / wide).floor().clamp(0.0, 87.0) as i64 + 1)
            .or_else(|_| Note::new(88))
            .ok()
    };
    // The position of each finger on the picture. Two fingers pinch and select no note: their first distance is kept
    // until all are lifted.
    let fingers = StoredValue::new(Vec::<(i32, i32)>::new());
    let apart = StoredValue::new(0i32);
    let span = move || fingers.with_value(|f| f.len().eq(&2).then(|| (f[0].1 - f[1].1).abs()));
    let touch = move |event: &web_sys::PointerEvent| {
        let (id, x) = (event.pointer_id(), event.client_x());
        fingers.update_value(|f| match f.iter_mut().find(|f| f.0 == id) {
            Some(finger) => finger.1 = x,
            None => f.push((id, x)),
        });
    };
    // The note where the finger came down, until it is lifted or held; the number tells a hold from a later one.
    let pressed = StoredValue::new((0u32, None::<(Note, (i32, i32))>));
    // The note touched last, while the pass stands there.
    let touched = StoredValue::new(None::<Note>);
    let down = move |event: web_sys::PointerEvent| {
        touch(&event);
        apart.set_value(span().unwrap_or(0));
        let place = (event.client_x(), event.client_y());
        let press = pressed.get_value().0 + 1;
        pressed.set_value((press, to_note(&event).map(|note| (note, place))));
        let held = move || {
            let held = pressed.try_get_value().filter(|p| p.0 == press);
            if let Some((_, Some((note, _)))) = held
                && !ranging.get_untracked()
                && apart.get_value() == 0
            {
                pressed.set_value((press, None));
                touched.set_value(Some(note));
                mark.run(note);
            }
        };
        set_timeout(held, HOLD);
    };
    let go = move |event: &web_sys::PointerEvent| {
        // Held, or lifted over the picture without having come down there.
        let Some((from, _)) = pressed.get_value().1 else {
            return;
        };
        let Some(note) = to_note(event).filter(|_| apart.get_value() == 0) else {
            return;
        };
        match ranging.get_untracked() {
            true => drag.run((from, note)),
            false => travel.run(note),
        }
    };
    let moved = move |event: web_sys::PointerEvent| {
        if event.buttons() & 1 == 0 {
            return;
        }
        touch(&event);
        let (Some(now), before) = (span(), apart.get_value()) else {
            // A finger that trembles stays where it is: a hold is no drag.
            let is_still = |(x, y): (i32, i32)| {
                (event.client_x() - x).abs() < MIN_DRAG && (event.client_y() - y).abs() < MIN_DRAG
            };
            let (press, from) = pressed.get_value();
            if from.is_some_and(|(_, place)| !is_still(place)) {
                // From here on no hold.
                pressed.set_value((press + 1, from));
                touched.set_value(None);
                go(&event);
            }
            return;
        };
        // A change to 3/2 or 2/3 counts as a pinch.
        if 2 * now > 3 * before.max(40) || 3 * now < 2 * before {
            pinch.run(now > before);
            apart.set_value(now);
        }
    };
    let lifted = move |event: web_sys::PointerEvent| {
        fingers.update_value(|f| f.retain(|f| f.0 != event.pointer_id()));
    };
    let up = move |event: web_sys::PointerEvent| {
        let (press, from) = pressed.get_value();
        let note = from.map(|(note, _)| note);
        let again = note.filter(|_| touched.get_value() == note && current.get_untracked() == note);
        match again.filter(|_| !ranging.get_untracked() && apart.get_value() == 0) {
            Some(note) => mark.run(note),
            None => {
                go(&event);
                touched.set_value(note.filter(|n| current.get_untracked() == Some(*n)));
            }
        }
        pressed.set_value((press + 1, None));
        lifted(event);
    };
    // A note that is gone to moves what stands here: the click of this touch would fall on another key.
    let no_click = |event: web_sys::TouchEvent| event.prevent_default();
    let cancelled = move |event: web_sys::PointerEvent| {
        pressed.update_value(|p| *p = (p.0 + 1, None));
        lifted(event);
    };
    let mark = move || {
        let from = 4.0 * f32::from(window.get());
        let x = current
            .get()
            .map_or(-20.0, |n| (center(n) - from) * wider());
        let x = hundredths(x);
        format!("M{x} 115l4-6h-8zM{x} 1l4 6h-8z")
    };
    let bracketed = move || {
        let (one, other) = bracket.get()?;
        let first = 4.0 * f32::from(window.get());
        let x = |key: f32| hundredths((4.0 * key - first) * wider());
        let from = x(f32::from(one.min(other).number()) - 1.0);
        let to = x(f32::from(one.max(other).number()));
        Some(format!("M{from} 97v6H{to}v-6"))
    };
    let broken: String = breaks
        .into_iter()
        .map(|b| format!("M{} 90v980", i32::from(b.number()) * 40))
        .collect();
    view! {
        <svg class="strip" viewBox="-4 0 360 127" role="img" aria-label=move || bars.with(|b| b.1.clone()) on:touchend=no_click on:pointerdown=down on:pointermove=moved
            on:pointerup=up on:pointercancel=cancelled on:pointerleave=cancelled on:contextmenu=|event| event.prevent_default()>
            <defs>
                <pattern id="hatch" width="22" height="22" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
                    <rect class="hatch-line" width="11" height="22"/>
                </pattern>
            </defs>
            <rect class="accept" x="0" y=MIDDLE - BAND width="352" height=2.0 * BAND/>
            <rect class="aim" x="0" y=MIDDLE - aim_half width="352" height=2.0 * aim_half/>
            <g transform=along>
                <path class="break" d=broken/>
                {BarShape::ALL
                    .map(|shape| view! { <path class=shape.class() d=move || bars.with(|b| outlines(&b.0, shape))/> })
                    .collect_view()}
                <path class="notch" d=move || bars.with(|b| notches(&b.0))/>
            </g>
            <path class="bracket" class:ranging=move || ranging.get() d=bracketed/>
            {labelled()
                .map(|note| {
                    // The names of the lowest C and A would overlap when all notes are shown.
                    let crowded = move || note.number() == 4 && zoom.get() == 0;
                    let from = move || f32::from(note.number()) - 0.5 - f32::from(window.get());
                    view! { <text class="key-name" x=move || 4.0 * wider() * from() y="125" class:absent=crowded>{note.name()}</text> }
                })
                .collect_view()}
            <path class="here" d=mark/>
        </svg>
    }
}

/// Returns the notes whose names are shown below the strip: the lowest, and every C.
fn labelled() -> impl Iterator<Item = Note> {
    Note::all().filter(|n| n.number() == 1 || n.number() % 12 == 4)
}

fn center(note: Note) -> f32 {
    f32::from(note.number()) * 4.0 - 2.0
}
