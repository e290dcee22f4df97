//! Tests of a job, by behavior. All data are made up.

mod changes;
mod clocks;
mod disturbance;
mod drying;
mod kinds;
mod looks;
mod occasions;
mod order;
mod photos;
mod ranks;
pub(crate) mod sample;
mod sweeps;
mod targets;
mod times;
mod two_phones;

use super::*;
use crate::note::Note;
use crate::trade::{Instrument, Place, StepId};
use crate::unit::Kind;

/// The wall time at which tests begin, in milliseconds since 1970 (UTC).
pub(crate) const NINE_MS: i64 = 1_790_000_000_000;
pub(crate) const MINUTE_MS: i64 = 60_000;
pub(crate) const BENCH: Place = Place::Bench;
pub(crate) const PIANO: Place = Place::Piano;

pub(crate) fn n(number: i64) -> Note {
    Note::new(number).unwrap()
}

pub(crate) fn on(number: i64) -> Subject {
    Subject::Note(n(number))
}

/// A phone, and the job on it.
#[derive(Clone)]
pub(crate) struct Phone {
    pub(crate) job: Job,
    pub(crate) replica: ReplicaId,
    pub(crate) at_ms: i64,
}

impl Phone {
    pub(crate) fn new(replica: u64) -> Phone {
        Phone {
            job: Job::new(),
            replica: ReplicaId::new(replica),
            at_ms: NINE_MS,
        }
    }

    /// Another phone with the same entries.
    pub(crate) fn copy(&self, replica: u64) -> Phone {
        Phone {
            replica: ReplicaId::new(replica),
            ..self.clone()
        }
    }

    pub(crate) fn state(&self) -> &State {
        self.job.state()
    }

    pub(crate) fn wait(&mut self, minutes: i64) {
        self.at_ms += minutes * MINUTE_MS;
    }

    pub(crate) fn act(&mut self, act: EntryKind) -> Entry {
        let entry = self.job.draft(self.replica, self.at_ms, act);
        assert!(self.job.apply(entry.clone()));
        entry
    }

    pub(crate) fn read_as(
        &mut self,
        occasion: Occasion,
        measure: &str,
        on: Subject,
        place: Place,
        base: i64,
    ) -> Entry {
        let known = Instrument::Grand.measure(measure);
        let kind = known.or_else(|| Instrument::Upright.measure(measure));
        let value = Value::from_base(kind.map_or(Kind::Length, |m| m.kind), base);
        let id = MeasureId::from(measure);
        let entry = self
            .job
            .reading(self.replica, self.at_ms, id, on, place, occasion, value, "");
        assert!(self.job.apply(entry.clone()));
        entry
    }

    /// A reading during the work.
    pub(crate) fn read(&mut self, measure: &str, on: Subject, place: Place, base: i64) -> Entry {
        self.read_as(Occasion::Working, measure, on, place, base)
    }

    pub(crate) fn correct(&mut self, measure: &str, on: Subject, place: Place) -> Entry {
        self.act(EntryKind::Correction {
            measure: MeasureId::from(measure),
            on,
            place,
            made: Correction::Turned(crate::unit::Turns::from_64ths(8)),
        })
    }

    pub(crate) fn undo(&mut self, entry: &Entry) -> Entry {
        self.act(EntryKind::Undo { entry: entry.id })
    }

    pub(crate) fn target(
        &mut self,
        measure: &str,
        scope: Scope,
        target: Option<crate::trade::Target>,
    ) -> Entry {
        self.act(EntryKind::Target {
            measure: MeasureId::from(measure),
            scope,
            target,
        })
    }

    pub(crate) fn setup(&mut self, setup: Setup) -> Entry {
        self.act(EntryKind::Setup {
            set: Box::new(setup),
        })
    }

    /// Records every item of a step on target.
    pub(crate) fn pass(&mut self, id: &str) {
        let step = self
            .state()
            .step(id)
            .cloned()
            .unwrap_or_else(|| panic!("no step {id}"));
        for item in self.state().items(&step) {
            let band = self.state().band(item.measure.as_str(), item.on);
            let place = step.place_or(self.state().place());
            let base = band.map_or(10_000_000, |b| b.aim);
            self.read_as(step.occasion, item.measure.as_str(), item.on, place, base);
        }
    }

    /// Completes every step that a step needs, directly or indirectly, and waits for the drying times.
    pub(crate) fn pass_what_needs(&mut self, id: &str) {
        let step = self
            .state()
            .step(id)
            .cloned()
            .unwrap_or_else(|| panic!("no step {id}"));
        // A need that is not in the order is not enforced.
        let in_order = |id: &&StepId| self.state().step(id.as_str()).is_some();
        let needs: Vec<StepId> = step.needs.iter().filter(in_order).cloned().collect();
        for needed in &needs {
            self.pass_what_needs(needed.as_str());
            if !self.progress(needed.as_str()).is_read() {
                self.pass(needed.as_str());
            }
            let needed = self.state().step(needed.as_str()).unwrap().clone();
            if needed.drying_minutes > 0 && self.state().drying(needed.id.as_str()).is_none() {
                self.act(EntryKind::DryingStarted {
                    step: needed.id.clone(),
                    minutes: needed.drying_minutes,
                });
                self.wait(i64::from(needed.drying_minutes));
            }
        }
    }

    pub(crate) fn progress(&self, id: &str) -> Progress {
        let all = self.state().progress(self.at_ms);
        let found = all.into_iter().find(|(s, _)| s.id.as_str() == id);
        found.unwrap_or_else(|| panic!("no step {id}")).1
    }
}

pub(crate) fn step_id(id: &str) -> StepId {
    StepId::from(id)
}
