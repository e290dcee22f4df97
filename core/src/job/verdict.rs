//! What a state says of a reading: the target it is judged by, and whether it still holds.

use super::measure_state::MeasureState;
use super::measure_states::{MeasureStates, TargetChange};
use super::reach::reached_from;
use super::{LogPosition, Scope, State, Subject};
use crate::note::Note;
use crate::trade::{Band, Measure, MeasureId, Place, Reach, Target, Verdict, afloat};
use crate::unit::Value;

/// Why a reading no longer holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The measure whose work disturbed it; its own where it was adjusted and not read since.
    pub work: MeasureId,
    /// On what the work was done.
    pub on: Subject,
    /// When, in the order of entries.
    pub position: LogPosition,
}

/// A reading against the target in force.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// What to say of it.
    pub verdict: Verdict,
    /// Reading less aim, in whole small units.
    pub off: i64,
    /// The band it was judged by.
    pub band: Band,
}

/// One measure looked up once, to look at many notes.
#[derive(Clone, Copy)]
pub(crate) struct MeasureView<'a> {
    pub(super) state: &'a State,
    pub measure: Option<&'a Measure>,
    pub(super) known: Option<&'a MeasureStates>,
}

impl State {
    /// The measures that something was recorded of.
    pub(super) fn recorded(&self) -> impl Iterator<Item = &MeasureId> {
        let recorded = self.measures.iter().filter(|k| !k.is_blank());
        recorded.map(|k| &k.id)
    }

    pub(crate) fn looked(&self, measure: &str) -> MeasureView<'_> {
        MeasureView {
            state: self,
            measure: self.measure(measure),
            known: self.known(measure),
        }
    }

    /// What happened to a measure on a subject at a place; nothing where nothing did.
    pub fn measure_state(&self, measure: &str, on: Subject, place: Place) -> Option<&MeasureState> {
        self.known(measure)?.measure_state(on, place)
    }

    /// Where the action is: on the bench from its coming out until its going in.
    pub fn place(&self) -> Place {
        let done = |measure: &str| {
            let at = |place| {
                self.measure_state(measure, Subject::Whole, place)?
                    .in_effect()
            };
            let latest = [at(Place::Piano), at(Place::Bench)]
                .into_iter()
                .flatten()
                .max_by_key(|r| r.position)?;
            (latest.value.base() != 0).then_some(latest.position)
        };
        if done("action_out") > done("action_in") {
            Place::Bench
        } else {
            Place::Piano
        }
    }

    /// Why the reading in force no longer holds, if it does not: the latest cause.
    ///
    /// Work on the bench disturbs readings of both places, work in the piano those in
    /// the piano: bench readings stand as bench readings.
    pub fn disturbed(&self, measure: &str, on: Subject, place: Place) -> Option<Cause> {
        let looked = self.looked(measure);
        let read = looked.measure_state(on, place)?.in_effect()?.position;
        looked.disturbed_since(read, on, place)
    }

    /// The target in force for a subject: of its note, else its section, else the job, else the trade's.
    pub fn target(&self, measure: &str, on: Subject) -> Option<Target> {
        self.looked(measure).target(on).cloned()
    }

    /// Returns the target set for a scope itself, or `None` if none was set, or it was withdrawn.
    pub fn target_set(&self, measure: &str, scope: Scope) -> Option<&Target> {
        self.looked(measure).set_target(scope)
    }

    /// Returns the sections and notes that have a target of their own.
    pub fn targets_apart(&self, measure: &str) -> Vec<Scope> {
        let set = self.looked(measure).scopes_set();
        set.filter(|scope| *scope != Scope::Job).collect()
    }

    /// Every change of a measure's target, those taken back among them.
    pub fn target_history(&self, measure: &str) -> &[TargetChange] {
        self.known(measure).map_or(&[], MeasureStates::targets)
    }

    /// The band in force for a subject.
    ///
    /// The length that floats on this job ([`Setup::floats`](super::Setup::floats)) is set by the
    /// others, so it may stay wherever it is plausible ([`afloat`]), or as far as its target accepts.
    ///
    /// A target that is a share of another reading follows the one in force in the piano, else
    /// the one on the bench, else the one as found, else that measure's own aim.
    pub fn band(&self, measure: &str, on: Subject) -> Option<Band> {
        self.looked(measure).band(on)
    }

    /// A value against the target in force when it is looked at; nothing where there is no
    /// target, or where the value is of another kind than the measure.
    pub fn judge(&self, measure: &str, on: Subject, value: Value) -> Option<Judged> {
        self.looked(measure).judge(on, value)
    }
}

impl<'a> MeasureView<'a> {
    pub fn measure_state(&self, on: Subject, place: Place) -> Option<&'a MeasureState> {
        self.known?.measure_state(on, place)
    }

    /// The subject as the sections stand: a note lies in one, a section is one.
    fn section(&self, on: Subject) -> Option<usize> {
        match on {
            Subject::Whole => None,
            Subject::Section(section) => Some(usize::from(section)),
            Subject::Note(note) => Some(self.state.sections().of(note)),
        }
    }

    /// The target set for a scope itself.
    pub fn set_target(&self, scope: Scope) -> Option<&'a Target> {
        self.known?.target(scope)
    }

    /// The scopes that a target is set for.
    pub fn scopes_set(&self) -> impl Iterator<Item = Scope> + use<'a> {
        self.known.into_iter().flat_map(MeasureStates::scopes_set)
    }

    /// The target of a scope itself; of the whole job the trade's, where none was set.
    pub fn own_target(&self, scope: Scope) -> Option<&'a Target> {
        let own = self.known.and_then(|k| k.target(scope));
        match scope {
            Scope::Job => own.or_else(|| self.measure?.target.as_ref()),
            Scope::Section(_) | Scope::Note(_) => own,
        }
    }

    fn target(&self, on: Subject) -> Option<&'a Target> {
        let own = || {
            let known = self.known.filter(|k| !k.targets().is_empty())?;
            let of_note = on.note().and_then(|n| known.target(Scope::Note(n)));
            let of_section = || known.target(Scope::Section(self.section(on)? as u8));
            of_note
                .or_else(of_section)
                .or_else(|| known.target(Scope::Job))
        };
        own().or_else(|| self.measure?.target.as_ref())
    }

    pub fn band(&self, on: Subject) -> Option<Band> {
        let band = self.band_set(on)?;
        Some(self.afloat().map_or(band, |range| band.reaching(range)))
    }

    /// The band as the target sets it, whether the measure floats or not.
    pub fn band_set(&self, on: Subject) -> Option<Band> {
        let section = self.section(on).unwrap_or(0);
        self.target(on)?.band(on.note(), section, |other| {
            self.state.looked(other.as_str()).share_base(on, section)
        })
    }

    /// The range that is open to this measure where it is the length that floats on this job.
    fn afloat(&self) -> Option<(i64, i64)> {
        let floats = self.state.setup().floats?;
        let id = self.measure?.id.as_str();
        floats.is(id).then(|| afloat(id, self.state.instrument()))?
    }

    /// What a share of this measure is taken of.
    fn share_base(&self, on: Subject, section: usize) -> Option<i64> {
        let at = |place| self.measure_state(on, place);
        let in_effect = |place| at(place)?.in_effect();
        let found = |place| at(place)?.latest();
        let read = in_effect(Place::Piano)
            .or_else(|| in_effect(Place::Bench))
            .or_else(|| found(Place::Piano))
            .or_else(|| found(Place::Bench));
        match (read, self.target(on)) {
            (Some(reading), _) => Some(reading.value.base()),
            // A share of a share has no aim of its own.
            (None, None | Some(Target::ShareOf { .. })) => None,
            (None, Some(plain)) => Some(plain.band(on.note(), section, |_| None)?.aim),
        }
    }

    pub fn judge(&self, on: Subject, value: Value) -> Option<Judged> {
        if self.measure.is_some_and(|m| m.kind != value.kind()) {
            return None;
        }
        let band = self.band(on)?;
        Some(Judged {
            verdict: band.judge(value.base()),
            off: value.base().saturating_sub(band.aim),
            band,
        })
    }

    /// Why a reading taken at a stamp no longer holds: its own adjustment, else the latest work on others.
    pub fn disturbed_since(&self, read: LogPosition, on: Subject, place: Place) -> Option<Cause> {
        let known = self.known?;
        let of = |work: &'a MeasureStates,
                  reach: Reach,
                  when: fn(&MeasureState) -> Option<LogPosition>| {
            let reaching = reached_from(on, reach, self.state.sections());
            reaching.filter_map(move |from| {
                let position = felt(work, from, place, when).filter(|worked| *worked > read)?;
                Some((position, work, from))
            })
        };
        let latest = |(position, ..): &(LogPosition, &MeasureStates, Subject)| *position;
        // A record that is work by itself, such as a tick, does not ask for itself again.
        let adjusted = if known.records_work() {
            MeasureState::changed
        } else {
            MeasureState::worked
        };
        let own = of(known, Reach::Note, adjusted).max_by_key(latest);
        let others = || {
            let rows = known.causes.iter();
            let rows = rows.filter(|row| !row.piano_only || place == Place::Piano);
            rows.flat_map(|row| {
                of(
                    &self.state.measures[row.work],
                    row.reach,
                    MeasureState::worked,
                )
            })
            .max_by_key(latest)
        };
        let (position, work, on) = own.or_else(others)?;
        let work = work.id.clone();
        Some(Cause { work, on, position })
    }

    /// Whether something other than this note's own adjuster at this place was worked on between two readings of it.
    pub fn moved_between(
        &self,
        from: LogPosition,
        to: LogPosition,
        note: Note,
        place: Place,
    ) -> bool {
        let Some(known) = self.known else {
            return false;
        };
        let on = Subject::Note(note);
        let felt: &[Place] = match place {
            Place::Bench => &[Place::Bench],
            Place::Piano => &[Place::Bench, Place::Piano],
        };
        let worked = |work: &'a MeasureStates, from_on: Subject, at: Place| {
            work.measure_state(from_on, at)
                .is_some_and(|measure_state| measure_state.worked_between(from, to))
        };
        let others = known.causes.iter();
        let others = others.filter(|row| !row.piano_only || place == Place::Piano);
        let mut others = others.flat_map(|row| {
            let work = &self.state.measures[row.work];
            let reaching = reached_from(on, row.reach, self.state.sections());
            reaching.flat_map(move |from_on| felt.iter().map(move |at| (work, from_on, *at)))
        });
        let mut own = reached_from(on, Reach::Note, self.state.sections())
            .flat_map(|from_on| felt.iter().map(move |at| (from_on, *at)))
            .filter(|own| *own != (on, place));
        own.any(|(from_on, at)| worked(known, from_on, at))
            || others.any(|(work, from_on, at)| worked(work, from_on, at))
    }
}

/// The latest work on a subject that a reading at a place feels.
fn felt(
    work: &MeasureStates,
    from: Subject,
    place: Place,
    when: fn(&MeasureState) -> Option<LogPosition>,
) -> Option<LogPosition> {
    let at = |place| work.measure_state(from, place).and_then(when);
    match place {
        Place::Bench => at(Place::Bench),
        Place::Piano => at(Place::Bench).max(at(Place::Piano)),
    }
}
