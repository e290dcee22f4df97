//! The state of the corrections screen: what there is to do, what was ticked, and what ticking records.

use evenhand_core::analysis::advice::{Advice, LeaveReason, Movement, advice};
use evenhand_core::analysis::corrections::{Corrections, corrected, corrections_of};
use evenhand_core::analysis::open_points::values_out;
use evenhand_core::job::{
    Correction, EntryId, EntryKind, Item, ItemState, JobId, State, Subject, out_of_step,
};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, Place, Step, StepId, Verdict};
use evenhand_core::unit::{InchForm, Kind, Length, LengthUnit, Value};
use leptos::prelude::*;

use crate::route::Route;
use crate::state::Session;

/// One correction, as a row of the list.
#[derive(Clone, Debug, PartialEq)]
pub struct CorrectionRow {
    /// The measure that was read.
    pub measure: MeasureId,
    /// The measure on which the correction is recorded.
    pub moves: MeasureId,
    /// The note, section or whole that was read.
    pub on: Subject,
    /// Where the action is when it is read.
    pub place: Place,
    /// What a tick records.
    pub made: Correction,
    /// What to do.
    pub words: String,
    /// The reading now and expected, and what the correction disturbs.
    pub more: String,
    /// The change of the reading that is wanted, in base units.
    pub way: i64,
    /// Whether the reading is expected to stay outside its aim.
    pub stays_off: bool,
    /// Whether the reading is out, and not only off its target.
    pub is_out: bool,
}

impl CorrectionRow {
    fn is(&self, other: &CorrectionRow) -> bool {
        self.measure == other.measure && self.on == other.on
    }

    fn of(state: &State, advice: &Advice, length: LengthUnit) -> Option<CorrectionRow> {
        let (expected, give_or_take) = match &advice.movement {
            Movement::Turn {
                expected,
                give_or_take,
                ..
            } => (Some(*expected), *give_or_take),
            Movement::Punchings { expected, .. } => (Some(*expected), 0),
            _ => (None, 0),
        };
        let moved = state.measure(advice.moves.as_str())?;
        // An expected value is shown no finer than a reading.
        let decimals = match length {
            LengthUnit::Inch => 3,
            LengthUnit::Millimeter => moved.form.1,
        };
        let measure_state = state.measure_state(advice.moves.as_str(), advice.on, advice.place);
        let now = measure_state.and_then(|s| s.in_effect()).map(|r| r.value);
        // One row has one form of inches.
        let lengths = now.map(Value::base).into_iter().chain(expected);
        let lengths = lengths.chain([give_or_take]).map(Length::from_nm);
        let form = match moved.kind {
            Kind::Length => InchForm::common(lengths),
            _ => InchForm::default(),
        };
        let shown = |base: i64| moved.kind.shown_in(form, base, length, decimals);
        let mut more = match (now, expected) {
            (Some(now), None) => format!("measured {}", moved.shown_in(form, now, length)),
            (Some(now), Some(expected)) => {
                let now = moved.shown_in(form, now, length);
                format!("measured {now}, should read {}", shown(expected))
            }
            // Moved for the sake of another measure, and not measured itself: only the change is known.
            (None, Some(change)) => {
                let sign = if change > 0 { "+" } else { "" };
                let name = moved.name.to_lowercase();
                format!("changes the {name} by {sign}{}", shown(change))
            }
            (None, None) => String::new(),
        };
        if let (Some(expected), Some(_), true) = (expected, now, give_or_take > 0) {
            let [low, high] = [expected - give_or_take, expected + give_or_take].map(shown);
            more = format!("{more}, usually {low} to {high}");
        }
        let mut disturbed: Vec<String> = Vec::new();
        for item in &advice.disturbs {
            let name = state
                .measure(item.measure.as_str())
                .map(|m| m.name.to_lowercase());
            disturbed.extend(name.filter(|n| !disturbed.contains(n)));
        }
        if !disturbed.is_empty() {
            let disturbs = format!("re-measure after it: {}", disturbed.join(", "));
            more = match more.as_str() {
                "" => disturbs,
                _ => format!("{more}; {disturbs}"),
            };
        }
        let after = expected
            .filter(|_| now.is_some())
            .map(|base| Value::from_base(moved.kind, base));
        let judged = after.and_then(|v| state.judge(advice.moves.as_str(), advice.on, v));
        let punchings = matches!(advice.movement, Movement::Punchings { .. });
        Some(CorrectionRow {
            measure: advice.measure.clone(),
            moves: advice.moves.clone(),
            on: advice.on,
            place: advice.place,
            made: advice.made()?,
            words: advice.words(length),
            more,
            way: advice.off.saturating_neg(),
            is_out: advice.verdict == Verdict::Out,
            stays_off: punchings && judged.is_some_and(|j| j.verdict != Verdict::OnTarget),
        })
    }
}

/// A correction that was ticked on this visit, with its entry.
type Ticked = (CorrectionRow, EntryId);

/// The state of the corrections screen. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct CorrectionsState {
    /// The session of the app.
    pub session: Session,
    /// The job; `None` if the route names none.
    pub job: Option<JobId>,
    /// The step that is chosen; `None` for all.
    pub chosen: RwSignal<Option<StepId>>,
    /// The steps that can have corrections.
    pub steps: Memo<Vec<Step>>,
    /// The corrections of the chosen step or steps.
    pub found: Memo<Corrections>,
    /// The items on which the length left to follow was read outside its plausible range.
    pub strayed: Memo<Vec<Item>>,
    /// The notes that are out and not measured, by step and measure.
    pub marked: Memo<Vec<(StepId, MeasureId, Vec<Note>)>>,
    /// The rows as of when the step was chosen, so that none moves under the thumb.
    pub stood: RwSignal<Vec<CorrectionRow>>,
    /// The rows that were ticked on this visit.
    pub ticked: RwSignal<Vec<Ticked>>,
    /// Whether rows of readings in tolerance are shown too; if not, and if any is out, only those out.
    pub all: RwSignal<bool>,
    /// The unit of lengths.
    pub length: LengthUnit,
}

impl CorrectionsState {
    /// Returns the state in which the corrections of all steps are shown.
    pub fn new(session: Session) -> CorrectionsState {
        let steps = Memo::new(move |_| session.app.with_state(corrected).unwrap_or_default());
        let chosen = RwSignal::new(None);
        let shown = Memo::new(move |_| {
            let chosen = chosen.get();
            let of = |s: &State| steps.with(|all| shown_steps(s, all, chosen.as_ref()));
            session.app.with_state(of).unwrap_or_default()
        });
        let found = Memo::new(move |_| {
            let of = |s: &State| shown.with(|steps| corrections_of(s, steps));
            session.app.with_state(of).unwrap_or_default()
        });
        let strayed = Memo::new(move |_| {
            let of = |s: &State| shown.with(|steps| found.with(|f| strayed(s, steps, f)));
            session.app.with_state(of).unwrap_or_default()
        });
        let marked = Memo::new(move |_| {
            let of = |s: &State| shown.with(|steps| marked(s, steps));
            session.app.with_state(of).unwrap_or_default()
        });
        CorrectionsState {
            session,
            marked,
            job: session.app.job_untracked(),
            chosen,
            steps,
            found,
            strayed,
            stood: RwSignal::new(Vec::new()),
            ticked: RwSignal::new(Vec::new()),
            all: RwSignal::new(false),
            length: session.app.length_unit_untracked(),
        }
    }

    /// Returns the rows that are to be done now.
    fn live(self) -> Vec<CorrectionRow> {
        let rows = self.found.with(|found| {
            let row = |state: &State| {
                let rows = found.rows.iter();
                rows.filter_map(|a| CorrectionRow::of(state, a, self.length))
                    .collect()
            };
            self.session.app.with_state(row)
        });
        rows.unwrap_or_default()
    }

    /// Returns the entry by which a row was ticked. `None` if it was not, or if the entry was undone.
    pub fn entry(self, row: &CorrectionRow) -> Option<EntryId> {
        let entry = self.ticked.with(|ticked| {
            let mut latest = ticked.iter().rev();
            latest.find(|(r, _)| r.is(row)).map(|(_, entry)| *entry)
        })?;
        self.session
            .app
            .with_state(|s| s.is_alive(entry))
            .unwrap_or(false)
            .then_some(entry)
    }

    /// Returns whether a row that was ticked need not be measured again.
    pub fn is_known(self, row: &CorrectionRow) -> bool {
        let now = |s: &State| advice(s, row.measure.as_str(), row.on, row.place);
        let now = self.session.app.with_state(now).flatten();
        now.is_some_and(|a| a.movement == Movement::Leave(LeaveReason::Known))
    }

    /// Returns the rows in stable order: those from when the step was chosen, then those that came since.
    pub fn rows(self) -> Vec<CorrectionRow> {
        let live = self.live();
        let stood = self.stood.get();
        let mut rows: Vec<CorrectionRow> = Vec::with_capacity(live.len());
        for row in &stood {
            if self.entry(row).is_some() {
                rows.push(row.clone());
            } else if let Some(now) = live.iter().find(|l| l.is(row)) {
                rows.push(now.clone());
            }
        }
        rows.extend(live.into_iter().filter(|l| !stood.iter().any(|s| s.is(l))));
        if self.is_narrowed() {
            rows.retain(|r| r.is_out);
        }
        rows
    }

    /// Returns how many rows were out when the step was chosen, and how many there were.
    pub fn counts(self) -> (usize, usize) {
        self.stood.with(|rows| {
            let out = rows.iter().filter(|r| r.is_out).count();
            (out, rows.len())
        })
    }

    /// Returns whether only rows of readings that are out are shown.
    pub fn is_narrowed(self) -> bool {
        let (out, all) = self.counts();
        !self.all.get() && 0 < out && out < all
    }

    /// Chooses a step, or all, and takes its rows as they are now.
    pub fn choose(self, step: Option<StepId>) {
        self.chosen.set(step);
        let live = untrack(|| self.live());
        self.stood.set(live);
    }

    /// Records the correction, or undoes it.
    pub fn tick(self, row: &CorrectionRow) {
        if let Some(entry) = untrack(|| self.entry(row)) {
            self.session.record(EntryKind::Undo { entry });
            return;
        }
        let recorded =
            self.session
                .record_correction(row.moves.clone(), row.on, row.place, row.made.clone());
        if let Some(entry) = recorded {
            self.ticked
                .update(|ticked| ticked.push((row.clone(), entry)));
        }
    }

    /// Returns the steps other than those shown that have values out of tolerance: in words, with the
    /// address of the corrections or, where nothing is moved, of the pass.
    pub fn out_elsewhere(self) -> Vec<(String, String)> {
        let Some(job) = self.job else {
            return Vec::new();
        };
        let chosen = self.chosen.get();
        let shown = |s: &State, id: &StepId| {
            self.steps.with(|steps| {
                let shown = shown_steps(s, steps, chosen.as_ref());
                shown.iter().any(|s| s.id == *id)
            })
        };
        let elsewhere = |s: &State| {
            let out = values_out(s);
            let steps = s.order().steps().iter();
            let of = steps.filter_map(|step| {
                let count = out_of_step(&out, &step.id);
                if count == 0 || shown(s, &step.id) {
                    return None;
                }
                let moved = self
                    .steps
                    .with(|steps| steps.iter().any(|s| s.id == step.id));
                let to = match moved {
                    true => Route::Corrections(job, step.id.clone()),
                    false => Route::Pass(job, step.id.clone()),
                };
                Some((format!("{}: {count} out", step.name), to.href()))
            });
            of.collect::<Vec<_>>()
        };
        self.session.app.with_state(elsewhere).unwrap_or_default()
    }

    /// Returns the step in which a measure is read, preferring the chosen step.
    fn step_of(self, measure: &MeasureId) -> Option<StepId> {
        let chosen = self.chosen.get_untracked();
        self.steps.with_untracked(|steps| {
            let takes = |s: &&Step| s.takes.contains(measure);
            let own = steps
                .iter()
                .filter(takes)
                .find(|s| chosen.as_ref() == Some(&s.id));
            own.or_else(|| steps.iter().find(takes))
                .map(|s| s.id.clone())
        })
    }

    /// Returns the address of the pass in which a measure is read.
    pub fn pass_of(self, measure: &MeasureId) -> Option<String> {
        Some(Route::Pass(self.job?, self.step_of(measure)?).href())
    }

    /// Returns the name of a measure; empty if it is not known.
    pub fn name(self, measure: &MeasureId) -> String {
        let measure = self
            .session
            .app
            .with_state_untracked(|s| s.measure(measure.as_str()).cloned())
            .flatten();
        measure.map(|m| m.name.to_string()).unwrap_or_default()
    }
}

/// Returns the chosen step, or all steps whose place is where the action is.
fn shown_steps(state: &State, steps: &[Step], chosen: Option<&StepId>) -> Vec<Step> {
    let here = state.place();
    let wanted = |s: &&Step| match chosen {
        Some(step) => s.id == *step,
        None => s.place_or(here) == here,
    };
    steps.iter().filter(wanted).cloned().collect()
}

/// Returns the notes of these steps that were found out and not measured, by step and measure.
fn marked(state: &State, steps: &[Step]) -> Vec<(StepId, MeasureId, Vec<Note>)> {
    let mut groups: Vec<(StepId, MeasureId, Vec<Note>)> = Vec::new();
    for step in steps {
        for item in state.items(step) {
            let is_marked = matches!(state.item_state(step, &item), ItemState::MarkedOut(_));
            let Some(note) = item.on.note().filter(|_| is_marked) else {
                continue;
            };
            match groups.last_mut() {
                Some((own, measure, notes)) if *own == step.id && *measure == item.measure => {
                    notes.push(note);
                }
                _ => groups.push((step.id.clone(), item.measure, vec![note])),
            }
        }
    }
    groups
}

/// Returns the items on which the length left to follow was read outside its plausible range and has no correction of
/// its own: the other lengths are to be corrected.
fn strayed(state: &State, steps: &[Step], found: &Corrections) -> Vec<Item> {
    let Some(following) = state.setup().following else {
        return Vec::new();
    };
    let moved = |i: &Item| {
        found
            .rows
            .iter()
            .any(|a| a.measure == i.measure && a.on == i.on)
    };
    let mut strayed = Vec::new();
    for step in steps {
        let mut items = state.items(step);
        items.retain(|i| following.is(i.measure.as_str()) && state.item_state(step, i).is_out());
        items.retain(|i| !moved(i));
        strayed.extend(items);
    }
    strayed
}
