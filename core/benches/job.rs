//! What the job costs, native: one entry into jobs of three sizes, folding, progress, file out and in.
//!
//! The budgets stand in docs/BUDGETS.md. The job is made up.

use std::hint::black_box;
use std::time::{Duration, Instant};

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use evenhand_core::analysis::corrections::corrections_of;
use evenhand_core::analysis::handover::handover;
use evenhand_core::analysis::job_file::{export, open};
use evenhand_core::analysis::suggestion::suggest_next;
use evenhand_core::job::{Entry, EntryKind, Job, MAX_BYTES, State};
use evenhand_core::trade::Instrument;

mod worked;

use worked::{NINE_MS, a_job, worked};

/// So many entries are applied to one copy of a job, so that it stays about its size.
const RUN: usize = 1_000;

/// So many entries are timed at once.
const AT_ONCE: usize = 20;

/// Applies the run again and again, each time to a job made anew, and counts only that.
///
/// Made anew and not cloned: a clone's lists are as long as their content, so that each
/// would have to grow at its first entry, which a list in use seldom does.
///
/// `looked_at` says whether what the entries will touch is read just before, uncounted: the work to be timed
/// is the same, but its memory is in the processor's caches.
fn applied(entries: &[Entry], run: &[Entry], iterations: u64, looked_at: bool) -> Duration {
    let mut spent = Duration::ZERO;
    // Always the whole run: the first entry after a job was made anew finds nothing where it needs it, and a few
    // measured by themselves would be that one alone.
    let rounds = (iterations as usize).div_ceil(run.len());
    for _ in 0..rounds {
        let mut job = Job::from_entries(entries.iter().cloned());
        for some in run.chunks(AT_ONCE) {
            let some = some.to_vec();
            if looked_at {
                some.iter().for_each(|entry| look_at(&job, entry));
            }
            let begin = Instant::now();
            for entry in some {
                black_box(job.apply(entry));
            }
            spent += begin.elapsed();
        }
    }
    spent.mul_f64(iterations as f64 / (rounds * run.len()) as f64)
}

/// Reads what taking the entry in will touch.
fn look_at(job: &Job, entry: &Entry) {
    black_box(job.log().get(entry.id));
    if let EntryKind::Reading {
        measure, on, place, ..
    }
    | EntryKind::Correction {
        measure, on, place, ..
    } = &entry.kind
    {
        let measure_state = job.state().measure_state(measure.as_str(), *on, *place);
        black_box(measure_state.map(|measure_state| {
            (
                measure_state.latest().cloned(),
                measure_state.changes().next_back().cloned(),
            )
        }));
    }
}

fn applying(c: &mut Criterion) {
    for looked_at in [false, true] {
        let mut group = c.benchmark_group(if looked_at {
            "apply one entry whose note was just looked at to a job of"
        } else {
            "apply one entry to a job of"
        });
        group.sample_size(20);
        for size in [100, 5_000, 100_000] {
            let job = a_job(size);
            let mut longer = job.clone();
            worked(&mut longer, RUN);
            let (entries, run) = longer.log().entries().split_at(job.log().len());
            group.bench_function(BenchmarkId::from_parameter(size), |b| {
                b.iter_custom(|iterations| applied(entries, run, iterations, looked_at));
            });
        }
        group.finish();
    }
}

fn whole(c: &mut Criterion) {
    for size in [20_000, 200_000] {
        whole_of(c, size);
    }
}

fn whole_of(c: &mut Criterion, size: usize) {
    let job = a_job(size);
    let entries = job.log().entries().to_vec();
    let file = export(&job, NINE_MS);
    let all = job.state().progress(NINE_MS);
    let steps = Instrument::Grand.steps();
    let mut group = c.benchmark_group(format!("{size} entries"));
    group.sample_size(10);
    group.bench_function("fold", |b| b.iter(|| State::folded(black_box(job.log()))));
    group.bench_function("gather, sort and fold", |b| {
        let size = criterion::BatchSize::LargeInput;
        b.iter_batched(|| entries.clone(), Job::from_entries, size);
    });
    group.bench_function("progress of all steps", |b| {
        b.iter(|| black_box(job.state()).progress(NINE_MS));
    });
    group.bench_function("what to do now", |b| {
        b.iter(|| suggest_next(black_box(job.state()), &all, NINE_MS));
    });
    group.bench_function("corrections of all steps", |b| {
        b.iter(|| corrections_of(black_box(job.state()), steps));
    });
    group.bench_function("handover", |b| {
        b.iter(|| handover(black_box(&job), NINE_MS));
    });
    group.bench_function("export", |b| b.iter(|| export(black_box(&job), NINE_MS)));
    if file.len() <= MAX_BYTES {
        group.bench_function("open", |b| b.iter(|| open(black_box(file.as_bytes()))));
    }
    group.finish();
}

fn one_line(c: &mut Criterion) {
    let job = a_job(1_000);
    let entry = job
        .log()
        .entries()
        .iter()
        .rfind(|e| matches!(e.kind, EntryKind::Reading { .. }));
    let entry = entry.expect("a reading");
    let line = entry.to_line();
    c.bench_function("write one line", |b| b.iter(|| black_box(entry).to_line()));
    c.bench_function("read one line", |b| {
        b.iter(|| Entry::from_line(black_box(&line)));
    });
}

criterion_group!(benches, applying, whole, one_line);
criterion_main!(benches);
