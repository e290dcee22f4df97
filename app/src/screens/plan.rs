use leptos::prelude::*;

use crate::desk::desk;
use crate::parts::gate::Gate;
use crate::parts::header::{Header, Saved};
use crate::place::Screen;

/// What can be done now, what cures until when, and when the job is finished.
#[component]
pub fn PlanScreen() -> impl IntoView {
    let back = desk().screen.with_untracked(|s| s.job()).map(Screen::Order);
    view! {
        <Gate>
            <Header
                back=back.as_ref().map(Screen::href).unwrap_or_default()
                back_label="Back to the order"
                title=Signal::stored("Plan".to_owned())
            >
                <Saved/>
            </Header>
            <main class="page"></main>
        </Gate>
    }
}
