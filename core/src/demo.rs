//! The demo job: one made-up job, half done, that a new user can explore.
//!
//! Every name and number in it is made up. It contains each state that a screen can show: a survey that
//! found wear; drying time that runs and drying time that is over; a step left out and steps of the
//! user's own; targets changed for the job, a section and a note; turns with the readings before and
//! after; changed punchings; disturbed readings; faults and remarks; and a second phone whose reading
//! of one note differs.

use crate::analysis::papers;
use crate::job::{
    Act, ControlNote, Correction, Details, DeviceId, Entry, Item, Job, JobId, KeyLever, OwnStep,
    Scope, Setup, Subject, Trial,
};
use crate::note::{Note, Sections};
use crate::trade::{
    Band, Instrument, MeasureId, Occasion, Per, Place, Stage, Step, StepId, Target,
};
use crate::unit::{Kind, Length, Turns, Value};

/// Milliseconds in a minute.
const MINUTE_MS: i64 = 60_000;

/// The second phone on the same action.
const SECOND_PHONE: DeviceId = DeviceId::new(0x5ec0_4d00_0000_0002);

/// Let-off readings that are out: the note number and the reading in tenths of a millimeter.
const LET_OFF_OUT: [(i64, i64); 5] = [(6, 28), (17, 11), (18, 30), (29, 11), (35, 32)];

/// Capstans turned in the pass of blow: the note number and the turn in 64ths.
const CAPSTANS_TURNED: [(i64, i64); 9] = [
    (4, -10),
    (13, -8),
    (22, 8),
    (31, -12),
    (37, -8),
    (46, 10),
    (64, -8),
    (75, -10),
    (83, 12),
];

/// Buttons turned in the pass of let-off: the note number and the turn in 64ths.
const BUTTONS_TURNED: [(i64, i64); 6] = [(3, 8), (9, -8), (14, 12), (22, 8), (31, -12), (38, 8)];

/// Front-rail punchings added in the pass of dip: the note number and the thickness in nanometers.
const PAPERS_ADDED: [(i64, i64); 3] = [(8, 381_000), (42, 254_000), (66, 381_000)];

/// A pseudorandom number generator with the same sequence each time.
///
/// **Source**: P: Park and Miller 1988, the minimal standard.
struct Chance(u64);

impl Chance {
    /// Returns a number from −1 to 1, more often near 0.
    fn off(&mut self) -> f64 {
        (0..3).map(|_| self.next() * 2.0 - 1.0).sum::<f64>() / 3.0
    }

    /// Returns a uniform number between 0 and 1.
    fn next(&mut self) -> f64 {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        self.0 as f64 / 2_147_483_647.0
    }
}

/// Writes the entries of the demo job, one device at a time, with a clock of its own.
struct DemoWriter {
    job: Job,
    device: DeviceId,
    at_ms: i64,
    chance: Chance,
}

/// Returns the entries of the demo job, in the order of its log.
///
/// `id` becomes the id of the job and `device` the phone that wrote it. `now_ms`, in milliseconds since
/// 1970 (UTC), is the time at which its last drying time still runs; no entry is later.
///
/// ```
/// use evenhand_core::job::{DeviceId, Job, JobId};
///
/// let entries = evenhand_core::demo::entries(JobId::new(1), DeviceId::new(2), 1_790_000_000_000);
/// let job = Job::from_entries(entries);
/// assert_eq!(job.state().details().invented, Some(true));
/// ```
pub fn entries(id: JobId, device: DeviceId, now_ms: i64) -> Vec<Entry> {
    let mut writer = DemoWriter {
        job: Job::new(),
        device,
        at_ms: now_ms - 54 * 60 * MINUTE_MS,
        chance: Chance(20_261),
    };
    writer.set_up(id);
    for step in Instrument::Grand.steps() {
        match step.id.as_str() {
            // A gauge was used instead.
            "hammer_swings" => writer.act(Act::LeftOut {
                step: step.id.clone(),
                out: true,
            }),
            "action_out" => {
                // The survey was the day before.
                writer.at_ms = now_ms - 33 * 60 * MINUTE_MS;
                writer.pass(step, |_| true);
            }
            "cauls_in" => {
                writer.pass(step, |_| true);
                writer.start_drying(&step.id, step.wait_minutes);
            }
            "cauls_out" => {
                // The bushings dried overnight.
                writer.at_ms = now_ms - 14 * 60 * MINUTE_MS;
                writer.pass(step, |_| true);
            }
            "stack_on" => {
                // The glue under the key tops is dry.
                writer.at_ms = now_ms - 9 * 60 * MINUTE_MS;
                writer.glue_lyre();
                writer.pass(step, |_| true);
            }
            "key_tops" => {
                writer.pass(step, |_| true);
                writer.glue_key_tops();
            }
            "blow" => {
                let copy = writer.job.clone();
                writer.pass(step, |_| true);
                writer.second_phone(copy, step);
                writer.disturb_aftertouch(step, &[11, 12, 24]);
            }
            "let_off" => {
                writer.pass(step, |n| n.number() <= 40);
                break;
            }
            _ => writer.pass(step, |_| true),
        }
    }
    writer.add_remarks();
    writer.job.log().entries().to_vec()
}

/// Returns the note with this number, 1 to 88.
fn note(number: i64) -> Note {
    Note::new(number).unwrap_or(Note::FIRST)
}

/// Returns a length from hundredths of a millimeter.
fn mm(hundredths: i64) -> Length {
    Length::from_mm_hundredths(hundredths)
}

/// Returns the second number of the pair whose first is this note, or `None` if there is none.
fn of_note(pairs: &[(i64, i64)], on: Subject) -> Option<i64> {
    let pair = pairs.iter().find(|(n, _)| on.note() == Note::new(*n).ok());
    pair.map(|(_, number)| *number)
}

// Writes the entries.
impl DemoWriter {
    /// Appends an entry four seconds after the one before.
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
                serial: Some("00417 (invented)".to_owned()),
                scope: Some("Full regulation before the season".to_owned()),
                technician: Some("First phone (invented)".to_owned()),
                rate_per_hour_cents: Some(6_000),
                currency: Some("crowns (invented)".to_owned()),
                invented: Some(true),
            }),
        });
        self.act(Act::Setup {
            set: Box::new(instrument()),
        });
        let targets = [
            ("key_height", Scope::Job, Band::mm(6350, 20, 50)),
            ("let_off", Scope::Section(3), Band::mm(150, 30, 50)),
            ("let_off", Scope::Note(note(30)), Band::mm(240, 30, 50)),
        ];
        for (measure, scope, band) in targets {
            self.act(Act::Target {
                measure: MeasureId::of(measure),
                scope,
                target: Some(Target::Flat(band)),
            });
        }
    }

    /// Starts the drying time of a step.
    fn start_drying(&mut self, step: &StepId, minutes: u32) {
        self.act(Act::WaitStarted {
            step: step.clone(),
            minutes,
        });
    }

    /// Adds a step of the user's own whose drying time is over.
    fn glue_key_tops(&mut self) {
        let step = self.own_step(
            ("loose_tops", "Loose key tops glued"),
            "key_tops",
            "Lift the loose top, glue it thinly, clamp it with a block between.",
        );
        self.pass(&step, |_| true);
        self.start_drying(&step.id, 120);
    }

    /// Adds a step of the user's own that still dries, and one that waits for it. It involves neither keys
    /// nor stack, so the work on them goes on meanwhile.
    fn glue_lyre(&mut self) {
        let step = self.own_step(
            ("lyre_glued", "Brace of the pedal lyre glued"),
            "action_out",
            "Clean the old glue from the joint, glue the brace, clamp it square to the lyre.",
        );
        self.own_step(
            ("lyre_on", "Pedal lyre set back"),
            "lyre_glued",
            "Lift the lyre to its plate, draw its screws, set the braces free of strain.",
        );
        self.pass(&step, |_| true);
        self.start_drying(&step.id, 12 * 60);
    }

    /// Adds a step of the user's own after another one.
    fn own_step(
        &mut self,
        (id, name): (&'static str, &str),
        after: &'static str,
        how: &str,
    ) -> Step {
        let own = OwnStep {
            id: StepId::of(id),
            name: name.to_owned(),
            stage: Stage::Recondition,
            after: Some(StepId::of(after)),
            per: Per::Whole,
            kind: Kind::Tick,
            minutes: 20,
            how: how.to_owned(),
        };
        let step = own.step();
        self.act(Act::OwnStep {
            step: Box::new(own),
        });
        step
    }

    fn add_remarks(&mut self) {
        let remarks = [
            (
                Subject::Note(note(33)),
                None,
                true,
                "Hammer flange loose, wants a new centre pin.",
            ),
            (
                Subject::Note(note(60)),
                Some("blow"),
                false,
                "Two phones differ here: look which blow is right.",
            ),
            (
                Subject::Whole,
                Some("climate"),
                false,
                "The humidifier under the key bed was dry. Told the hall.",
            ),
            (
                Subject::Section(2),
                Some("wear"),
                true,
                "Back-check leather hardened through the section, to be replaced at the next large job.",
            ),
        ];
        for (on, step, fault, text) in remarks {
            self.act(Act::Remark {
                on,
                step: step.map(StepId::of),
                fault,
                text: text.to_owned(),
            });
        }
    }

    /// Makes a pass of a step over the notes for which `keep` returns `true`.
    fn pass(&mut self, step: &Step, keep: impl Fn(Note) -> bool) {
        self.act(Act::PassOpened {
            step: step.id.clone(),
        });
        for item in self.job.state().items(step) {
            if item.on.note().is_none_or(&keep) {
                self.take(step, &item);
            }
        }
        self.act(Act::PassClosed {
            step: step.id.clone(),
        });
    }

    /// Takes a reading of an item. If the lists above adjust it, first takes a reading that is off and
    /// makes the correction.
    fn take(&mut self, step: &Step, item: &Item) {
        let Some(value) = self.value(step, item) else {
            return;
        };
        let measure = item.measure.as_str();
        let working = step.occasion() == Occasion::Working;
        // Nanometers of reading per 64th of a turn, a little more than the default response.
        let moved = match measure {
            "blow" => of_note(&CAPSTANS_TURNED, item.on).map(|t| (t, t * 134_000)),
            "let_off" => of_note(&BUTTONS_TURNED, item.on).map(|t| (t, t * 82_000)),
            "natural_dip" => of_note(&PAPERS_ADDED, item.on).map(|paper| (0, -paper * 106 / 100)),
            _ => None,
        };
        if let (true, Some((turned, change))) = (working, moved) {
            let scatter = (self.chance.off() * 120_000.0) as i64;
            let before = value.base() - change + scatter;
            self.read(step, item, rounded(Kind::Length, before, 100_000));
            let made = match of_note(&PAPERS_ADDED, item.on).filter(|_| turned == 0) {
                Some(paper) => Correction::Papers(vec![Length::from_nm(paper)]),
                None => Correction::Turned(Turns::from_64ths(turned)),
            };
            self.correct(item, made);
        }
        self.read(step, item, value);
    }

    fn correct(&mut self, item: &Item, made: Correction) {
        self.act(Act::Correction {
            measure: item.measure.clone(),
            on: item.on,
            place: Place::Bench,
            made,
        });
    }

    fn read(&mut self, step: &Step, item: &Item, value: Value) {
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

    /// Merges readings of four notes from a second phone that had not seen those of the first; one differs.
    fn second_phone(&mut self, copy: Job, step: &Step) {
        let mut other = DemoWriter {
            job: copy,
            device: SECOND_PHONE,
            at_ms: self.at_ms - 20 * MINUTE_MS,
            chance: Chance(3),
        };
        let technician = Some("Second phone (invented)".to_owned());
        other.act(Act::Details {
            set: Box::new(Details {
                technician,
                ..Details::default()
            }),
        });
        other.act(Act::PassOpened {
            step: step.id.clone(),
        });
        for number in 57..=60 {
            let on = Subject::Note(note(number));
            let item = Item {
                measure: MeasureId::of("blow"),
                on,
            };
            let here = self.job.state().slot("blow", on, Place::Bench);
            let Some(read) = here.and_then(|slot| slot.in_force()) else {
                continue;
            };
            let apart = if number == 60 { 700_000 } else { 0 };
            let value = Value::from_base(Kind::Length, read.value.base() + apart);
            other.read(step, &item, value);
        }
        other.act(Act::PassClosed {
            step: step.id.clone(),
        });
        self.job.merge(other.job.log().entries().to_vec());
    }

    /// Takes aftertouch early on a few notes, then changes their blow, which disturbs it.
    fn disturb_aftertouch(&mut self, blow: &Step, notes: &[i64]) {
        let steps = Instrument::Grand.steps().iter();
        let Some(step) = steps.clone().find(|s| s.id.as_str() == "aftertouch") else {
            return;
        };
        for number in notes {
            let on = Subject::Note(note(*number));
            let item = |measure: &'static str| Item {
                measure: MeasureId::of(measure),
                on,
            };
            if let Some(value) = self.value(step, &item("aftertouch")) {
                self.read(step, &item("aftertouch"), value);
            }
            let was = self
                .known("blow", on, Place::Bench, false)
                .unwrap_or(45_000_000);
            self.correct(&item("blow"), Correction::Turned(Turns::from_64ths(-4)));
            let scatter = (self.chance.off() * 150_000.0) as i64;
            let is = rounded(Kind::Length, was - 4 * 134_000 + scatter, 100_000);
            self.read(blow, &item("blow"), is);
        }
    }
}

/// Returns the setup of the demo instrument.
fn instrument() -> Setup {
    let lever = |front, back, pin| KeyLever {
        front_nm: mm(front),
        back_nm: mm(back),
        front_pin_nm: mm(pin),
    };
    let control = |number, bench, key_bed| ControlNote {
        note: note(number),
        bench_nm: mm(bench),
        key_bed_nm: mm(key_bed),
    };
    Setup {
        control_notes: Some(vec![
            control(3, 16_155, 14_930),
            control(44, 16_405, 15_175),
            control(86, 16_680, 15_460),
        ]),
        sections: Sections::new([20, 52, 72].map(note)).ok(),
        natural_key: Some(lever(25_200, 22_600, 23_800)),
        sharp_key: Some(lever(20_100, 22_600, 19_000)),
        papers_nm: Some(papers::COMMON[..6].to_vec()),
        trials: Some(vec![Trial {
            measure: MeasureId::of("let_off"),
            turned_64ths: Turns::from_64ths(16),
            before_nm: mm(190),
            after_nm: mm(320),
        }]),
        ..Setup::default()
    }
}

/// Returns a value rounded half away from zero to a multiple of `finest`, as a gauge is read.
fn rounded(kind: Kind, base: i64, finest: i64) -> Value {
    let half = if base < 0 { -finest } else { finest } / 2;
    Value::from_base(kind, (base + half) / finest * finest)
}

// Computes the readings.
impl DemoWriter {
    /// Returns the next reading of an item, or `None` if its measure is unknown or needs another reading.
    fn value(&mut self, step: &Step, item: &Item) -> Option<Value> {
        let (id, on) = (item.measure.as_str(), item.on);
        let state = self.job.state();
        let (kind, decimals) = state.measure(id).map(|m| (m.kind, m.form.1))?;
        let found = step.occasion() == Occasion::AsFound;
        if !kind.is_number() {
            let wanted = state.band(id, on).map_or(1, |b| b.aim);
            return Some(Value::from_base(kind, self.answer(id, on, found, wanted)));
        }
        let finest = (kind.per_shown() / 10i64.pow(decimals.min(3))).max(1);
        let out = match id {
            "let_off" if !found => of_note(&LET_OFF_OUT, on).map(|tenths| tenths * 100_000),
            _ => None,
        };
        let base = match out {
            Some(base) => base,
            None => self.number(id, on, found)?,
        };
        Some(rounded(kind, base, finest))
    }

    /// Returns the answer to tap: the one wanted, except for the wear found in the survey and one note that
    /// needs work.
    fn answer(&mut self, id: &str, on: Subject, found: bool, wanted: i64) -> i64 {
        let chance = self.chance.next();
        match (id, found) {
            ("wear_checks", true) if on == Subject::Section(2) => 2,
            ("spring", true) if chance < 0.4 => 1,
            (_, true) if id.starts_with("wear") && chance < 0.45 => 1,
            ("jack_position", false) if on == Subject::Note(note(47)) => 0,
            _ => wanted,
        }
    }

    /// Returns the next reading of a number, in the stored unit.
    fn number(&mut self, id: &str, on: Subject, found: bool) -> Option<i64> {
        let off = self.chance.off();
        let number = i64::from(on.note().map_or(0, Note::number));
        let section = on.note().map_or(0, |n| self.job.state().sections().of(n)) as i64;
        let nm = |exact: i64, scatter: f64| exact + (off * scatter) as i64;
        Some(match id {
            // Strings rise toward the treble and are higher above each break.
            "string_height" => nm(194_000_000 + number * 55_000 + section * 400_000, 0.0),
            "stand_in" => nm(206_300_000 + number * 55_000 + section * 400_000, 200_000.0),
            "humidity" => {
                if found {
                    440
                } else {
                    510
                }
            }
            "temperature" => {
                if found {
                    20_500
                } else {
                    21_500
                }
            }
            "key_pin" => nm(3_710_000, 20_000.0),
            "front_pin" => nm(3_640_000, 20_000.0),
            "sharp_dip" => nm(if found { 10_050_000 } else { 9_850_000 }, 300_000.0),
            "down_weight" => nm(39_000 + friction(number), 3_000.0),
            "up_weight" => nm(39_000 - friction(number), 3_000.0),
            "aftertouch" => self.balanced(on, found)? + (off * 60_000.0) as i64,
            _ => return self.near_target(id, on, found, off),
        })
    }

    /// Returns a reading near the target, or one changed by wear if `found`: dip and blow grow, let-off
    /// and checking distance shrink.
    fn near_target(&self, id: &str, on: Subject, found: bool, off: f64) -> Option<i64> {
        let state = self.job.state();
        let band = state.band(id, on);
        let (aim, width) = match (band, state.measure(id)?.plausible) {
            (Some(b), _) => (b.aim, b.accept.1.map_or(b.aim / 4, |high| high - b.aim)),
            (None, Some((low, high))) => (low + (high - low) / 2, (high - low) / 8),
            (None, None) => return None,
        };
        let one_sided = band.is_some_and(|b| b.accept.1.is_none());
        let spread = match (one_sided, found) {
            (true, _) => off.abs(),
            (_, false) => off * 0.5,
            (_, true) => off * 1.6 + worn(id),
        };
        Some(aim + (spread * width as f64) as i64)
    }

    /// Returns the aftertouch that follows from the dip, blow and let-off of this note.
    fn balanced(&self, on: Subject, found: bool) -> Option<i64> {
        let place = if found { Place::Piano } else { Place::Bench };
        let (dip, aim, ratio) = match on.note()?.is_sharp() {
            true => ("sharp_dip", 9_850_000, 495),
            false => ("natural_dip", 10_000_000, 486),
        };
        let known = |id, aim| self.known(id, on, place, found).unwrap_or(aim);
        let hammer = known("blow", 45_000_000) - known("let_off", 2_000_000);
        Some(known(dip, aim) - hammer * 100 / ratio)
    }

    /// Returns the as-found or the current reading in the stored unit, or `None` if there is none.
    fn known(&self, id: &str, on: Subject, place: Place, found: bool) -> Option<i64> {
        let slot = self.job.state().slot(id, on, place)?;
        let read = if found {
            slot.of(Occasion::AsFound)
        } else {
            slot.in_force()
        };
        Some(read?.value.base())
    }
}

/// Returns the friction of a note in milligram-force: about 16 gf at note 1 and 10 gf at note 88.
fn friction(number: i64) -> i64 {
    16_000 - number * 68
}

/// Returns how far wear changes a reading, as a fraction of its acceptable tolerance.
fn worn(id: &str) -> f64 {
    match id {
        "blow" => 1.2,
        "natural_dip" => 0.7,
        "let_off" => -0.9,
        "checking" => -0.8,
        "drop" => -0.3,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analysis::response::{Prior, Scatter, Trial as Turned, learn};
    use crate::analysis::suggestion::{Reason, suggest_next};
    use crate::analysis::travel::{Travel, fit_by_colour};
    use crate::job::{Change, ItemState, Reading, Slot};

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
        let runs = |id| of(id).wait.as_ref().map(|w| !w.is_over(NOW_MS));
        assert_eq!(runs("lyre_glued"), Some(true));
        assert_eq!(runs("cauls_in"), Some(false));
        assert_eq!(of("aftertouch").again, 3);
        assert_eq!(of("let_off").read, 40);
        assert_eq!(of("let_off").out, 5);
        assert_eq!(of("drop").read, 0);
        let first = &suggest_next(job.state(), &all, NOW_MS)[0];
        assert_eq!(first.step.as_str(), "aftertouch");
        assert_eq!(first.reason, Reason::ReadAgain { count: 3 });
    }

    /// No step begins before those that it needs are done and dry.
    #[test]
    fn the_demo_keeps_to_its_order() {
        let job = demo();
        let state = job.state();
        let mut steps: Vec<(Step, i64, i64)> = Vec::new();
        for step in state.order().steps() {
            let takes = |e: &&Entry| matches!(&e.act, Act::Reading { measure, .. } if step.takes.contains(measure));
            // Measures of the survey are taken again during the work.
            let own = |e: &&Entry| match step.occasion() {
                Occasion::Working => e.at_ms > NOW_MS - 34 * 60 * MINUTE_MS,
                _ => true,
            };
            let here = |e: &&Entry| e.id.device == DeviceId::new(2);
            let entries = job.log().entries().iter().filter(here);
            let entries = entries.filter(takes).filter(own);
            let times: Vec<i64> = entries.map(|e| e.at_ms).collect();
            if let (Some(first), Some(last)) = (times.iter().min(), times.iter().max()) {
                let cured = state.wait(step.id.as_str()).map_or(*last, |w| w.until_ms);
                steps.push((step.clone(), *first, cured));
            }
        }
        assert!(steps.len() > 30);
        for (step, first, _) in &steps {
            for id in &step.needs {
                let needed = steps.iter().find(|(s, ..)| s.id == *id);
                // Three notes were measured early, to show disturbed readings.
                let early = step.id.as_str() == "aftertouch";
                if let Some((_, _, cured)) = needed.filter(|_| !early) {
                    assert!(cured <= first, "{} before {id}", step.id);
                }
            }
        }
    }

    #[test]
    fn samples_of_the_demo_balance_as_their_ratio_says() {
        let job = demo();
        let found = |id, n| {
            let slot = job.state().slot(id, Subject::Note(n), Place::Piano)?;
            slot.of(Occasion::AsFound)?.value.length()
        };
        let travel = |n: Note| {
            let dip = if n.is_sharp() {
                "sharp_dip"
            } else {
                "natural_dip"
            };
            let travel = Travel {
                dip: found(dip, n)?,
                lost_motion: Length::ZERO,
                blow: found("blow", n)?,
                let_off: found("let_off", n)?,
                aftertouch: found("aftertouch", n)?,
            };
            Some((n, travel))
        };
        let samples: Vec<_> = Note::all().filter_map(travel).collect();
        let (naturals, sharps) = fit_by_colour(&samples);
        for (fit, ratio) in [(naturals.unwrap(), 4.86), (sharps.unwrap(), 4.95)] {
            assert!((fit.ratio - ratio).abs() < 0.05, "{fit:?}");
            assert_eq!(fit.odd().count(), 0);
        }
    }

    #[test]
    fn the_demo_shows_what_a_job_can_hold() {
        let job = demo();
        let state = job.state();
        let all = state.progress(NOW_MS);
        let of = |id: &str| all.iter().find(|(s, _)| s.id.as_str() == id);
        assert!(of("hammer_swings").is_none(), "left out");
        let glued = &of("loose_tops").unwrap().1;
        assert!(glued.wait.as_ref().is_some_and(|w| w.is_over(NOW_MS)));
        assert_eq!(of("string_height").unwrap().1.read, 8);
        assert!(of("wear").unwrap().1.out > 0);
        assert_eq!(of("jack_position").unwrap().1.out, 1);
        let faults = state.remarks().filter(|r| r.fault).count();
        assert_eq!((faults, state.remarks().count()), (2, 4));
        let setup = state.setup();
        assert!(setup.natural_key.is_some() && setup.sharp_key.is_some());
        assert!(setup.papers_nm.as_ref().is_some_and(|p| p.len() == 6));
        assert!(setup.trials.is_some());
        assert_ne!(
            read(&job, "humidity", Place::Piano),
            read(&job, "humidity", Place::Bench)
        );
    }

    fn read(job: &Job, id: &str, place: Place) -> Option<i64> {
        let slot = job.state().slot(id, Subject::Whole, place)?;
        Some(slot.latest()?.value.base())
    }

    #[test]
    fn targets_of_the_demo_differ_by_job_section_and_note() {
        let job = demo();
        let aim = |id, n| job.state().band(id, Subject::Note(note(n))).unwrap().aim;
        assert_eq!(
            (aim("let_off", 29), aim("let_off", 30)),
            (2_000_000, 2_400_000)
        );
        assert_eq!(aim("let_off", 80), 1_500_000);
        assert_eq!(aim("key_height", 1), 63_500_000);
    }

    #[test]
    fn two_phones_of_the_demo_differ_on_one_note() {
        let job = demo();
        let differing = |n: &Note| {
            let slot = job.state().slot("blow", Subject::Note(*n), Place::Bench);
            !slot.unwrap().others().is_empty()
        };
        let notes: Vec<_> = Note::all().filter(differing).collect();
        assert_eq!(notes, [note(60)]);
        let phones: std::collections::BTreeSet<_> =
            job.log().entries().iter().map(|e| e.id.device).collect();
        assert_eq!(phones.len(), 2);
    }

    #[test]
    fn turns_of_the_demo_teach_what_they_were_made_with() {
        let job = demo();
        for (id, turned, default, made_with) in [
            ("blow", CAPSTANS_TURNED.len() + 3, 8.0, 8.576),
            ("let_off", BUTTONS_TURNED.len(), 5.0, 5.248),
        ] {
            let trials: Vec<_> = Note::all().flat_map(|n| turns_of(&job, id, n)).collect();
            assert_eq!(trials.len(), turned, "{id}");
            let learned = learn(&trials, Prior::rough(default), Scatter::default()).unwrap();
            let off = (learned.mm_per_turn - made_with).abs();
            assert!(off < 2.0 * learned.standard_error, "{id}: {learned:?}");
        }
    }

    /// The turns of a note with the readings before and after them.
    fn turns_of(job: &Job, id: &str, n: Note) -> Vec<Turned> {
        let slot = job.state().slot(id, Subject::Note(n), Place::Bench);
        let length = |r: Option<&Reading>| r.unwrap().value.length().unwrap();
        let turned = |slot: &Slot, change: &Change| Turned {
            turned: change.turned().unwrap(),
            before: length(slot.readings().rfind(|r| r.stamp < change.stamp)),
            after: length(slot.readings().find(|r| r.stamp > change.stamp)),
        };
        slot.into_iter()
            .flat_map(|slot| slot.changes().map(|c| turned(slot, c)))
            .collect()
    }

    #[test]
    fn readings_of_the_demo_are_plausible() {
        let job = demo();
        for entry in job.log().entries() {
            if let Act::Reading { measure, value, .. } = &entry.act {
                let known = job.state().measure(measure.as_str()).unwrap();
                assert!(known.believes(*value), "{measure}: {value:?}");
            }
        }
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
        for item in state.items(step) {
            if let ItemState::Again(.., cause) = state.item_state(step, &item) {
                assert_eq!(cause.work.as_str(), "blow");
            }
        }
    }
}
