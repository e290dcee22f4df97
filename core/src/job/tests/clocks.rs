//! Tests of the order of the log: what earlier releases wrote, clocks that are wrong, and what a reference binds to.

use super::*;

const HOUR_MS: i64 = 60 * MINUTE_MS;
const DAY_MS: i64 = 24 * HOUR_MS;

fn entries(phone: &Phone) -> Vec<Entry> {
    phone.job.log().entries().to_vec()
}

fn serial(serial: impl ToString) -> EntryKind {
    EntryKind::Details {
        set: Box::new(Details {
            serial: Some(serial.to_string()),
            ..Details::default()
        }),
    }
}

/// Returns the entries as release 0.1 wrote them.
fn of_earlier_release(entries: Vec<Entry>) -> Vec<Entry> {
    let earlier = |e| Entry { knew: None, ..e };
    entries.into_iter().map(earlier).collect()
}

fn ids(job: &Job) -> Vec<EntryId> {
    job.log().entries().iter().map(|e| e.id).collect()
}

fn in_effect(phone: &Phone, note: i64) -> i64 {
    let measure_state = phone.state().measure_state("let_off", on(note), BENCH);
    measure_state.unwrap().in_effect().unwrap().value.base()
}

/// The order of a job that one phone made in three visits is that of its clocks, wherever its clock stood.
#[test]
fn a_job_of_release_0_1_that_was_in_one_place_keeps_its_order() {
    let mut phone = Phone::new(9);
    for (visit, back_ms) in [(1, 0), (2, HOUR_MS), (3, -3 * DAY_MS), (4, 2 * DAY_MS)] {
        phone = phone.copy(visit);
        phone.at_ms -= back_ms;
        phone.act(serial(visit));
        phone.wait(1);
        phone.read("let_off", on(1), BENCH, 1_000_000 * visit as i64);
    }
    let mut written = of_earlier_release(entries(&phone));
    written.sort_by_key(Entry::written);
    let mut backwards = Job::new();
    for entry in written.iter().rev() {
        backwards.apply(entry.clone());
    }
    assert_eq!(backwards.log().entries(), written);
    assert_eq!(backwards.state().details().serial.as_deref(), Some("4"));
}

/// The second visit of a colleague has a clock that both the first and the office have reached: it knew one of them,
/// and only the earlier is certain.
#[test]
fn a_visit_of_release_0_1_is_not_moved_to_what_it_need_not_have_known() {
    let mut office = Phone::new(1);
    office.act(EntryKind::Made { job: JobId::new(1) });
    let mut colleague = office.copy(2);
    office.wait(3 * 24 * 60);
    for note in 1..=9 {
        office.read("drop", on(note), BENCH, 2_000_000);
        colleague.read("drop", on(note), BENCH, 2_100_000);
    }
    let mut second = colleague.copy(3);
    second.wait(60);
    let reading = second.read("drop", on(20), BENCH, 2_200_000);
    let mut both = Job::from_entries(of_earlier_release(entries(&office)));
    both.merge(of_earlier_release(entries(&second)));
    let position = both.log().position(reading.id).unwrap();
    assert_eq!(position.ms, NINE_MS + HOUR_MS);
}

#[test]
fn a_phone_whose_clock_stands_an_hour_back_says_so_once_and_its_entries_count() {
    let mut ahead = Phone::new(1);
    ahead.read("let_off", on(1), BENCH, 2_500_000);
    let mut back = ahead.copy(2);
    back.at_ms -= HOUR_MS;
    let first = back.read("let_off", on(1), BENCH, 1_800_000);
    assert_eq!(first.at_ms, NINE_MS - HOUR_MS);
    let ahead_of_none = Knew {
        ms: NINE_MS,
        ahead: Vec::new(),
    };
    assert_eq!(first.knew.as_deref(), Some(&ahead_of_none));
    back.wait(1);
    let second = back.read("let_off", on(1), BENCH, 1_900_000);
    assert_eq!(second.knew, None);
    assert_eq!(in_effect(&back, 1), 1_900_000);
    // It stays so for whoever gets an entry of another phone in between.
    let other = ahead.copy(3).read("let_off", on(2), BENCH, 2_000_000);
    back.job.merge([other.clone()]);
    let order = |id| back.job.log().position(id).unwrap();
    assert!(order(first.id) < order(second.id));
    assert_eq!(order(second.id).ms, order(other.id).ms);
}

#[test]
fn a_clock_within_a_day_is_followed_and_one_further_ahead_is_set_apart() {
    for (ahead_ms, is_followed) in [(DAY_MS, true), (DAY_MS + 1, false), (400 * DAY_MS, false)] {
        let mut here = Phone::new(1);
        here.read("let_off", on(1), BENCH, 2_000_000);
        let mut far = here.copy(2);
        far.at_ms += ahead_ms;
        far.read("let_off", on(1), BENCH, 2_500_000);
        let last = far.read("let_off", on(2), BENCH, 2_500_000);
        here.job.merge(entries(&far));
        let told = if is_followed { vec![] } else { vec![last.id] };
        assert_eq!(here.job.ahead(here.at_ms), told);
        assert_eq!(in_effect(&here, 1), 2_500_000, "kept, and it counts");

        let next = here.read("let_off", on(1), BENCH, 1_800_000);
        let position = here.job.log().position(next.id).unwrap();
        let follows = if is_followed {
            NINE_MS + ahead_ms
        } else {
            NINE_MS
        };
        assert_eq!(position.ms, follows);
        assert_eq!(in_effect(&here, 1), 1_800_000);
        assert_eq!(here.job.ahead(here.at_ms), []);
        assert!(*here.state() == State::folded(here.job.log()));

        // A third phone, whose clock is right, is not held up either, and everybody sees the same.
        let mut third = here.copy(3);
        third.wait(5);
        let entry = third.read("let_off", on(2), BENCH, 1_700_000);
        for mut phone in [here.clone(), far.clone()] {
            phone.job.merge([entry.clone(), next.clone()]);
            assert_eq!(ids(&phone.job), ids(&third.job));
            assert_eq!(in_effect(&phone, 2), 1_700_000);
        }
        // What the wrong clock writes afterwards is told anew.
        let mut far = third.copy(2);
        far.at_ms = NINE_MS + ahead_ms + MINUTE_MS;
        let again = far.read("let_off", on(3), BENCH, 2_500_000);
        if ahead_ms > DAY_MS + MINUTE_MS {
            assert_eq!(far.job.ahead(NINE_MS), [again.id]);
        }
    }
}

#[test]
fn a_phone_whose_date_was_wrong_and_is_set_right_goes_on() {
    let mut phone = Phone::new(1);
    phone.at_ms += 10 * DAY_MS;
    phone.read("let_off", on(1), BENCH, 2_500_000);
    phone.at_ms = NINE_MS;
    let mut visit = phone.copy(2);
    for phone in [&mut phone, &mut visit] {
        phone.read("let_off", on(1), BENCH, 1_800_000);
        phone.wait(1);
        let last = phone.read("let_off", on(1), BENCH, 1_700_000);
        assert_eq!(in_effect(phone, 1), 1_700_000);
        let position = phone.job.log().position(last.id).unwrap();
        assert_eq!(position.ms, NINE_MS + MINUTE_MS);
    }
}

/// Whoever says that an entry is ahead must have known it; and only what is more than a day ahead is moved.
#[test]
fn an_entry_calls_ahead_only_what_was_written_before_it() {
    let mut phone = Phone::new(1);
    let named = phone.read("let_off", on(1), BENCH, 2_500_000);
    let claim = |clock, at_ms| Entry {
        clock,
        at_ms,
        knew: Some(Box::new(Knew {
            ms: at_ms,
            ahead: vec![named.id],
        })),
        ..phone.copy(2).job.draft(ReplicaId::new(2), at_ms, serial(1))
    };
    let moved = |entry: Entry| {
        let mut job = phone.job.clone();
        job.apply(entry);
        job.log().position(named.id).unwrap().ms != NINE_MS
    };
    assert!(moved(claim(named.clock + 1, NINE_MS - 2 * DAY_MS)));
    assert!(!moved(claim(named.clock - 1, NINE_MS - 2 * DAY_MS)));
    assert!(!moved(claim(named.clock + 1, NINE_MS - DAY_MS)));
}

/// The file of somebody else settles a fault of whom it may name but cannot know.
#[test]
fn a_fault_is_not_fixed_before_it_is_noted() {
    let mut here = Phone::new(1);
    here.act(EntryKind::Made { job: JobId::new(1) });
    let mut other = here.copy(2);
    let fixes: Vec<Entry> = (2..9)
        .map(|seq| {
            let fault = EntryId {
                replica: here.replica,
                seq,
            };
            let how = "done".to_owned();
            other.act(EntryKind::FaultFixed { fault, how })
        })
        .collect();
    here.job.merge(fixes.clone());
    let text = "Hammer flange loose.".to_owned();
    let fault = EntryKind::Remark {
        on: on(1),
        step: None,
        fault: true,
        text,
    };
    let noted = here.act(fault);
    assert!((2..9).contains(&noted.id.seq));
    assert_eq!(here.state().open_faults().count(), 1);
    // In whatever order they arrive, and for good.
    let mut late = Job::from_entries([noted.clone()]);
    for fix in fixes {
        late.apply(fix);
    }
    assert_eq!(late.state().open_faults().count(), 1);
    let how = "pinned".to_owned();
    let fixed = here.act(EntryKind::FaultFixed {
        fault: noted.id,
        how,
    });
    late.apply(fixed);
    assert_eq!(late.state().open_faults().count(), 0);
    assert_eq!(here.state().open_faults().count(), 0);
}

/// A reading that names one which was written after it takes the place of none.
#[test]
fn a_reading_supersedes_only_what_was_written_before_it() {
    let mut a = Phone::new(1);
    let mut b = a.copy(2);
    let later = EntryId {
        replica: ReplicaId::new(2),
        seq: 1,
    };
    let mut early = a.read("let_off", on(1), BENCH, 2_500_000);
    early.supersedes = Some(vec![later]);
    b.wait(-1);
    b.read("let_off", on(1), BENCH, 1_800_000);
    // By the wall the other is later, but it was written with the same clock.
    let mut job = Job::from_entries([early]);
    job.merge(entries(&b));
    let measure_state = job.state().measure_state("let_off", on(1), BENCH).unwrap();
    assert_eq!(measure_state.others(Occasion::Working).len(), 1);
}
