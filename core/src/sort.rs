//! Stable sorting in little code.
//!
//! The standard library's sort is compiled anew for every type and key, some 4 KB each time
//! in the program that the phone loads. Here the places alone are sorted, by one copy of it,
//! and the list is then arranged by them.

use std::cmp::Ordering;

/// Sorts a list by a comparison; what is equal stays in its order.
///
/// ```
/// let mut list = ["b1", "a1", "b2", "a2"];
/// evenhand_core::sort::by(&mut list, |x, y| x[..1].cmp(&y[..1]));
/// assert_eq!(list, ["a1", "a2", "b1", "b2"]);
/// ```
pub fn by<T>(list: &mut [T], compare: impl Fn(&T, &T) -> Ordering) {
    let mut places = places(list.len(), &|a, b| compare(&list[a], &list[b]));
    for start in 0..list.len() {
        // Round each cycle of places once; a place that holds its own is arranged.
        let mut at = start;
        loop {
            let from = std::mem::replace(&mut places[at], at);
            if from == start || from == at {
                break;
            }
            list.swap(at, from);
            at = from;
        }
    }
}

/// Sorts a list by a key of each; what is equal stays in its order.
///
/// ```
/// let mut list = [3, -1, 2, 1];
/// evenhand_core::sort::by_key(&mut list, |n: &i32| n.abs());
/// assert_eq!(list, [-1, 1, 2, 3]);
/// ```
pub fn by_key<T, K: Ord>(list: &mut [T], key: impl Fn(&T) -> K) {
    by(list, |a, b| key(a).cmp(&key(b)));
}

/// The places of a list in sorted order.
#[inline(never)]
fn places(count: usize, compare: &dyn Fn(usize, usize) -> Ordering) -> Vec<usize> {
    let mut places: Vec<usize> = (0..count).collect();
    places.sort_by(|a, b| compare(*a, *b));
    places
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn sorted_as_the_standard_library_sorts(list: Vec<(u8, u16)>) {
            let (mut ours, mut theirs) = (list.clone(), list);
            super::by_key(&mut ours, |x| x.0);
            theirs.sort_by_key(|x| x.0);
            prop_assert_eq!(ours, theirs);
        }
    }
}
