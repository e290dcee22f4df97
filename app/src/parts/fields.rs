use leptos::prelude::*;
use wasm_bindgen::JsCast;

use crate::device;
use crate::state::use_session;
use crate::storage::local_storage;

/// What became of what was typed.
pub enum Kept {
    /// It is kept.
    Yes,
    /// It is not, and why. It stays typed.
    No(String),
    /// It is kept once it is confirmed; the question.
    Ask(String),
}

/// How a field is filled in.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// A number, with a point, a fraction or a unit.
    Number,
    /// Words.
    Words,
    /// Several lines of words.
    Lines,
}

/// One field of a group.
#[derive(Clone)]
pub struct Spec {
    /// What it is.
    pub label: String,
    /// The unit of a bare number.
    pub unit: &'static str,
    /// How it is filled in.
    pub form: Form,
}

impl Spec {
    /// A number in a unit.
    pub fn number(label: impl Into<String>, unit: &'static str) -> Spec {
        Spec {
            label: label.into(),
            unit,
            form: Form::Number,
        }
    }

    /// Words.
    pub fn words(label: impl Into<String>) -> Spec {
        Spec {
            label: label.into(),
            unit: "",
            form: Form::Words,
        }
    }
}

/// Fields that are kept together, as one thing, when the hand leaves them.
///
/// What is typed is put aside with each key, and stays until it is kept: a refused value stands
/// in its field with a sentence beside it, and so does one that a dead battery left behind.
#[component]
pub fn Fields(
    /// A name of its own in the job, for the page and for what is put aside.
    key: String,
    /// What the fields are together; nothing for a field that stands alone.
    #[prop(optional, into)]
    legend: String,
    /// The fields.
    specs: Vec<Spec>,
    /// What stands, field by field.
    now: Signal<Vec<String>>,
    /// Keeps what is typed; with `true` although it was asked about.
    keep: Callback<(Vec<String>, bool), Kept>,
    /// A sentence below the fields.
    #[prop(optional, into)]
    note: Signal<String>,
    /// With words for a button, the fields are kept by it and not by being left.
    #[prop(default = "")]
    button: &'static str,
) -> impl IntoView {
    let session = use_session();
    let job = session.app.route.with_untracked(|s| s.job());
    let kept_aside = job
        .map(|job| format!("typed/{job}/{key}"))
        .unwrap_or_default();
    let aside: Option<Vec<String>> =
        local_storage::draft(&kept_aside).filter(|t| t.len() == specs.len());
    let left_over = aside.is_some();
    let typed = RwSignal::new(aside.unwrap_or_else(|| now.get_untracked()));
    let dirty = RwSignal::new(left_over);
    let said = RwSignal::new(match left_over {
        true => "Typed earlier and not kept yet.".to_owned(),
        false => String::new(),
    });
    let asked = RwSignal::new(false);
    let aside = StoredValue::new(kept_aside);
    Effect::new(move |_| {
        let now = now.get();
        if !dirty.get_untracked() {
            typed.set(now);
        }
    });
    let commit = move |confirmed: bool| -> bool {
        let kept = keep.run((typed.get_untracked(), confirmed));
        let (words, asks) = match kept {
            Kept::Yes => {
                dirty.set(false);
                aside.with_value(|key| local_storage::remove_draft(key));
                typed.set(now.get_untracked());
                (String::new(), false)
            }
            Kept::No(words) => (words, false),
            Kept::Ask(words) => (words, true),
        };
        said.set(words);
        asked.set(asks);
        !dirty.get_untracked()
    };
    let by_leaving = button.is_empty();
    // A field that is taken out of the page loses the focus after its signals were disposed of.
    let left = move |event: web_sys::FocusEvent| {
        if by_leaving && dirty.try_get_untracked() == Some(true) && !stays_inside(&event) {
            commit(false);
        }
    };
    let count = specs.len();
    let several = count > 1;
    let enter = move |at: usize| {
        let whole = typed.with_untracked(|t| t.iter().all(|text| !text.trim().is_empty()));
        let ends = whole || at + 1 == count;
        if !ends || !dirty.get_untracked() || commit(false) {
            device::focus_next(".fields :is(input, textarea)");
        }
    };
    let id = format!("typed-{key}");
    let said_id = format!("{id}-said");
    let about = said_id.clone();
    let field = |(at, spec): (usize, Spec)| {
        let input = move |event| {
            let text = event_target_value(&event);
            typed.update(|t| {
                if let Some(own) = t.get_mut(at) {
                    *own = text;
                }
            });
            dirty.set(true);
            asked.set(false);
            aside.with_value(|key| typed.with_untracked(|t| local_storage::set_draft(key, t)));
        };
        let keydown = move |event: web_sys::KeyboardEvent| {
            if event.key() == "Enter" {
                event.prevent_default();
                enter(at);
            }
        };
        let text = move || typed.with(|t| t.get(at).cloned().unwrap_or_default());
        let invalid = move || (!said.with(String::is_empty)).then_some("true");
        let id = format!("{id}-{at}");
        let about = about.clone();
        let mode = if spec.form == Form::Number {
            "decimal"
        } else {
            "text"
        };
        let control = match spec.form {
            Form::Lines => view! {
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
                            <button class="button" type="button" on:click=move |_| { commit(false); }>
                                {button}
                            </button>
                        }
                    })}
            </div>
            <div id=said_id class="fields-said">
                <p class="refused" role="alert">{said}</p>
                <p class="quiet">{note}</p>
            </div>
            {move || {
                asked
                    .get()
                    .then(|| {
                        view! {
                            <button class="button" type="button" on:click=move |_| { commit(true); }>
                                "Keep it as it is"
                            </button>
                        }
                    })
            }}
        </div>
    }
}

/// Whether the focus goes from one part of an element to another.
fn stays_inside(event: &web_sys::FocusEvent) -> bool {
    let node = |target: Option<web_sys::EventTarget>| target?.dyn_into::<web_sys::Node>().ok();
    let (group, to) = (node(event.current_target()), node(event.related_target()));
    group
        .zip(to)
        .is_some_and(|(group, to)| group.contains(Some(&to)))
}
