//! Two technicians' day: stack and keys are worked on apart, each with a phone; both adjust the let-off of the same
//! notes, and the office changes targets and details meanwhile. In the evening the three files are merged, in every
//! order. All of it is invented.

use evenhand_core::analysis::conflicts::{Conflict, conflicts};
use evenhand_core::analysis::handover::handover;
use evenhand_core::analysis::job_file::{conflicts_csv, export, open};
use evenhand_core::job::{
    Correction, Details, EntryKind, Job, JobId, ReplicaId, Scope, Setup, Subject,
};
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::{Band, MeasureId, Occasion, Place, StepId, Target};
use evenhand_core::unit::{Length, Turns, Value};

/// Nine in the morning, in milliseconds since 1970 (UTC).
const NINE_MS: i64 = 1_790_067_600_000;
const MINUTE_MS: i64 = 60_000;
const EVENING_MS: i64 = NINE_MS + 600 * MINUTE_MS;

/// A device with its copy of the job, and who uses it.
#[derive(Clone)]
struct Device {
    job: Job,
    replica: ReplicaId,
    at_ms: i64,
}

impl Device {
    fn act(&mut self, kind: EntryKind) {
        self.at_ms += MINUTE_MS;
        let entry = self.job.draft(self.replica, self.at_ms, kind);
        assert!(self.job.apply(entry));
    }

    fn details(&mut self, set: Details) {
        self.act(EntryKind::Details { set: Box::new(set) });
    }

    /// A device that opens the file of this one.
    fn opened_by(&self, replica: u64, name: &str, minutes_later: i64) -> Device {
        let file = export(&self.job, self.at_ms);
        let mut device = Device {
            job: Job::from_entries(open(file.as_bytes()).expect("a job file").entries),
            replica: ReplicaId::new(replica),
            at_ms: self.at_ms + minutes_later * MINUTE_MS,
        };
        device.details(Details {
            technician: Some(name.to_owned()),
            ..Details::default()
        });
        device
    }

    fn read(&mut self, measure: &'static str, note: i64, mm_hundredths: i64) {
        self.at_ms += MINUTE_MS;
        let value = Value::Nm(Length::from_mm_hundredths(mm_hundredths));
        let (measure, on) = (MeasureId::of(measure), Subject::Note(n(note)));
        let (place, occasion) = (Place::Bench, Occasion::Working);
        let (replica, at_ms) = (self.replica, self.at_ms);
        let entry = self
            .job
            .reading(replica, at_ms, measure, on, place, occasion, value, "");
        assert!(self.job.apply(entry));
    }

    fn turn(&mut self, measure: &'static str, note: i64) {
        self.act(EntryKind::Correction {
            measure: MeasureId::of(measure),
            on: Subject::Note(n(note)),
            place: Place::Bench,
            made: Correction::Turned(Turns::from_64ths(-8)),
        });
    }

    fn target(&mut self, aim_hundredths: i64) {
        self.act(EntryKind::Target {
            measure: MeasureId::of("let_off"),
            scope: Scope::Job,
            target: Some(Target::Flat(Band::mm(aim_hundredths, 30, 50))),
        });
    }

    fn minutes(&mut self, minutes: u32) {
        let step = StepId::of("let_off");
        self.act(EntryKind::MinutesStated {
            step,
            minutes,
            worked: None,
            instead_of: None,
        });
    }
}

fn n(number: i64) -> Note {
    Note::new(number).expect("one of the 88")
}

fn text(text: &str) -> Option<String> {
    Some(text.to_owned())
}

/// The three devices in the evening, before anything is merged.
fn a_day() -> [Device; 3] {
    let mut office = Device {
        job: Job::new(),
        replica: ReplicaId::new(0xc),
        at_ms: NINE_MS,
    };
    office.act(EntryKind::Made { job: JobId::new(5) });
    office.details(Details {
        name: text("Concert grand (made up)"),
        technician: text("O. Office"),
        ..Details::default()
    });
    office.act(EntryKind::Setup {
        set: Box::new(Setup {
            sections: Sections::new([n(20), n(52)]).ok(),
            ..Setup::default()
        }),
    });
    let mut stack = office.opened_by(0xa, "S. Stack", 10);
    let mut keys = office.opened_by(0xb, "K. Keys", 12);

    for note in 30..40 {
        stack.read("let_off", note, 200 + note);
        keys.read("natural_dip", note, 1_000);
    }
    // Both look at the let-off of three notes; one value is the same.
    for (note, by_stack, by_keys) in [(50, 210, 180), (51, 200, 200), (52, 240, 250)] {
        stack.read("let_off", note, by_stack);
        keys.read("let_off", note, by_keys);
    }
    // The stack's technician turns one more and reads it again.
    stack.turn("let_off", 52);
    stack.read("let_off", 52, 205);
    stack.details(Details {
        serial: text("4711"),
        ..Details::default()
    });
    keys.details(Details {
        serial: text("4717"),
        ..Details::default()
    });
    stack.minutes(90);
    keys.minutes(75);
    // The player wants it closer, says the office; the bench has found what the action can do.
    office.at_ms += 120 * MINUTE_MS;
    office.target(160);
    keys.target(180);
    [stack, keys, office]
}

/// Merges the files of devices into a new job, in this order.
fn merged(devices: &[Device; 3], order: [usize; 3]) -> Job {
    let mut job = Job::new();
    for at in order {
        let file = export(&devices[at].job, EVENING_MS);
        let opened = open(file.as_bytes()).expect("a job file");
        assert_eq!(opened.notices, Vec::<String>::new());
        job.merge(opened.entries);
    }
    job
}

const EVERY_ORDER: [[usize; 3]; 6] = [
    [0, 1, 2],
    [0, 2, 1],
    [1, 0, 2],
    [1, 2, 0],
    [2, 0, 1],
    [2, 1, 0],
];

/// What is told of a conflict: what it is about, and each value with its technician, sorted.
fn told(conflict: &Conflict) -> (String, Vec<(String, String)>) {
    let statements = conflict.statements.iter();
    let mut said: Vec<(String, String)> = statements
        .map(|s| (s.value.clone(), s.technician.clone().unwrap_or_default()))
        .collect();
    said.sort();
    (conflict.about.clone(), said)
}

#[test]
fn three_files_merged_in_every_order_are_one_job_that_tells_each_conflict() {
    let devices = a_day();
    let whole = merged(&devices, EVERY_ORDER[0]);
    let file = export(&whole, EVENING_MS);
    for order in EVERY_ORDER {
        let job = merged(&devices, order);
        assert!(job.state() == whole.state(), "{order:?}");
        assert_eq!(export(&job, EVENING_MS), file, "{order:?}");
        assert_eq!(conflicts_csv(&job), conflicts_csv(&whole), "{order:?}");
    }
    // Merging once more changes nothing.
    let mut again = whole.clone();
    let merge = again.merge(open(file.as_bytes()).expect("its own file").entries);
    assert_eq!((merge.new, export(&again, EVENING_MS)), (0, file.clone()));

    let pair = |a: [&'static str; 2], b: [&'static str; 2]| [a, b];
    let expected = [
        (
            "Serial number",
            pair(["4711", "S. Stack"], ["4717", "K. Keys"]),
        ),
        (
            "Target of Let-off, whole job",
            pair(
                [
                    "1.6 mm, on target 1.3 to 1.9, acceptable 1.1 to 2.1",
                    "O. Office",
                ],
                [
                    "1.8 mm, on target 1.5 to 2.1, acceptable 1.3 to 2.3",
                    "K. Keys",
                ],
            ),
        ),
        (
            "Let-off, note 50 (A♯4), on the bench",
            pair(["1.8 mm", "K. Keys"], ["2.1 mm", "S. Stack"]),
        ),
        (
            "Let-off, note 52 (C5), on the bench",
            pair(["2.05 mm", "S. Stack"], ["2.5 mm", "K. Keys"]),
        ),
        (
            "Working time of Let-off",
            pair(["75 min", "K. Keys"], ["90 min", "S. Stack"]),
        ),
    ];
    let open_conflicts = conflicts(&whole);
    assert_eq!(handover(&whole, EVENING_MS).conflicts, open_conflicts);
    let all: Vec<_> = open_conflicts.iter().map(told).collect();
    let expected = expected.map(|(about, said)| {
        let said = said.into_iter().map(|s| s.map(str::to_owned).into());
        (about.to_owned(), said.collect::<Vec<(String, String)>>())
    });
    assert_eq!(all, expected);
    for (about, said) in &expected {
        assert!(file.contains(about), "{about}");
        for (value, technician) in said {
            assert!(file.contains(value) && file.contains(technician), "{value}");
        }
    }
}

#[test]
fn what_one_of_them_settles_is_settled_for_all() {
    let devices = a_day();
    let mut stack = devices[0].clone();
    stack.job = merged(&devices, EVERY_ORDER[3]);
    stack.at_ms = EVENING_MS;
    // The reading that was turned afterwards no longer stands, so of that note only measuring again settles it.
    for conflict in conflicts(&stack.job) {
        match conflict.statements.iter().find_map(|s| s.keep.clone()) {
            Some(keep) => stack.act(keep),
            None => stack.read("let_off", 52, 200),
        }
    }
    assert_eq!(conflicts(&stack.job), []);
    for device in devices {
        let mut job = device.job;
        job.merge(stack.job.log().entries().to_vec());
        assert_eq!(conflicts(&job), []);
        assert!(job.state() == stack.job.state());
    }
}
