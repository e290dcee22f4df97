//! The values that are out of tolerance, and what else is known of them.

use super::super::survey::Wear;
use super::super::weights::Weighed;
use crate::job::{Latest, LogPosition, State, Subject, ValueOut};
use crate::note::Note;
use crate::trade::{Decision, MeasureId, Occasion, Part, Step, StepId, Verdict};
use crate::unit::{Kind, Value};

/// Returns the values that are out of tolerance now, by the rule of [`super`], in the order of the
/// steps of the instrument.
///
/// ```
/// use evenhand_core::analysis::open_points::values_out;
/// use evenhand_core::job::{Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Kind, Value};
///
/// // 58 gf down and 20 up: 19 gf of friction, which is the answer to "heavy touch".
/// let mut job = Job::new();
/// let on = Subject::Note(Note::LAST);
/// for (measure, gf) in [("down_weight", 58), ("up_weight", 20)] {
///     let value = Value::from_base(Kind::Force, gf * 1_000);
///     let measure = MeasureId::of(measure);
///     job.apply(job.reading(ReplicaId::new(7), 0, measure, on, Place::Piano, Occasion::AsFound, value, ""));
/// }
/// let out = values_out(job.state());
/// assert_eq!(out.len(), 1);
/// assert_eq!((out[0].measure.as_str(), out[0].value.base()), ("friction", 19_000));
/// ```
pub fn values_out(state: &State) -> Vec<ValueOut> {
    let mut all = Vec::new();
    for measure in state.recorded_in_order() {
        for on in subjects(state) {
            if let Some(latest) = state.latest(measure.as_str(), on)
                && latest.is_out()
                && !is_settled(state, measure.as_str(), on, &latest)
                && let Some(judged) = latest.judged
            {
                let step = step_of(state, measure, &latest);
                all.push(ValueOut {
                    step,
                    measure: measure.clone(),
                    on,
                    value: latest.reading.value,
                    judged,
                });
            }
        }
    }
    for note in Note::all() {
        all.extend(weights_out(state, note));
    }
    all
}

/// Returns the measures that are out in a step with their counts, in the order of the job.
///
/// ```
/// use evenhand_core::analysis::open_points::{measures_out, values_out};
/// use evenhand_core::job::{Job, JobId, ReplicaId};
/// use evenhand_core::trade::StepId;
///
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
/// let job = Job::from_entries(entries);
/// let out = values_out(job.state());
/// let let_off = measures_out(job.state(), &out, Some(&StepId::of("let_off")));
/// assert_eq!(let_off, [("Let-off".to_owned(), 5)]);
/// ```
pub fn measures_out(
    state: &State,
    out: &[ValueOut],
    step: Option<&StepId>,
) -> Vec<(String, usize)> {
    let mut counts: Vec<(&MeasureId, usize)> = Vec::new();
    for value in out.iter().filter(|v| v.step.as_ref() == step) {
        match counts.iter_mut().find(|(id, _)| *id == &value.measure) {
            Some((_, count)) => *count += 1,
            None => counts.push((&value.measure, 1)),
        }
    }
    let named = counts.into_iter().map(|(id, count)| {
        let name = state.measure(id.as_str()).map(|m| m.name.to_string());
        (name.unwrap_or_else(|| id.to_string()), count)
    });
    named.collect()
}

/// Returns everything that a measure can be taken on: the whole, the sections, the notes.
fn subjects(state: &State) -> impl Iterator<Item = Subject> {
    let sections = (0..state.sections().count() as u8).map(Subject::Section);
    let notes = Note::all().map(Subject::Note);
    std::iter::once(Subject::Whole).chain(sections).chain(notes)
}

/// Returns the step of the job in which a reading was taken: the one of its occasion and place,
/// otherwise one of its occasion, otherwise any that takes the measure.
fn step_of(state: &State, measure: &MeasureId, latest: &Latest<'_>) -> Option<StepId> {
    let steps = state.order().steps();
    let occasion = latest.reading.occasion;
    let takes = |s: &&Step| s.takes.contains(measure);
    let when = |s: &&Step| takes(s) && s.occasion == occasion;
    let here = |s: &&Step| when(s) && s.place.is_none_or(|p| p == latest.place);
    let step = steps.iter().find(here);
    let step = step.or_else(|| steps.iter().find(when));
    let step = step.or_else(|| steps.iter().find(takes));
    step.map(|s| s.id.clone())
}

/// The two weights of a note that were taken together and still hold.
fn weights<'a>(state: &'a State, note: Note) -> Option<(Latest<'a>, Latest<'a>)> {
    let on = Subject::Note(note);
    let (down, up) = (
        state.latest("down_weight", on)?,
        state.latest("up_weight", on)?,
    );
    let found = |l: &Latest<'_>| l.reading.occasion == Occasion::AsFound;
    let together = down.place == up.place && found(&down) == found(&up);
    let hold = down.cause.is_none() && up.cause.is_none();
    (together && hold).then_some((down, up))
}

/// Returns balance weight and friction of a note if they are out.
fn weights_out(state: &State, note: Note) -> Vec<ValueOut> {
    let Some((down, up)) = weights(state, note) else {
        return Vec::new();
    };
    let Some(weighed) = weighed(down.reading.value, up.reading.value) else {
        return Vec::new();
    };
    let on = Subject::Note(note);
    let step = step_of(state, &MeasureId::of("up_weight"), &up);
    let computed = [
        ("balance_weight", weighed.balance_weight),
        ("friction", weighed.friction),
    ];
    let out = computed.into_iter().filter_map(|(id, force)| {
        let value = Value::from_base(Kind::Force, force.mgf());
        let judged = state.judge(id, on, value)?;
        (judged.verdict == Verdict::Out).then(|| ValueOut {
            step: step.clone(),
            measure: MeasureId::of(id),
            on,
            value,
            judged,
        })
    });
    out.collect()
}

/// Returns balance weight and friction, or `None` if the up weight exceeds the down weight.
fn weighed(down: Value, up: Value) -> Option<Weighed> {
    Weighed::new(down.force()?, up.force()?).ok()
}

/// Returns the notes whose up weight exceeds the down weight, with the step of the weights.
pub(super) fn contradictions(state: &State) -> Vec<(Note, Option<StepId>)> {
    let notes = Note::all().filter_map(|note| {
        let (down, up) = weights(state, note)?;
        let fits = weighed(down.reading.value, up.reading.value).is_some();
        (!fits).then(|| (note, step_of(state, &MeasureId::of("up_weight"), &up)))
    });
    notes.collect()
}

/// Returns `true` if work since the survey settles what it found, although it was not measured again.
fn is_settled(state: &State, measure: &str, on: Subject, latest: &Latest<'_>) -> bool {
    if latest.reading.occasion != Occasion::AsFound {
        return false;
    }
    let since = latest.reading.position;
    let is_tuned = || measure == "pitch_a4" && worked_since(state, "tuning", on, since);
    let is_renewed = || {
        let part = Part::of_wear(measure);
        part.is_some_and(|part| {
            in_all_notes(state, on, |n| {
                treated_since(state, part.renewal(), n, since)
            })
        })
    };
    // A note that was looked along since is on target by that look.
    state.swept_since(measure, on, since) || is_tuned() || is_renewed()
}

/// Returns `true` if a step was ticked or measured on a subject after a position.
fn worked_since(state: &State, measure: &str, on: Subject, since: LogPosition) -> bool {
    let work = state.latest(measure, on);
    work.is_some_and(|w| w.reading.occasion != Occasion::AsFound && since < w.reading.position)
}

/// Returns `true` if a step that treats parts was ticked on a subject after a position, or its measure was found good
/// since: a reading that is out shows that the part is still to be treated.
fn treated_since(state: &State, measure: &str, on: Subject, since: LogPosition) -> bool {
    let is_good = || {
        let latest = state.latest(measure, on);
        latest.is_some_and(|l| l.judged.is_some() && !l.was_out())
    };
    let is_work = || state.measure(measure).is_some_and(|m| m.records_work);
    state.swept_since(measure, on, since)
        || worked_since(state, measure, on, since) && (is_work() || is_good())
}

/// Returns `true` if something holds for each note of a section.
fn in_all_notes(state: &State, section: Subject, holds: impl Fn(Subject) -> bool) -> bool {
    let Subject::Section(section) = section else {
        return false;
    };
    let sections = state.sections();
    let mut notes = Note::all().filter(|n| sections.of(*n) == usize::from(section));
    notes.all(|n| holds(Subject::Note(n)))
}

/// Returns the sections in which a kind of part is graded worn and was neither treated nor renewed since on every
/// note.
pub(super) fn worn_untreated(state: &State, part: Part) -> Vec<u8> {
    let open = |section: &u8| {
        let on = Subject::Section(*section);
        let Some(latest) = state.latest(part.wear(), on) else {
            return false;
        };
        if Wear::of(latest.reading.value) != Some(Wear::Worn) {
            return false;
        }
        let since = latest.reading.position;
        let treated = |note: Subject| {
            let treatments = part.treatments().iter().copied();
            let mut work = treatments.chain([part.renewal()]);
            work.any(|id| treated_since(state, id, note, since))
        };
        !in_all_notes(state, on, treated)
    };
    let sections = 0..state.sections().count() as u8;
    sections.filter(open).collect()
}

/// Returns `true` if it is decided that a kind of part stays as it is in a section.
pub(super) fn is_left(state: &State, part: Part, section: Subject) -> bool {
    let decided = state.latest(part.decision(), section);
    decided.and_then(|d| Decision::of(d.reading.value)) == Some(Decision::Leave)
}

/// Returns the values of the survey that were out and that later work changed, without a new
/// reading.
pub(super) fn changed_since_found(state: &State) -> Vec<(Option<StepId>, MeasureId, Subject)> {
    let mut all = Vec::new();
    for measure in state.recorded_in_order() {
        for on in subjects(state) {
            let Some(latest) = state.latest(measure.as_str(), on) else {
                continue;
            };
            let found = latest.reading.occasion == Occasion::AsFound
                && !state.swept_since(measure.as_str(), on, latest.reading.position);
            if found && latest.cause.is_some() && latest.was_out() {
                all.push((step_of(state, measure, &latest), measure.clone(), on));
            }
        }
    }
    all
}
