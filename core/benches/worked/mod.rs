//! An invented job of any size, for the benchmarks.

use evenhand_core::job::{
    Correction, EntryKind, Item, Job, JobId, PhotoHash, ReplicaId, Subject, SweptNotes, Taken,
};
use evenhand_core::note::Note;
use evenhand_core::trade::{Instrument, Per, Place, Step};
use evenhand_core::unit::{Kind, Turns, Value};

/// The device that makes the entries.
pub const PHONE: ReplicaId = ReplicaId::new(1);
/// When the work begins.
pub const NINE_MS: i64 = 1_790_000_000_000;
/// The step that nobody has begun: the benchmark in the browser measures its pass, which must not end while it does.
const LEFT: &str = "let_off";

/// What a technician enters, step by step and round again, until there are enough entries.
pub fn worked(job: &mut Job, enough: usize) {
    let from = job.log().len();
    let begun = |step: &&Step| step.id.as_str() != LEFT;
    for step in Instrument::Grand.steps().iter().filter(begun).cycle() {
        let step_id = step.id.clone();
        job.apply(job.draft(
            PHONE,
            now_ms(job),
            EntryKind::PassOpened {
                step: step_id,
                utc_offset_minutes: None,
            },
        ));
        photographed(job, step);
        swept(job, step);
        for (i, item) in job.state().items(step).into_iter().enumerate() {
            if job.log().len() - from >= enough {
                return;
            }
            taken(job, step, item, i);
        }
    }
}

/// A photo of a step, whose image is not here.
fn photographed(job: &mut Job, step: &Step) {
    let at_ms = now_ms(job);
    let photo = EntryKind::Photographed {
        sha256: PhotoHash::of(&at_ms.to_le_bytes()),
        bytes: 200_000,
        on: Subject::Whole,
        step: Some(step.id.clone()),
        fault: None,
        taken: Taken::Before,
        caption: String::new(),
        instead_of: None,
    };
    job.apply(job.draft(PHONE, at_ms, photo));
}

/// A look along the row of a step that has one, less an exception.
fn swept(job: &mut Job, step: &Step) {
    let (Per::Note, Some(measure)) = (step.per, step.takes.first()) else {
        return;
    };
    let except = Note::all().nth(job.log().len() % 88);
    let notes = SweptNotes {
        from: Note::FIRST,
        to: Note::LAST,
        except: except.into_iter().collect(),
    };
    let (place, occasion) = (step.place.unwrap_or(Place::Bench), step.occasion);
    let measure = measure.clone();
    let sweep = EntryKind::Swept {
        measure,
        notes,
        place,
        occasion,
    };
    job.apply(job.draft(PHONE, now_ms(job), sweep));
}

/// The time of the next entry: one every four seconds, and none behind the one before, which would be a clock set back.
fn now_ms(job: &Job) -> i64 {
    NINE_MS + 4_000 * job.log().len() as i64
}

/// A reading, now and then with a turn after it or taken back.
fn taken(job: &mut Job, step: &Step, item: Item, i: usize) {
    let at_ms = now_ms(job);
    let id = item.measure.as_str();
    let kind = job.state().measure(id).map_or(Kind::Length, |m| m.kind);
    let aim = job.state().band(id, item.on).map_or(1, |b| b.aim);
    let value = Value::from_base(kind, aim + 10_000 * (i as i64 % 7));
    let (measure, on) = (item.measure, item.on);
    let place = step.place.unwrap_or(Place::Bench);
    let occasion = step.occasion;
    let entry = job.reading(
        PHONE,
        at_ms,
        measure.clone(),
        on,
        place,
        occasion,
        value,
        "1.8",
    );
    let read = entry.id;
    job.apply(entry);
    if i % 10 == 3 {
        let made = Correction::Turned(Turns::from_64ths(8));
        let act = EntryKind::Correction {
            measure,
            on,
            place,
            made,
        };
        job.apply(job.draft(PHONE, at_ms, act));
    }
    if i % 40 == 7 {
        job.apply(job.draft(PHONE, at_ms, EntryKind::Undo { entry: read }));
    }
}

/// A job of so many entries.
pub fn a_job(entries: usize) -> Job {
    let mut job = Job::new();
    let id = JobId::new(entries as u64);
    job.apply(job.draft(PHONE, NINE_MS, EntryKind::Made { job: id }));
    worked(&mut job, entries.saturating_sub(1));
    job
}
