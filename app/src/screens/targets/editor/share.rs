//! The fields of a target that is a share of another reading of the same note.

use evenhand_core::analysis::targets::shares;
use evenhand_core::trade::{Band, MeasureId, Target};
use leptos::prelude::*;

use super::state::Editor;
use crate::parts::fields::{FieldSpec, Fields, Validation};

/// The fields of a target that is a share of another reading.
pub fn share(editor: Editor) -> impl IntoView {
    let id = editor.id();
    let others = editor
        .session
        .app
        .with_state_untracked(|s| shares(s, id.as_str()))
        .unwrap_or_default();
    let share = move || match editor.target.get() {
        Some(Target::ShareOf {
            of,
            percent,
            within,
            accept,
        }) => Some((of, percent, within, accept)),
        _ => None,
    };
    let now = Signal::derive(move || {
        let Some((_, percent, within, accept)) = share() else {
            return vec![String::new(); 3];
        };
        let widths =
            editor.with_format(|format| format.texts(Some(&Band::even(0, within, accept))));
        vec![percent.to_string(), widths[1].clone(), widths[2].clone()]
    });
    let record = Callback::new(move |(texts, _): (Vec<String>, bool)| {
        let (Some((of, ..)), Ok(percent)) = (
            untrack(share),
            texts[0].trim().trim_end_matches('%').trim_end().parse(),
        ) else {
            return Validation::Refused("Type a whole percentage, such as 50.".to_owned());
        };
        let zero = ["0".to_owned(), texts[1].clone(), texts[2].clone()];
        match editor
            .with_format(|format| format.read(&zero, true))
            .map(|band| band.widths())
        {
            Ok(Some((within, accept))) => editor.set(Target::ShareOf {
                of,
                percent,
                within,
                accept,
            }),
            Ok(None) => {
                Validation::Refused("The acceptable range is as wide above as below.".to_owned())
            }
            Err(kept) => kept,
        }
    });
    let names: Vec<_> = others
        .iter()
        .map(|m| {
            let id = m.id.clone();
            let chosen = move || share().is_some_and(|(of, ..)| of == id);
            view! { <option value=m.id.to_string() prop:selected=chosen>{m.name.to_string()}</option> }
        })
        .collect();
    let change = move |event| {
        if let Some((_, percent, within, accept)) = untrack(share) {
            let of = MeasureId::from(event_target_value(&event).as_str());
            drop(editor.set(Target::ShareOf {
                of,
                percent,
                within,
                accept,
            }));
        }
    };
    let mut specs = editor.with_format(|format| format.specs());
    specs.truncate(3);
    specs[0] = FieldSpec::number("Percent", "%");
    view! {
        <label class="field"><span>"Of the same note’s reading of"</span><select on:change=change>{names}</select></label>
        <Fields key=editor.key("share") specs now record/>
    }
}
