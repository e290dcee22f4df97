//! Whole bench regulations of invented actions, gone through as the app leads: each reading is an entry, the
//! correction that is offered is made and entered, what was disturbed is re-measured, and what is out is
//! gone through, until nothing is left to do.

use evenhand_core::analysis::advice::advice;
use evenhand_core::analysis::suggestion::{Reason, suggest_next};
use evenhand_core::job::{
    Correction, EntryKind, FollowingLength, Item, ItemState, Job, ReplicaId, Setup, Subject,
};
use evenhand_core::note::Note;
use evenhand_core::simulation::{self, Action};
use evenhand_core::trade::{Instrument, MeasureId, Occasion, Place, Stage, Step, Verdict};
use evenhand_core::unit::{Kind, Length, Value};

const PHONE: ReplicaId = ReplicaId::new(1);

/// What the invented action answers to, and how far outside its accept band, in mm, a truth can lie whose reading
/// was inside: three times the noise of a reading, and what felt gave back since.
const SIMULATED: [(&str, f64); 7] = [
    ("natural_dip", 0.25),
    ("sharp_dip", 0.25),
    ("blow", 0.4),
    ("let_off", 0.4),
    ("drop", 0.4),
    ("checking", 0.9),
    ("aftertouch", 0.25),
];

/// So many passes after the first through all steps are more than anybody would make.
const MAX_ROUNDS: usize = 30;

/// A technician at the bench, with an action and a job.
struct Technician {
    action: Action,
    job: Job,
    steps: Vec<Step>,
}

impl Technician {
    fn new(seed: u64, following: FollowingLength) -> Technician {
        let mut job = simulation::job();
        let set = Box::new(Setup {
            following: Some(following),
            ..Setup::default()
        });
        job.apply(job.draft(PHONE, 0, EntryKind::Setup { set }));
        let on_bench = |s: &&Step| s.stage == Stage::Regulate && s.takes.len() == 1;
        let steps = Instrument::Grand.steps().iter().filter(on_bench).cloned();
        let mut technician = Technician {
            action: Action::new(seed),
            job,
            steps: steps.collect(),
        };
        let out = Item {
            measure: MeasureId::of("action_out"),
            on: Subject::Whole,
        };
        technician.enter(&out, Value::Done(true));
        technician
    }

    fn enter(&mut self, item: &Item, value: Value) {
        let (id, on, working) = (item.measure.clone(), item.on, Occasion::Working);
        let entry = self
            .job
            .reading(PHONE, 0, id, on, Place::Bench, working, value, "");
        self.job.apply(entry);
    }

    /// Reads what the invented action gives, or what is wanted.
    fn read(&mut self, item: &Item) {
        let id = item.measure.as_str();
        let measure = Instrument::Grand.measure(id).expect("a measure");
        let is_simulated = SIMULATED.iter().any(|(simulated, _)| *simulated == id);
        let value = match (item.on, measure.kind) {
            (Subject::Note(note), Kind::Length) if is_simulated => {
                Value::Nm(self.action.read(id, note).max(Length::ZERO))
            }
            (_, kind) => {
                let band = self.job.state().band(id, item.on);
                let plausible = measure.plausible.map_or(1, |(low, high)| (low + high) / 2);
                Value::from_base(kind, band.map_or(plausible, |b| b.aim))
            }
        };
        self.enter(item, value);
    }

    /// The correction that is offered for a reading that is out.
    fn offered(&self, step: &Step, item: &Item) -> Option<(MeasureId, Correction)> {
        let state = self.job.state();
        if !state.item_state(step, item).is_out() {
            return None;
        }
        let advice = advice(state, item.measure.as_str(), item.on, Place::Bench)?;
        let made = advice.made()?;
        Some((advice.moves, made))
    }

    fn items(&self, step: &Step, is: impl Fn(&Item, &ItemState<'_>) -> bool) -> Vec<Item> {
        let state = self.job.state();
        let mut items = state.items(step);
        items.retain(|item| is(item, &state.item_state(step, item)));
        items
    }

    /// Those out for which a correction is offered.
    fn mendable(&self, step: &Step) -> Vec<Item> {
        self.items(step, |item, _| self.offered(step, item).is_some())
    }

    /// One pass through notes: each is read, corrected while it is out and something is offered, and re-measured; one
    /// that was read and is out is corrected first.
    fn pass(&mut self, step: &Step, items: &[Item]) {
        for item in items {
            if self.offered(step, item).is_none() {
                self.read(item);
            }
            // A hand that does not get there in three goes leaves it for the next pass.
            for _ in 0..3 {
                let Some((measure, made)) = self.offered(step, item) else {
                    break;
                };
                let note = item.on.note().expect("a note");
                self.action.make(measure.as_str(), note, &made);
                let (on, place) = (item.on, Place::Bench);
                let act = EntryKind::Correction {
                    measure,
                    on,
                    place,
                    made,
                };
                self.job.apply(self.job.draft(PHONE, 0, act));
                self.read(item);
            }
        }
        self.action.settle();
    }

    /// What is offered when a step is opened: what was disturbed, else what was not read; and after the last note those out.
    fn go_through(&mut self, step: &Step) {
        let mut items = self.items(step, |_, s| matches!(s, ItemState::Remeasure(..)));
        if items.is_empty() {
            items = self.items(step, |_, s| matches!(s, ItemState::NotRead));
        }
        self.pass(step, &items);
        self.pass(step, &self.mendable(step));
    }

    /// The step that the card names for its disturbed readings, else the first with a reading that is out and can be mended.
    fn next(&self) -> Option<Step> {
        let state = self.job.state();
        let now = suggest_next(state, &state.progress(0), 0);
        let mut again = now
            .iter()
            .filter(|n| matches!(n.reason, Reason::Remeasure { .. }));
        let named = |id| self.steps.iter().find(|s| s.id == id);
        let again = again.find_map(|n| named(n.step.clone()));
        let out = |step: &&Step| !self.mendable(step).is_empty();
        again.or_else(|| self.steps.iter().find(out)).cloned()
    }

    /// The whole regulation; in how many passes after the first through all steps.
    fn regulate(&mut self) -> usize {
        for step in self.steps.clone() {
            self.go_through(&step);
        }
        for round in 0..MAX_ROUNDS {
            match self.next() {
                Some(step) => self.go_through(&step),
                None => return round,
            }
        }
        MAX_ROUNDS
    }

    /// What is truly outside its accept band: of which measure, on which note, and how far in mm.
    fn truly_out(&self) -> Vec<(&'static str, Note, f64)> {
        let mut out = Vec::new();
        for (measure, _) in SIMULATED {
            for note in Note::all() {
                let truth = self.action.truth(measure, note);
                let value = Value::Nm(Length::from_mm(truth));
                let state = self.job.state();
                let read = state.measure_state(measure, Subject::Note(note), Place::Bench);
                let judged = state.judge(measure, Subject::Note(note), value);
                let Some(judged) = judged.filter(|j| j.verdict == Verdict::Out && read.is_some())
                else {
                    continue;
                };
                let side = |nm: Option<i64>| Length::from_nm(nm.expect("a limit")).mm();
                let (low, high) = judged.band.accept;
                out.push((measure, note, (side(low) - truth).max(truth - side(high))));
            }
        }
        out
    }
}

fn regulated(seed: u64, following: FollowingLength) -> Technician {
    let mut technician = Technician::new(seed, following);
    let rounds = technician.regulate();
    assert!(rounds < MAX_ROUNDS, "{following:?} {seed} has no end");
    technician
}

#[test]
fn whoever_follows_the_corrections_and_rechecks_gets_done_whichever_length_floats() {
    for (following, left) in [
        (FollowingLength::Dip, ["natural_dip"].as_slice()),
        (FollowingLength::Blow, &["blow"]),
        (FollowingLength::Aftertouch, &["aftertouch"]),
    ] {
        for seed in 1..=20 {
            let technician = regulated(seed, following);
            for step in &technician.steps {
                let open = technician.items(step, |_, s| !matches!(s, ItemState::Read(..)));
                assert_eq!(open, [], "{following:?} {seed} {}", step.id);
                // Only the length that follows from the others can be out and have no correction of its own.
                let out = technician.items(step, |_, s| s.is_out());
                let may = out.is_empty() || left.contains(&step.id.as_str());
                assert!(may, "{following:?} {seed} {}: {} out", step.id, out.len());
            }
        }
    }
}

#[test]
fn what_is_truly_out_at_the_end_is_no_more_than_noise_hides() {
    let mut all = 0;
    const ACTIONS: u64 = 20;
    for seed in 1..=ACTIONS {
        let technician = regulated(seed, FollowingLength::Dip);
        let out = technician.truly_out();
        for (measure, note, by) in &out {
            let noise = SIMULATED.iter().find(|(id, _)| id == measure);
            let noise = noise.expect("it is simulated").1;
            assert!(*by < noise, "{seed} {measure} {note}: out by {by}");
        }
        all += out.len();
    }
    // Five notes of 88 by six measures each: those that lie at the edge of their band.
    let judged = ACTIONS as usize * (5 * 88 + 52);
    assert!(all * 20 < judged, "{all} of {judged}");
}
