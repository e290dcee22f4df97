//! What follows from the target, where its default comes from, and how it was changed.

use evenhand_core::analysis::targets::out_now;
use evenhand_core::job::{Scope, State, TargetChange};
use leptos::prelude::*;

use super::state::Editor;
use crate::device::local_time;
use crate::text;

/// What follows from the target, the source of its default, and a button back to it.
pub fn standing(editor: Editor) -> impl IntoView {
    let session = editor.session;
    let out = move || {
        let id = editor.id();
        match session
            .app
            .with_state(|s| out_now(s, id.as_str()))
            .unwrap_or_default()
        {
            (0, _) if matches!(id.as_str(), "balance_weight" | "friction") => {
                "It follows from down and up weight; the profile shows it.".to_owned()
            }
            (0, _) => "Nothing measured against it yet.".to_owned(),
            (read, 0) => format!("None of the {read} measured is out."),
            (read, out) => format!("{out} of the {read} measured are out."),
        }
    };
    let default = session.app.with_state_untracked(|s| {
        let id = editor.id();
        let trade = s.measure(id.as_str())?.target.as_ref()?;
        Some(text::target(s, id.as_str(), Some(trade), s.length_unit()))
    });
    let source = editor.measure.with_value(|m| m.source);
    let default = match (default.flatten(), source) {
        (Some(target), Some(source)) => format!("Default: {target}. {source}."),
        (Some(target), None) => format!("Default: {target}."),
        (None, _) => "There is no default; it is your figure.".to_owned(),
    };
    let set = move || {
        let id = editor.id();
        session
            .app
            .with_state(|s| s.target_set(id.as_str(), editor.scope.get()).is_some())
            == Some(true)
    };
    let back = move || {
        let words = match editor.scope.get() {
            Scope::Job => "Back to the default",
            Scope::Section(_) => "Back to the job’s target",
            Scope::Note(_) => "Back to the wider target",
        };
        set().then(|| view! {
            <button class="button" type="button" on:click=move |_| editor.record(None)>{words}</button>
        })
    };
    view! {
        <p role="status">{out}</p>
        <p class="quiet">{default}</p>
        {back}
    }
}

/// The changes of the target so far.
pub fn history(editor: Editor) -> impl IntoView {
    let session = editor.session;
    let rows = move || {
        let id = editor.id();
        let row = |s: &State, c: &TargetChange| {
            let target = text::target(s, id.as_str(), c.target.as_ref(), s.length_unit());
            let back = if c.is_alive() { "" } else { ", taken back" };
            let when = local_time::day_and_time(c.at_ms);
            let about = format!("{}, {when}{back}", text::scope(c.scope));
            view! { <li><span>{target} <small>{about}</small></span></li> }
        };
        let all = |s: &State| -> Vec<_> {
            let history = s.target_history(id.as_str());
            history.iter().rev().map(|c| row(s, c)).collect()
        };
        let rows = session.app.with_state(all).unwrap_or_default();
        (!rows.is_empty()).then(|| view! { <h3>"Changes so far"</h3><ul class="rows">{rows}</ul> })
    };
    view! { {rows} }
}
