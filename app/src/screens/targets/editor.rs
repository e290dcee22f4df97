//! The target of one measure, for the job, a section or a note.

mod bands;
mod grades;
mod history;
mod scope;
mod share;
mod state;

use evenhand_core::job::Scope;
use evenhand_core::trade::{HOUSE_PITCHES, Measure, Shape, Target, pitch_target};
use leptos::prelude::*;

use crate::state::Session;
use state::Editor;

/// Shows the fields of a measure's target, and records what is typed there.
pub fn editor(session: Session, measure: StoredValue<Measure>) -> impl IntoView {
    let editor = Editor::new(session, measure);
    let Editor { scope, target, .. } = editor;
    let number = measure.with_value(|m| m.kind.is_number());
    let shape = Memo::new(move |_| target.with(|t| t.as_ref().map_or(Shape::Flat, Target::shape)));
    // Another scope, shape or format gets new fields, which take over nothing typed before; a changed aim only fills
    // its field.
    let which = move || [(shape.get(), scope.get(), editor.limits.get())];
    let fields = move |shape: Shape| match (number, shape) {
        (false, _) => grades::grades(editor).into_any(),
        (true, Shape::Flat) => bands::flat(editor).into_any(),
        (true, Shape::BySection) => bands::by_section(editor).into_any(),
        (true, Shape::Tapered) => bands::tapered(editor).into_any(),
        (true, Shape::ShareOf) => share::share(editor).into_any(),
    };
    let shapes =
        move || (number && scope.get() == Scope::Job).then(|| scope::shapes(editor, shape));
    let house = measure.with_value(|m| m.id.as_str() == "pitch_a4").then(|| {
        let pitch = |of: i64| {
            let choose = move |_| drop(editor.set(pitch_target(of)));
            view! { <button class="button" type="button" on:click=choose>{of / 1000}" Hz"</button> }
        };
        view! { <div class="selects" role="group" aria-label="House pitch">{HOUSE_PITCHES.map(pitch).into_iter().collect_view()}</div> }
    });
    view! {
        {scope::scopes(editor)}
        {house}
        {shapes}
        <For each=which key=|which| *which let((shape, _, _))>{fields(shape)}</For>
        {history::standing(editor)}
        {history::history(editor)}
    }
}
