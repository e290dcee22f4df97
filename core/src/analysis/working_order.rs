//! The order of corrections that takes the fewest readings.
//!
//! **Rule**: a correction whose reading another pending correction would disturb comes after that
//! one. The cost is the number of readings still to take, as a pass takes them. Each correction is
//! measured after it is made. One whose reading was disturbed meanwhile is also measured before it
//! is made, since no turn follows from a reading that no longer holds. One that is disturbed after
//! it was made is measured, and at worst turned and measured, once more. Every other reading that
//! holds now and is disturbed is re-measured at the end. The table of what disturbs what
//! ([`crate::trade::TABLE`], C and P as stated there) has no circle, so an order in which nothing
//! is disturbed after it was made always exists, and none takes fewer readings.

use std::collections::{HashMap, HashSet};

use crate::job::{State, Subject, reached_by, reached_from};
use crate::trade::{MeasureId, Place, Reach, Strength, disturbed_by};

/// A correction to be made. It has no default.
///
/// ```
/// use evenhand_core::analysis::working_order::{Pending, working_order};
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::trade::{MeasureId, Place};
///
/// let pending = |moves, measure, note| {
///     let [moves, measure] = [moves, measure].map(MeasureId::of);
///     Pending { moves, measure, on: Subject::Note(note) }
/// };
/// // The aftertouch is corrected at the dip. On different notes nothing disturbs the other.
/// let all = [pending("natural_dip", "aftertouch", Note::FIRST), pending("let_off", "let_off", Note::LAST)];
/// let found = working_order(Job::new().state(), Place::Bench, &all);
/// assert_eq!(found.readings, 2);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pending {
    /// The measure that is moved; the correction is entered on it.
    pub moves: MeasureId,
    /// The measure that is read before and after. It is mostly the same; aftertouch is corrected by
    /// moving the length that is left to follow.
    pub measure: MeasureId,
    /// The note, section or whole action.
    pub on: Subject,
}

/// An order of corrections and its cost in readings. [`working_order`] computes it; it has no
/// default.
///
/// ```
/// use evenhand_core::analysis::working_order::WorkingOrder;
///
/// let order = WorkingOrder { order: vec![1, 0], readings: 3 };
/// assert_eq!(order.order.len(), 2);
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkingOrder {
    /// The corrections in order, as indices into the list given.
    pub order: Vec<usize>,
    /// The number of readings in this order.
    pub readings: usize,
}

/// Returns the order of corrections at a place that takes the fewest readings.
///
/// Corrections of one measure do not disturb each other and come together, from the bass up, so
/// that the tool is not changed. Of measures that do not disturb each other, the one given first
/// comes first.
///
/// ```
/// use evenhand_core::job::{Job, Subject};
/// use evenhand_core::note::Note;
/// use evenhand_core::analysis::working_order::{Pending, working_order};
/// use evenhand_core::trade::{MeasureId, Place};
///
/// let on = Subject::Note(Note::FIRST);
/// let pending = ["drop", "let_off"].map(MeasureId::of).map(|id| Pending { moves: id.clone(), measure: id, on });
/// let found = working_order(Job::new().state(), Place::Bench, &pending);
/// // The let-off first: set the other way round, the drop would be set twice.
/// assert_eq!(found.order, [1, 0]);
/// assert_eq!(found.readings, 3);
/// ```
pub fn working_order(state: &State, place: Place, pending: &[Pending]) -> WorkingOrder {
    let works = Works::of(pending);
    let mut order: Vec<usize> = (0..pending.len()).collect();
    order.sort_by_key(|i| (works.rank[works.of[*i]], pending[*i].on));
    let lost = lost(state, place, pending);
    WorkingOrder {
        readings: lost + readings(state, pending, &works, &order),
        order,
    }
}

/// The kinds of work, each once, and their order.
struct Works {
    /// For each correction, the index of its kind.
    of: Vec<usize>,
    /// For each kind, its rank in the order.
    rank: Vec<usize>,
    /// For each kind, the kinds that disturb it, and how far that reaches.
    causes: Vec<Vec<(usize, Reach)>>,
}

impl Works {
    fn of(pending: &[Pending]) -> Works {
        let mut kinds: Vec<(&MeasureId, &MeasureId)> = Vec::new();
        let of: Vec<usize> = pending
            .iter()
            .map(|p| {
                let kind = (&p.moves, &p.measure);
                let at = kinds.iter().position(|k| *k == kind);
                at.unwrap_or_else(|| {
                    kinds.push(kind);
                    kinds.len() - 1
                })
            })
            .collect();
        let causes: Vec<Vec<(usize, Reach)>> = kinds
            .iter()
            .map(|(moves, measure)| {
                let felt = |d: &&'static str| *d == measure.as_str() || *d == moves.as_str();
                let rows = |work: usize| {
                    let rows = disturbed_by(kinds[work].0.as_str());
                    let rows = rows.filter(move |row| {
                        row.strength == Strength::Voids && row.disturbs.iter().any(felt)
                    });
                    rows.map(move |row| (work, row.reach))
                };
                let others = (0..kinds.len()).filter(|k| kinds[*k] != (*moves, *measure));
                others.flat_map(rows).collect()
            })
            .collect();
        let rank = ranks(&causes);
        Works { of, rank, causes }
    }
}

/// Returns the rank of each kind, so that none comes before one that disturbs it; otherwise in the
/// order given.
fn ranks(causes: &[Vec<(usize, Reach)>]) -> Vec<usize> {
    let mut rank = vec![usize::MAX; causes.len()];
    for place in 0..causes.len() {
        let open = |i: &usize| rank[*i] == usize::MAX;
        let free = |i: &usize| causes[*i].iter().all(|(c, _)| !open(c));
        let left = || (0..causes.len()).filter(open);
        // A circle, which the table does not have, takes the one given first.
        if let Some(next) = left().find(free).or_else(|| left().next()) {
            rank[next] = place;
        }
    }
    rank
}

/// Returns the number of readings that the corrections themselves take in an order.
fn readings(state: &State, pending: &[Pending], works: &Works, order: &[usize]) -> usize {
    let kinds = works.of.iter().zip(pending);
    let mut done: HashMap<(usize, Subject), bool> =
        kinds.map(|(work, p)| ((*work, p.on), false)).collect();
    let mut sum = 0;
    for &i in order {
        let (work, on) = (works.of[i], pending[i].on);
        let (mut before, mut later) = (false, false);
        for (cause, reach) in &works.causes[work] {
            for from in reached_from(on, *reach, state.sections()) {
                match done.get(&(*cause, from)) {
                    Some(true) => before = true,
                    Some(false) => later = true,
                    None => {}
                }
            }
        }
        done.insert((work, on), true);
        sum += 1 + usize::from(before) + 2 * usize::from(later);
    }
    sum
}

/// Returns how many readings that hold now, and are not to be corrected, the corrections disturb.
fn lost(state: &State, place: Place, pending: &[Pending]) -> usize {
    let mut lost: HashSet<(&str, Subject)> = HashSet::new();
    for p in pending {
        for (measure, on) in reached(state, p.moves.as_str(), p.on, place) {
            if holds(state, measure, on, place) {
                lost.insert((measure, on));
            }
        }
    }
    for p in pending {
        lost.remove(&(p.measure.as_str(), p.on));
    }
    lost.len()
}

/// Returns everything that work on a measure of a subject disturbs at a place, measured or not.
pub(super) fn reached<'a>(
    state: &'a State,
    work: &'a str,
    on: Subject,
    place: Place,
) -> impl Iterator<Item = (&'static str, Subject)> + 'a {
    let felt = disturbed_by(work).filter(move |row| {
        row.strength == Strength::Voids && row.only.is_none_or(|only| only == place)
    });
    felt.flat_map(move |row| {
        let reached = reached_by(on, row.reach, state.sections()).into_iter();
        reached.flat_map(move |on| row.disturbs.iter().map(move |measure| (*measure, on)))
    })
}

/// Returns whether a measure was read on a subject at a place and the reading still holds.
pub(super) fn holds(state: &State, measure: &str, on: Subject, place: Place) -> bool {
    let read = state
        .measure_state(measure, on, place)
        .and_then(|s| s.in_effect());
    read.is_some() && state.disturbed(measure, on, place).is_none()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Job;
    use crate::note::Note;
    use crate::trade::{Instrument, TABLE};
    use proptest::prelude::*;

    /// Counts the readings of an order by simulating it, reading by reading, if whatever is disturbed
    /// after it was made is wrong again.
    fn played_out(pending: &[Pending], order: &[usize]) -> usize {
        let disturbs = |by: &Pending, other: &Pending| {
            let rows = disturbed_by(by.moves.as_str());
            rows.filter(|row| row.strength == Strength::Voids)
                .any(|row| {
                    let reaches = match (row.reach, by.on, other.on) {
                        (_, Subject::Whole, _) => true,
                        (Reach::Note, a, b) => a == b,
                        // A job without breaks is one section.
                        (Reach::Section, Subject::Note(_), Subject::Note(_)) => true,
                        (Reach::NeighboringSharps, Subject::Note(a), Subject::Note(b)) => {
                            a.neighboring_sharps().any(|sharp| sharp == b)
                        }
                        _ => false,
                    };
                    reaches && row.disturbs.contains(&other.measure.as_str())
                })
        };
        let mut stale = vec![false; pending.len()];
        let mut todo = order.to_vec();
        let mut readings = 0;
        while !todo.is_empty() {
            for &i in &todo {
                // No turn follows from a reading that does not hold.
                readings += usize::from(stale[i]);
                for (other, stale) in stale.iter_mut().enumerate() {
                    *stale |= disturbs(&pending[i], &pending[other]);
                }
                stale[i] = false;
                readings += 1;
            }
            todo = order.iter().copied().filter(|i| stale[*i]).collect();
        }
        readings
    }

    fn permutations(count: usize) -> Vec<Vec<usize>> {
        if count == 0 {
            return vec![Vec::new()];
        }
        let shorter = permutations(count - 1);
        shorter
            .into_iter()
            .flat_map(|order| {
                (0..count).map(move |at| {
                    let mut longer = order.clone();
                    longer.insert(at, count - 1);
                    longer
                })
            })
            .collect()
    }

    fn alone(measure: MeasureId, on: Subject) -> Pending {
        Pending {
            moves: measure.clone(),
            measure,
            on,
        }
    }

    fn item() -> impl Strategy<Value = Pending> {
        let works: Vec<&'static str> = TABLE.iter().map(|row| row.work).collect();
        (prop::sample::select(works), 40i64..=43).prop_map(|(work, note)| {
            let whole = matches!(work, "bedding" | "bedding_bench");
            let note = Note::new(note).unwrap();
            let on = if whole {
                Subject::Whole
            } else {
                Subject::Note(note)
            };
            alone(MeasureId::of(work), on)
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]
        #[test]
        fn no_order_of_few_corrections_takes_fewer_readings(
            mut pending in prop::collection::vec(item(), 0..=6),
        ) {
            pending.sort_by(|a, b| (&a.measure, a.on).cmp(&(&b.measure, b.on)));
            pending.dedup();
            let found = working_order(Job::new().state(), Place::Bench, &pending);
            let orders = permutations(pending.len());
            let least = orders.iter().map(|order| played_out(&pending, order)).min();
            prop_assert_eq!(Some(found.readings), least);
            prop_assert_eq!(Some(played_out(&pending, &found.order)), least);
        }

        #[test]
        fn every_correction_comes_once(pending in prop::collection::vec(item(), 0..60)) {
            let mut order = working_order(Job::new().state(), Place::Piano, &pending).order;
            order.sort_unstable();
            prop_assert_eq!(order, (0..pending.len()).collect::<Vec<_>>());
        }
    }

    #[test]
    fn the_table_runs_in_no_circle() {
        let measures = Instrument::Grand
            .measures()
            .iter()
            .chain(Instrument::Upright.measures());
        let mut pending: Vec<Pending> = measures
            .map(|m| alone(m.id.clone(), Subject::Note(Note::FIRST)))
            .collect();
        pending.dedup();
        let works = Works::of(&pending);
        for (measure, causes) in works.causes.iter().enumerate() {
            for (cause, _) in causes {
                assert!(
                    works.rank[*cause] < works.rank[measure],
                    "{} and {} disturb each other",
                    pending[*cause].moves,
                    pending[measure].moves
                );
            }
        }
    }

    #[test]
    fn an_aftertouch_set_by_the_dip_comes_after_the_blow_and_before_the_checking() {
        let on = Subject::Note(Note::FIRST);
        let id = MeasureId::of;
        let pending = [
            alone(id("checking"), on),
            Pending {
                moves: id("natural_dip"),
                ..alone(id("aftertouch"), on)
            },
            alone(id("blow"), on),
        ];
        let found = working_order(Job::new().state(), Place::Bench, &pending);
        assert_eq!(found.order, [2, 1, 0]);
    }

    #[test]
    fn a_natural_comes_before_the_sharps_beside_it() {
        let item = |measure, note| {
            let on = Subject::Note(Note::new(note).unwrap());
            alone(MeasureId::of(measure), on)
        };
        let pending = [
            item("sharp_level", 41),
            item("natural_level", 42),
            item("natural_level", 45),
        ];
        let found = working_order(Job::new().state(), Place::Bench, &pending);
        assert_eq!(found.order, [1, 2, 0]);
        // 42 moves the sharp beside it, 45 does not.
        assert_eq!(found.readings, 4);
        let far = [item("sharp_level", 41), item("natural_level", 45)];
        assert_eq!(
            working_order(Job::new().state(), Place::Bench, &far).readings,
            2
        );
    }
}
