//! Tests of the order of the log: what was done later counts, whatever the clocks and copies.

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, RngSeed};

use super::*;

const HOUR_MS: i64 = 60 * MINUTE_MS;
const DAY_MS: i64 = 24 * HOUR_MS;

fn details(serial: &str) -> EntryKind {
    EntryKind::Details {
        set: Box::new(Details {
            serial: Some(serial.to_owned()),
            ..Details::default()
        }),
    }
}

fn entries(phone: &Phone) -> Vec<Entry> {
    phone.job.log().entries().to_vec()
}

/// Both phones have all entries after it.
fn meet(a: &mut Phone, b: &mut Phone) {
    a.job.merge(entries(b));
    b.job.merge(entries(a));
    assert_eq!(a.job.log().entries(), b.job.log().entries());
    assert!(a.state() == b.state());
}

/// As release 0.1 wrote it: the clock counts the entries that the writer had, and nothing is said of other clocks.
fn of_first_release(entry: Entry) -> Entry {
    Entry {
        knew: None,
        ..entry
    }
}

/// The office opens an early copy of the job and measures two days after a colleague who has a long log.
#[test]
fn what_was_done_two_days_later_counts_though_its_writer_held_an_early_copy() {
    for is_old in [false, true] {
        let mut bench = Phone::new(2);
        bench.act(details("1"));
        let mut office = bench.copy(1);
        for note in 1..=88 {
            bench.read("let_off", on(note), BENCH, 2_600_000);
        }
        bench.act(details("123"));
        bench.target("let_off", Scope::Job, flat(210));
        office.at_ms += 2 * DAY_MS;
        for note in 1..=10 {
            office.read("let_off", on(note), BENCH, 2_000_000);
        }
        office.act(details("132"));
        office.target("let_off", Scope::Job, flat(250));
        if is_old {
            let old =
                |phone: &Phone| Job::from_entries(entries(phone).into_iter().map(of_first_release));
            (bench.job, office.job) = (old(&bench), old(&office));
        }
        meet(&mut bench, &mut office);
        for note in 1..=88 {
            let slot = bench.state().measure_state("let_off", on(note), BENCH);
            let now = slot.unwrap().in_effect().unwrap().value.base();
            let later = if note <= 10 { 2_000_000 } else { 2_600_000 };
            assert_eq!(now, later, "{note}");
        }
        assert_eq!(bench.state().details().serial.as_deref(), Some("132"));
        let band = bench.state().band("let_off", on(30)).unwrap();
        assert_eq!(band.aim, 2_500_000);
    }
}

fn flat(hundredths: i64) -> Option<crate::trade::Target> {
    let band = crate::trade::Band::mm(hundredths, 30, 50);
    Some(crate::trade::Target::Flat(band))
}

#[test]
fn a_clock_an_hour_back_ranks_after_what_its_writer_had_seen() {
    let mut a = Phone::new(1);
    a.read("blow", on(40), BENCH, 46_000_000);
    let mut b = a.copy(2);
    b.at_ms -= HOUR_MS;
    let later = b.read("blow", on(40), BENCH, 45_000_000);
    meet(&mut a, &mut b);
    assert_eq!(a.job.log().last(), Some(&later));
    let slot = a.state().measure_state("blow", on(40), BENCH).unwrap();
    assert_eq!(slot.in_effect().unwrap().value.base(), 45_000_000);
    // What it does on its own then stays in order, and the wall time that is shown is its own.
    let next = b.read("blow", on(41), BENCH, 45_000_000);
    assert_eq!(b.job.log().last(), Some(&next));
    assert_eq!(next.at_ms, NINE_MS - HOUR_MS);
}

#[test]
fn entries_of_the_first_release_keep_the_order_in_which_one_was_made_after_another() {
    // Its second entry has an earlier wall time: the clock of the phone was set back between.
    let mut phone = Phone::new(1);
    phone.read("blow", on(40), BENCH, 46_000_000);
    phone.at_ms -= 3 * DAY_MS;
    let second = phone.read("blow", on(40), BENCH, 45_000_000);
    // A second phone with the same copy, its clock set back as well, takes the reading back.
    let mut other = phone.copy(2);
    other.at_ms -= DAY_MS;
    let undo = other.undo(&second);
    let old = entries(&other).into_iter().map(of_first_release).rev();
    let job = Job::from_entries(old);
    let order: Vec<EntryId> = job.log().entries().iter().map(|e| e.id).collect();
    assert_eq!(order[1..], [second.id, undo.id]);
    assert!(!job.state().is_alive(second.id));
}

#[test]
fn a_clock_days_ahead_is_told_and_drags_nobody_along() {
    let mut wrong = Phone::new(1);
    wrong.at_ms += 400 * DAY_MS;
    let ahead = wrong.read("blow", on(40), BENCH, 46_000_000);
    let mut right = Phone::new(2);
    right.job.merge(entries(&wrong));
    assert_eq!(right.job.ahead(right.at_ms), [ahead.id]);
    let mine = right.read("blow", on(40), BENCH, 45_000_000);
    // It counts, being later in truth, and its time is its own.
    let slot = right.state().measure_state("blow", on(40), BENCH).unwrap();
    assert_eq!(slot.in_effect().unwrap().position.id, mine.id);
    let ms = |job: &Job| job.log().position(mine.id).unwrap().ms;
    assert_eq!(ms(&right.job), NINE_MS);
    assert_eq!(right.job.ahead(right.at_ms), []);
    // A third phone that meets both sees the same.
    let mut third = Phone::new(3);
    third.job.merge(entries(&right));
    third.job.merge(entries(&wrong));
    assert_eq!(ms(&third.job), NINE_MS);
    assert!(third.state() == right.state());
}

#[test]
fn a_fault_cannot_be_fixed_before_it_is_noted() {
    let mut phone = Phone::new(1);
    let coming = EntryId {
        replica: phone.replica,
        seq: 2,
    };
    phone.act(EntryKind::FaultFixed {
        fault: coming,
        how: "pinned".to_owned(),
    });
    let fault = phone.act(EntryKind::Remark {
        on: on(1),
        step: None,
        fault: true,
        text: "clicks".to_owned(),
    });
    assert_eq!(fault.id, coming);
    assert_eq!(phone.state().open_faults().count(), 1);
    // Nor by a copy that got them the other way round.
    let all = entries(&phone).into_iter().rev();
    assert_eq!(Job::from_entries(all).state().open_faults().count(), 1);
}

/// What a phone does next: an act by a phone whose clock stands so many minutes off, or a file from one to another.
#[derive(Clone, Debug)]
enum Move {
    Read { phone: usize, note: i64, base: i64 },
    Undo { phone: usize },
    Serial { phone: usize, serial: u8 },
    Wait { minutes: i64 },
    File { from: usize, to: usize },
}

fn a_step() -> impl Strategy<Value = Move> {
    let phone = 0..3usize;
    prop_oneof![
        4 => (phone.clone(), 40..42i64, 1..4i64)
            .prop_map(|(phone, note, mm)| Move::Read { phone, note, base: 44_000_000 + mm * 500_000 }),
        1 => phone.clone().prop_map(|phone| Move::Undo { phone }),
        1 => (phone.clone(), 0..3u8).prop_map(|(phone, serial)| Move::Serial { phone, serial }),
        1 => (0..90i64).prop_map(|minutes| Move::Wait { minutes }),
        2 => (phone.clone(), phone).prop_map(|(from, to)| Move::File { from, to }),
    ]
}

/// Three phones: one with the right time, one an hour back, one a day and more ahead; some still on release 0.1.
fn phones(are_old: [bool; 3], steps: &[Move]) -> [Phone; 3] {
    let mut phones = [1, 2, 3].map(Phone::new);
    phones[1].at_ms -= HOUR_MS;
    phones[2].at_ms += DAY_MS + HOUR_MS;
    for step in steps {
        match *step {
            Move::Wait { minutes } => phones.iter_mut().for_each(|p| p.wait(minutes)),
            Move::File { from, to } => {
                let entries = entries(&phones[from]);
                phones[to].job.merge(entries);
            }
            Move::Read { phone, .. } | Move::Undo { phone } | Move::Serial { phone, .. } => {
                let is_old = are_old[phone];
                let phone = &mut phones[phone];
                let latest = phone.job.undoable(&[phone.replica]).map(|e| e.id);
                let kind = match (step, latest) {
                    (Move::Undo { .. }, Some(entry)) => EntryKind::Undo { entry },
                    (Move::Undo { .. }, None) => continue,
                    (Move::Serial { serial, .. }, _) => details(&serial.to_string()),
                    (Move::Read { note, base, .. }, _) => EntryKind::Reading {
                        measure: MeasureId::of("blow"),
                        on: on(*note),
                        place: BENCH,
                        occasion: Occasion::Working,
                        value: Value::from_base(Kind::Length, *base),
                        typed: String::new(),
                    },
                    _ => continue,
                };
                let entry = phone.job.draft(phone.replica, phone.at_ms, kind);
                let entry = if is_old {
                    of_first_release(entry)
                } else {
                    entry
                };
                phone.job.apply(entry);
            }
        }
    }
    phones
}

proptest! {
    #![proptest_config(Config {
        cases: 10_000,
        rng_seed: RngSeed::Fixed(88),
        rng_algorithm: RngAlgorithm::XorShift,
        failure_persistence: None,
        ..Config::default()
    })]

    /// Commutative, associative, idempotent; and each phone sees its own work after what it knew.
    #[test]
    fn three_phones_with_clocks_apart_converge(
        are_old in any::<[bool; 3]>(), steps in vec(a_step(), 1..14),
    ) {
        let [a, b, c] = phones(are_old, &steps).map(|phone| phone.job);
        let merged = |parts: [&Job; 3]| {
            let mut job = Job::new();
            for part in parts { job.merge(part.log().entries().to_vec()); }
            job
        };
        let all = merged([&a, &b, &c]);
        for other in [merged([&c, &b, &a]), merged([&b, &merged([&c, &a, &c]), &b])] {
            prop_assert_eq!(all.log().entries(), other.log().entries());
            prop_assert!(all.state() == other.state());
        }
        prop_assert!(*all.state() == State::folded(all.log()));
        let again = merged([&all, &all, &a]);
        prop_assert_eq!(again.log().entries(), all.log().entries());
        let ranked: Vec<(&Entry, LogPosition)> = all.log().ranked().collect();
        for (at, (entry, _)) in ranked.iter().enumerate() {
            let before = &ranked[..at];
            for (earlier, _) in &ranked[at..] {
                // Its own work stays in order, and nothing refers to what comes after it.
                prop_assert!(earlier.id.replica != entry.id.replica || earlier.id.seq >= entry.id.seq);
            }
            for of in entry.references().filter(|of| all.log().binds(entry, *of)) {
                prop_assert!(before.iter().any(|(e, _)| e.id == of));
            }
        }
    }

}

proptest! {
    #![proptest_config(Config {
        cases: 300,
        rng_seed: RngSeed::Fixed(88),
        rng_algorithm: RngAlgorithm::XorShift,
        failure_persistence: None,
        ..Config::default()
    })]

    /// Where no phone writes as release 0.1 did, an entry stands after every entry that its writer had.
    #[test]
    fn an_entry_stands_after_all_that_its_writer_knew(steps in vec(a_step(), 1..14)) {
        let mut known: Vec<(EntryId, Vec<EntryId>)> = Vec::new();
        for upto in 1..=steps.len() {
            for phone in phones([false; 3], &steps[..upto]) {
                let ids = |job: &Job| job.log().entries().iter().map(|e| e.id).collect::<Vec<_>>();
                let all = ids(&phone.job);
                if let Some(own) = all.iter().filter(|id| id.replica == phone.replica).max()
                    && !known.iter().any(|(id, _)| id == own)
                {
                    known.push((*own, all.iter().copied().filter(|id| id != own).collect()));
                }
            }
        }
        let mut all = Job::new();
        for phone in phones([false; 3], &steps) { all.merge(phone.job.log().entries().to_vec()); }
        for (entry, before) in known {
            let place = all.log().position(entry);
            for id in before { prop_assert!(all.log().position(id) < place); }
        }
    }
}
