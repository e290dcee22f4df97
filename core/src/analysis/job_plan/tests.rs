//! Tests of the schedule of a job: drying time, days, what is left.

use super::*;
use crate::job::{EntryKind, Job, JobId, ReplicaId, Subject};
use crate::note::Note;
use crate::trade::Occasion;
use crate::unit::Value;

const MIDNIGHT_MS: i64 = 1_790_035_200_000;
const HOUR_MS: i64 = 60 * MINUTE_MS;
const NOW_MS: i64 = MIDNIGHT_MS + 10 * HOUR_MS;

fn plan(job: &Job) -> JobPlan {
    let hours = OpeningHours::new(8 * 60, 16 * 60).unwrap();
    job_plan(job.state(), NOW_MS, MIDNIGHT_MS, hours).unwrap()
}

fn demo() -> Job {
    let entries = crate::demo::entries(JobId::new(1), ReplicaId::new(2), NOW_MS);
    Job::from_entries(entries)
}

fn line<'a>(job_plan: &'a JobPlan, step: &str) -> &'a PlanLine {
    job_plan
        .lines
        .iter()
        .find(|l| l.step.as_str() == step)
        .unwrap()
}

fn act(job: &mut Job, act: EntryKind) {
    let entry = job.draft(ReplicaId::new(7), NOW_MS, act);
    job.apply(entry);
}

fn read_all(job: &mut Job, step: &str) {
    let step = job.state().step(step).unwrap();
    let place = step.place_or(job.state().place());
    for item in job.state().items(step) {
        let value = Value::from_base(job.state().measure(item.measure.as_str()).unwrap().kind, 1);
        let entry = job.reading(
            ReplicaId::new(7),
            NOW_MS,
            item.measure,
            item.on,
            place,
            Occasion::Working,
            value,
            "",
        );
        job.apply(entry);
    }
}

#[test]
fn nothing_is_begun_before_what_it_needs_is_done_and_cured() {
    for job in [demo(), Job::new()] {
        let job_plan = plan(&job);
        for l in job_plan.lines.iter().filter(|l| !l.remeasure) {
            for need in &job.state().step(l.step.as_str()).unwrap().needs {
                let needed = job_plan
                    .lines
                    .iter()
                    .find(|n| n.step == *need && !n.remeasure);
                assert!(
                    needed.is_none_or(|n| n.free_ms <= l.start_ms),
                    "{} and {need}",
                    l.step
                );
            }
        }
    }
}

#[test]
fn a_cure_that_runs_says_until_when_and_what_it_frees() {
    let job_plan = plan(&demo());
    let drying = &job_plan.drying[0];
    assert!(drying.until_ms > NOW_MS && drying.from_ms < NOW_MS);
    assert_eq!(drying.frees, ["Pedal lyre set back"]);
    assert!(line(&job_plan, "lyre_on").start_ms >= drying.until_ms);
    assert!(!line(&job_plan, "lyre_on").ready);
}

#[test]
fn a_cure_that_was_not_begun_is_counted_from_now() {
    let mut job = Job::new();
    read_all(&mut job, "cauls_in");
    let due = MIDNIGHT_MS + 22 * HOUR_MS;
    let out = |job: &Job| line(&plan(job), "cauls_out").start_ms;
    assert!(out(&job) >= due);
    assert_eq!(plan(&job).due[0].step.as_str(), "cauls_in");
    act(
        &mut job,
        EntryKind::DryingStarted {
            step: StepId::of("cauls_in"),
            minutes: 720,
        },
    );
    assert!(out(&job) >= due);
    act(
        &mut job,
        EntryKind::DryingEnded {
            step: StepId::of("cauls_in"),
            reason: String::new(),
        },
    );
    assert!(out(&job) < due);
}

#[test]
fn half_of_a_step_that_was_read_takes_half_of_its_minutes() {
    let mut job = Job::new();
    let whole = i64::from(line(&plan(&job), "let_off").minutes);
    for number in 1..=44 {
        let value = Value::from_base(crate::unit::Kind::Length, 2_000_000);
        let on = Subject::Note(Note::new(number).unwrap());
        let (replica, bench) = (ReplicaId::new(7), Place::Bench);
        let let_off = MeasureId::of("let_off");
        let entry = job.reading(
            replica,
            NOW_MS,
            let_off,
            on,
            bench,
            Occasion::Working,
            value,
            "",
        );
        job.apply(entry);
    }
    let half = i64::from(line(&plan(&job), "let_off").minutes);
    assert_eq!(half * 2, whole);
}

#[test]
fn what_was_disturbed_is_planned_and_holds_up_nothing() {
    let job_plan = plan(&demo());
    let again: Vec<&PlanLine> = job_plan.lines.iter().filter(|l| l.remeasure).collect();
    assert!(again.iter().all(|l| l.ready));
    let planned: i64 = job_plan
        .days
        .iter()
        .flat_map(|d| &d.pieces)
        .map(|(_, a, b)| b - a)
        .sum();
    assert_eq!(planned, job_plan.minutes() * MINUTE_MS);
}

#[test]
fn what_is_read_against_the_strings_waits_for_the_action() {
    let job = demo();
    let job_plan = plan(&job);
    let action_in = line(&job_plan, "action_in");
    for l in &job_plan.lines {
        let step = job.state().step(l.step.as_str()).unwrap();
        if step.place == Some(Place::Piano) && l.step.as_str() != "action_in" {
            assert!(l.start_ms >= action_in.end_ms, "{}", l.step);
        }
    }
}

#[test]
fn the_sample_as_found_is_planned_until_the_action_is_out() {
    let mut job = Job::new();
    assert!(line(&plan(&job), "found_sample").ready);
    let is_planned = |job: &Job| {
        let lines = plan(job).lines;
        lines.iter().any(|l| l.step.as_str() == "found_sample")
    };
    read_all(&mut job, "action_out");
    assert!(!is_planned(&job));
    assert!(line(&plan(&job), "climate").minutes > 0);
}

#[test]
fn the_chain_that_sets_the_finish_ends_with_it() {
    let job_plan = plan(&demo());
    let last = job_plan.critical().last().unwrap();
    assert_eq!(last.free_ms, job_plan.finish_ms);
}
