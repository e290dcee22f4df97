//! Fields for typed values, with drafts, refusals and confirmations.

use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::refusal::Refusal;
use crate::device;
use crate::state::use_session;
use crate::storage::local_storage;

/// What became of typed fields.
pub enum Validation {
    /// It is recorded.
    Accepted,
    /// It is not recorded, with the reason. It stays in the field.
    Refused(String),
    /// It is recorded once the user confirms it, with the question.
    Confirm(String),
}

/// What is typed into a field.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum InputKind {
    /// A number, with a point, a fraction or a unit.
    Number,
    /// One line of text.
    Text,
    /// Several lines of text.
    MultilineText,
}

/// One field of a group.
#[derive(Clone)]
pub struct FieldSpec {
    /// What it is.
    pub label: String,
    /// The unit of a bare number.
    pub unit: &'static str,
    /// What is typed into it.
    pub kind: InputKind,
}

impl FieldSpec {
    /// Returns a field for a number in a unit.
    pub fn number(label: impl Into<String>, unit: &'static str) -> FieldSpec {
        FieldSpec {
            label: label.into(),
            unit,
            kind: InputKind::Number,
        }
    }

    /// Returns a field for one line of text.
    pub fn text(label: impl Into<String>) -> FieldSpec {
        FieldSpec {
            label: label.into(),
            unit: "",
            kind: InputKind::Text,
        }
    }
}

/// Fields that are recorded together when the focus leaves them.
///
/// What is typed is stored as a draft with each key, and stays until it is recorded: a refused value stays in its field
/// with a sentence beside it, and so does one that an empty battery left behind.
#[component]
pub fn Fields(
    /// A name that is unique in the job, for the element's id and the draft.
    key: String,
    /// What the fields are together; empty for a single field.
    #[prop(optional, into)]
    legend: String,
    /// The fields.
    specs: Vec<FieldSpec>,
    /// The recorded texts, field by field.
    now: Signal<Vec<String>>,
    /// Records the texts, or refuses them; called with `true` once the user has confirmed them.
    record: Callback<(Vec<String>, bool), Validation>,
    /// A sentence below the fields.
    #[prop(optional, into)]
    note: Signal<String>,
    /// The text of a button; with one, the fields are recorded by it and not by leaving them.
    #[prop(default = "")]
    button: &'static str,
) -> impl IntoView {
    let session = use_session();
    let job = session.app.job_untracked();
    let draft_key = job
        .map(|job| format!("typed/{job}/{key}"))
        .unwrap_or_default();
    let draft: Option<Vec<String>> =
        local_storage::draft(&draft_key).filter(|t| t.len() == specs.len());
    let has_draft = draft.is_some();
    let typed = RwSignal::new(draft.unwrap_or_else(|| now.get_untracked()));
    let dirty = RwSignal::new(has_draft);
    let message = RwSignal::new(match has_draft {
        true => "Typed earlier, not saved yet.".to_owned(),
        false => String::new(),
    });
    let asked = RwSignal::new(false);
    let draft_key = StoredValue::new(draft_key);
    Effect::new(move |_| {
        let now = now.get();
        if !dirty.get_untracked() {
            typed.set(now);
        }
    });
    let submit = move |confirmed: bool| -> bool {
        let validation = record.run((typed.get_untracked(), confirmed));
        let (words, asks) = match validation {
            Validation::Accepted => {
                dirty.set(false);
                draft_key.with_value(|key| local_storage::remove_draft(key));
                typed.set(now.get_untracked());
                (String::new(), false)
            }
            Validation::Refused(words) => (words, false),
            Validation::Confirm(words) => (words, true),
        };
        message.set(words);
        asked.set(asks);
        !dirty.get_untracked()
    };
    let by_leaving = button.is_empty();
    // A field that is taken out of the page loses the focus after its signals were disposed of.
    let left = move |event: web_sys::FocusEvent| {
        if by_leaving && dirty.try_get_untracked() == Some(true) && !stays_inside(&event) {
            submit(false);
        }
    };
    let count = specs.len();
    let several = count > 1;
    let enter = move |at: usize| {
        let whole = typed.with_untracked(|t| t.iter().all(|text| !text.trim().is_empty()));
        let ends = whole || at + 1 == count;
        if !ends || !dirty.get_untracked() || submit(false) {
            device::focus_next(".fields :is(input, textarea)");
        }
    };
    let id = format!("typed-{key}");
    let message_id = format!("{id}-said");
    let about = message_id.clone();
    let field = |(at, spec): (usize, FieldSpec)| {
        let input = move |event| {
            let text = event_target_value(&event);
            typed.update(|t| {
                if let Some(own) = t.get_mut(at) {
                    *own = text;
                }
            });
            dirty.set(true);
            asked.set(false);
            draft_key.with_value(|key| typed.with_untracked(|t| local_storage::set_draft(key, t)));
        };
        let keydown = move |event: web_sys::KeyboardEvent| {
            if event.key() == "Enter" {
                event.prevent_default();
                enter(at);
            }
        };
        let text = move || typed.with(|t| t.get(at).cloned().unwrap_or_default());
        let invalid = move || (!message.with(String::is_empty)).then_some("true");
        let id = format!("{id}-{at}");
        let about = about.clone();
        let mode = if spec.kind == InputKind::Number {
            "decimal"
        } else {
            "text"
        };
        let control = match spec.kind {
            InputKind::MultilineText => view! {
                <textarea id=id rows="3" maxlength="2000" aria-describedby=about prop:value=text on:input=input></textarea>
            }
            .into_any(),
            _ => view! {
                <input id=id type="text" autocomplete="off" maxlength="300" inputmode=mode aria-describedby=about
                    aria-invalid=invalid prop:value=text on:input=input on:keydown=keydown/>
            }
            .into_any(),
        };
        let unit = (!spec.unit.is_empty()).then(|| view! { <small>{spec.unit}</small> });
        view! { <label class="field"><span>{spec.label} {unit}</span>{control}</label> }
    };
    let rows = specs.into_iter().enumerate().map(field).collect_view();
    let role = (!legend.is_empty()).then_some("group");
    let head = (!legend.is_empty())
        .then(|| view! { <p class="fields-head" aria-hidden="true">{legend.clone()}</p> });
    view! {
        <div class="fields" class:several=several data-fields=key role=role aria-label=legend.clone() on:focusout=left>
            {head}
            <div class="fields-row">
                {rows}
                {(!by_leaving)
                    .then(|| {
                        view! {
                            <button class="button" type="button" on:click=move |_| { submit(false); }>
                                {button}
                            </button>
                        }
                    })}
            </div>
            <div id=message_id class="fields-said">
                <Refusal words=message/>
                <p class="quiet">{note}</p>
            </div>
            {move || {
                asked
                    .get()
                    .then(|| {
                        view! {
                            <button class="button" type="button" on:click=move |_| { submit(true); }>
                                "Keep it as it is"
                            </button>
                        }
                    })
            }}
        </div>
    }
}

/// Returns whether the focus stays inside the element that handles the event.
fn stays_inside(event: &web_sys::FocusEvent) -> bool {
    let node = |target: Option<web_sys::EventTarget>| target?.dyn_into::<web_sys::Node>().ok();
    let (group, to) = (node(event.current_target()), node(event.related_target()));
    group
        .zip(to)
        .is_some_and(|(group, to)| group.contains(Some(&to)))
}
