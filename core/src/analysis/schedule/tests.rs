//! Tests of the schedule solver, against a search of all orders.

use super::*;
use proptest::prelude::*;

fn day() -> OpeningHours {
    OpeningHours::new(8 * 60, 17 * 60).unwrap()
}

fn step(minutes: u32, wait: u32, after: &[usize]) -> Task {
    Task {
        minutes,
        wait,
        after: after.to_vec(),
        done: None,
    }
}

#[test]
fn work_stops_at_closing_and_goes_on_at_opening() {
    assert_eq!(day().begin(0), 8 * 60);
    assert_eq!(day().begin(17 * 60), (24 + 8) * 60);
    assert_eq!(day().end(8 * 60, 9 * 60), 17 * 60);
    assert_eq!(day().end(8 * 60, 9 * 60 + 1), (24 + 8) * 60 + 1);
    assert_eq!(day().end(16 * 60, 60 + 2 * 9 * 60), (48 + 17) * 60);
    assert_eq!(day().begin(-1), 8 * 60);
    assert!(
        OpeningHours::new(17 * 60, 8 * 60).is_err() && OpeningHours::new(0, 24 * 60 + 1).is_err()
    );
}

#[test]
fn a_cure_over_night_costs_no_working_time() {
    // Cauls in, drying for 12 h, cauls out; enough other work for the day.
    let steps = [step(120, 720, &[]), step(30, 0, &[0]), step(400, 0, &[])];
    let best = schedule(&steps, 8 * 60, day()).unwrap();
    assert_eq!(best.first(), Some(0));
    assert_eq!(best.finish, (24 + 8) * 60 + 30);
    assert!(best.is_best());
}

#[test]
fn the_critical_path_names_what_holds_the_job_up() {
    let steps = [step(120, 720, &[]), step(30, 0, &[0]), step(60, 0, &[])];
    let best = schedule(&steps, 8 * 60, day()).unwrap();
    assert_eq!(
        best.critical,
        [(0, Because::Start), (1, Because::Follows(0))]
    );
    let chain = [step(60, 0, &[]), step(60, 0, &[])];
    let busy = schedule(&chain, 8 * 60, day()).unwrap();
    assert_eq!(busy.critical[1].1, Because::Busy(busy.critical[0].0));
}

#[test]
fn what_can_be_done_now_is_told_from_what_cures_and_what_is_behind() {
    let mut steps = [
        step(120, 720, &[]),
        step(30, 0, &[0]),
        step(10, 0, &[1]),
        step(60, 0, &[]),
    ];
    steps[0].done = Some(600);
    assert_eq!(
        stands(&steps, 700).unwrap(),
        [
            Stands::Done,
            Stands::Waits(0, 1320),
            Stands::Behind(vec![1]),
            Stands::Ready
        ]
    );
    assert_eq!(stands(&steps, 1320).unwrap()[1], Stands::Ready);
    let rest = schedule(&steps, 700, day()).unwrap();
    assert!(rest.order.iter().all(|p| p.step != 0));
    assert_eq!(rest.first(), Some(3));
    assert_eq!(rest.finish, (24 + 8) * 60 + 40);
}

#[test]
fn circles_and_unknown_steps_are_refused_with_their_numbers() {
    let circle = [step(1, 0, &[1]), step(1, 0, &[0]), step(1, 0, &[])];
    let said = schedule(&circle, 0, day()).unwrap_err().to_string();
    assert!(said.contains("Steps 1, 2"), "{said}");
    assert_eq!(
        schedule(&[step(1, 0, &[7])], 0, day()),
        Err(ScheduleError::Unknown(0))
    );
    assert!(schedule(&vec![Task::default(); 251], 0, day()).is_err());
}

#[test]
fn a_finished_job_is_finished() {
    assert_eq!(schedule(&[], 500, day()).unwrap().finish, 500);
    let dried = Task {
        done: Some(100),
        wait: 720,
        ..Task::default()
    };
    let left = schedule(&[dried], 500, day()).unwrap();
    assert_eq!((left.finish, left.first()), (820, None));
}

#[test]
fn the_days_hold_all_the_work_within_hours() {
    let steps = [step(500, 0, &[]), step(700, 30, &[0]), step(45, 0, &[])];
    let best = schedule(&steps, 10 * 60, day()).unwrap();
    let days = best.days(day());
    let pieces = || days.iter().flat_map(|d| &d.pieces);
    assert_eq!(pieces().map(|(_, from, to)| to - from).sum::<i64>(), 1245);
    for d in &days {
        for (_, from, to) in &d.pieces {
            assert!(*from >= d.day * DAY + 8 * 60 && *to <= d.day * DAY + 17 * 60);
        }
    }
    let endless = schedule(&[step(u32::MAX, 0, &[])], i64::MAX, day()).unwrap();
    assert_eq!(endless.days(day()).len(), 366);
}

#[test]
fn a_job_of_real_size_is_planned() {
    let steps: Vec<Task> = (0..60)
        .map(|i| {
            step(
                30,
                if i % 11 == 0 { 720 } else { 0 },
                &if i < 4 { vec![] } else { vec![i - 4] },
            )
        })
        .collect();
    let best = schedule(&steps, 8 * 60, day()).unwrap();
    assert_eq!(best.order.len(), 60);
    assert!(best.no_earlier_than <= best.finish);
}

/// Returns the earliest finish over every order that respects the dependencies.
fn exhaustive(steps: &[Task], now: i64, free: &mut Vec<Option<i64>>, latest: i64) -> i64 {
    let mut best = i64::MAX;
    for i in 0..steps.len() {
        let mut before = steps[i].after.iter().map(|b| free[*b]);
        let Some(ready) = before.try_fold(now, |r, f| Some(r.max(f?))) else {
            continue;
        };
        if free[i].is_some() {
            continue;
        }
        // Minute by minute, without the formula: work only within working hours.
        let mut clock = ready;
        while !(8 * 60..17 * 60).contains(&clock.rem_euclid(DAY)) {
            clock += 1;
        }
        let mut left = steps[i].minutes;
        while left > 0 {
            let within = (8 * 60..17 * 60).contains(&clock.rem_euclid(DAY));
            left -= u32::from(within);
            clock += 1;
        }
        free[i] = Some(clock + i64::from(steps[i].wait));
        let over = latest.max(clock + i64::from(steps[i].wait));
        best = best.min(exhaustive(steps, clock, free, over));
        free[i] = None;
    }
    if free.iter().all(Option::is_some) {
        latest
    } else {
        best
    }
}

fn graph() -> impl Strategy<Value = Vec<Task>> {
    let one = (
        0u32..40,
        prop::sample::select(vec![0u32, 0, 60, 500, 900]),
        any::<u8>(),
    );
    prop::collection::vec(one, 0..6).prop_map(|rows| {
        let steps = rows.iter().enumerate();
        steps
            .map(|(i, (tens, wait, mask))| {
                let after: Vec<usize> = (0..i)
                    .filter(|b| (mask & (mask >> 4)) >> b & 1 == 1)
                    .collect();
                step(tens * 10, *wait, &after)
            })
            .collect()
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]
    #[test]
    fn keeping_to_the_given_order_costs_no_time(steps in graph(), now in 300i64..1300) {
        let best = schedule(&steps, now, day()).unwrap();
        let kept = schedule_in_order(&steps, now, day()).unwrap();
        prop_assert_eq!(kept.finish, best.finish);
        prop_assert_eq!(kept.order.len(), best.order.len());
        let last = kept.order.iter().map(|p| p.free).max();
        prop_assert!(last.is_none_or(|last| last <= kept.finish));
    }

    #[test]
    fn no_order_finishes_earlier_than_the_plan(steps in graph(), now in 300i64..1300) {
        let found = schedule(&steps, now, day()).unwrap();
        let best = exhaustive(&steps, now, &mut vec![None; steps.len()], now);
        prop_assert_eq!(found.finish, best);
        prop_assert!(found.is_best());
    }

    #[test]
    fn the_plan_keeps_to_what_comes_before_what(steps in graph(), now in 300i64..1300) {
        let found = schedule(&steps, now, day()).unwrap();
        prop_assert_eq!(found.order.len(), steps.len());
        for (i, placed) in found.order.iter().enumerate() {
            for before in &steps[placed.step].after {
                let earlier = found.order[..i].iter().find(|p| p.step == *before).unwrap();
                prop_assert!(earlier.free <= placed.start);
            }
            if i > 0 {
                prop_assert!(found.order[i - 1].end <= placed.start);
            }
        }
        if let Some((last, _)) = found.critical.last() {
            let placed = found.order.iter().find(|p| p.step == *last).unwrap();
            prop_assert_eq!(placed.free, found.finish);
        }
    }
}

#[test]
fn days_off_end_work_as_minute_by_minute() {
    let off = [false, true, true, false, false, true, false];
    let hours = day().without(off);
    let works = |minute: i64| {
        (8 * 60..17 * 60).contains(&minute.rem_euclid(DAY))
            && !off[minute.div_euclid(DAY).rem_euclid(7) as usize]
    };
    for time in (-2 * DAY..9 * DAY).step_by(173) {
        for minutes in [1, 60, 540, 541, 2160, 2161, 5000] {
            let (mut clock, mut left) = (time, minutes);
            while left > 0 {
                left -= u64::from(works(clock));
                clock += 1;
            }
            assert_eq!(hours.end(time, minutes), clock, "{minutes} from {time}");
        }
    }
    assert_eq!(day().without([true; 7]), day());
    assert!(hours.end(i64::MAX, u64::MAX) >= i64::MAX - DAY && hours.end(0, u64::MAX) > 0);
}
