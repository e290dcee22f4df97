//! The state of the profile screen: which measure is shown, of which occasions.

use evenhand_core::analysis::profile::{Choice, Mark, Profile, ProfileLine};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, StepId};
use evenhand_core::unit::{InchForm, Kind, Length, LengthUnit, Value};
use leptos::prelude::*;

use crate::state::Session;
use crate::text;

/// The state of the profile screen. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct ProfileState {
    /// The session of the app.
    pub session: Session,
    /// The step and measure that are shown.
    pub chosen: RwSignal<Option<(StepId, MeasureId)>>,
    /// The readings of the chosen measure.
    pub current: Memo<Option<Profile>>,
    /// The occasions that the reader wants to see.
    pub wanted: RwSignal<[bool; 3]>,
    /// The note that was chosen in the picture.
    pub picked: RwSignal<Option<Note>>,
    /// The unit of lengths.
    pub length: LengthUnit,
}

impl ProfileState {
    /// Returns the state in which all occasions of a step's measure are shown.
    pub fn new(session: Session, chosen: Option<(StepId, MeasureId)>) -> ProfileState {
        let chosen = RwSignal::new(chosen);
        let current = Memo::new(move |_| {
            let (step, measure) = chosen.get()?;
            session
                .app
                .with_state(|state| Profile::of(state, state.step(step.as_str())?, &measure))
                .flatten()
        });
        ProfileState {
            session,
            chosen,
            current,
            wanted: RwSignal::new([true; 3]),
            picked: RwSignal::new(None),
            length: session.app.length_unit_untracked(),
        }
    }

    /// Returns which occasions are shown: those that are wanted and have readings.
    pub fn shown(self) -> [bool; 3] {
        let wanted = self.wanted.get();
        self.current.with(|p| {
            let read = |i: usize| p.as_ref().is_some_and(|p| p.count(i) > 0);
            [0, 1, 2].map(|i| wanted[i] && read(i))
        })
    }

    /// Calls `at` with the profile, and tracks it. Returns the default if there is none.
    pub fn with<T: Default>(self, at: impl FnOnce(&Profile) -> T) -> T {
        self.current
            .with(|p| p.as_ref().map(at))
            .unwrap_or_default()
    }
}

/// The names of the occasions, in order.
pub const OCCASIONS: [&str; 3] = ["As found", "Now", "As left"];

/// Returns the choice that an address names: by step and measure, by step, else the first with readings.
pub fn named(
    choices: &[Choice],
    step: &StepId,
    measure: &MeasureId,
) -> Option<(StepId, MeasureId)> {
    let of_step = || choices.iter().filter(|c| c.step == *step);
    let found = of_step()
        .find(|c| c.measure == *measure)
        .or_else(|| of_step().next())
        .or_else(|| choices.iter().find(|c| c.measure.as_str() == step.as_str()))
        .or_else(|| choices.iter().find(|c| c.read > 0))
        .or(choices.first());
    found.map(|c| (c.step.clone(), c.measure.clone()))
}

/// Returns the reading of a line's latest occasion. `None` if it has none.
pub fn latest(line: &ProfileLine) -> Option<&Mark> {
    line.marks.iter().rev().flatten().next()
}

/// Returns the form of inches for the table of readings: fractions only if all its lengths are of an inch rule.
pub fn inch_form(profile: &Profile) -> InchForm {
    let marks = profile.lines.iter().flat_map(|l| l.marks.iter().flatten());
    let lengths = |m: &Mark| {
        let off = m.judged.map(|j| Length::from_nm(j.off));
        m.value.length().into_iter().chain(off)
    };
    match profile.measure.kind {
        Kind::Length => InchForm::common(marks.flat_map(lengths)),
        _ => InchForm::default(),
    }
}

/// Returns whether a line was settled without a number: turned and not measured again, or looked along.
pub fn is_settled(line: &ProfileLine) -> bool {
    line.swept.is_some() && line.marks[2].is_none()
}

/// Returns the verdict on the latest reading of a line in words; empty if it has none.
pub fn standing(
    profile: &Profile,
    line: &ProfileLine,
    form: InchForm,
    length: LengthUnit,
) -> String {
    if let Some(sweep) = line.swept.filter(|_| is_settled(line)) {
        return match sweep.expected {
            Some(expected) => {
                let value = Value::Nm(expected);
                let reads = profile.measure.shown(value, length);
                format!("not measured again, should read {reads}")
            }
            None => "swept".to_owned(),
        };
    }
    match latest(line) {
        Some(mark) if mark.remeasure => "re-measure".to_owned(),
        Some(mark) => match &mark.judged {
            Some(judged) => text::verdict_in(form, &profile.measure, judged, mark.value, length),
            None => "no target".to_owned(),
        },
        None => String::new(),
    }
}
