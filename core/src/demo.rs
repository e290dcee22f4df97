//! One invented job, half way through, to look around in. Nobody's piano: every name
//! and number was made up for this program.

use crate::job::{Act, Correction, Details, DeviceId, Entry, Item, Job, JobId, Setup, Subject};
use crate::note::{Note, Sections};
use crate::trade::{Instrument, MeasureId, Occasion, Place, Step};
use crate::unit::{Turns, Value};

/// A minute of the invented day.
const MINUTE_MS: i64 = 60_000;

/// Numbers that look like chance and are the same each time (Park and Miller's minimal standard).
struct Chance(u64);

impl Chance {
    /// From −1 to 1, near 0 more often.
    fn off(&mut self) -> f64 {
        (0..3).map(|_| self.next() * 2.0 - 1.0).sum::<f64>() / 3.0
    }

    fn next(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 as f64 / 2_147_483_647.0
    }
}

/// The invented day as it is written down.
struct Day {
    job: Job,
    device: DeviceId,
    at_ms: i64,
    chance: Chance,
}

/// The entries of the demo job, made under these names so that its cure still runs at `now_ms`
/// (milliseconds since 1970, UTC).
///
/// ```
/// use evenhand_core::job::{DeviceId, Job, JobId};
///
/// let entries = evenhand_core::demo::entries(JobId::new(1), DeviceId::new(2), 1_790_000_000_000);
/// let job = Job::from_entries(entries);
/// assert_eq!(job.state().details().invented, Some(true));
/// ```
pub fn entries(id: JobId, device: DeviceId, now_ms: i64) -> Vec<Entry> {
    let mut day = Day {
        job: Job::new(),
        device,
        at_ms: now_ms - 8 * 60 * MINUTE_MS,
        chance: Chance(20_261),
    };
    day.set_up(id);
    for step in Instrument::Grand.steps() {
        match step.id.as_str() {
            "found_sample" => day.pass(step, 1.6, |_| true),
            "cauls_in" => {
                day.pass(step, 0.0, |_| true);
                day.act(Act::WaitStarted {
                    step: step.id.clone(),
                    minutes: step.wait_minutes,
                });
            }
            // What waits for the cure is not done yet.
            "cauls_out" | "keys_eased" | "pins_polished" => {}
            "let_off" => {
                day.pass(step, 0.5, |n| n.number() <= 40);
                day.wide(&[6, 17, 18, 29, 35]);
                break;
            }
            "blow" => {
                day.pass(step, 0.5, |_| true);
                day.disturb_aftertouch(&[11, 12, 24]);
            }
            _ => day.pass(step, 0.5, |_| true),
        }
    }
    day.act(Act::Remark {
        on: Subject::Note(note(33)),
        step: None,
        fault: true,
        text: "Hammer flange loose, wants a new centre pin.".to_owned(),
    });
    day.job.log().entries().to_vec()
}

fn note(number: i64) -> Note {
    Note::new(number).unwrap_or(Note::FIRST)
}

impl Day {
    fn act(&mut self, act: Act) {
        self.at_ms += MINUTE_MS / 15;
        let entry = self.job.draft(self.device, self.at_ms, act);
        self.job.apply(entry);
    }

    fn set_up(&mut self, id: JobId) {
        self.act(Act::Made { job: id });
        self.act(Act::Details {
            set: Box::new(Details {
                name: Some("Harbour Hall grand".to_owned()),
                client: Some("Harbour Hall (invented)".to_owned()),
                instrument: Some(Instrument::Grand),
                described: Some("Concert-hall grand, invented".to_owned()),
                scope: Some("Full regulation before the season".to_owned()),
                invented: Some(true),
                ..Details::default()
            }),
        });
        let breaks = [20, 52, 72].map(note);
        self.act(Act::Setup {
            set: Box::new(Setup {
                sections: Sections::new(breaks).ok(),
                ..Setup::default()
            }),
        });
    }

    /// A pass of a step over the notes that `keep` names, the readings as far off as `spread`
    /// of the accept band.
    fn pass(&mut self, step: &Step, spread: f64, keep: impl Fn(Note) -> bool) {
        self.act(Act::PassOpened {
            step: step.id.clone(),
        });
        for item in self.job.state().items(step) {
            if item.on.note().is_none_or(&keep) {
                let value = self.value(&item, spread);
                self.read(step, &item, value);
            }
        }
        self.act(Act::PassClosed {
            step: step.id.clone(),
        });
    }

    fn value(&mut self, item: &Item, spread: f64) -> Option<Value> {
        let off = self.chance.off() * spread;
        let state = self.job.state();
        let measure = state.measure(item.measure.as_str())?;
        let band = state.band(item.measure.as_str(), item.on);
        if !measure.kind.is_number() {
            return Some(Value::from_base(measure.kind, band.map_or(1, |b| b.aim)));
        }
        let (aim, width) = match (band, measure.plausible) {
            (Some(b), _) => (b.aim, b.accept.1.map_or(b.aim / 4, |high| high - b.aim)),
            (None, Some((low, high))) => (low + (high - low) / 2, (high - low) / 8),
            (None, None) => return None,
        };
        // To the tenth of what is shown, as a caliper or a rule is read.
        let finest = (measure.kind.per_shown() / 10i64.pow(measure.form.1.min(3))).max(1);
        let one_sided = band.is_some_and(|b| b.accept.1.is_none());
        let exact = aim as f64 + if one_sided { off.abs() } else { off } * width as f64;
        Some(Value::from_base(
            measure.kind,
            (exact / finest as f64).round() as i64 * finest,
        ))
    }

    fn read(&mut self, step: &Step, item: &Item, value: Option<Value>) {
        let Some(value) = value else { return };
        let state = self.job.state();
        let place = step.place_or(state.place());
        let typed = state
            .measure(item.measure.as_str())
            .map(|m| m.shown(value, state.length_unit()))
            .unwrap_or_default();
        self.at_ms += MINUTE_MS / 15;
        let entry = self.job.reading(
            self.device,
            self.at_ms,
            item.measure.clone(),
            item.on,
            place,
            step.occasion(),
            value,
            &typed,
        );
        self.job.apply(entry);
    }

    /// Let-off readings that are out.
    fn wide(&mut self, notes: &[i64]) {
        for (i, number) in notes.iter().enumerate() {
            let tenths = if i % 2 == 0 { 28 + i as i64 } else { 11 };
            let entry = self.job.reading(
                self.device,
                self.at_ms,
                MeasureId::of("let_off"),
                Subject::Note(note(*number)),
                Place::Bench,
                Occasion::Working,
                Value::from_base(crate::unit::Kind::Length, tenths * 100_000),
                &format!("{}.{}", tenths / 10, tenths % 10),
            );
            self.job.apply(entry);
        }
    }

    /// Aftertouch read early on a few notes, whose blow was then changed.
    fn disturb_aftertouch(&mut self, notes: &[i64]) {
        let Some(step) = Instrument::Grand
            .steps()
            .iter()
            .find(|s| s.id.as_str() == "aftertouch")
        else {
            return;
        };
        let blow = Instrument::Grand
            .steps()
            .iter()
            .find(|s| s.id.as_str() == "blow");
        for number in notes {
            let on = Subject::Note(note(*number));
            let item = |measure: &'static str| Item {
                measure: MeasureId::of(measure),
                on,
            };
            let value = self.value(&item("aftertouch"), 0.4);
            self.read(step, &item("aftertouch"), value);
            self.act(Act::Correction {
                measure: MeasureId::of("blow"),
                on,
                place: Place::Bench,
                made: Correction::Turned(Turns::from_64ths(-4)),
            });
            if let Some(blow) = blow {
                let value = self.value(&item("blow"), 0.2);
                self.read(blow, &item("blow"), value);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::ItemState;

    const NOW_MS: i64 = 1_790_000_000_000;

    fn demo() -> Job {
        Job::from_entries(entries(JobId::new(1), DeviceId::new(2), NOW_MS))
    }

    #[test]
    fn the_demo_shows_every_state_of_a_step() {
        let job = demo();
        let all = job.state().progress(NOW_MS);
        let of = |id: &str| &all.iter().find(|(s, _)| s.id.as_str() == id).unwrap().1;
        assert!(of("blow").is_read());
        assert!(
            of("cauls_in")
                .wait
                .as_ref()
                .is_some_and(|w| !w.is_over(NOW_MS))
        );
        assert_eq!(of("aftertouch").again, 3);
        assert_eq!(of("let_off").read, 40);
        assert_eq!(of("let_off").out, 5);
        assert_eq!(of("drop").read, 0);
    }

    #[test]
    fn the_demo_says_that_it_is_invented() {
        let job = demo();
        assert_eq!(job.state().details().invented, Some(true));
        assert!(job.log().entries().iter().all(|e| e.at_ms <= NOW_MS));
    }

    #[test]
    fn disturbed_readings_of_the_demo_name_the_blow_as_the_cause() {
        let job = demo();
        let state = job.state();
        let step = state.step("aftertouch").unwrap();
        for item in state.items(&step) {
            if let ItemState::Again(.., cause) = state.item_state(&step, &item) {
                assert_eq!(cause.work.as_str(), "blow");
            }
        }
    }
}
