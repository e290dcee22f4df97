//! How a reading is judged: the target in effect, the verdict, and whether later work disturbed it.

use super::measure_state::MeasureState;
use super::measure_states::{MeasureStates, TargetChange};
use super::reach::reached_from;
use super::{LogPosition, Scope, State, Subject};
use crate::note::Note;
use crate::trade::{Band, Measure, MeasureId, Place, Reach, Target, Verdict, derived_range};
use crate::unit::{Length, Turns, Value};

/// Why a reading is no longer valid: the work that disturbed it.
///
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Correction, EntryKind, Job, ReplicaId, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Occasion, Place};
/// use evenhand_core::unit::{Length, Value};
///
/// let (phone, measure) = (ReplicaId::new(7), MeasureId::of("let_off"));
/// let (on, place) = (Subject::Note(Note::new(49)?), Place::Bench);
/// let value = Value::Nm(Length::from_nm(1_800_000));
/// let mut job = Job::new();
/// job.apply(job.reading(phone, 1_000, measure.clone(), on, place, Occasion::Working, value, "1.8"));
/// assert_eq!(job.state().disturbed("let_off", on, place), None);
///
/// let made = Correction::ByEye;
/// job.apply(job.draft(phone, 2_000, EntryKind::Correction { measure, on, place, made }));
/// let cause = job.state().disturbed("let_off", on, place).unwrap();
/// assert_eq!((cause.work.as_str(), cause.on), ("let_off", on));
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Cause {
    /// The measure whose work disturbed it; its own if it was adjusted and not re-measured.
    pub work: MeasureId,
    /// The note, section or whole on which the work was done.
    pub on: Subject,
    /// The position of the work in the log.
    pub position: LogPosition,
}

/// A value judged by the target in effect.
///
/// It has no default and no order.
///
/// ```
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::Verdict;
/// use evenhand_core::unit::{Kind, Value};
///
/// let a4 = Subject::Note(Note::new(49)?);
/// let judged = Job::new().state().judge("let_off", a4, Value::from_base(Kind::Length, 1_850_000)).unwrap();
/// assert_eq!(judged.verdict, Verdict::OnTarget);
/// assert_eq!(judged.off, 1_850_000 - judged.band.aim);
/// # Ok::<(), evenhand_core::note::NoteError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Judged {
    /// On target, acceptable or out.
    pub verdict: Verdict,
    /// The value minus the aim, in whole small units such as nanometers; saturates.
    pub off: i64,
    /// The band that it was judged by.
    pub band: Band,
}

/// One measure of a state, looked up once for access to many subjects.
#[derive(Clone, Copy)]
pub(crate) struct MeasureView<'a> {
    pub(super) state: &'a State,
    pub measure: Option<&'a Measure>,
    pub(super) known: Option<&'a MeasureStates>,
}

impl State {
    /// Returns the measures with a reading or an adjustment.
    pub(super) fn recorded(&self) -> impl Iterator<Item = &MeasureId> {
        let recorded = self.measures.iter().filter(|k| !k.is_blank());
        recorded.map(|k| &k.id)
    }

    /// Looks up a measure. The view of an unknown measure is empty.
    pub(crate) fn looked(&self, measure: &str) -> MeasureView<'_> {
        MeasureView {
            state: self,
            measure: self.measure(measure),
            known: self.known(measure),
        }
    }

    /// Returns the state of a measure on a subject at a place, or `None` if nothing was recorded there.
    pub fn measure_state(&self, measure: &str, on: Subject, place: Place) -> Option<&MeasureState> {
        self.known(measure)?.measure_state(on, place)
    }

    /// Returns where the action is: on the bench after it was taken out and until it is returned.
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

    /// Returns the latest cause why the reading in effect is no longer valid, or `None` if it is valid or
    /// there is no reading.
    ///
    /// Work on the bench disturbs readings of both places; work in the piano disturbs only readings in
    /// the piano. The table of disturbances is the trade's ([`Disturbance`](crate::trade::Disturbance)).
    pub fn disturbed(&self, measure: &str, on: Subject, place: Place) -> Option<Cause> {
        let looked = self.looked(measure);
        let read = looked.measure_state(on, place)?.in_effect()?.position;
        looked.disturbed_since(read, on, place)
    }

    /// Returns the target in effect for a subject: of its note, otherwise its section, otherwise the job,
    /// otherwise the trade's. `None` if there is none.
    pub fn target(&self, measure: &str, on: Subject) -> Option<Target> {
        self.looked(measure).target(on).cloned()
    }

    /// Returns the target set for exactly this scope, or `None` if none was set or it was withdrawn.
    pub fn target_set(&self, measure: &str, scope: Scope) -> Option<&Target> {
        self.looked(measure).set_target(scope)
    }

    /// Returns the sections and notes that have a target of their own.
    pub fn targets_apart(&self, measure: &str) -> Vec<Scope> {
        let set = self.looked(measure).scopes_set();
        set.filter(|scope| *scope != Scope::Job).collect()
    }

    /// Returns every change of the targets of a measure in log order, including those taken back.
    pub fn target_history(&self, measure: &str) -> &[TargetChange] {
        self.known(measure).map_or(&[], MeasureStates::targets)
    }

    /// Returns the band in effect for a subject, or `None` if there is no target.
    ///
    /// The length that is left to follow on this job ([`Setup::following`](super::Setup::following)) is
    /// acceptable in the whole range in which it is plausible ([`derived_range`]), and as far as its target accepts.
    ///
    /// A target that is a share of another measure uses its reading in effect in the piano, otherwise
    /// the one on the bench, otherwise the one as found, otherwise the aim of that measure.
    ///
    /// A stand-in without a target is judged by the string height of its note and the offset of the bench
    /// ([`State::string_height`], [`State::bench_offset`]).
    pub fn band(&self, measure: &str, on: Subject) -> Option<Band> {
        self.looked(measure).band(on)
    }

    /// Returns the latest string height of a note above the key bed, at any place and on any occasion.
    pub fn string_height(&self, note: Note) -> Option<Length> {
        let looked = self.looked("string_height");
        let at = |place| looked.measure_state(Subject::Note(note), place)?.latest();
        let read = [Place::Piano, Place::Bench].into_iter().filter_map(at);
        read.max_by_key(|r| r.position)?.value.length()
    }

    /// Returns how much higher a height reads on the bench, the mean of the control notes, or `None` without
    /// a control note.
    pub fn bench_offset(&self) -> Option<Length> {
        let controls = self.setup().control_notes.iter().flatten();
        let offsets: Vec<Length> = controls.map(|c| c.bench_nm - c.key_bed_nm).collect();
        Length::mean(&offsets)
    }

    /// Judges a value by the target in effect now. Returns `None` if there is no target, or the
    /// value is of another kind than the measure.
    pub fn judge(&self, measure: &str, on: Subject, value: Value) -> Option<Judged> {
        self.looked(measure).judge(on, value)
    }
}

impl<'a> MeasureView<'a> {
    pub fn measure_state(&self, on: Subject, place: Place) -> Option<&'a MeasureState> {
        self.known?.measure_state(on, place)
    }

    /// Returns the section of a subject, or `None` for the whole.
    fn section(&self, on: Subject) -> Option<usize> {
        match on {
            Subject::Whole => None,
            Subject::Section(section) => Some(usize::from(section)),
            Subject::Note(note) => Some(self.state.sections().of(note)),
        }
    }

    /// Returns the target set for exactly this scope.
    pub fn set_target(&self, scope: Scope) -> Option<&'a Target> {
        self.known?.target(scope)
    }

    /// Returns the scopes that have a target of their own.
    pub fn scopes_set(&self) -> impl Iterator<Item = Scope> + use<'a> {
        self.known.into_iter().flat_map(MeasureStates::scopes_set)
    }

    /// Returns the target of exactly this scope; for the job, the trade's if none was set.
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
        Some(
            self.floating_range()
                .map_or(band, |range| band.reaching(range)),
        )
    }

    /// Returns the band of the target, whether or not the measure is left to follow.
    pub fn band_set(&self, on: Subject) -> Option<Band> {
        let section = self.section(on).unwrap_or(0);
        let Some(target) = self.target(on) else {
            return self.stand_in_band(on);
        };
        target.band(on.note(), section, |other| {
            self.state.looked(other.as_str()).share_base(on, section)
        })
    }

    /// Returns the band of a stand-in without a target of its own: the string height of its note above the
    /// bench (the tolerances M). `None` without a string height or a control note, and for any other measure.
    fn stand_in_band(&self, on: Subject) -> Option<Band> {
        if self.measure?.id.as_str() != "stand_in" {
            return None;
        }
        let aim = self.state.string_height(on.note()?)? + self.state.bench_offset()?;
        Some(Band::even(aim.nm(), 250_000, 500_000))
    }

    /// Returns the plausible range of this measure if it is the length left to follow on this job.
    fn floating_range(&self) -> Option<(i64, i64)> {
        let following = self.state.setup().following?;
        let id = self.measure?.id.as_str();
        following
            .is(id)
            .then(|| derived_range(id, self.state.instrument()))?
    }

    /// Returns the value of this measure that a share is computed from, in small units.
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
            // A share of a share has no aim of its own; resolving it could recurse forever.
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

    /// Returns why a reading at a position is no longer valid: its own adjustment, otherwise the latest
    /// work that disturbs it. `None` if it is valid.
    pub fn disturbed_since(&self, read: LogPosition, on: Subject, place: Place) -> Option<Cause> {
        let known = self.known?;
        let of = |work: &'a MeasureStates, reach: Reach| {
            let reaching = reached_from(on, reach, self.state.sections());
            reaching.filter_map(move |from| {
                let position = latest_work(work, from, place).filter(|worked| *worked > read)?;
                Some((position, work, from))
            })
        };
        let latest = |(position, ..): &(LogPosition, &MeasureStates, Subject)| *position;
        // A record that is itself work, such as a tick, does not disturb itself.
        let adjusted = if known.records_work() {
            MeasureState::changed
        } else {
            MeasureState::worked
        };
        // A stroke over a row is no adjustment of what it strokes either.
        let own = reached_from(on, Reach::Note, self.state.sections())
            .filter_map(|from| {
                let position =
                    latest_at(place, |at| known.measure_state(from, at).and_then(adjusted));
                let position = position.filter(|worked| *worked > read)?;
                Some((position, known, from))
            })
            .max_by_key(latest);
        let others = || {
            let rows = known.causes.iter();
            let rows = rows.filter(|cause| cause.voids() && cause.is_felt(place));
            let works = rows.map(|cause| (&self.state.measures[cause.work], cause.row.reach));
            let works = works.filter(|(work, _)| work.may_be_newer(read, place));
            works
                .flat_map(|(work, reach)| of(work, reach))
                .max_by_key(latest)
        };
        let (position, work, on) = own.or_else(others)?;
        let work = work.id.clone();
        Some(Cause { work, on, position })
    }

    /// Returns all work because of which a reading at a position is no longer valid: the measure worked on, the note, section
    /// or whole, and the position of its latest work there.
    pub fn works_since(
        &self,
        read: LogPosition,
        on: Subject,
        place: Place,
    ) -> Vec<(&'a str, Subject, LogPosition)> {
        let Some(known) = self.known else {
            return Vec::new();
        };
        let mut works = Vec::new();
        let mut add = |work: &'a MeasureStates, reach: Reach| {
            for from in reached_from(on, reach, self.state.sections()) {
                let at = latest_work(work, from, place).filter(|worked| *worked > read);
                works.extend(at.map(|at| (work.id.as_str(), from, at)));
            }
        };
        add(known, Reach::Note);
        for cause in &known.causes {
            let work = &self.state.measures[cause.work];
            if cause.voids() && cause.is_felt(place) && work.may_be_newer(read, place) {
                add(work, cause.row.reach);
            }
        }
        works
    }

    /// Returns `true` if anything other than this note's own adjuster at this place was worked on between
    /// two readings of it, so that the difference is not the effect of a turn alone. Work after which a reading
    /// need only be looked at counts too.
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
        let affecting: &[Place] = match place {
            Place::Bench => &[Place::Bench],
            Place::Piano => &[Place::Bench, Place::Piano],
        };
        let worked =
            |work: &'a MeasureStates, from_on: Subject, at: Place, more_than: Option<Turns>| {
                let stroke = work.latest_stroke(from_on, at, Some(to));
                let stroked = stroke.is_some_and(|stroke| from < stroke) && more_than.is_none();
                stroked
                    || work.measure_state(from_on, at).is_some_and(
                        |measure_state| match more_than {
                            Some(turns) => measure_state.turned_between(from, Some(to)) > turns,
                            None => measure_state.worked_between(from, to),
                        },
                    )
            };
        let others = known.causes.iter();
        let others = others.filter(|cause| cause.is_felt(place));
        let others = others.map(|cause| (&self.state.measures[cause.work], cause.row));
        let others = others.filter(|(work, _)| work.may_be_newer(from, place));
        let mut others = others.flat_map(|(work, row)| {
            let reaching = reached_from(on, row.reach, self.state.sections());
            reaching.flat_map(move |from_on| {
                let places = affecting.iter();
                places.map(move |at| (work, from_on, *at, row.more_than))
            })
        });
        let mut own = reached_from(on, Reach::Note, self.state.sections())
            .flat_map(|from_on| affecting.iter().map(move |at| (from_on, *at)))
            .filter(|own| *own != (on, place));
        own.any(|(from_on, at)| worked(known, from_on, at, None))
            || others.any(|(work, from_on, at, more_than)| worked(work, from_on, at, more_than))
    }
}

/// Returns the latest work on a subject that affects readings at a place.
pub(super) fn latest_work(
    work: &MeasureStates,
    from: Subject,
    place: Place,
) -> Option<LogPosition> {
    latest_at(place, |place| {
        let state = work.measure_state(from, place);
        let worked = state.and_then(MeasureState::worked);
        worked.max(work.latest_stroke(from, place, None))
    })
}

/// Returns the latest of what affects readings at a place: in the piano also what was done on the bench.
fn latest_at(place: Place, at: impl Fn(Place) -> Option<LogPosition>) -> Option<LogPosition> {
    match place {
        Place::Bench => at(Place::Bench),
        Place::Piano => at(Place::Bench).max(at(Place::Piano)),
    }
}
