use leptos::prelude::*;

use crate::desk::desk;
use crate::parts::gate::Gate;
use crate::parts::header::{Header, Saved};
use crate::place::Screen;

/// What the instrument is like, and for whom the job is.
#[component]
pub fn SetupScreen(
    /// The part that is opened.
    part: &'static str,
) -> impl IntoView {
    let back = desk().screen.with_untracked(|s| s.job()).map(Screen::Order);
    view! {
        <Gate>
            <Header
                back=back.as_ref().map(Screen::href).unwrap_or_default()
                back_label="Back to the order"
                title=Signal::stored("Setup".to_owned())
            >
                <Saved/>
            </Header>
            <main class="page" id=part></main>
        </Gate>
    }
}
