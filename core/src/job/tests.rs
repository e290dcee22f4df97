//! What a job must do, behaviour by behaviour. All data are invented.

mod disturbance;
mod file;
mod hostile;
mod kept_files;
mod now;
mod occasions;
mod order;
mod properties;
mod sample;
mod targets;
mod times;
mod two_phones;
mod waits;

use super::*;
use crate::note::Note;
use crate::trade::{Instrument, Place, StepId};
use crate::unit::Kind;

/// A wall time to begin at.
const NINE_MS: i64 = 1_790_000_000_000;
const MINUTE_MS: i64 = 60_000;
const BENCH: Place = Place::Bench;
const PIANO: Place = Place::Piano;

fn n(number: i64) -> Note {
    Note::new(number).unwrap()
}

fn on(number: i64) -> Subject {
    Subject::Note(n(number))
}

/// A phone, and the job on it.
#[derive(Clone)]
struct Phone {
    job: Job,
    device: DeviceId,
    at_ms: i64,
}

impl Phone {
    fn new(device: u64) -> Phone {
        Phone {
            job: Job::new(),
            device: DeviceId::new(device),
            at_ms: NINE_MS,
        }
    }

    /// Another phone with the same entries.
    fn copy(&self, device: u64) -> Phone {
        Phone {
            device: DeviceId::new(device),
            ..self.clone()
        }
    }

    fn state(&self) -> &State {
        self.job.state()
    }

    fn wait(&mut self, minutes: i64) {
        self.at_ms += minutes * MINUTE_MS;
    }

    fn act(&mut self, act: Act) -> Entry {
        let entry = self.job.draft(self.device, self.at_ms, act);
        assert!(self.job.apply(entry.clone()));
        entry
    }

    fn read_as(
        &mut self,
        occasion: Occasion,
        measure: &str,
        on: Subject,
        place: Place,
        base: i64,
    ) -> Entry {
        let known = Instrument::Grand.measure(measure);
        let kind = known.or_else(|| Instrument::Vertical.measure(measure));
        let value = Value::from_base(kind.map_or(Kind::Length, |m| m.kind), base);
        let id = MeasureId::from(measure);
        let entry = self
            .job
            .reading(self.device, self.at_ms, id, on, place, occasion, value, "");
        assert!(self.job.apply(entry.clone()));
        entry
    }

    /// A reading during the work.
    fn read(&mut self, measure: &str, on: Subject, place: Place, base: i64) -> Entry {
        self.read_as(Occasion::Working, measure, on, place, base)
    }

    fn correct(&mut self, measure: &str, on: Subject, place: Place) -> Entry {
        self.act(Act::Correction {
            measure: MeasureId::from(measure),
            on,
            place,
            made: Correction::Turned(crate::unit::Turns::from_64ths(8)),
        })
    }

    fn undo(&mut self, entry: &Entry) -> Entry {
        self.act(Act::Undo { entry: entry.id })
    }

    fn target(
        &mut self,
        measure: &str,
        scope: Scope,
        target: Option<crate::trade::Target>,
    ) -> Entry {
        self.act(Act::Target {
            measure: MeasureId::from(measure),
            scope,
            target,
        })
    }

    fn setup(&mut self, setup: Setup) -> Entry {
        self.act(Act::Setup {
            set: Box::new(setup),
        })
    }

    /// Records every item of a step as its target wants it.
    fn pass(&mut self, id: &str) {
        let step = self
            .state()
            .step(id)
            .cloned()
            .unwrap_or_else(|| panic!("no step {id}"));
        for item in self.state().items(&step) {
            let band = self.state().band(item.measure.as_str(), item.on);
            let place = step.place_or(self.state().place());
            let base = band.map_or(10_000_000, |b| b.aim);
            self.read_as(step.occasion(), item.measure.as_str(), item.on, place, base);
        }
    }

    /// Passes of all the steps that a step needs, cures waited for, and of what those need.
    fn pass_what_needs(&mut self, id: &str) {
        let step = self
            .state()
            .step(id)
            .cloned()
            .unwrap_or_else(|| panic!("no step {id}"));
        for needed in &step.needs {
            self.pass_what_needs(needed.as_str());
            if !self.progress(needed.as_str()).is_read() {
                self.pass(needed.as_str());
            }
            let needed = self.state().step(needed.as_str()).unwrap().clone();
            if needed.wait_minutes > 0 && self.state().wait(needed.id.as_str()).is_none() {
                self.act(Act::WaitStarted {
                    step: needed.id.clone(),
                    minutes: needed.wait_minutes,
                });
                self.wait(i64::from(needed.wait_minutes));
            }
        }
    }

    fn progress(&self, id: &str) -> Progress {
        let all = self.state().progress(self.at_ms);
        let found = all.into_iter().find(|(s, _)| s.id.as_str() == id);
        found.unwrap_or_else(|| panic!("no step {id}")).1
    }
}

fn step_id(id: &str) -> StepId {
    StepId::from(id)
}
