//! Tests of the choice of punchings, against a search of all sets.

use super::*;
use proptest::prelude::*;

fn mil(thousandths: i64) -> Length {
    Length::from_nm(thousandths * 25_400)
}

fn common() -> Stock {
    Stock::new(COMMON.map(Punching::from), 6).unwrap()
}

#[test]
fn the_common_thicknesses_are_thousandths_of_an_inch() {
    assert_eq!(COMMON, [3, 5, 7, 10, 15, 20, 30, 45].map(mil));
}

#[test]
fn level_and_dip_follow_the_lever_there_and_back() {
    let mm = |mm: i64| Length::from_nm(mm * 1_000_000);
    let key = Lever::new(mm(225), mm(125), mm(205)).unwrap();
    let punching = key.punching_for_rise(Length::from_nm(500_000));
    assert!((key.rise(punching).nm() - 500_000).abs() <= 2);
    let shim = key.punching_for_dip(Length::from_nm(-300_000));
    assert!(shim > Length::ZERO, "less dip takes more punching");
    assert!((key.dip_taken(shim).nm() - 300_000).abs() <= 2);
}

#[test]
fn levers_without_length_are_refused() {
    let mm = |mm: i64| Length::from_nm(mm * 1_000_000);
    assert!(Lever::new(mm(0), mm(1), mm(1)).is_err());
    assert!(Lever::new(mm(1), mm(-1), mm(1)).is_err());
    assert!(Lever::new(mm(1), mm(1), mm(0)).is_err());
    assert!(Lever::new(mm(200), mm(110), mm(201)).is_err());
}

#[test]
fn a_tolerance_saves_papers() {
    let exact = common().choose(mil(22), Length::ZERO);
    assert_eq!(exact.punchings, [15, 7].map(mil));
    let near = common().choose(mil(22), mil(2));
    assert_eq!(near.punchings, [mil(20)]);
}

#[test]
fn what_cannot_be_reached_is_approached() {
    let all = common().choose(Length::from_nm(i64::MAX), mil(1));
    assert_eq!(all.punchings, [mil(45); 6]);
    assert_eq!(common().choose(mil(-10), mil(1)), Set::default());
    assert_eq!(common().choose(mil(1), Length::ZERO), Set::default());
    let nothing = Stock::new([], 6).unwrap();
    assert_eq!(nothing.choose(mil(10), Length::ZERO), Set::default());
}

#[test]
fn counts_limit_a_set_and_the_pick_list_says_what_is_missing() {
    let few = Punching {
        thickness: mil(7),
        count: Some(1),
    };
    let stock = Stock::new([few, mil(10).into(), mil(3).into()], 6).unwrap();
    let set = stock.choose(mil(14), Length::ZERO);
    assert_eq!(set.punchings, [10, 3].map(mil));
    let wanted: Vec<_> = Note::all().take(3).map(|note| (note, mil(7))).collect();
    let (_, picks) = stock.choose_all(&wanted, Length::ZERO);
    assert_eq!((picks[0].needed, picks[0].missing), (3, 2));
}

#[test]
fn stocks_that_cannot_be_searched_are_refused() {
    assert!(Stock::new([Length::ZERO.into()], 6).is_err());
    assert!(Stock::new((1..=17).map(|t| mil(t).into()), 6).is_err());
}

#[test]
fn an_exchange_handles_as_few_papers_as_it_can() {
    let swap = common().exchange(&[mil(10), mil(5)], mil(-5), Length::ZERO);
    assert_eq!(
        (swap.take_out, swap.put_in.punchings),
        (vec![mil(5)], vec![])
    );
    let none = common().exchange(&[mil(10)], mil(1), mil(2));
    assert_eq!(none, Exchange::default());
    let empty = common().exchange(&[], mil(-10), Length::ZERO);
    assert_eq!(empty, Exchange::default());
}

/// Lists all sets of at most `most` punchings by brute force: counting in a number system.
fn brute_force(
    stock: &[Punching],
    most: usize,
    wanted: Length,
    tolerance: Length,
) -> (bool, u64, u64) {
    let base = most as u64 + 1;
    let mut best = (true, u64::MAX, u64::MAX);
    for code in 0..base.pow(stock.len() as u32) {
        let counts: Vec<u64> = (0..stock.len() as u32)
            .map(|i| code / base.pow(i) % base)
            .collect();
        let over = |(n, p): (&u64, &Punching)| p.count.is_some_and(|c| *n > u64::from(c));
        let used: u64 = counts.iter().sum();
        if used > most as u64 || counts.iter().zip(stock).any(over) {
            continue;
        }
        let total: i64 = counts
            .iter()
            .zip(stock)
            .map(|(n, p)| *n as i64 * p.thickness.nm())
            .sum();
        let off = total.abs_diff(wanted.nm());
        let rank = if off <= tolerance.nm() as u64 {
            (false, used, off)
        } else {
            (true, off, used)
        };
        best = best.min(rank);
    }
    best
}

proptest! {
    #[test]
    fn no_set_is_better_than_the_chosen_one(
        kinds in prop::collection::btree_map(1i64..60, prop::option::of(0u32..4), 0..5),
        most in 0usize..5, wanted in -20i64..200, tolerance in 0i64..8,
    ) {
        let punchings: Vec<Punching> = kinds.iter().map(|(t, c)| Punching { thickness: mil(*t), count: *c }).collect();
        let stock = Stock::new(punchings.clone(), most).unwrap();
        let set = stock.choose(mil(wanted), mil(tolerance));
        let used = set.punchings.len() as u64;
        let off = set.off(mil(wanted));
        let rank = if off <= mil(tolerance).nm() as u64 { (false, used, off) } else { (true, off, used) };
        prop_assert_eq!(set.punchings.iter().copied().sum::<Length>(), set.total);
        prop_assert_eq!(rank, brute_force(&punchings, most, mil(wanted), mil(tolerance)));
    }

    #[test]
    fn no_thickness_makes_it_stumble(wanted in any::<i64>(), tolerance in any::<i64>(), there in prop::collection::vec(any::<i64>(), 0..10)) {
        let (wanted, tolerance) = (Length::from_nm(wanted), Length::from_nm(tolerance));
        let stock = Stock::new([3, 7, 10].map(|t| Punching::from(mil(t))), 3).unwrap();
        let _ = stock.choose(wanted, tolerance);
        let there: Vec<Length> = there.into_iter().map(Length::from_nm).collect();
        let _ = stock.exchange(&there, wanted, tolerance);
    }
}
