//! A group of radio buttons.

use leptos::prelude::*;

/// Radio buttons in a fieldset.
#[component]
pub fn RadioGroup(
    /// What is chosen.
    legend: &'static str,
    /// A name that is unique on the screen.
    #[prop(into)]
    group: String,
    /// The choices in words.
    words: &'static [&'static str],
    /// Which is chosen, from 0.
    #[prop(into)]
    chosen: Signal<usize>,
    /// Called with the index that is chosen.
    choose: Callback<usize>,
    /// A sentence below it.
    #[prop(default = "")]
    note: &'static str,
    /// Whether it can be chosen here at all.
    #[prop(default = true)]
    can: bool,
) -> impl IntoView {
    let one = move |(at, word): (usize, &'static str)| {
        view! {
            <label>
                <input type="radio" name=group.clone() disabled=!can prop:checked=move || chosen.get() == at
                    on:change=move |_| choose.run(at)/>
                {word}
            </label>
        }
    };
    view! {
        <fieldset>
            <legend>{legend}</legend>
            <div class="choice">{words.iter().copied().enumerate().map(one).collect_view()}</div>
            {(!note.is_empty()).then(|| view! { <small>{note}</small> })}
        </fieldset>
    }
}
