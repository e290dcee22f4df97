use evenhand_core::trade::StepId;
use leptos::prelude::*;

use crate::desk::desk;
use crate::parts::gate::Gate;
use crate::parts::header::{Header, Saved};
use crate::place::Screen;

/// What to do to which note, in working order.
#[component]
pub fn Corrections(
    /// The step.
    step: StepId,
) -> impl IntoView {
    let back = desk().screen.with_untracked(|s| s.job()).map(Screen::Order);
    view! {
        <Gate>
            <Header
                back=back.as_ref().map(Screen::href).unwrap_or_default()
                back_label="Back to the order"
                title=Signal::stored("Corrections".to_owned())
            >
                <Saved/>
            </Header>
            <main class="page" id=step.to_string()></main>
        </Gate>
    }
}
