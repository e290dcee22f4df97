use evenhand_core::trade::MeasureId;
use leptos::prelude::*;

use crate::desk::desk;
use crate::parts::gate::Gate;
use crate::parts::header::{Header, Saved};
use crate::place::Screen;

/// Each target and tolerance, and the travel balance.
#[component]
pub fn Targets(
    /// The measure whose target is opened.
    measure: MeasureId,
) -> impl IntoView {
    let back = desk().screen.with_untracked(|s| s.job()).map(Screen::Order);
    view! {
        <Gate>
            <Header
                back=back.as_ref().map(Screen::href).unwrap_or_default()
                back_label="Back to the order"
                title=Signal::stored("Targets".to_owned())
            >
                <Saved/>
            </Header>
            <main class="page" id=measure.to_string()></main>
        </Gate>
    }
}
