//! In which order to make corrections so that as little as possible has to be read again.
//!
//! **Rule**: a correction whose reading another pending correction would disturb comes after that one.
//! What is counted are the readings that are still to be taken, as a pass takes them: each correction is
//! read after it is made; one whose reading was disturbed in the meantime is read before it is
//! made, since nothing is turned by a reading that no longer holds; one that is disturbed after it
//! was made is read, and at the worst turned and read, once more; and every other reading that
//! holds now and is disturbed is taken again at the end. The table of what disturbs what
//! ([`crate::trade::TABLE`], C and P as stated there) runs in no circle, so that an order in which
//! nothing is disturbed after it was made always exists, and none takes fewer readings.

use std::collections::{HashMap, HashSet};

use crate::job::{State, Subject, reached_by, reached_from};
use crate::trade::{MeasureId, Place, Reach, disturbed_by};

/// A correction that is to be made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pending {
    /// What is moved: the correction is entered on this measure.
    pub moves: MeasureId,
    /// What it is moved for: the measure that is read before and after. Mostly the same; an
    /// aftertouch is set by moving the length that floats.
    pub measure: MeasureId,
    /// On which note, section or whole.
    pub on: Subject,
}

/// An order of corrections, and what it costs in readings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WorkingOrder {
    /// The corrections in their order, as places in the list that was given.
    pub order: Vec<usize>,
    /// The readings that are to be taken in this order.
    pub readings: usize,
    /// The readings that would be taken in the order that was given.
    pub as_given: usize,
}

impl WorkingOrder {
    /// How many readings the order saves against the one that was given.
    pub fn saves(&self) -> usize {
        self.as_given.saturating_sub(self.readings)
    }
}

/// The order in which to make corrections, each on a measure and a note, section or whole, at a place.
///
/// Corrections of one measure do not disturb each other and come together, from the bass up,
/// since one tool stays in the hand; of measures that do not disturb each other the one that was
/// given first comes first.
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
/// assert_eq!((found.readings, found.saves()), (3, 1));
/// ```
pub fn working_order(state: &State, place: Place, pending: &[Pending]) -> WorkingOrder {
    let works = Works::of(pending);
    let mut order: Vec<usize> = (0..pending.len()).collect();
    order.sort_by_key(|i| (works.rank[works.of[*i]], pending[*i].on));
    let lost = lost(state, place, pending);
    let given: Vec<usize> = (0..pending.len()).collect();
    WorkingOrder {
        readings: lost + readings(state, pending, &works, &order),
        as_given: lost + readings(state, pending, &works, &given),
        order,
    }
}

/// The kinds of work, each once, and how they follow each other.
struct Works {
    /// Of each correction its place in `kinds`.
    of: Vec<usize>,
    /// Of each kind its place in the work.
    rank: Vec<usize>,
    /// Of each kind those that disturb it, with how far that reaches.
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
                    let rows = rows.filter(move |row| row.disturbs.iter().any(felt));
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

/// Of each measure its place, so that none comes before what disturbs it; else as given.
fn ranks(causes: &[Vec<(usize, Reach)>]) -> Vec<usize> {
    let mut rank = vec![usize::MAX; causes.len()];
    for place in 0..causes.len() {
        let open = |i: &usize| rank[*i] == usize::MAX;
        let free = |i: &usize| causes[*i].iter().all(|(c, _)| !open(c));
        let left = || (0..causes.len()).filter(open);
        // In a circle, which the table has none of, the one given first.
        if let Some(next) = left().find(free).or_else(|| left().next()) {
            rank[next] = place;
        }
    }
    rank
}

/// The readings that the corrections themselves take in an order.
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

/// How many readings that hold now, and are not to be corrected, the corrections disturb.
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

/// What work on a measure of a subject reaches at a place, read or not.
pub(super) fn reached<'a>(
    state: &'a State,
    work: &'a str,
    on: Subject,
    place: Place,
) -> impl Iterator<Item = (&'static str, Subject)> + 'a {
    let felt = disturbed_by(work).filter(move |row| !row.piano_only || place == Place::Piano);
    felt.flat_map(move |row| {
        let reached = reached_by(on, row.reach, state.sections()).into_iter();
        reached.flat_map(move |on| row.disturbs.iter().map(move |measure| (*measure, on)))
    })
}

/// Whether a measure was read on a subject at a place and the reading still holds.
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

    /// What a bench has to read in an order if whatever is disturbed after it was made comes out
    /// wrong again: played out reading by reading, with no formula.
    fn played_out(pending: &[Pending], order: &[usize]) -> usize {
        let disturbs = |by: &Pending, other: &Pending| {
            disturbed_by(by.moves.as_str()).any(|row| {
                let reaches = match (row.reach, by.on, other.on) {
                    (_, Subject::Whole, _) => true,
                    (Reach::Note, a, b) => a == b,
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
                // Nothing is turned by a reading that does not hold.
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
            let whole = matches!(work, "bedding" | "action_in");
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
            let given: Vec<usize> = (0..pending.len()).collect();
            prop_assert!(found.as_given <= played_out(&pending, &given));
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
        // 42 carries the sharp beside it, 45 does not.
        assert_eq!((found.readings, found.as_given), (4, 5));
        let far = [item("sharp_level", 41), item("natural_level", 45)];
        assert_eq!(
            working_order(Job::new().state(), Place::Bench, &far).saves(),
            0
        );
    }
}
