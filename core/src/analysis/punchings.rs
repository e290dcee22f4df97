//! Punchings under the keys: how their thickness at a rail changes the height or the dip at the
//! front edge, which to take from the stock, and the pick list for the whole action. The file is
//! long because its types carry their examples.

use std::collections::BTreeMap;

use super::{SumError, divided};
use crate::note::Note;
use crate::unit::{Length, LengthUnit};

/// Common thicknesses (C): 0.003, 0.005, 0.007, 0.010, 0.015, 0.020, 0.030 and 0.045 in.
pub const COMMON: [Length; 8] = [
    Length::from_nm(76_200),
    Length::from_nm(127_000),
    Length::from_nm(177_800),
    Length::from_nm(254_000),
    Length::from_nm(381_000),
    Length::from_nm(508_000),
    Length::from_nm(762_000),
    Length::from_nm(1_143_000),
];

/// A key as a lever, measured from the balance pin. Its lengths are above 0, and the front pin is
/// not beyond the front edge. It has no default.
///
/// **Rule** (P: lever law). Level: the key turns about the back rail, so punchings of thickness `t`
/// at the balance rail raise the front edge by `t·(Lf + Lb)/Lb`. Dip: the key turns about the
/// balance rail, so punchings of thickness `t` at the front pin reduce the dip by `t·Lf/Lp`.
/// **Range**: the few mm that keys move.
/// **Error**: 1 mm in a lever of 200 mm is 0.5 %. Felt that settles under a new punching is more:
/// play it in, then re-measure.
///
/// ```
/// use evenhand_core::analysis::punchings::Lever;
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_nm(mm * 1_000_000);
/// let key = Lever::new(mm(220), mm(110), mm(200))?;
/// let punching = Length::from_nm(100_000);
/// assert_eq!(key.rise(punching), Length::from_nm(300_000));
/// assert_eq!(key.dip_taken(punching), Length::from_nm(110_000));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Lever {
    front: i64,
    back: i64,
    pin: i64,
}

impl Lever {
    /// Creates it from the distances from the balance pin: to the front edge, to the point where
    /// the key rests on the back rail, and to the front pin.
    ///
    /// # Errors
    /// [`SumError::NotPositive`] if a length is not above 0; [`SumError::Contradiction`] if the
    /// front pin is beyond the front edge.
    pub fn new(front: Length, back: Length, pin: Length) -> Result<Lever, SumError> {
        for (length, what) in [
            (front, "The key's length from balance pin to front edge"),
            (back, "The key's length from balance pin to back rail"),
            (pin, "The key's length from balance pin to front pin"),
        ] {
            if length.nm() <= 0 {
                return Err(SumError::NotPositive(what));
            }
        }
        if pin > front {
            return Err(SumError::Contradiction(
                "The front pin lies beyond the key's front edge. Measure both from the balance pin.",
            ));
        }
        let [front, back, pin] = [front.nm(), back.nm(), pin.nm()];
        Ok(Lever { front, back, pin })
    }

    /// Returns the rise of the front edge for a thickness added at the balance rail.
    pub fn rise(self, punching: Length) -> Length {
        let levers = i128::from(self.front) + i128::from(self.back);
        scaled(punching, levers, i128::from(self.back))
    }

    /// Returns the thickness to add at the balance rail for a rise of the front edge.
    pub fn punching_for_rise(self, rise: Length) -> Length {
        let levers = i128::from(self.front) + i128::from(self.back);
        scaled(rise, i128::from(self.back), levers)
    }

    /// Returns the reduction of the dip for a thickness added at the front rail.
    pub fn dip_taken(self, punching: Length) -> Length {
        scaled(punching, i128::from(self.front), i128::from(self.pin))
    }

    /// Returns the thickness to add at the front rail for a change of the dip; a shallower dip
    /// needs more.
    pub fn punching_for_dip(self, change: Length) -> Length {
        scaled(-change, i128::from(self.pin), i128::from(self.front))
    }
}

fn scaled(length: Length, by: i128, over: i128) -> Length {
    // A 64-bit number times the sum of two fits in 128 bits.
    Length::from_nm(divided(i128::from(length.nm()) * by, over))
}

/// One thickness of punching, above 0 in a [`Stock`], and the number at hand if it is limited. It has no default; made
/// from a length it is unlimited.
///
/// ```
/// use evenhand_core::analysis::punchings::{Punching, Stock};
/// use evenhand_core::unit::Length;
///
/// let [thin, thick] = [5, 10].map(|thousandths| Length::from_nm(thousandths * 25_400));
/// let chosen = |thick: Punching| {
///     let stock = Stock::new([thick, thin.into()], 4)?;
///     let set = stock.choose(thick.thickness + thick.thickness, Length::ZERO);
///     Ok::<_, evenhand_core::analysis::SumError>(set.punchings)
/// };
/// assert_eq!(chosen(thick.into())?, [thick, thick]);
/// assert_eq!(chosen(Punching { thickness: thick, count: Some(1) })?, [thick, thin, thin]);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Punching {
    /// Its thickness.
    pub thickness: Length,
    /// The number at hand, or `None` if it is unlimited.
    pub count: Option<u32>,
}

impl From<Length> for Punching {
    fn from(thickness: Length) -> Punching {
        Punching {
            thickness,
            count: None,
        }
    }
}

/// A set of punchings. The default is the empty set.
///
/// ```
/// use evenhand_core::analysis::punchings::{Set, Stock};
/// use evenhand_core::unit::Length;
///
/// let inch = |thousandths: i64| Length::from_nm(thousandths * 25_400);
/// let stock = Stock::of(&[inch(5), inch(10)])?;
/// let set = stock.choose(inch(15), Length::ZERO);
/// assert_eq!((set.punchings, set.total), (vec![inch(10), inch(5)], inch(15)));
/// assert_eq!(stock.choose(Length::ZERO, Length::ZERO), Set::default());
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Set {
    /// Their thicknesses, thickest first.
    pub punchings: Vec<Length>,
    /// Their total thickness.
    pub total: Length,
}

impl Set {
    /// Returns the deviation from a wanted thickness, in nanometers.
    fn off(&self, wanted: Length) -> u64 {
        self.total.nm().abs_diff(wanted.nm())
    }
}

/// Every set of punchings that a stock allows, prepared for choosing.
///
/// The choice is exact: every set is considered, none is built up greedily. Of all sets of at most
/// `most` punchings, the empty set included:
///
/// 1. those within the tolerance of the wanted thickness come before those that are not;
/// 2. within the tolerance, fewer punchings come first, then the nearer total;
/// 3. if none is within the tolerance, the nearer total comes first, then fewer punchings;
/// 4. of equal ones the thinner total, then the set with the thicker first punching.
///
/// ```
/// use evenhand_core::analysis::punchings::{COMMON, Stock};
/// use evenhand_core::unit::Length;
///
/// let stock = Stock::new(COMMON.map(Into::into), 6)?;
/// let thousandth = 25_400;
/// // 0.023 in: a greedy hand takes 0.020 and 0.003, and so it is.
/// let set = stock.choose(Length::from_nm(23 * thousandth), Length::ZERO);
/// assert_eq!(set.punchings, [20, 3].map(|t| Length::from_nm(t * thousandth)));
/// // 0.014 in: greedy would take 0.010 and 0.003; two of 0.007 fit exactly.
/// let set = stock.choose(Length::from_nm(14 * thousandth), Length::ZERO);
/// assert_eq!(set.punchings, [7, 7].map(|t| Length::from_nm(t * thousandth)));
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Debug)]
pub struct Stock {
    /// Thickest first.
    punchings: Vec<Punching>,
    /// Sorted by total; for each total the set that rule 4 puts first among those with the fewest
    /// punchings.
    sets: Vec<Set>,
}

impl Stock {
    /// Largest number of thicknesses that are searched.
    pub const MAX_KINDS: usize = 16;
    /// Largest number of punchings in one set.
    pub const MAX_PAPERS: usize = 6;

    /// Creates it from the punchings at hand, with at most `most` in a set (at most
    /// [`Stock::MAX_PAPERS`]). If a thickness comes twice, the counts are added.
    ///
    /// # Errors
    /// [`SumError::NotPositive`] if a thickness is not above 0; [`SumError::TooMany`] if there are
    /// more than [`Stock::MAX_KINDS`].
    pub fn new(
        punchings: impl IntoIterator<Item = Punching>,
        most: usize,
    ) -> Result<Stock, SumError> {
        let mut kinds: Vec<Punching> = Vec::new();
        for punching in punchings {
            if punching.thickness <= Length::ZERO {
                return Err(SumError::NotPositive("The thickness of a punching"));
            }
            match kinds.iter_mut().find(|k| k.thickness == punching.thickness) {
                Some(Punching { count, .. }) => {
                    *count = count.zip(punching.count).map(|(a, b)| a.saturating_add(b));
                }
                None => kinds.push(punching),
            }
            if kinds.len() > Stock::MAX_KINDS {
                return Err(SumError::TooMany(
                    "thicknesses of punching",
                    Stock::MAX_KINDS,
                ));
            }
        }
        kinds.sort_unstable_by_key(|kind| std::cmp::Reverse(kind.thickness));
        let punchings = kinds;
        let mut sets = Vec::new();
        let most = most.min(Stock::MAX_PAPERS);
        gather(&punchings, most, &mut Set::default(), &mut sets);
        // `gather` lists sets with a thicker first punching first, so a stable sort keeps rule 4.
        sets.sort_by_key(|set| (set.total, set.punchings.len()));
        sets.dedup_by_key(|set| set.total);
        Ok(Stock { punchings, sets })
    }

    /// Creates it with as many punchings in a set as can be searched at each tap: six with four
    /// thicknesses or fewer, down to two with sixteen. More are rarely wanted under a key (C).
    ///
    /// # Errors
    /// As [`Stock::new`].
    pub fn of(thicknesses: &[Length]) -> Result<Stock, SumError> {
        let most = match thicknesses.len() {
            0..=4 => 6,
            5 => 5,
            6..=8 => 4,
            9..=12 => 3,
            _ => 2,
        };
        Stock::new(thicknesses.iter().map(|t| Punching::from(*t)), most)
    }

    /// Returns the best set for a wanted thickness, by the rules above. It is empty if nothing is
    /// wanted.
    pub fn choose(&self, wanted: Length, tolerance: Length) -> Set {
        self.best(wanted, tolerance).cloned().unwrap_or_default()
    }

    fn best(&self, wanted: Length, tolerance: Length) -> Option<&Set> {
        let tolerance = tolerance.abs();
        let from = self.sets.partition_point(|s| s.total < wanted - tolerance);
        let to = self.sets.partition_point(|s| s.total <= wanted + tolerance);
        let within = self.sets.get(from..to).unwrap_or(&[]);
        let fewest = within
            .iter()
            .min_by_key(|s| (s.punchings.len(), s.off(wanted), s.total));
        // Each total occurs once, so the two beside the wanted one are the nearest.
        let beside = &self.sets[from.saturating_sub(1)..self.sets.len().min(from + 1)];
        fewest.or_else(|| {
            beside
                .iter()
                .min_by_key(|s| (s.off(wanted), s.punchings.len(), s.total))
        })
    }

    /// Returns the best way to change the punchings under a key by `change` (positive for thicker),
    /// with `present` there now.
    ///
    /// Every subset of the first eight present punchings is tried as the part to take out, with the
    /// best set to put in. The rules are those of the stock, with the number of punchings handled,
    /// out and in, instead of the number used.
    ///
    /// ```
    /// use evenhand_core::analysis::punchings::{COMMON, Stock};
    /// use evenhand_core::unit::Length;
    ///
    /// let stock = Stock::new(COMMON.map(Into::into), 6)?;
    /// let inch = |thousandths: i64| Length::from_nm(thousandths * 25_400);
    /// // Thinner by 0.010 in, with 0.015 and 0.020 under the key: take out 0.015, put in 0.005.
    /// let swap = stock.exchange(&[inch(15), inch(20)], inch(-10), Length::ZERO);
    /// assert_eq!(swap.take_out, [inch(15)]);
    /// assert_eq!(swap.put_in.punchings, [inch(5)]);
    /// assert_eq!(swap.change, inch(-10));
    /// # Ok::<(), evenhand_core::analysis::SumError>(())
    /// ```
    pub fn exchange(&self, present: &[Length], change: Length, tolerance: Length) -> Exchange {
        let present = &present[..present.len().min(8)];
        let tolerance = tolerance.abs();
        (0..1u32 << present.len())
            .map(|chosen| {
                let taken = present.iter().enumerate();
                let take_out: Vec<Length> = taken
                    .filter(|(i, _)| chosen & (1 << i) != 0)
                    .map(|(_, punching)| *punching)
                    .collect();
                let out: Length = take_out.iter().copied().sum();
                let put_in = self.choose(change + out, tolerance);
                let change = put_in.total - out;
                Exchange {
                    take_out,
                    put_in,
                    change,
                }
            })
            .min_by_key(|e| {
                let off = e.change.nm().abs_diff(change.nm());
                let handled = (e.take_out.len() + e.put_in.punchings.len()) as u64;
                if i128::from(off) <= i128::from(tolerance.nm()) {
                    (false, handled, off, e.change)
                } else {
                    (true, off, handled, e.change)
                }
            })
            .unwrap_or_default()
    }

    /// Returns the exchange as [`Stock::exchange`] does, if unrecorded punchings may lie under the
    /// key: if the known ones do not allow the wanted change and it is negative, it returns what to
    /// take out of those that lie there.
    ///
    /// ```
    /// use evenhand_core::analysis::punchings::{COMMON, Stock};
    /// use evenhand_core::unit::Length;
    ///
    /// let stock = Stock::of(&COMMON)?;
    /// let inch = |thousandths: i64| Length::from_nm(thousandths * 25_400);
    /// assert_eq!(stock.swap(&[], inch(-10), Length::ZERO).take_out, [inch(10)]);
    /// # Ok::<(), evenhand_core::analysis::SumError>(())
    /// ```
    pub fn swap(&self, present: &[Length], change: Length, tolerance: Length) -> Exchange {
        let known = self.exchange(present, change, tolerance);
        let off = |e: &Exchange| e.change.nm().abs_diff(change.nm());
        if change >= Length::ZERO || off(&known) <= tolerance.abs().nm().unsigned_abs() {
            return known;
        }
        let out = self.choose(-change, tolerance);
        let unknown = Exchange {
            change: -out.total,
            take_out: out.punchings,
            put_in: Set::default(),
        };
        if off(&unknown) < off(&known) {
            unknown
        } else {
            known
        }
    }

    /// Returns how many of each thickness a list of sets needs, and how many are missing from the
    /// stock.
    ///
    /// Counts limit each set on its own; only the pick list shows whether the stock lasts for all.
    pub fn pick_list<'a>(&self, sets: impl IntoIterator<Item = &'a Set>) -> Vec<Pick> {
        let mut needed: BTreeMap<Length, u32> = BTreeMap::new();
        for thickness in sets.into_iter().flat_map(|set| &set.punchings) {
            let count = needed.entry(*thickness).or_default();
            *count = count.saturating_add(1);
        }
        needed
            .into_iter()
            .map(|(thickness, needed)| {
                let has = self.punchings.iter().find(|p| p.thickness == thickness);
                let at_hand = has.map_or(Some(0), |p| p.count);
                Pick {
                    thickness,
                    needed,
                    missing: at_hand.map_or(0, |n| needed.saturating_sub(n)),
                }
            })
            .collect()
    }

    /// Returns the set for each note, from the wanted thickness, and the pick list for all.
    pub fn choose_all(
        &self,
        wanted: &[(Note, Length)],
        tolerance: Length,
    ) -> (Vec<(Note, Set)>, Vec<Pick>) {
        let sets: Vec<(Note, Set)> = wanted
            .iter()
            .map(|(note, thickness)| (*note, self.choose(*thickness, tolerance)))
            .collect();
        let picks = self.pick_list(sets.iter().map(|(_, set)| set));
        (sets, picks)
    }
}

/// Appends `set` to `sets`, and every set that adds punchings no thicker than its last.
fn gather(punchings: &[Punching], most: usize, set: &mut Set, sets: &mut Vec<Set>) {
    if let Some((first, thinner)) = punchings.split_first() {
        let has_room = set.punchings.len() < most;
        let used = set
            .punchings
            .iter()
            .filter(|p| **p == first.thickness)
            .count();
        if has_room && first.count.is_none_or(|n| used < n as usize) {
            let before = set.total;
            set.punchings.push(first.thickness);
            set.total = before + first.thickness;
            gather(punchings, most, set, sets);
            set.punchings.pop();
            set.total = before;
        }
        gather(thinner, most, set, sets);
    } else {
        sets.push(set.clone());
    }
}

/// Punchings to take out from under a key and to put in. The default changes nothing.
///
/// ```
/// use evenhand_core::analysis::punchings::Exchange;
/// use evenhand_core::unit::{Length, LengthUnit};
///
/// let exchange = Exchange { take_out: vec![Length::from_nm(127_000)], ..Exchange::default() };
/// assert_eq!(exchange.words(LengthUnit::Inch), "take out 0.005 in");
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Exchange {
    /// The punchings to take out.
    pub take_out: Vec<Length>,
    /// The punchings to put in.
    pub put_in: Set,
    /// The change in total thickness.
    pub change: Length,
}

impl Exchange {
    /// Returns what to do, in words: `take out 0.005, put in 0.010 in`.
    ///
    /// Inches are shown to a thousandth, millimeters to a hundredth, or to a thousandth if the
    /// punching was made in inches.
    pub fn words(&self, unit: LengthUnit) -> String {
        let list = |punchings: &[Length]| {
            let shown: Vec<String> = punchings.iter().map(|p| shown(*p, unit)).collect();
            shown.join(" + ")
        };
        let mut words = String::new();
        if !self.take_out.is_empty() {
            words = format!("take out {}", list(&self.take_out));
        }
        if !self.put_in.punchings.is_empty() {
            let comma = if words.is_empty() { "" } else { ", " };
            words = format!("{words}{comma}put in {}", list(&self.put_in.punchings));
        }
        match words.is_empty() {
            true => "leave it".to_owned(),
            false => format!("{words} {}", unit.symbol()),
        }
    }
}

/// Returns the thickness of a punching as written on its box.
pub fn shown(punching: Length, unit: LengthUnit) -> String {
    match unit {
        // Decimals even for 1/64 in: the box says 0.016.
        LengthUnit::Inch => {
            let thousandths = divided(i128::from(punching.nm()), 25_400);
            Length::from_nm(thousandths.saturating_mul(1_000_000) / 1_000)
                .shown(LengthUnit::Millimeter, 3)
        }
        // As in the stock: 0.015 in is 0.38 mm.
        LengthUnit::Millimeter => punching.shown(unit, 2),
    }
}

/// One line of the pick list. It has no default.
///
/// ```
/// use evenhand_core::analysis::punchings::{Punching, Pick, Set, Stock};
/// use evenhand_core::unit::Length;
///
/// let thickness = Length::from_nm(254_000);
/// let stock = Stock::new([Punching { thickness, count: Some(3) }], 6)?;
/// let set = stock.choose(thickness + thickness, Length::ZERO);
/// // Two notes need two each, and three are at hand.
/// let picks = stock.pick_list([&set, &set]);
/// assert_eq!(picks, [Pick { thickness, needed: 4, missing: 1 }]);
/// # Ok::<(), evenhand_core::analysis::SumError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pick {
    /// The thickness.
    pub thickness: Length,
    /// How many are needed.
    pub needed: u32,
    /// How many of them are not at hand.
    pub missing: u32,
}

#[cfg(test)]
mod tests;
