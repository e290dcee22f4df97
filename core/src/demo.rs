//! The demo job: one made-up job, half done, that a new user can explore. The file is long because
//! it is one story, told in the order in which it happened.
//!
//! Every name and number in it is made up. It contains each state that a screen can show: a survey that
//! found wear; drying time that runs and drying time that is over; a step left out and steps of the
//! user's own; targets changed for the job, a section and a note; turns with the readings before and
//! after; changed punchings; disturbed readings; faults and remarks; and a second phone whose reading
//! of one note differs.

mod readings;
mod values;

use values::{Random, mm, note, of_note, rounded};

use crate::analysis::punchings;
use crate::job::{
    ControlNote, Correction, Day, Details, Entry, EntryKind, Item, Job, JobId, KeyLever, OwnStep,
    ReplicaId, Scope, Setup, Subject, Trial, WorkDay,
};
use crate::note::{Note, Sections};
use crate::trade::{
    Band, Instrument, MeasureId, Occasion, Per, Place, Stage, Step, StepId, Target,
};
use crate::unit::{Kind, Length, Turns, Value};

/// Milliseconds in a minute.
const MINUTE_MS: i64 = 60_000;

/// The technician of the first phone.
const FIRST_PHONE: &str = "First phone (made up)";

/// The second phone on the same action.
const SECOND_PHONE: ReplicaId = ReplicaId::new(0x5ec0_4d00_0000_0002);

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

/// Writes the entries of the demo job, one device at a time, with a clock of its own.
struct DemoWriter {
    job: Job,
    replica: ReplicaId,
    at_ms: i64,
    chance: Random,
}

/// Returns the entries of the demo job, in the order of its log.
///
/// `id` becomes the id of the job and `device` the phone that wrote it. `now_ms`, in milliseconds since
/// 1970 (UTC), is the time at which its last drying time still runs; no entry is later.
///
/// ```
/// use evenhand_core::job::{ReplicaId, Job, JobId};
///
/// let entries = evenhand_core::demo::entries(JobId::new(1), ReplicaId::new(2), 1_790_000_000_000);
/// let job = Job::from_entries(entries);
/// assert_eq!(job.state().details().invented, Some(true));
/// ```
pub fn entries(id: JobId, replica: ReplicaId, now_ms: i64) -> Vec<Entry> {
    let mut writer = DemoWriter {
        job: Job::new(),
        replica,
        at_ms: now_ms - 54 * 60 * MINUTE_MS,
        chance: Random(20_261),
    };
    writer.set_up(id);
    for step in Instrument::Grand.steps() {
        if writer.job.state().step(step.id.as_str()).is_none() {
            // No grade calls for it.
            continue;
        }
        match step.id.as_str() {
            // A gauge was used instead.
            "hammer_swings" => writer.act(EntryKind::LeftOut {
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
                writer.start_drying(&step.id, step.drying_minutes);
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

// Writes the entries.
impl DemoWriter {
    /// Appends an entry four seconds after the one before.
    fn act(&mut self, act: EntryKind) {
        self.at_ms += MINUTE_MS / 15;
        let entry = self.job.draft(self.replica, self.at_ms, act);
        self.job.apply(entry);
    }

    fn set_up(&mut self, id: JobId) {
        self.act(EntryKind::Made { job: id });
        self.act(EntryKind::Details {
            set: Box::new(Details {
                name: Some("Harbor Hall grand".to_owned()),
                client: Some("Harbor Hall (made up)".to_owned()),
                instrument: Some(Instrument::Grand),
                described: Some("Concert-hall grand, made up".to_owned()),
                serial: Some("00417 (made up)".to_owned()),
                scope: Some("Full regulation before the season".to_owned()),
                technician: Some(FIRST_PHONE.to_owned()),
                rate_per_hour_cents: Some(6_000),
                currency: Some("crowns (made up)".to_owned()),
                invented: Some(true),
                ..Details::default()
            }),
        });
        self.act(EntryKind::Setup {
            set: Box::new(instrument()),
        });
        let targets = [
            ("key_height", Scope::Job, Band::mm(6350, 20, 50)),
            ("let_off", Scope::Section(3), Band::mm(150, 30, 50)),
            ("let_off", Scope::Note(note(30)), Band::mm(240, 30, 50)),
        ];
        for (measure, scope, band) in targets {
            self.act(EntryKind::Target {
                measure: MeasureId::of(measure),
                scope,
                target: Some(Target::Flat(band)),
            });
        }
    }

    /// Starts the drying time of a step.
    fn start_drying(&mut self, step: &StepId, minutes: u32) {
        self.act(EntryKind::DryingStarted {
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
        self.act(EntryKind::OwnStep {
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
                "Hammer flange loose, needs a new center pin.",
            ),
            (
                Subject::Note(note(60)),
                Some("blow"),
                false,
                "Two phones differ here: check which blow is right.",
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
            self.act(EntryKind::Remark {
                on,
                step: step.map(StepId::of),
                fault,
                text: text.to_owned(),
            });
        }
    }

    /// Makes a pass of a step over the notes for which `keep` returns `true`.
    fn pass(&mut self, step: &Step, keep: impl Fn(Note) -> bool) {
        self.act(EntryKind::PassOpened {
            step: step.id.clone(),
            utc_offset_minutes: None,
        });
        for item in self.job.state().items(step) {
            if item.on.note().is_none_or(&keep) {
                self.take(step, &item);
            }
        }
        self.act(EntryKind::PassClosed {
            step: step.id.clone(),
        });
        self.state_minutes(step);
    }

    /// States the minutes of a step, since no one works as fast as this writes. One step is left without.
    fn state_minutes(&mut self, step: &Step) {
        let worked = WorkDay {
            day: Day::at(self.at_ms, 0),
            technician: Some(FIRST_PHONE.to_owned()),
        };
        if step.minutes >= 10 && step.id.as_str() != "action_out" {
            let stated = (step.minutes / 10) * 6;
            let id = step.id.clone();
            self.act(self.job.state().minutes_stated(id, stated, worked, None));
        }
    }

    /// Takes a reading of an item. If the lists above adjust it, first takes a reading that is off and
    /// makes the correction.
    fn take(&mut self, step: &Step, item: &Item) {
        let Some(value) = self.value(step, item) else {
            return;
        };
        let measure = item.measure.as_str();
        let working = step.occasion == Occasion::Working;
        // Nanometers of reading per 64th of a turn, a little more than the default response.
        let moved = match measure {
            "blow" => of_note(&CAPSTANS_TURNED, item.on).map(|t| (t, t * 134_000)),
            "let_off" => of_note(&BUTTONS_TURNED, item.on).map(|t| (t, t * 82_000)),
            "natural_dip" => {
                of_note(&PAPERS_ADDED, item.on).map(|punching| (0, -punching * 106 / 100))
            }
            _ => None,
        };
        if let (true, Some((turned, change))) = (working, moved) {
            let scatter = (self.chance.off() * 120_000.0) as i64;
            let before = value.base() - change + scatter;
            self.read(step, item, rounded(Kind::Length, before, 100_000));
            let made = match of_note(&PAPERS_ADDED, item.on).filter(|_| turned == 0) {
                Some(punching) => Correction::Punchings(vec![Length::from_nm(punching)]),
                None => Correction::Turned(Turns::from_64ths(turned)),
            };
            self.correct(item, made);
        }
        self.read(step, item, value);
    }

    fn correct(&mut self, item: &Item, made: Correction) {
        self.act(EntryKind::Correction {
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
            self.replica,
            self.at_ms,
            item.measure.clone(),
            item.on,
            place,
            step.occasion,
            value,
            &typed,
        );
        self.job.apply(entry);
    }

    /// Merges readings of four notes from a second phone that had not seen those of the first; one differs.
    fn second_phone(&mut self, copy: Job, step: &Step) {
        let mut other = DemoWriter {
            job: copy,
            replica: SECOND_PHONE,
            at_ms: self.at_ms - 20 * MINUTE_MS,
            chance: Random(3),
        };
        let technician = Some("Second phone (made up)".to_owned());
        other.act(EntryKind::Details {
            set: Box::new(Details {
                technician,
                ..Details::default()
            }),
        });
        other.act(EntryKind::PassOpened {
            step: step.id.clone(),
            utc_offset_minutes: None,
        });
        for number in 57..=60 {
            let on = Subject::Note(note(number));
            let item = Item {
                measure: MeasureId::of("blow"),
                on,
            };
            let here = self.job.state().measure_state("blow", on, Place::Bench);
            let Some(read) = here.and_then(|measure_state| measure_state.in_effect()) else {
                continue;
            };
            let apart = if number == 60 { 700_000 } else { 0 };
            let value = Value::from_base(Kind::Length, read.value.base() + apart);
            other.read(step, &item, value);
        }
        other.act(EntryKind::PassClosed {
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
        punchings_nm: Some(punchings::COMMON[..6].to_vec()),
        trials: Some(vec![Trial {
            measure: MeasureId::of("let_off"),
            turned_64ths: Turns::from_64ths(16),
            before_nm: mm(190),
            after_nm: mm(320),
        }]),
        ..Setup::default()
    }
}

#[cfg(test)]
mod tests;
