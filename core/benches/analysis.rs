//! What the sums of a job cost, native: advice after a tap in jobs of three sizes, and all
//! analysis of a full job, part by part and together.
//!
//! Budgets (see DEVELOPERS.md): advice after a tap under 100 µs, the same in every job; all
//! analysis for a job with 88 notes of every step read under 10 ms. The jobs are invented.

use std::hint::black_box;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use evenhand_core::analysis::advice::advice;
use evenhand_core::analysis::balance::{Balance, balance};
use evenhand_core::analysis::belief::Beliefs;
use evenhand_core::analysis::bench::{heights, returned};
use evenhand_core::analysis::compare::compared;
use evenhand_core::analysis::corrections::{Corrections, corrected, corrections, corrections_of};
use evenhand_core::analysis::drift::drift;
use evenhand_core::analysis::estimate::estimate;
use evenhand_core::analysis::job_plan::job_plan;
use evenhand_core::analysis::learned::responses;
use evenhand_core::analysis::schedule::OpeningHours;
use evenhand_core::job::{Correction, EntryKind, Item, Job, ReplicaId, Subject};
use evenhand_core::note::Note;
use evenhand_core::simulation;
use evenhand_core::trade::{Instrument, Place, Step};
use evenhand_core::unit::{Kind, Turns, Value};

const PHONE: ReplicaId = ReplicaId::new(1);
const NINE_MS: i64 = 1_790_000_000_000;

/// Every step of the grand read on every note, some of it corrected and re-measured, and round again
/// until there are enough entries.
fn full(enough: usize) -> Job {
    let mut job = simulation::job();
    let mut chance = simulation::Random::new(1);
    for round in 0.. {
        for step in Instrument::Grand.steps() {
            for item in job.state().items(step) {
                if round > 0 && job.log().len() >= enough {
                    return job;
                }
                read(&mut job, step, &item, chance.normal());
                let is_turned = simulation::TURNED.contains(&item.measure.as_str());
                if is_turned && chance.even() < 0.2 {
                    turn(&mut job, step, &item);
                    read(&mut job, step, &item, chance.normal());
                }
            }
        }
    }
    job
}

fn read(job: &mut Job, step: &Step, item: &Item, off: f64) {
    let id = item.measure.as_str();
    let state = job.state();
    let measure = state.measure(id).expect("a measure");
    let band = state.band(id, item.on);
    let middle = measure.plausible.map_or(0, |(low, high)| (low + high) / 2);
    let aim = band.map_or(middle, |b| b.aim);
    let wide = if measure.kind == Kind::Length {
        300_000.0
    } else {
        0.0
    };
    let value = Value::from_base(measure.kind, aim + (off * wide) as i64);
    let place = step.place.unwrap_or(Place::Bench);
    let at_ms = NINE_MS + 4_000 * job.log().len() as i64;
    let id = item.measure.clone();
    let entry = job.reading(
        PHONE,
        at_ms,
        id,
        item.on,
        place,
        step.occasion,
        value,
        "1.8",
    );
    job.apply(entry);
}

fn turn(job: &mut Job, step: &Step, item: &Item) {
    let act = EntryKind::Correction {
        measure: item.measure.clone(),
        on: item.on,
        place: step.place.unwrap_or(Place::Bench),
        made: Correction::Turned(Turns::from_64ths(4)),
    };
    job.apply(job.draft(PHONE, NINE_MS, act));
}

/// In a job of its own, so that it prints before the large jobs of the others are made.
fn what_is_known(c: &mut Criterion) {
    let mut job = full(0);
    let mut group = c.benchmark_group("belief of 88 notes");
    let measures = ["blow", "let_off", "drop", "checking", "aftertouch"];
    for measure in measures {
        group.bench_function(measure, |b| {
            b.iter(|| Beliefs::of(black_box(job.state()), measure, Place::Bench).is_some());
        });
    }
    // The most that one belief can ask for: all that moves the aftertouch was turned since it was read.
    for step in ["blow", "let_off"].map(|step| job.state().step(step).expect("a step").clone()) {
        for item in job.state().items(&step) {
            turn(&mut job, &step, &item);
        }
    }
    group.bench_function("aftertouch, every capstan and button turned since", |b| {
        b.iter(|| Beliefs::of(black_box(job.state()), "aftertouch", Place::Bench).is_some());
    });
    group.finish();
}

fn after_a_tap(c: &mut Criterion) {
    let mut group = c.benchmark_group("advice after a tap in a job of");
    for size in [0, 20_000, 100_000] {
        let mut job = full(size);
        let on = Subject::Note(Note::FIRST);
        let step = job.state().step("blow").expect("the blow").clone();
        let item = Item {
            measure: step.takes[0].clone(),
            on,
        };
        read(&mut job, &step, &item, 5.0);
        let entries = job.log().len();
        group.bench_function(BenchmarkId::new("turn", entries), |b| {
            b.iter(|| advice(black_box(job.state()), "blow", on, Place::Bench));
        });
        let step = job
            .state()
            .step("natural_level")
            .expect("the level")
            .clone();
        let item = Item {
            measure: step.takes[0].clone(),
            on,
        };
        read(&mut job, &step, &item, 3.0);
        group.bench_function(BenchmarkId::new("punchings", entries), |b| {
            b.iter(|| advice(black_box(job.state()), "natural_level", on, Place::Bench));
        });
    }
    group.finish();
}

fn each_step(job: &Job) -> Vec<Corrections> {
    let state = job.state();
    let steps = corrected(state);
    steps.iter().map(|step| corrections(state, step)).collect()
}

fn travel(job: &Job) -> usize {
    let all: Balance<'_> = balance(job.state(), Place::Bench);
    Note::all()
        .filter(|note| all.note(*note).solved.is_some())
        .count()
}

fn all_together(c: &mut Criterion) {
    let job = full(20_000);
    let hours = OpeningHours::new(8 * 60, 17 * 60).expect("hours");
    let mut group = c.benchmark_group("20 000 entries, every step read");
    group.bench_function("corrections of each step", |b| {
        b.iter(|| each_step(black_box(&job)))
    });
    group.bench_function("corrections of all steps in one order", |b| {
        let steps = corrected(job.state());
        b.iter(|| corrections_of(black_box(job.state()), &steps));
    });
    group.bench_function("travel balance of 88 notes", |b| {
        b.iter(|| travel(black_box(&job)))
    });
    group.bench_function("heights and return", |b| {
        b.iter(|| (heights(black_box(job.state())), returned(job.state())));
    });
    group.bench_function("what was learned", |b| {
        b.iter(|| responses(black_box(job.state())))
    });
    group.bench_function("before and after, evenness", |b| {
        b.iter(|| compared(black_box(&job)))
    });
    group.bench_function("estimate", |b| b.iter(|| estimate(black_box(&job))));
    group.bench_function("plan", |b| {
        b.iter(|| job_plan(black_box(job.state()), NINE_MS, NINE_MS, hours));
    });
    group.bench_function("all of these together", |b| {
        b.iter(|| {
            let steps = corrected(job.state());
            let one = (
                each_step(&job),
                corrections_of(job.state(), &steps),
                travel(&job),
            );
            let two = (
                heights(job.state()),
                returned(job.state()),
                responses(job.state()),
            );
            let plan = job_plan(job.state(), NINE_MS, NINE_MS, hours);
            black_box((one, two, compared(&job), estimate(&job), drift(&job), plan))
        });
    });
    group.finish();
}

criterion_group!(benches, what_is_known, after_a_tap, all_together);
criterion_main!(benches);
