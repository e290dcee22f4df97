//! What is said of a note without a number: out, to come back to; or out and right now. And the two keys of a pedal.

use evenhand_core::analysis::open_points::values_out;
use evenhand_core::job::{
    Correction, EntryKind, Item, ItemState, State, Subject, SweptNotes, out_of_step,
};
use evenhand_core::trade::{MeasureId, Occasion};
use evenhand_core::unit::{Kind, Value};
use leptos::prelude::*;

use super::announce;
use super::correction;
use super::state::PassState;
use super::summary::next_step;
use crate::parts::pad::PadAction;
use crate::route::Route;
use crate::storage::preferences::NoteOrder;

/// What is known of the current item, as far as a key without a number asks.
#[derive(Clone, Copy, PartialEq)]
enum Known {
    /// Nothing that holds.
    Nothing,
    /// Out, not measured.
    Marked,
    /// Measured as out.
    Out,
    /// Measured or swept, and not out.
    InTolerance,
}

impl PassState {
    fn known(self, item: &Item) -> Known {
        let of = |s: &State| {
            self.step.with_value(|step| match s.item_state(step, item) {
                ItemState::MarkedOut(_) => Known::Marked,
                ItemState::Swept(_) => Known::InTolerance,
                state if state.is_out() => Known::Out,
                ItemState::Read(..) => Known::InTolerance,
                _ => Known::Nothing,
            })
        };
        let known = self.session.app.with_state_untracked(of);
        known.unwrap_or(Known::Nothing)
    }

    /// Returns whether the current item was measured and holds: a mark would take no effect.
    fn is_measured(self, item: &Item) -> bool {
        let of = |s: &State| {
            self.step
                .with_value(|step| matches!(s.item_state(step, item), ItemState::Read(..)))
        };
        self.session.app.with_state_untracked(of) == Some(true)
    }

    /// Marks the current item as out without a number, or takes its mark off, and stays with it. Of a mark of two
    /// answers it is the answer "needs work".
    pub fn mark(self) {
        let Some(item) = self.item_untracked() else {
            return;
        };
        if self.measure().is_some_and(|m| m.kind == Kind::Good) {
            return self.press(PadAction::Answer(Value::Good(false)));
        }
        if self.is_measured(&item) {
            return self
                .refused
                .set("It is measured, and its number counts. To change it, re-measure.".into());
        }
        let out = self.known(&item) != Known::Marked;
        self.session.record(EntryKind::MarkedOut {
            measure: item.measure.clone(),
            on: item.on,
            place: self.place(),
            occasion: self.step.with_value(|s| s.occasion),
            out,
        });
        self.go(self.at.get_untracked());
        announce::felt(self, out);
    }

    /// Marks the current item as out, and goes on to the next.
    pub fn mark_and_next(self) {
        let Some(item) = self.item_untracked() else {
            return;
        };
        if self.measure().is_some_and(|m| m.kind == Kind::Good) {
            return self.press(PadAction::Answer(Value::Good(false)));
        }
        let next = untrack(|| self.next());
        if self.known(&item) != Known::Marked {
            self.mark();
            if self.refused.with_untracked(|r| !r.is_empty()) {
                return;
            }
        }
        self.go(next);
        announce::say(self, "marked");
        self.last.set(Some(item));
    }

    /// Records that an item was looked along by itself.
    fn look(self, item: &Item) {
        let Some(note) = item.on.note() else { return };
        self.session.record(EntryKind::Swept {
            measure: item.measure.clone(),
            notes: SweptNotes {
                from: note,
                to: note,
                except: Vec::new(),
            },
            place: self.place(),
            occasion: self.step.with_value(|s| s.occasion),
        });
    }

    /// Records that an item that was out was set, by no known amount, and is right by a look now; and goes on. Two
    /// entries, which Undo takes back together.
    pub fn now_right(self, item: &Item) {
        let next = match self.item_untracked() {
            Some(current) if current == *item => untrack(|| self.next()),
            _ => self.at.get_untracked(),
        };
        self.set_right(item);
        self.go(next);
        self.undoes_together(2);
        announce::announce(self, item);
        self.last.set(Some(item.clone()));
    }

    /// Records the set by eye and the look of an item.
    fn set_right(self, item: &Item) {
        let hint = |s: &State| correction::hint(self, s, item).map(|hint| hint.moves);
        let moves: Option<MeasureId> = self.session.app.with_state_untracked(hint).flatten();
        self.session.record(EntryKind::Correction {
            measure: moves.unwrap_or_else(|| item.measure.clone()),
            on: item.on,
            place: self.place(),
            made: Correction::ByEye,
        });
        self.look(item);
    }

    /// Returns the notes of the step that are out without a number: marked, or said to need work. Those as found or as
    /// left stay as they are.
    pub fn out_unmeasured(self) -> Vec<Item> {
        let of = |s: &State| {
            self.step.with_value(|step| {
                let is = |i: &Item| match s.item_state(step, i) {
                    ItemState::MarkedOut(_) => i.on.note().is_some(),
                    ItemState::Read(reading, _) => reading.value == Value::Good(false),
                    _ => false,
                };
                let mut items = s.items(step);
                items.retain(|i| step.occasion == Occasion::Working && is(i));
                items
            })
        };
        self.session.app.with_state(of).unwrap_or_default()
    }

    /// Records that these items, which were out without a number, were gone through by hand and are right now: of each
    /// that it was set by eye and looked at, or its answer. Undo takes all of it back together.
    pub fn all_now_right(self, items: &[Item]) {
        let before = self.entries();
        for item in items {
            let kind = |s: &State| s.measure(item.measure.as_str()).map(|m| m.kind);
            match self.session.app.with_state_untracked(kind).flatten() {
                Some(Kind::Good) => self.reading(item, Value::Good(true), "good"),
                Some(Kind::Tick) => self.reading(item, Value::Done(true), "done"),
                _ => self.set_right(item),
            }
        }
        self.go(self.at.get_untracked());
        self.undoes_together(self.entries() - before);
        announce::felt(self, false);
    }

    /// Does what a key of the pedal says: good or on target and on; or out, to come back to, and on.
    pub fn pedal(self, good: bool) {
        if self.asked.with_untracked(Option::is_some) {
            let answer = if good {
                PadAction::Enter
            } else {
                PadAction::Undo
            };
            return self.press(answer);
        }
        let Some((item, measure)) = self.item_untracked().zip(self.measure()) else {
            return self.pedal_at_the_end(good);
        };
        match (self.known(&item), good) {
            // Without a note there is nothing to look along.
            (Known::Out | Known::Marked, true)
                if measure.kind != Kind::Good && item.on.note().is_some() =>
            {
                self.now_right(&item)
            }
            // A number stands, whatever the foot says.
            (Known::InTolerance, _) | (Known::Out | Known::Marked, false) => {
                self.step_by(1);
                announce::say(self, "");
            }
            (_, false) => self.mark_and_next(),
            _ => {
                let band = |s: &State| s.band(item.measure.as_str(), item.on);
                let band = self.session.app.with_state_untracked(band).flatten();
                match (measure.kind, band) {
                    (Kind::Tick, _) => self.press(PadAction::Answer(Value::Done(true))),
                    (Kind::Good, _) => self.press(PadAction::Answer(Value::Good(true))),
                    (Kind::Grade, Some(band)) => {
                        let aim = Value::from_base(Kind::Grade, band.aim);
                        self.press(PadAction::Answer(aim));
                    }
                    (_, Some(_)) if matches!(item.on, Subject::Note(_)) => {
                        let next = untrack(|| self.next());
                        self.look(&item);
                        self.go(next);
                        announce::announce(self, &item);
                        self.last.set(Some(item));
                    }
                    _ => {
                        self.refused.set("This one needs its number.".into());
                        announce::say(self, "needs a number");
                    }
                }
            }
        }
    }

    fn pedal_at_the_end(self, good: bool) {
        if !good {
            return;
        }
        if self.order.get_untracked() != NoteOrder::OnlyOut && self.out_or_marked() > 0 {
            self.arrange(NoteOrder::OnlyOut);
            announce::say(self, "");
        } else {
            self.to_next_step();
        }
    }

    /// Goes to the step to do after this one, or to the order if there is none.
    pub fn to_next_step(self) {
        let next = untrack(|| next_step(self));
        if let Some(job) = self.session.app.job_untracked() {
            match next {
                Some((next, _)) => Route::Pass(job, next).go(),
                None => Route::Order(job).go(),
            }
        }
    }

    /// Returns how many values of the step are out, measured or not.
    pub fn out_or_marked(self) -> usize {
        let count = |s: &State| {
            self.step.with_value(|step| {
                let out = out_of_step(&values_out(s), &step.id);
                out + s.progress_of(step).marked_out
            })
        };
        self.session.app.with_state(count).unwrap_or(0)
    }
}
