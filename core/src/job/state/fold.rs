//! How entries change the state: folding the log, applying one entry, undo.

use super::super::details::{Details, OwnStep, Setup};
use super::super::drying::DryingEvent;
use super::super::measure_state::Reading;
use super::super::measure_states::{CauseRow, MeasureStates, TargetChange, causes};
use super::super::{Entry, EntryId, EntryKind, Log, LogPosition};
use super::history::set_alive;
use super::{FaultOrigin, Photo, Remark, State};
use crate::trade::{JobKind, MeasureId, Target};

/// This many batches of opened files can be taken back, the first of the log: that bounds the work on hostile ones.
const MAX_BATCHES: usize = 500;

/// What undos do to an entry.
#[derive(Clone, Copy, Default)]
struct Undone {
    /// The number of active undos of it, by themselves or of its batches.
    undos: usize,
    /// Whether one of them is of a batch: it then counts as not there, its time included.
    with_batch: bool,
}

/// Returns for each entry of the log what undos do to it.
///
/// An undo only affects entries before it, so a pass from the end meets every undo before its target
/// and visits each entry once.
fn undone(log: &Log) -> Vec<Undone> {
    let entries = log.entries();
    let is_batch = |entry: &Entry| matches!(entry.kind, EntryKind::Opened { .. });
    let mut batches = entries.iter().filter(|e| is_batch(e)).count();
    let mut by_id: Vec<(EntryId, usize)> = Vec::new();
    let mut undone = vec![Undone::default(); entries.len()];
    for (at, entry) in entries.iter().enumerate().rev() {
        let is_alive = undone[at].undos == 0;
        if let EntryKind::Opened { entries: runs } = &entry.kind {
            batches -= 1;
            if is_alive || batches >= MAX_BATCHES {
                continue;
            }
            if by_id.is_empty() {
                let ids = entries.iter().enumerate().filter(|(_, e)| !is_batch(e));
                by_id = ids.map(|(at, e)| (e.id, at)).collect();
                by_id.sort_unstable();
            }
            for run in runs {
                let of = |seq| EntryId {
                    replica: run.replica,
                    seq,
                };
                let from = by_id.partition_point(|(id, _)| *id < of(run.first));
                let of_run = by_id[from..].iter();
                for (_, covered) in of_run.take_while(|(id, _)| *id <= of(run.last)) {
                    if *covered < at {
                        undone[*covered].undos += 1;
                        undone[*covered].with_batch = true;
                    }
                }
            }
        } else if let Some(target) = undone_by(log, entry).filter(|_| is_alive)
            && let Some(target) = log.index(target)
        {
            undone[target].undos += 1;
        }
    }
    undone
}

/// Returns the entry that an undo takes back, or `None` if it is no undo, or its target was not written before
/// it. With earlier targets only, no two undos can take back each other.
fn undone_by(log: &Log, entry: &Entry) -> Option<EntryId> {
    let EntryKind::Undo { entry: target } = entry.kind else {
        return None;
    };
    log.binds(entry, target).then_some(target)
}

impl State {
    /// Returns `true` if an entry is a batch, or an undo of one, or of an undo of one, and so on.
    pub(in crate::job) fn undoes_batch<'a>(log: &'a Log, mut entry: &'a Entry) -> bool {
        while let Some(target) = undone_by(log, entry).and_then(|id| log.get(id)) {
            entry = target;
        }
        matches!(entry.kind, EntryKind::Opened { .. })
    }

    /// Computes the state of a log from its first entry on.
    pub fn folded(log: &Log) -> State {
        let mut state = State::default();
        for ((entry, position), undone) in log.ranked().zip(undone(log)) {
            if undone.undos > 0 {
                state.active_undos.insert(entry.id, undone.undos);
            }
            if !undone.with_batch {
                let alive = undone.undos == 0;
                state.times.add(entry, position, alive, &state.technicians);
            }
            state.put(log, entry, position, undone.undos == 0);
        }
        let changes = |e: &Entry| changes_workflow(&e.kind) || recorded(&e.kind).is_some();
        if log.entries().iter().any(changes) {
            state.rebuild_workflow();
        }
        state
    }

    /// Applies the entry at an index of the log, which must be the last one.
    pub(in crate::job) fn apply(&mut self, log: &Log, at: usize) {
        let Some((entry, position)) = log.at(at) else {
            return;
        };
        self.times.add(entry, position, true, &self.technicians);
        self.put(log, entry, position, true);
        self.follow_workflow(&entry.kind);
        if let Some(target) = undone_by(log, entry) {
            self.take_back(log, target, true);
        }
    }

    /// Adds an entry to its history, its time excepted; `alive` is `false` if a later entry takes it back.
    fn put(&mut self, log: &Log, entry: &Entry, position: LogPosition, alive: bool) {
        let at_ms = entry.at_ms;
        match &entry.kind {
            EntryKind::Made { job } => self.id = self.id.or(Some(*job)),
            EntryKind::Details { set } => {
                if let Some(name) = &set.technician {
                    self.technicians.name(position, name, alive);
                }
                let set = Details::clone(set);
                self.details.add(position, set, alive, Details::take);
            }
            EntryKind::Setup { set } => {
                self.setup
                    .add(position, Setup::clone(set), alive, Setup::take);
            }
            EntryKind::Reading { .. } | EntryKind::Correction { .. } => {
                self.put_record(log, entry, position, alive)
            }
            EntryKind::Swept {
                measure,
                notes,
                place,
                occasion,
            } => self.known_mut(measure).sweeps.add(
                (position, at_ms),
                notes,
                (*place, *occasion),
                alive,
            ),
            EntryKind::MarkedOut {
                measure,
                on,
                place,
                occasion,
                out,
            } => self
                .known_mut(measure)
                .with_state(*on, *place, |measure_state, _| {
                    let when = (position, at_ms);
                    measure_state.marks.add(when, *occasion, *out, alive);
                }),
            EntryKind::NotRemeasured {
                measure,
                note,
                place,
                expected_nm,
            } => self.known_mut(measure).sweeps.add_turned(
                (position, at_ms),
                (*note, *place),
                *expected_nm,
                alive,
            ),
            EntryKind::Target {
                measure,
                scope,
                target,
            } => {
                // A target whose aim is outside its own band cannot judge; the earlier one stays in effect.
                if target.as_ref().is_none_or(Target::is_sound) {
                    self.known_mut(measure).set_target(TargetChange {
                        position,
                        at_ms,
                        scope: *scope,
                        target: target.clone(),
                        alive,
                    });
                }
            }
            EntryKind::DryingStarted { step, minutes } => {
                let minutes = *minutes;
                let started = DryingEvent::Started { at_ms, minutes };
                let drying = self.drying.entry(step.clone()).or_default();
                drying.add(position, started, alive);
            }
            EntryKind::DryingEnded { step, reason } => {
                let ended = DryingEvent::Ended(reason.clone());
                let drying = self.drying.entry(step.clone()).or_default();
                drying.add(position, ended, alive);
            }
            EntryKind::Remark {
                on,
                step,
                fault,
                text,
            } => {
                let remark = Remark::new(position, at_ms, *on, text, alive);
                self.remark_at.insert(entry.id, self.remarks.len());
                self.remarks.push(Remark {
                    step: step.clone(),
                    fault: *fault,
                    ..remark
                });
            }
            EntryKind::FaultCarried {
                on,
                text,
                from,
                from_name,
                noted_at_ms,
            } => {
                let remark = Remark::new(position, at_ms, *on, text, alive);
                self.remark_at.insert(entry.id, self.remarks.len());
                self.remarks.push(Remark {
                    fault: true,
                    origin: Some(FaultOrigin {
                        job: *from,
                        job_name: from_name.clone(),
                        noted_at_ms: *noted_at_ms,
                    }),
                    ..remark
                });
            }
            EntryKind::RemarkChanged { remark, .. } if !log.binds(entry, *remark) => {}
            EntryKind::RemarkChanged { remark, text } => {
                if let Some(&at) = self.remark_at.get(remark) {
                    let remark = &mut self.remarks[at];
                    remark.texts.push((position, text.clone(), alive));
                    remark.choose_text();
                }
            }
            // One for a fault that is not there, or was noted later, settles nothing.
            EntryKind::FaultFixed { fault, .. } if !log.binds(entry, *fault) => {}
            EntryKind::FaultFixed { fault, how } => {
                if alive {
                    self.fixed_at.insert(*fault, self.fixed.len());
                }
                self.fixed.push((position, (*fault, how.clone()), alive));
            }
            EntryKind::Photographed {
                sha256,
                bytes,
                on,
                step,
                fault,
                taken,
                caption,
                instead_of,
            } => self.photos.push(Photo {
                position,
                at_ms,
                sha256: *sha256,
                bytes: *bytes,
                on: *on,
                step: step.clone(),
                fault: fault.filter(|fault| log.binds(entry, *fault)),
                taken: *taken,
                caption: caption.clone(),
                instead_of: instead_of.filter(|earlier| log.binds(entry, *earlier)),
                alive,
            }),
            EntryKind::KindChosen { kind } => {
                self.kinds.push((position, JobKind::clone(kind), alive))
            }
            EntryKind::LeftOut { step, out } => {
                let history = self.left_out.entry(step.clone()).or_default();
                history.push((position, *out, alive));
            }
            EntryKind::OwnStep { step } => {
                self.own_steps.push((position, OwnStep::clone(step), alive))
            }
            EntryKind::Arranged { steps } => self.arranged.push((position, steps.clone(), alive)),
            EntryKind::Archived { archived } => self.archived.push((position, *archived, alive)),
            EntryKind::MinutesStated { .. }
            | EntryKind::PassOpened { .. }
            | EntryKind::PassClosed { .. }
            | EntryKind::Undo { .. }
            | EntryKind::Opened { .. }
            | EntryKind::Unknown(_) => {}
        }
    }

    fn put_record(&mut self, log: &Log, entry: &Entry, position: LogPosition, alive: bool) {
        match &entry.kind {
            EntryKind::Reading {
                measure,
                on,
                place,
                occasion,
                value,
                ..
            } => {
                let supersedes = entry.supersedes.as_ref().map(|ids| {
                    let earlier = ids.iter().filter(|id| log.binds(entry, **id));
                    earlier.copied().collect()
                });
                let reading =
                    Reading::new(position, entry.at_ms, *occasion, *value, supersedes, alive);
                self.known_mut(measure)
                    .with_state(*on, *place, |measure_state, trade| {
                        measure_state.read(reading, trade)
                    });
            }
            EntryKind::Correction {
                measure,
                on,
                place,
                made,
            } => self
                .known_mut(measure)
                .with_state(*on, *place, |measure_state, _| {
                    measure_state.change(position, made.clone(), alive);
                }),
            _ => {}
        }
    }

    /// Adds (`back`) or removes one active undo of an entry. If the entry is itself an undo that this
    /// activates or deactivates, continues with its target.
    fn take_back(&mut self, log: &Log, mut target: EntryId, mut back: bool) {
        loop {
            let was = self.active_undos.get(&target).copied().unwrap_or(0);
            let is = if back { was + 1 } else { was.saturating_sub(1) };
            match is {
                0 => self.active_undos.remove(&target),
                undos => self.active_undos.insert(target, undos),
            };
            let alive = is == 0;
            if (was == 0) == alive {
                return;
            }
            let (Some(entry), Some(position)) = (log.get(target), log.position(target)) else {
                return;
            };
            match undone_by(log, entry) {
                // Undoing an undo restores its target.
                Some(further) => (target, back) = (further, alive),
                None => return self.set_alive(entry, position, alive),
            }
        }
    }

    fn set_alive(&mut self, entry: &Entry, position: LogPosition, alive: bool) {
        match &entry.kind {
            EntryKind::Details { .. } => {
                self.technicians.set_alive(position, alive);
                self.details.set_alive(position, alive, Details::take);
            }
            EntryKind::Setup { .. } => self.setup.set_alive(position, alive, Setup::take),
            EntryKind::Reading {
                measure, on, place, ..
            }
            | EntryKind::Correction {
                measure, on, place, ..
            }
            | EntryKind::MarkedOut {
                measure, on, place, ..
            } => self
                .known_mut(measure)
                .with_state(*on, *place, |measure_state, trade| {
                    measure_state.set_alive(entry.id, alive, trade);
                }),
            EntryKind::Swept { measure, .. } | EntryKind::NotRemeasured { measure, .. } => {
                self.known_mut(measure).sweeps.set_alive(entry.id, alive);
            }
            EntryKind::Target { measure, .. } => {
                // A target that cannot judge was never added.
                if let Some(&at) = self.measure_at.get(measure) {
                    self.measures[at].set_target_alive(entry.id, alive);
                }
            }
            EntryKind::DryingStarted { step, .. } | EntryKind::DryingEnded { step, .. } => {
                if let Some(drying) = self.drying.get_mut(step) {
                    drying.set_alive(position, alive);
                }
            }
            EntryKind::Remark { .. } | EntryKind::FaultCarried { .. } => {
                if let Some(&at) = self.remark_at.get(&entry.id) {
                    self.remarks[at].alive = alive;
                }
            }
            EntryKind::Photographed { .. } => {
                let mut photos = self.photos.iter_mut();
                if let Some(photo) = photos.find(|p| p.position.id == entry.id) {
                    photo.alive = alive;
                }
            }
            EntryKind::RemarkChanged { remark, .. } => {
                if let Some(&at) = self.remark_at.get(remark) {
                    let remark = &mut self.remarks[at];
                    set_alive(&mut remark.texts, position, alive);
                    remark.choose_text();
                }
            }
            EntryKind::FaultFixed { fault, .. } => {
                set_alive(&mut self.fixed, position, alive);
                let mut fixed = self.fixed.iter();
                match fixed.rposition(|(_, (id, _), alive)| *alive && id == fault) {
                    Some(latest) => self.fixed_at.insert(*fault, latest),
                    None => self.fixed_at.remove(fault),
                };
            }
            EntryKind::MinutesStated { step, .. } => self.times.set_alive(position, step, alive),
            EntryKind::KindChosen { .. } => set_alive(&mut self.kinds, position, alive),
            EntryKind::LeftOut { step, .. } => {
                if let Some(history) = self.left_out.get_mut(step) {
                    set_alive(history, position, alive);
                }
            }
            EntryKind::OwnStep { .. } => set_alive(&mut self.own_steps, position, alive),
            EntryKind::Arranged { .. } => set_alive(&mut self.arranged, position, alive),
            EntryKind::Archived { .. } => set_alive(&mut self.archived, position, alive),
            EntryKind::Made { .. }
            | EntryKind::PassOpened { .. }
            | EntryKind::PassClosed { .. }
            | EntryKind::Undo { .. }
            | EntryKind::Opened { .. }
            | EntryKind::Unknown(_) => {}
        }
        self.follow_workflow(&entry.kind);
    }

    /// Rebuilds the workflow if an entry of this kind, added or taken back, changes it.
    fn follow_workflow(&mut self, kind: &EntryKind) {
        let called = || recorded(kind).is_some_and(|measure| self.changes_called_for(measure));
        if changes_workflow(kind) || called() {
            self.rebuild_workflow();
        }
    }

    /// Returns the states of a measure, added if the measure is new.
    fn known_mut(&mut self, id: &MeasureId) -> &mut MeasureStates {
        let index = self.intern(id);
        &mut self.measures[index]
    }

    /// Returns the index of a measure, adding it and all measures that can disturb it.
    fn intern(&mut self, id: &MeasureId) -> usize {
        if let Some(&index) = self.measure_at.get(id) {
            return index;
        }
        let index = self.measures.len();
        self.measure_at.insert(id.clone(), index);
        self.measures.push(MeasureStates::new(id.clone()));
        let causes = causes(id)
            .iter()
            .map(|row| CauseRow {
                work: self.intern(&MeasureId::of(row.work)),
                row,
            })
            .collect();
        self.measures[index].causes = causes;
        index
    }
}

/// Returns the measure that an entry records something of, which can call for steps.
const fn recorded(kind: &EntryKind) -> Option<&MeasureId> {
    match kind {
        EntryKind::Reading { measure, .. }
        | EntryKind::Swept { measure, .. }
        | EntryKind::MarkedOut { measure, .. }
        | EntryKind::NotRemeasured { measure, .. } => Some(measure),
        _ => None,
    }
}

/// Returns `true` if an entry of this kind always changes the workflow.
const fn changes_workflow(act: &EntryKind) -> bool {
    matches!(
        act,
        EntryKind::Details { .. }
            | EntryKind::Setup { .. }
            | EntryKind::KindChosen { .. }
            | EntryKind::LeftOut { .. }
            | EntryKind::OwnStep { .. }
            | EntryKind::Arranged { .. }
    )
}
