//! The keys that settle the rest of a section, the whole row, or a range in one touch.

use evenhand_core::analysis::sweep::{SweepNotes, SweepReach, sweep_notes};
use evenhand_core::job::{EntryKind, Item, State};
use evenhand_core::note::Note;
use evenhand_core::trade::Per;
use evenhand_core::unit::Kind;
use leptos::prelude::*;

use super::state::{PassState, first_unread};
use crate::device::local_time;
use crate::text;

/// A sweep that a key offers: how far it reaches, from which item, and its notes.
pub type Offer = (SweepReach, Item, SweepNotes);

/// Returns the sweeps that are offered, where one would settle two notes or more: of the section of the item entered
/// last, otherwise of the current one, and of the row. None while what the step needs dry still dries, which is asked
/// about by the first single entry.
pub fn offered(pass: PassState) -> Vec<Offer> {
    let last = pass.last.get();
    let Some(item) = pass.item() else {
        return Vec::new();
    };
    let offers = |state: &State| {
        pass.step.with_value(|step| {
            if state.drying_before(step, local_time::now_ms()).is_some() {
                return Vec::new();
            }
            let of = |item: &Item, reach| {
                sweep_notes(state, step, item, reach).map(|s| (reach, item.clone(), s))
            };
            let own = last.as_ref().filter(|l| l.measure == item.measure);
            let own = own.and_then(|last| of(last, SweepReach::Section));
            if own.is_none() && state.item_state(step, &item).is_valid() {
                return Vec::new();
            }
            let section = own.or_else(|| of(&item, SweepReach::Section));
            let row = of(&item, SweepReach::Row);
            // One section is the whole row.
            let is_row = |s: &Offer| row.as_ref().is_some_and(|r| r.2 == s.2);
            let section = section.filter(|s| !is_row(s));
            section.into_iter().chain(row).collect()
        })
    };
    pass.session.app.with_state(offers).unwrap_or_default()
}

/// Returns whether a sweep of the row would end a step of ticks, so that a key can lead on to the next one.
pub fn ends_step(pass: PassState, offers: Memo<Vec<Offer>>) -> Signal<bool> {
    Signal::derive(move || {
        let dries = pass.step.with_value(|s| s.drying_minutes > 0);
        let is_tick = pass.measure().is_some_and(|m| m.kind == Kind::Tick);
        let is_row =
            |offers: &Vec<Offer>| offers.iter().any(|(reach, ..)| *reach == SweepReach::Row);
        is_tick && !dries && offers.with(is_row)
    })
}

/// The keys of what is offered. While something is typed, or beside a message, there is one: it enters what is typed,
/// and sweeps the rest.
#[component]
pub fn SweepKeys(
    pass: PassState,
    offers: Memo<Vec<Offer>>,
    /// Whether a message stands beside it.
    #[prop(optional)]
    beside: bool,
) -> impl IntoView {
    let typed = Memo::new(move |_| {
        let typed = pass.typed.get();
        let length = pass.session.app.length_unit_untracked();
        let measure = pass.measure()?;
        let value = measure.read_typed(&typed, length).ok()?;
        Some(measure.shown(value, length))
    });
    let key = move |(reach, item, sweep): Offer| {
        let Some(measure) = pass.measure() else {
            return ().into_any();
        };
        let is_row = reach == SweepReach::Row;
        let is_sample = pass.step.with_value(|s| s.per == Per::Sample);
        let says = move || match typed.get() {
            Some(value) => format!("Enter {value}, {}", text::swept_rest(&measure)),
            None if beside => text::capital(&text::swept_rest(&measure)),
            None => text::swept_key(&measure, is_row, is_sample),
        };
        let settled = sweep.count;
        // The range of the whole row is named by its first line.
        let notes = match is_sample || is_row && pass.has_sections() {
            true => text::counted(settled, "1 note", "notes"),
            false => text::swept_range(&sweep),
        };
        let notes = move || match (beside, typed.with(Option::is_some)) {
            (_, true) => text::counted(settled - 1, "1 note", "notes"),
            (true, false) => text::counted(settled, "1 note", "notes"),
            (false, false) => notes.clone(),
        };
        view! {
            <button class="button sweep" type="button" on:click=move |_| pass.enter_and_sweep(&item, reach)>
                <span>{says}</span>
                <small>{notes}</small>
            </button>
        }
        .into_any()
    };
    let one = move || beside || pass.typed.with(|t| !t.is_empty());
    let is_shown = move || typed.with(Option::is_some) || pass.typed.with(String::is_empty);
    let range = move || {
        (!one()).then(|| {
            view! { <button class="button sweep range" type="button" on:click=move |_| pass.begin_range()>"Range…"</button> }
        })
    };
    move || {
        let mut offers = offers.get();
        offers.truncate(if one() { 1 } else { 2 });
        (!offers.is_empty() && is_shown()).then(
            || view! { <div class="sweeps">{offers.into_iter().map(key).collect_view()}{range}</div> },
        )
    }
}

/// The key of a range that is being chosen on the strip, and the one that gives it up.
#[component]
pub fn RangeKeys(pass: PassState) -> impl IntoView {
    let sweep = Memo::new(move |_| {
        let ((one, other), item) = pass.range.get().zip(pass.item())?;
        let of = |s: &State| {
            pass.step
                .with_value(|step| sweep_notes(s, step, &item, SweepReach::Range(one, other)))
        };
        let sweep = pass.session.app.with_state(of)??;
        Some((item, sweep))
    });
    let notes = move || {
        let is_one = pass.range.get().is_some_and(|(one, other)| one == other);
        match sweep.get() {
            _ if is_one => "Drag along the strip".to_owned(),
            Some((_, sweep)) => text::swept_range(&sweep),
            None => "Nothing left in it".to_owned(),
        }
    };
    let says = pass.measure().map(|m| text::capital(text::swept_word(&m)));
    view! {
        <div class="sweeps range">
            <button class="button sweep" type="button" aria-disabled=move || sweep.with(Option::is_none).to_string()
                on:click=move |_| pass.sweep_range()>
                <span>{says}</span>
                <small>{notes}</small>
            </button>
            <button class="button" type="button" on:click=move |_| pass.range.set(None)>"Cancel"</button>
        </div>
    }
}

impl PassState {
    /// Enters what is typed, if anything is, and sweeps what is left as far as it reaches from an item.
    pub fn enter_and_sweep(self, item: &Item, reach: SweepReach) {
        if self.typed.with_untracked(|t| !t.is_empty()) {
            let at = self.at.get_untracked();
            self.enter_typed();
            // Refused, or asked about.
            if self.at.get_untracked() == at {
                return;
            }
        }
        let sweep = |s: &State| {
            self.step
                .with_value(|step| sweep_notes(s, step, item, reach))
        };
        if let Some(sweep) = self.session.app.with_state_untracked(sweep).flatten() {
            self.sweep(item, &sweep);
        }
    }

    /// Sweeps the row from the current item, and goes to the next step if nothing of this one is left.
    pub fn sweep_and_next(self) {
        if let Some(item) = self.item_untracked() {
            self.enter_and_sweep(&item, SweepReach::Row);
            self.next_if_done();
        }
    }

    /// Goes to the next step if nothing of this one is left to do or to look at.
    pub fn next_if_done(self) {
        let is_done = |s: &State| {
            self.step.with_value(|step| {
                let progress = s.progress_of(step);
                progress.is_read() && progress.turned == 0
            })
        };
        if self.session.app.with_state_untracked(is_done) == Some(true) {
            self.to_next_step();
        }
    }

    /// Returns whether the action has more than one section.
    fn has_sections(self) -> bool {
        let count = |s: &State| s.sections().count();
        self.session.app.with_state_untracked(count) > Some(1)
    }

    /// Begins to choose a range on the strip, at the current note.
    pub fn begin_range(self) {
        let note = self.item_untracked().and_then(|i| i.on.note());
        self.range.set(note.map(|note| (note, note)));
    }

    /// Takes a range from a drag along the strip; of a touch the nearer end.
    pub fn drag_range(self, from: Note, to: Note) {
        self.range.update(|range| {
            let Some((one, other)) = range else { return };
            if from != to {
                (*one, *other) = (from, to);
            } else if to.number().abs_diff(one.number()) < to.number().abs_diff(other.number()) {
                *one = to;
            } else {
                *other = to;
            }
        });
    }

    /// Sweeps the range that was chosen.
    pub fn sweep_range(self) {
        let (Some((one, other)), Some(item)) = (self.range.get_untracked(), self.item_untracked())
        else {
            return;
        };
        self.enter_and_sweep(&item, SweepReach::Range(one, other));
    }

    /// Records several sweeps, which Undo takes back together.
    pub fn sweep_all(self, sweeps: &[(Item, SweepNotes)]) {
        for (item, sweep) in sweeps {
            self.sweep(item, sweep);
        }
        self.undoes_together(sweeps.len());
    }

    /// Records a sweep of the measure of an item, and goes to the first item that is still to do.
    fn sweep(self, item: &Item, sweep: &SweepNotes) {
        self.session.record(EntryKind::Swept {
            measure: item.measure.clone(),
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
