//! A select of one of the 88 notes.

use evenhand_core::note::Note;
use leptos::prelude::*;

/// A select of one of the 88 notes.
#[component]
pub fn NoteSelect(
    /// What the note is for.
    label: &'static str,
    /// The note that is chosen.
    #[prop(into)]
    note: Signal<Note>,
    /// Called with the note that is chosen.
    choose: Callback<Note>,
) -> impl IntoView {
    let change = move |event| {
        if let Ok(note) = event_target_value(&event).parse() {
            choose.run(note);
        }
    };
    let option = |n: Note| {
        let words = format!("{n}, {}", n.number());
        view! { <option value=n.number().to_string() prop:selected=move || note.get() == n>{words}</option> }
    };
    view! {
        <label class="field">
            <span>{label}</span>
            <select on:change=change>{Note::all().map(option).collect_view()}</select>
        </label>
    }
}
