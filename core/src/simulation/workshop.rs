//! The jobs of an invented workshop, for measuring and testing what an office does with many of them.

use crate::job::{Day, Details, EntryKind, Job, JobId, ReplicaId, Subject, SweptNotes, WorkDay};
use crate::note::Note;
use crate::trade::{Instrument, JobKind, MeasureId, Occasion, Part, Place, StepId};
use crate::unit::{Length, Value};

const DAY_MS: i64 = 86_400_000;

/// Returns an invented job by its number, at a wall time in milliseconds since 1970 (UTC): of a dozen clients, a piano
/// for each number, last worked on within the last 400 days. Of five jobs one is surveyed, one agreed, one in work and two
/// are done; every seventh has an open fault, and of fifteen one is archived.
///
/// ```
/// use evenhand_core::analysis::overview::{Standing, overview};
/// use evenhand_core::simulation::workshop_job;
///
/// let now_ms = 1_790_000_000_000;
/// let standings = [0, 1, 2, 3].map(|number| overview(&workshop_job(number, now_ms), now_ms, 0).standing);
/// assert_eq!(standings, [Standing::Survey, Standing::Agreed, Standing::InWork, Standing::Done]);
/// ```
pub fn workshop_job(number: u64, now_ms: i64) -> Job {
    let phone = ReplicaId::new(1_000 + number);
    let mut at_ms = now_ms - (number as i64 * 37 % 400 + 1) * DAY_MS;
    let day = Day::at(at_ms, 0);
    let mut job = Job::new();
    let mut act = |job: &mut Job, act: EntryKind| {
        at_ms += 20_000;
        job.apply(job.draft(phone, at_ms, act));
    };
    let id = JobId::new(70_000 + number);
    act(&mut job, EntryKind::Made { job: id });
    let is_agreed = !number.is_multiple_of(5);
    let technician = ["R. Sample", "S. Pattern", "T. Probe"][number as usize % 3].to_owned();
    let set = Box::new(Details {
        name: Some(format!("Piano {number}")),
        client: Some(format!("Client {} (made up)", number % 12)),
        serial: Some(format!("{}", 70_000 + number)),
        described: Some("Grand, 188 cm".to_owned()),
        scope: is_agreed.then(|| "Let-off and drop".to_owned()),
        technician: Some(technician.clone()),
        rate_per_hour_cents: Some(6_000),
        currency: Some("EUR".to_owned()),
        ..Details::default()
    });
    act(&mut job, EntryKind::Details { set });
    let steps = ["wear", "decisions", "let_off", "drop"].map(StepId::from);
    let kind = Box::new(JobKind {
        name: "Contract visit".to_owned(),
        instrument: Instrument::Grand,
        place: Place::Piano,
        steps: steps.to_vec(),
        sample: Vec::new(),
    });
    act(&mut job, EntryKind::KindChosen { kind });
    let section = Subject::Section(0);
    let read = |measure: &str, on, occasion, value| EntryKind::Reading {
        measure: MeasureId::from(measure),
        on,
        place: Place::Piano,
        occasion,
        value,
        typed: String::new(),
    };
    let found = |measure, grade| read(measure, section, Occasion::AsFound, Value::Grade(grade));
    let is_surveyed = number % 5 != 1;
    for part in Part::ALL.into_iter().filter(|_| is_surveyed) {
        // The pianos that are surveyed need new parts, one kind each.
        let is_worn = !is_agreed && part == Part::ALL[number as usize / 5 % Part::ALL.len()];
        act(&mut job, found(part.wear(), if is_worn { 2 } else { 0 }));
        if is_worn {
            act(&mut job, found(part.decision(), 2));
        }
    }
    if number % 7 == 6 {
        let text = "Hammer flange loose".to_owned();
        let (on, step) = (Subject::Note(Note::FIRST), None);
        act(
            &mut job,
            EntryKind::Remark {
                on,
                step,
                fault: true,
                text,
            },
        );
    }
    if number % 5 < 2 {
        return job;
    }
    let is_done = number % 5 > 2;
    for (measure, base) in [("let_off", 1_800_000), ("drop", 1_800_000)] {
        // The first notes by number, of which some are out; the rest looked along.
        for (note, off) in Note::all().zip([0, 90_000, -60_000, 2_500_000 * (number as i64 % 2)]) {
            let value = Value::Nm(Length::from_nm(base + off));
            act(
                &mut job,
                read(measure, Subject::Note(note), Occasion::Working, value),
            );
        }
        let from = Note::all().nth(4).unwrap_or(Note::FIRST);
        let notes = SweptNotes {
            from,
            to: Note::LAST,
            except: Vec::new(),
        };
        if is_done {
            let (measure, place) = (MeasureId::from(measure), Place::Piano);
            act(
                &mut job,
                EntryKind::Swept {
                    measure,
                    notes,
                    place,
                    occasion: Occasion::Working,
                },
            );
        }
        let minutes = 30 + (number % 90) as u32;
        let worked = Some(WorkDay {
            day,
            technician: Some(technician.clone()),
        });
        let step = StepId::from(measure);
        act(
            &mut job,
            EntryKind::MinutesStated {
                step,
                minutes,
                worked,
                instead_of: None,
            },
        );
    }
    if number % 15 == 3 {
        act(&mut job, EntryKind::Archived { archived: true });
    }
    job
}
