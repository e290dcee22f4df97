//! For what a target is, and how it runs over the notes.

use evenhand_core::analysis::targets::target_as;
use evenhand_core::job::Scope;
use evenhand_core::note::Note;
use evenhand_core::trade::{Per, Shape};
use leptos::prelude::*;

use super::state::Editor;
use crate::parts::note_select::NoteSelect;
use crate::parts::radio_group::RadioGroup;
use crate::text;

/// The choice of the job, a section or a note. `None` if the measure has no narrower target.
pub fn scopes(editor: Editor) -> Option<impl IntoView> {
    let chosen = Signal::derive(move || match editor.scope.get() {
        Scope::Job => 0,
        Scope::Section(_) => 1,
        Scope::Note(_) => 2,
    });
    let choose = Callback::new(move |at: usize| {
        editor.scope.set(match at {
            0 => Scope::Job,
            1 => Scope::Section(0),
            _ => Scope::Note(Note::FIRST),
        });
    });
    let name = editor.measure.with_value(|m| format!("scope-{}", m.id));
    let which = move || match editor.scope.get() {
        Scope::Job => ().into_any(),
        Scope::Section(at) => section_select(editor, at).into_any(),
        Scope::Note(note) => {
            let choose = Callback::new(move |n| editor.scope.set(Scope::Note(n)));
            view! { <NoteSelect label="Note" note=Signal::stored(note) choose/> }.into_any()
        }
    };
    // A measure of the whole has no narrower target, and a measure by section none for a note.
    let words: &[&str] = match editor.per() {
        Per::Whole => return None,
        Per::Section => &["Job", "Section"],
        _ => &["Job", "Section", "Note"],
    };
    Some(view! {
        <RadioGroup legend="For" group=name words chosen choose/>
        {which}
    })
}

fn section_select(editor: Editor, chosen: u8) -> impl IntoView {
    let sections = editor.sections();
    let change = move |event| {
        if let Ok(at) = event_target_value(&event).parse() {
            editor.scope.set(Scope::Section(at));
        }
    };
    let options: Vec<_> = (0..sections.count())
        .map(|at| {
            let words = format!("Section {}", text::section(&sections, at));
            view! { <option value=at.to_string() selected=at == usize::from(chosen)>{words}</option> }
        })
        .collect();
    view! {
        <label class="field"><span>"Section"</span><select on:change=change>{options}</select></label>
    }
}

/// The choice of the shape over the notes. `None` if the measure has but one.
pub fn shapes(editor: Editor, shape: Memo<Shape>) -> Option<impl IntoView> {
    let chosen = Signal::derive(move || {
        let shape = shape.get();
        Shape::ALL.iter().position(|s| *s == shape).unwrap_or(0)
    });
    let choose = Callback::new(move |at: usize| {
        let wanted = Shape::ALL.get(at).copied().unwrap_or(Shape::Flat);
        let id = editor.id();
        let target = editor
            .session
            .app
            .with_state_untracked(|s| target_as(s, id.as_str(), wanted))
            .flatten();
        match target {
            Some(target) => drop(editor.set(target)),
            None => editor
                .session
                .app
                .notify("There is no aim to start from yet. Set one first."),
        }
    });
    let name = editor.measure.with_value(|m| format!("shape-{}", m.id));
    let words: &[&str] = match editor.per() {
        Per::Whole => return None,
        Per::Section => &["The same", "By section"],
        _ => &["The same", "By section", "Tapered", "Percent"],
    };
    Some(view! {
        <RadioGroup legend="Over the notes" group=name words chosen choose/>
    })
}
