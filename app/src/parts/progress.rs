use leptos::prelude::*;

/// What the program is busy with for more than half a second, and how far it has come.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Busy {
    /// With what, in words.
    pub with: &'static str,
    /// How far, in per cent; nothing where that is not known.
    pub percent: Option<usize>,
}

/// Says with what the program is busy, above a bar.
#[component]
pub fn Progress(busy: Busy) -> impl IntoView {
    let Busy { with, percent } = busy;
    let far = percent.map(|p| format!(" {p} %"));
    view! {
        <div class="busy" role="status">
            <p>{with}{far}</p>
            <progress max="100" value=percent.map(|p| p.to_string()) aria-label=with></progress>
        </div>
    }
}
