//! The state of a pass: its items in order, the current item, and what is typed.

use evenhand_core::analysis::open_points::values_out;
use evenhand_core::job::{Correction, EntryId, Item, ItemState, JobId, State, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{Measure, MeasureId, Per, Place, Step};
use evenhand_core::unit::Value;
use leptos::prelude::*;

use crate::parts::strip::weighs_both;
use crate::state::{LeftPass, PhotoOf, Session};
use crate::storage::local_storage;
use crate::storage::preferences::NoteOrder;

/// The sheet that is open over the pass.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum OpenSheet {
    /// None.
    #[default]
    None,
    /// The sheet of the step.
    Step,
    /// That of the current note.
    Note,
    /// That of two values of the current item.
    Conflict,
}

/// What is asked once before a value is recorded.
#[derive(Clone, Debug, PartialEq)]
pub enum Doubt {
    /// Whether it is meant: it lies outside the plausible range.
    Implausible,
    /// Whether the work is done already: what it needs dry still dries.
    Drying {
        /// The name of the step that dries.
        of: String,
        /// When it is dry, in milliseconds since 1970.
        until_ms: i64,
    },
}

/// A value that was entered and must be confirmed.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// The value.
    pub value: Value,
    /// Its text.
    pub typed: String,
    /// What is asked.
    pub doubt: Doubt,
}

/// The state of a pass. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct PassState {
    /// The session of the app.
    pub session: Session,
    /// The step.
    pub step: StoredValue<Step>,
    /// The items, in the order of the pass.
    pub items: RwSignal<Vec<Item>>,
    /// The index in `items`; past the last at the end of the pass.
    pub at: RwSignal<usize>,
    /// What is typed and not entered.
    pub typed: RwSignal<String>,
    /// A value that must be confirmed.
    pub asked: RwSignal<Option<Asked>>,
    /// Why what was typed was refused.
    pub refused: RwSignal<String>,
    /// What was undone, if it is not an item of the pass, and the entry that took it back.
    pub undone: RwSignal<(String, Option<EntryId>)>,
    /// What Undo would take back of another step, in words, until it is said again.
    pub asks_undo: RwSignal<String>,
    /// The entry with which the pass was opened.
    pub opened: StoredValue<Option<EntryId>>,
    /// The item that was entered or adjusted last, while the next is current.
    pub last: RwSignal<Option<Item>>,
    /// Whether what is typed comes from a keyboard, or a caliper that acts as one.
    pub by_keys: StoredValue<bool>,
    /// The sheet that is open.
    pub sheet: RwSignal<OpenSheet>,
    /// The order of the items.
    pub order: RwSignal<NoteOrder>,
    /// The ends of the range that is being chosen for a sweep.
    pub range: RwSignal<Option<(Note, Note)>>,
    /// How many entries Undo takes back together, if the log is still as long as it was then.
    pub together: StoredValue<(usize, usize)>,
}

impl PassState {
    /// Returns what a photo of a subject in this step is of.
    pub fn photo_of(self, on: Subject) -> PhotoOf {
        PhotoOf {
            on,
            step: Some(self.step.with_value(|step| step.id.clone())),
            fault: None,
        }
    }

    /// Returns a pass through these items that begins at an index.
    pub fn new(
        session: Session,
        step: Step,
        items: Vec<Item>,
        at: usize,
        order: NoteOrder,
    ) -> PassState {
        PassState {
            session,
            step: StoredValue::new(step),
            items: RwSignal::new(items),
            at: RwSignal::new(at),
            typed: RwSignal::new(String::new()),
            asked: RwSignal::new(None),
            refused: RwSignal::new(String::new()),
            undone: RwSignal::new((String::new(), None)),
            asks_undo: RwSignal::new(String::new()),
            opened: StoredValue::new(None),
            last: RwSignal::new(None),
            by_keys: StoredValue::new(false),
            sheet: RwSignal::new(OpenSheet::None),
            order: RwSignal::new(order),
            range: RwSignal::new(None),
            together: StoredValue::new((0, 0)),
        }
    }

    /// Returns the current item, and tracks it. `None` at the end of the pass.
    pub fn item(self) -> Option<Item> {
        let at = self.at.get();
        self.items.with(|items| items.get(at).cloned())
    }

    /// Returns the current item, without tracking it.
    pub fn item_untracked(self) -> Option<Item> {
        let at = self.at.get_untracked();
        self.items.with_untracked(|items| items.get(at).cloned())
    }

    /// Goes to an index of `items`, and clears what was typed.
    pub fn go(self, at: usize) {
        self.typed.set(String::new());
        self.asked.set(None);
        self.refused.set(String::new());
        self.clear_undo();
        self.last.set(None);
        self.range.set(None);
        let most = self.items.with_untracked(Vec::len);
        self.at.set(at.min(most));
        let job = self.session.app.job_untracked();
        // Only a place in the usual order can be returned to later.
        let usual = self.order.get_untracked() == usual_order(self.session);
        if let (Some(job), true) = (job, usual) {
            let item = self.item_untracked();
            self.step
                .with_value(|s| local_storage::set_pass_item(job, s.id.as_str(), item));
        }
    }

    /// Clears what is said and asked of Undo.
    pub fn clear_undo(self) {
        self.undone.set((String::new(), None));
        self.asks_undo.set(String::new());
    }

    /// Goes on by this many items, or back.
    pub fn step_by(self, by: isize) {
        self.go(self.at.get_untracked().saturating_add_signed(by));
    }

    /// Goes to a note, or to the nearest note of the pass, keeping the current measure.
    pub fn go_to(self, note: Note) {
        let measure = self.item_untracked().map(|i| i.measure);
        let nearest = self.items.with_untracked(|items| {
            let mut places = items.iter().enumerate().filter_map(|(at, item)| {
                let own = item.on.note()?;
                let same = measure.as_ref().is_none_or(|m| *m == item.measure);
                same.then_some((own.number().abs_diff(note.number()), at))
            });
            let first = places.next()?;
            Some(places.fold(first, |a, b| if b.0 < a.0 { b } else { a }).1)
        });
        if let Some(at) = nearest {
            self.go(at);
        }
    }

    /// Goes to a note; in a step on the sample, also to a note outside it, which joins the end of the pass.
    pub fn go_to_any(self, note: Note) {
        let on = Subject::Note(note);
        let joins = self.step.with_value(|s| s.per == Per::Sample)
            && self
                .items
                .with_untracked(|items| items.iter().all(|i| i.on != on));
        if joins {
            let takes = self.step.with_value(|s| s.takes.clone());
            let at = self.items.with_untracked(Vec::len);
            let item = |measure| Item { measure, on };
            self.items
                .update(|items| items.extend(takes.into_iter().map(item)));
            self.go(at);
        } else {
            self.go_to(note);
        }
    }

    /// Adds items to the end of the pass, and goes to the first of them.
    pub fn join(self, items: Vec<Item>) {
        let at = self.items.with_untracked(Vec::len);
        self.items.update(|all| all.extend(items));
        self.go(at);
    }

    /// Returns the index that Enter leads to: from an item that was never read, the next that is to be read; from one
    /// that is re-measured, the next item.
    pub fn next(self) -> usize {
        let at = self.at.get();
        let next = |state: &State| {
            self.step.with_value(|step| {
                let is_marked =
                    |i: &Item| matches!(state.item_state(step, i), ItemState::MarkedOut(_));
                // What is marked is come back to at the end.
                let read = |i: &Item| state.item_state(step, i).is_valid() || is_marked(i);
                let through = self.order.get() == NoteOrder::OnlyOut;
                let never = |i: &Item| {
                    matches!(state.item_state(step, i), ItemState::NotRead)
                        || is_marked(i) && !through
                };
                self.items.with(|items| {
                    let after = items.get(at + 1..).unwrap_or_default();
                    let asked = match items.get(at) {
                        Some(item) if never(item) => after.iter().position(|i| !read(i)),
                        _ => Some(0),
                    };
                    at + 1 + asked.unwrap_or(after.len())
                })
            })
        };
        self.session.app.with_state(next).unwrap_or(at + 1)
    }

    /// Returns where the action is read at this step.
    pub fn place(self) -> Place {
        let now = self
            .session
            .app
            .with_state_untracked(State::place)
            .unwrap_or(Place::Bench);
        self.step.with_value(|step| step.place_or(now))
    }

    /// Records that an item was adjusted, and goes to it to re-measure it; where the turn is known well, goes on.
    ///
    /// `moves` is the measure that was moved: that of the item, or the length left to follow in its place.
    pub fn adjust(self, item: &Item, moves: MeasureId, made: Correction) {
        let is_current = self.item_untracked().as_ref() == Some(item);
        let next = untrack(|| self.next());
        let place = self.place();
        let was_told = self.is_any_known(&item.measure);
        self.session.record_correction(moves, item.on, place, made);
        let is_known = |s: &State| {
            self.step
                .with_value(|step| s.item_state(step, item).should_read().is_some())
        };
        // The first time it is said at the note itself, so that a number that is measured all the same is not taken for
        // that of the next one.
        if !was_told || self.session.app.with_state_untracked(is_known) != Some(true) {
            self.return_to(item);
            return;
        }
        self.go(match is_current {
            true => next,
            false => self.at.get_untracked(),
        });
        self.last.set(Some(item.clone()));
    }

    /// Returns whether any note of the step was turned and not measured again.
    fn is_any_known(self, measure: &MeasureId) -> bool {
        let is_known = |s: &State| {
            self.step.with_value(|step| {
                let mut items = s.items(step).into_iter();
                items.any(|i| {
                    i.measure == *measure && s.item_state(step, &i).should_read().is_some()
                })
            })
        };
        self.session.app.with_state_untracked(is_known) == Some(true)
    }

    /// Goes to an item of the list. Returns `false` if it is not in it.
    pub fn return_to(self, item: &Item) -> bool {
        let at = self
            .items
            .with_untracked(|items| items.iter().position(|i| i == item));
        if let Some(at) = at {
            self.go(at);
        }
        at.is_some()
    }

    /// Has the next Undo take so many entries back, those that were just recorded.
    pub fn undoes_together(self, count: usize) {
        self.together.set_value((self.entries(), count));
    }

    /// Returns the number of entries of the log.
    pub fn entries(self) -> usize {
        let open = self.session.app.open_job;
        open.with_untracked(|o| o.as_ref().map_or(0, |o| o.job.log().entries().len()))
    }

    /// Returns the pass as it stands, to come back to.
    pub fn left(self, job: JobId) -> LeftPass {
        let step = self.step.get_value();
        let again = self
            .session
            .app
            .with_state_untracked(|s| arranged(s, &step, NoteOrder::OnlyAgain))
            .unwrap_or_default();
        LeftPass {
            job,
            step: step.id,
            order: self.order.get_untracked(),
            items: self.items.get_untracked(),
            at: self.at.get_untracked(),
            again,
        }
    }

    /// Returns the measure of the current item.
    pub fn measure(self) -> Option<Measure> {
        let item = self.item_untracked()?;
        self.session
            .app
            .with_state_untracked(|s| s.measure(item.measure.as_str()).cloned())
            .flatten()
    }

    /// Sets the order of the items, and goes to the first that is not read, or to the first if all are, as among those
    /// out.
    pub fn arrange(self, order: NoteOrder) {
        self.order.set(order);
        let step = self.step.get_value();
        let items = self
            .session
            .app
            .with_state_untracked(|s| arranged(s, &step, order))
            .unwrap_or_default();
        let at = self
            .session
            .app
            .with_state_untracked(|s| first_unread(s, &step, &items))
            .filter(|at| *at < items.len())
            .unwrap_or(0);
        self.items.set(items);
        self.go(at);
    }
}

/// Returns the items of a step in this order.
pub fn arranged(state: &State, step: &Step, order: NoteOrder) -> Vec<Item> {
    let mut items = state.items(step);
    match order {
        NoteOrder::Up => {}
        // Still measure by measure, each from the treble.
        NoteOrder::Down => {
            items.reverse();
            items.sort_by_key(|i| step.takes.iter().position(|m| *m == i.measure));
        }
        NoteOrder::NaturalsFirst => items.sort_by_key(|i| {
            let measure = step.takes.iter().position(|m| *m == i.measure);
            (measure, i.on.note().is_some_and(Note::is_sharp))
        }),
        NoteOrder::Samples => {
            let samples = state.samples();
            items.retain(|i| i.on.note().is_none_or(|n| samples.contains(&n)));
        }
        NoteOrder::OnlyOut => {
            let out = values_out(state);
            // What is computed from both weights is settled by measuring them.
            let is_of = |id: &str, measure: &str| {
                id == measure
                    || matches!(id, "balance_weight" | "friction")
                        && matches!(measure, "down_weight" | "up_weight")
            };
            items.retain(|i| {
                let mut own = out.iter().filter(|o| o.step.as_ref() == Some(&step.id));
                let is_out =
                    own.any(|o| o.on == i.on && is_of(o.measure.as_str(), i.measure.as_str()));
                is_out || matches!(state.item_state(step, i), ItemState::MarkedOut(_))
            });
        }
        NoteOrder::OnlyAgain => {
            items.retain(|i| state.item_state(step, i).cause().is_some());
        }
    }
    // A key is weighed down and up in turn.
    if weighs_both(step) {
        let notes: Vec<_> = items.iter().map(|i| i.on).collect();
        items.sort_by_key(|i| notes.iter().position(|on| *on == i.on));
    }
    items
}

/// Returns the index of the first item that is not read or must be re-measured, or past the last if there is none. What
/// is marked to come back to is passed over.
pub fn first_unread(state: &State, step: &Step, items: &[Item]) -> usize {
    let unread = |i: &Item| {
        let item_state = state.item_state(step, i);
        !item_state.is_valid() && !matches!(item_state, ItemState::MarkedOut(_))
    };
    items.iter().position(unread).unwrap_or(items.len())
}

/// Returns the order that a pass begins with.
pub fn usual_order(session: Session) -> NoteOrder {
    session.app.preferences.with_untracked(|p| p.order)
}
