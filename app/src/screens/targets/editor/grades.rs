//! The choice of the wanted answer of a graded measure, and of those that are acceptable.

use evenhand_core::trade::{Band, Target};
use leptos::prelude::*;

use super::state::{Editor, bands};

/// The selects of the wanted answer, and of those that are acceptable.
pub fn grades(editor: Editor) -> impl IntoView {
    let band = Memo::new(move |_| {
        editor
            .target
            .with(|t| t.as_ref().and_then(|t| bands(t).first().copied()))
    });
    let words = editor.measure.with_value(|m| m.grades.clone());
    // What is acceptable includes the wanted answer, so other choices are disabled.
    let select = |label: &'static str, side: usize| {
        let of = move |b: &Band| [Some(b.aim), b.accept.0, b.accept.1][side];
        let allowed = move |b: &Band, at: i64| [true, at <= b.aim, b.aim <= at][side];
        let options: Vec<_> = words
            .iter()
            .enumerate()
            .map(|(place, word)| {
                let at = place as i64;
                let chosen = move || band.get().as_ref().and_then(of) == Some(at);
                let closed = move || band.get().is_some_and(|b| !allowed(&b, at));
                view! { <option value=at.to_string() prop:selected=chosen disabled=closed>{word.to_string()}</option> }
            })
            .collect();
        let change = move |event| {
            let read = event_target_value(&event).parse::<i64>();
            if let (Some(band), Ok(at)) = (band.get_untracked(), read) {
                drop(editor.set(Target::Flat(with_answer(band, side, at))));
            }
        };
        view! {
            <label class="field"><span>{label}</span><select on:change=change>{options}</select></label>
        }
    };
    view! {
        <div class="selects">
            {select("On target", 0)} {select("Acceptable from", 1)} {select("to", 2)}
        </div>
    }
}

/// Returns the band of a grade with another answer: the one that is wanted (0), the lowest (1) or the
/// highest (2) that is acceptable.
fn with_answer(mut band: Band, side: usize, at: i64) -> Band {
    match side {
        0 => {
            band.aim = at;
            band.within = (Some(at), Some(at));
            band.accept = (
                band.accept.0.map(|low| low.min(at)),
                band.accept.1.map(|high| high.max(at)),
            );
        }
        1 => band.accept.0 = Some(at),
        _ => band.accept.1 = Some(at),
    }
    band
}
