//! Target arithmetic: the target in effect for a scope, the same target in another shape, and the
//! measures that can have one.

use crate::job::{EntryKind, Scope, State, Subject};
use crate::note::Note;
use crate::trade::{
    Band, Measure, MeasureId, Per, Place, Shape, Stage, Step, Target, Verdict, inch_targets,
    let_off_taper,
};
use crate::unit::{Kind, LengthUnit};

/// Returns the target in effect for a scope: its own, otherwise what the wider scope gives there.
/// For the job it is that of the trade if none was set. Returns `None` if there is none.
pub fn target_of(state: &State, measure: &str, scope: Scope) -> Option<Target> {
    if let Some(set) = state.target_set(measure, scope) {
        return Some(set.clone());
    }
    let at = match scope {
        Scope::Job => return state.target(measure, Subject::Whole),
        Scope::Section(section) => state.sections().ends(section.into())?.0,
        Scope::Note(note) => note,
    };
    let band = state.looked(measure).band_set(Subject::Note(at));
    band.map(Target::Flat)
}

/// Returns the target of the job for a measure in another shape, equal on each note as far as the
/// shape allows. Let-off takes the usual taper ([`let_off_taper`]); a share is 100 % of another
/// reading.
///
/// Returns `None` if no target is in effect to start from, or if there is no reading to take a
/// share of.
pub fn target_as(state: &State, measure: &str, shape: Shape) -> Option<Target> {
    let now = state.target(measure, Subject::Whole)?;
    if now.shape() == shape {
        return Some(now);
    }
    let sections = state.sections();
    let at = |note: Note| band_of(state, &now, note);
    Some(match shape {
        Shape::Flat => Target::Flat(at(Note::FIRST)?),
        Shape::BySection => {
            let firsts = (0..sections.count()).filter_map(|s| Some(sections.ends(s)?.0));
            Target::BySection(firsts.map(at).collect::<Option<_>>()?)
        }
        Shape::Tapered if measure == "let_off" => let_off_taper(),
        Shape::Tapered => Target::Tapered(vec![
            (Note::FIRST, at(Note::FIRST)?),
            (Note::LAST, at(Note::LAST)?),
        ]),
        Shape::ShareOf => {
            let band = at(Note::FIRST)?;
            let (within, accept) = band.widths()?;
            Target::ShareOf {
                of: shares(state, measure).into_iter().next()?.id,
                percent: 100,
                within,
                accept,
            }
        }
    })
}

/// Returns the band of one target on a note.
fn band_of(state: &State, target: &Target, note: Note) -> Option<Band> {
    let section = state.sections().of(note);
    let on = Subject::Note(note);
    target.band(Some(note), section, |other| {
        state.band(other.as_str(), on).map(|band| band.aim)
    })
}

/// Returns the measures that a target can be a share of: those of the same kind taken on notes,
/// nearest aim first.
pub fn shares(state: &State, measure: &str) -> Vec<Measure> {
    let Some(own) = state.measure(measure) else {
        return Vec::new();
    };
    let mut all: Vec<Measure> = targets_by_stage(state)
        .into_iter()
        .flat_map(|(_, measures)| measures)
        .filter(|m| m.id != own.id && m.kind == own.kind && is_of_notes(m.per))
        .collect();
    let aim = |m: &Measure| {
        let target = state.target(m.id.as_str(), Subject::Whole)?;
        Some(band_of(state, &target, Note::FIRST)?.aim)
    };
    let here = aim(own).unwrap_or_default();
    all.sort_by_key(|m| aim(m).map_or(u64::MAX, |aim| aim.abs_diff(here)));
    all
}

/// Returns the entries that give a job in inches the aims that stand on a rule ([`inch_targets`]), for the measures that have
/// no target of the job yet. None in a job in millimeters.
///
/// ```
/// use evenhand_core::analysis::targets::inch_aims;
/// use evenhand_core::job::{EntryKind, Job, ReplicaId, Setup};
/// use evenhand_core::unit::LengthUnit;
///
/// let phone = ReplicaId::new(7);
/// let mut job = Job::new();
/// assert!(inch_aims(job.state()).is_empty());
/// let set = Box::new(Setup { length_unit: Some(LengthUnit::Inch), ..Setup::default() });
/// job.apply(job.draft(phone, 0, EntryKind::Setup { set }));
/// for aim in inch_aims(job.state()) {
///     job.apply(job.draft(phone, 0, aim));
/// }
/// assert!(inch_aims(job.state()).is_empty());
/// ```
pub fn inch_aims(state: &State) -> Vec<EntryKind> {
    if state.length_unit() != LengthUnit::Inch {
        return Vec::new();
    }
    let all = inch_targets(state.instrument()).into_iter();
    let missing = all.filter(|(id, _)| state.target_set(id.as_str(), Scope::Job).is_none());
    let aim = |(measure, target)| EntryKind::Target {
        measure,
        scope: Scope::Job,
        target: Some(target),
    };
    missing.map(aim).collect()
}

/// Returns every measure whose target can be set, by the stage in which it is worked on: numbers
/// and grades that have a target or are taken on notes.
pub fn targets_by_stage(state: &State) -> Vec<(Stage, Vec<Measure>)> {
    let order = state.order();
    let worked = |step: &&Step| !matches!(step.stage, Stage::Survey | Stage::FinalCheck);
    let steps = order.steps().iter().filter(worked);
    let only_looked_at = order.steps().iter().filter(|step| !worked(step));
    let mut named: Vec<(Stage, MeasureId)> = Vec::new();
    for step in steps.chain(only_looked_at) {
        for id in step.yields() {
            if named.iter().all(|(_, known)| *known != id) {
                named.push((step.stage, id));
            }
        }
    }
    Stage::ALL
        .into_iter()
        .map(|stage| {
            let here = named.iter().filter(|(s, _)| *s == stage);
            let measures = here.filter_map(|(_, id)| state.measure(id.as_str()));
            let settable = measures.filter(|m| is_settable(state, m)).cloned();
            (stage, settable.collect())
        })
        .filter(|(_, measures): &(_, Vec<_>)| !measures.is_empty())
        .collect()
}

fn is_settable(state: &State, measure: &Measure) -> bool {
    let told = measure.kind.is_number() || measure.kind == Kind::Grade;
    let aimed = state.target(measure.id.as_str(), Subject::Whole).is_some();
    told && (aimed || is_of_notes(measure.per))
}

/// Returns how many readings of the work a measure has, and how many of them are out. For each
/// subject the reading in the piano counts, otherwise that on the bench.
pub fn out_now(state: &State, measure: &str) -> (usize, usize) {
    let looked = state.looked(measure);
    let in_effect = |on, place| looked.measure_state(on, place)?.in_effect();
    let (mut read, mut out) = (0, 0);
    for on in all_subjects(state) {
        let piano = in_effect(on, Place::Piano);
        let Some(reading) = piano.or_else(|| in_effect(on, Place::Bench)) else {
            continue;
        };
        read += 1;
        let judged = looked.judge(on, reading.value);
        out += usize::from(judged.is_some_and(|j| j.verdict == Verdict::Out));
    }
    (read, out)
}

fn all_subjects(state: &State) -> impl Iterator<Item = Subject> {
    let sections = (0..state.sections().count() as u8).map(Subject::Section);
    let notes = Note::all().map(Subject::Note);
    std::iter::once(Subject::Whole).chain(sections).chain(notes)
}

const fn is_of_notes(per: Per) -> bool {
    matches!(
        per,
        Per::Note | Per::Natural | Per::Sharp | Per::Sample | Per::Damped
    )
}

#[cfg(test)]
mod tests;
