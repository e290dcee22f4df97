//! The keys that settle the rest of a section, or of the whole row, in one touch.

use evenhand_core::analysis::sweep::{SweepNotes, SweepReach, sweep_notes};
use evenhand_core::job::{EntryKind, State};
use leptos::prelude::*;

use super::state::{PassState, first_unread};
use crate::device::local_time;
use crate::text;

/// The keys, where a sweep would settle two notes or more: nothing while something is typed, and nothing while what the
/// step needs dry still dries, which is asked about by the first single entry.
#[component]
pub fn SweepKeys(pass: PassState) -> impl IntoView {
    let offers = Memo::new(move |_| {
        if pass.typed.with(|t| !t.is_empty()) {
            return Vec::new();
        }
        let Some(item) = pass.item() else {
            return Vec::new();
        };
        let offers = |state: &State| {
            pass.step.with_value(|step| {
                let dries = state.drying_before(step, local_time::now_ms()).is_some();
                if dries || state.item_state(step, &item).is_valid() {
                    return Vec::new();
                }
                let of = |reach| sweep_notes(state, step, &item, reach).map(|s| (reach, s));
                let (section, row) = (of(SweepReach::Section), of(SweepReach::Row));
                // One section is the whole row.
                let is_row =
                    |s: &(SweepReach, SweepNotes)| row.as_ref().is_some_and(|r| r.1 == s.1);
                let section = section.filter(|s| !is_row(s));
                section.into_iter().chain(row).collect()
            })
        };
        pass.session.app.with_state(offers).unwrap_or_default()
    });
    let key = move |(reach, sweep): (SweepReach, SweepNotes)| {
        let says = pass
            .measure()
            .map(|m| text::swept_key(&m, reach == SweepReach::Row));
        let notes = text::swept_range(&sweep);
        let record = move |_| pass.sweep(&sweep);
        view! {
            <button class="button sweep" type="button" on:click=record>
                <span>{says}</span>
                <small>{notes}</small>
            </button>
        }
    };
    move || {
        let offers = offers.get();
        (!offers.is_empty()).then(
            || view! { <div class="sweeps">{offers.into_iter().map(key).collect_view()}</div> },
        )
    }
}

impl PassState {
    /// Records a sweep of the current measure, and goes to the first item that is still to do.
    fn sweep(self, sweep: &SweepNotes) {
        let Some(item) = self.item_untracked() else {
            return;
        };
        self.session.record(EntryKind::Swept {
            measure: item.measure,
            notes: sweep.notes.clone(),
            place: self.place(),
            occasion: self.step.with_value(|s| s.occasion),
        });
        let step = self.step.get_value();
        let items = self.items.get_untracked();
        let next = |s: &State| first_unread(s, &step, &items);
        let app = self.session.app;
        self.go(app.with_state_untracked(next).unwrap_or(items.len()));
    }
}
