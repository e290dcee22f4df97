//! Any series of sweeps, readings, marks and undos, of two phones: no panic, the same state in whatever order it comes,
//! a measured note keeps its value under a sweep, and a sweep that is taken back leaves nothing behind.
#![no_main]

use std::sync::LazyLock;

use evenhand_core::job::{EntryKind, ItemState, Job, ReplicaId, State, Subject, SweptNotes};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, Occasion, Place};
use evenhand_core::unit::{Kind, Value};
use libfuzzer_sys::fuzz_target;

/// Measures of rows, one of them of parts that are ticked off, and one that no step has.
const MEASURES: [&str; 5] = ["blow", "let_off", "aftertouch", "key_level", "nothing"];

static EMPTY: LazyLock<Job> = LazyLock::new(Job::new);

fn note(byte: u8) -> Note {
    Note::new(i64::from(byte % 88) + 1).expect("a note")
}

/// The act of four bytes.
fn act(job: &Job, bytes: &[u8]) -> EntryKind {
    let measure = MeasureId::from(MEASURES[usize::from(bytes[1]) % MEASURES.len()]);
    let place = if bytes[0] & 0x40 == 0 { Place::Bench } else { Place::Piano };
    let occasion = [Occasion::AsFound, Occasion::Working, Occasion::AsLeft][usize::from(bytes[0] >> 4 & 3) % 3];
    let on = Subject::Note(note(bytes[2]));
    match bytes[0] & 7 {
        0..=2 => {
            let except = [bytes[3], bytes[3] ^ 1].map(note).into();
            let notes = SweptNotes { from: note(bytes[2]), to: note(bytes[3] ^ 0x55), except };
            EntryKind::Swept { measure, notes, place, occasion }
        }
        3 => EntryKind::MarkedOut { measure, on, place, occasion, out: bytes[3] & 1 == 0 },
        4 => {
            let value = Value::from_base(Kind::Length, i64::from(bytes[3]) * 100_000);
            EntryKind::Reading { measure, on, place, occasion, value, typed: String::new() }
        }
        _ => match job.log().entries() {
            [] => EntryKind::MarkedOut { measure, on, place, occasion, out: true },
            entries => EntryKind::Undo { entry: entries[usize::from(bytes[3]) % entries.len()].id },
        },
    }
}

/// What counts for each note of the steps that take the measures.
fn look_at(state: &State) -> Vec<String> {
    let steps = MEASURES.iter().filter_map(|id| state.step(id));
    let items = |step| state.items(step).into_iter().map(move |item| (step, item));
    let seen = steps.flat_map(items).map(|(step, item)| match state.item_state(step, &item) {
        ItemState::Swept(sweep) => format!("{:?}", sweep.position.id),
        state => format!("{:?}", state.reading().map(|reading| reading.position.id)),
    });
    seen.collect()
}

fuzz_target!(|bytes: &[u8]| {
    let mut job = EMPTY.clone();
    for (at, bytes) in bytes.chunks_exact(4).take(60).enumerate() {
        let phone = ReplicaId::new(u64::from(bytes[0] >> 3 & 1) + 1);
        let entry = job.draft(phone, at as i64 * 1_000, act(&job, bytes));
        job.apply(entry);
    }
    let seen = look_at(job.state());

    let mut turned_round = EMPTY.clone();
    let all = job.log().entries();
    turned_round.merge(all.iter().rev().cloned());
    assert_eq!(look_at(turned_round.state()), seen);

    let whole = SweptNotes { from: Note::FIRST, to: Note::LAST, except: vec![] };
    let (place, occasion) = (Place::Bench, Occasion::Working);
    for &measure in &MEASURES[usize::from(bytes.first().copied().unwrap_or_default()) % MEASURES.len()..][..1] {
        let value = |job: &Job| {
            let reading = |note| {
                let state = job.state().measure_state(measure, Subject::Note(note), place)?;
                state.in_effect().map(|reading| reading.value)
            };
            Note::all().map(reading).collect::<Vec<_>>()
        };
        let before = value(&job);
        let kind = EntryKind::Swept { measure: MeasureId::from(measure), notes: whole.clone(), place, occasion };
        let swept = job.draft(ReplicaId::new(3), 1_000_000, kind);
        job.apply(swept.clone());
        assert_eq!(value(&job), before);
        let undone = job.draft(ReplicaId::new(3), 1_000_001, EntryKind::Undo { entry: swept.id });
        job.apply(undone);
    }
    assert_eq!(look_at(job.state()), seen);
});
