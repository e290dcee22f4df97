//! The measures: what is measured or marked, in which unit, and how a reading is changed.

use std::borrow::{Borrow, Cow};
use std::fmt;

use serde::{Deserialize, Serialize};

use super::{Band, Per};
use crate::unit::{Kind, Turns};

/// The id of a measure in the log and the job file, such as `let_off`.
///
/// Any text is an id: a job file may contain measures that this version does not know, and they are
/// kept. It has no default. Ids compare as texts.
///
/// ```
/// use evenhand_core::trade::{Instrument, MeasureId};
///
/// let id = MeasureId::of("let_off");
/// assert_eq!(id, MeasureId::from("let_off"));
/// assert_eq!(Instrument::Grand.measure(id.as_str()).unwrap().name, "Let-off");
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MeasureId(pub Cow<'static, str>);

impl MeasureId {
    /// Creates an id from a literal, without allocating.
    pub const fn of(name: &'static str) -> MeasureId {
        MeasureId(Cow::Borrowed(name))
    }

    /// Returns the id as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<&str> for MeasureId {
    fn from(name: &str) -> MeasureId {
        MeasureId(Cow::Owned(name.to_owned()))
    }
}

impl Borrow<str> for MeasureId {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for MeasureId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

/// How a technician changes a reading.
///
/// ```
/// use evenhand_core::trade::{Adjuster, Instrument};
///
/// let blow = Instrument::Grand.measure("blow").unwrap();
/// let Some(Adjuster::Turned { part, directions, response, .. }) = &blow.adjuster else {
///     panic!("blow is set by a screw");
/// };
/// // One full turn of the capstan down makes the blow about 8 mm longer.
/// assert_eq!((*part, directions.0, *response), ("capstan", "down", 8_000_000));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Adjuster {
    /// A capstan, button or screw is turned.
    Turned {
        /// The part that is turned.
        part: &'static str,
        /// The direction that makes the reading larger, then the one that makes it smaller.
        directions: (&'static str, &'static str),
        /// The change of the reading for one full turn, in the stored unit, before anything is
        /// known of the instrument (M, from lever lengths and thread pitch).
        response: i64,
        /// The smallest turn that can be made by hand (M).
        resolution: Turns,
    },
    /// Punchings are added or removed at the balance rail: the thicker, the larger the reading.
    BalancePunchings,
    /// Punchings are added or removed at the front rail: the thicker, the smaller the reading.
    FrontPunchings,
    /// A part is bent, eased or set by eye, without a number.
    ByEye {
        /// The part that is bent or set.
        part: &'static str,
        /// The direction that makes the reading larger, then the one that makes it smaller.
        directions: (&'static str, &'static str),
    },
}

/// The grades of another measure with which a measure is taken: renewing knuckles only where that was decided.
///
/// The grade is that of the same note or section, or of the section that a note belongs to.
///
/// ```
/// use evenhand_core::trade::Instrument;
///
/// let renewal = Instrument::Grand.measure("knuckles_renewed").unwrap();
/// let taken = renewal.taken.unwrap();
/// assert_eq!(taken.grade_of, "decide_knuckles");
/// assert!(taken.includes(Some(2)) && !taken.includes(Some(1)) && !taken.includes(None));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TakenWhere {
    /// The measure whose grade decides.
    pub grade_of: &'static str,
    /// The lowest and the highest grade with which it is taken, counted from 0.
    grades: (i64, i64),
    /// Whether it is taken where there is no grade.
    ungraded: bool,
}

impl TakenWhere {
    /// Returns the condition that another measure has a grade from `low` to `high`, counted from 0.
    pub(super) const fn graded(grade_of: &'static str, low: i64, high: i64) -> TakenWhere {
        TakenWhere {
            grade_of,
            grades: (low, high),
            ungraded: false,
        }
    }

    /// Adds the subjects that have no grade.
    pub(super) const fn or_ungraded(mut self) -> TakenWhere {
        self.ungraded = true;
        self
    }

    /// Returns `true` if the measure is taken with this grade; `None` is no grade.
    pub fn includes(self, grade: Option<i64>) -> bool {
        match grade {
            Some(grade) => (self.grades.0..=self.grades.1).contains(&grade),
            None => self.ungraded,
        }
    }
}

/// One quantity that is measured or marked, with its unit, its default target and its words.
///
/// [`super::Instrument::measures`] returns those of an instrument. Numbers are in the stored unit
/// of [`Kind`]: nanometers, milligram-force and so on.
///
/// ```
/// use evenhand_core::trade::{Instrument, Per};
/// use evenhand_core::unit::{Kind, LengthUnit};
///
/// let drop = Instrument::Grand.measure("drop").unwrap();
/// assert_eq!((drop.kind, drop.per), (Kind::Length, Per::Note));
/// let read = drop.read_typed("18", LengthUnit::Millimeter)?;
/// assert_eq!(drop.shown(read, LengthUnit::Millimeter), "1.8");
/// assert!(drop.is_plausible(read));
/// # Ok::<(), evenhand_core::unit::ValueError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Measure {
    /// The id in the log and the job file.
    pub id: MeasureId,
    /// The name for people.
    pub name: Cow<'static, str>,
    /// The kind of value that is recorded.
    pub kind: Kind,
    /// The subjects that it is taken on.
    pub per: Per,
    /// The grades of another measure with which it is taken; `None` if it is taken everywhere.
    pub taken: Option<TakenWhere>,
    /// The default target; `None` if the technician or another measure decides.
    pub target: Option<super::Target>,
    /// The source of the default target.
    pub source: Option<super::Source>,
    /// The plausible range, in the stored unit; a value outside it is asked about before it is recorded.
    pub plausible: Option<(i64, i64)>,
    /// The usual digits before and after the point: (1, 1) for let-off, so that typing 18 means 1.8.
    pub form: (u32, u32),
    /// The words for a reading above and below its target, such as wide and close.
    pub words: (&'static str, &'static str),
    /// For a grade: the answers in order, the lowest first. Empty for other kinds.
    pub grades: Vec<Cow<'static, str>>,
    /// How the reading is changed; `None` if it follows from other measures.
    pub adjuster: Option<Adjuster>,
    /// The repeatability, in the stored unit: two readings that differ by less count as unchanged (M).
    pub repeat: i64,
    /// Whether a record means that the work was done (a tick, a bedding), so that every record
    /// disturbs other readings, not only one whose value changed.
    pub records_work: bool,
}

impl Measure {
    /// Creates a measure without a target, range, words or adjuster of its own; the methods below set them.
    ///
    /// Good and tick aim at 1 (good, done). The form is (2, 1), the words are high and low, and a
    /// tick records work.
    pub fn new(id: &'static str, name: &'static str, kind: Kind, per: Per) -> Measure {
        Measure {
            id: MeasureId::of(id),
            name: Cow::Borrowed(name),
            kind,
            per,
            taken: None,
            target: match kind {
                Kind::Good | Kind::Tick => Some(super::Target::Flat(Band::only(1))),
                _ => None,
            },
            source: None,
            plausible: None,
            form: (2, 1),
            words: ("high", "low"),
            grades: Vec::new(),
            adjuster: None,
            repeat: 0,
            records_work: matches!(kind, Kind::Tick),
        }
    }

    /// Sets the same default band for every note.
    pub fn flat(mut self, band: Band) -> Measure {
        self.target = Some(super::Target::Flat(band));
        self
    }

    /// Sets the default target.
    pub fn aimed(mut self, target: super::Target) -> Measure {
        self.target = Some(target);
        self
    }

    /// Sets the source of the default target.
    pub fn from(mut self, source: super::Source) -> Measure {
        self.source = Some(source);
        self
    }

    /// Sets the grades of another measure with which it is taken.
    pub fn where_graded(mut self, taken: TakenWhere) -> Measure {
        self.taken = Some(taken);
        self
    }

    /// Returns the grades of another measure that must be there for it to be taken; `None` if it is taken without one.
    pub fn called_for(&self) -> Option<TakenWhere> {
        self.taken.filter(|taken| !taken.ungraded)
    }

    /// Sets the plausible range, in the stored unit, both ends included.
    pub fn plausible(mut self, low: i64, high: i64) -> Measure {
        self.plausible = Some((low, high));
        self
    }

    /// Sets the usual digits before and after the point.
    pub fn form(mut self, before: u32, after: u32) -> Measure {
        self.form = (before, after);
        self
    }

    /// Sets the words for a reading above and below its target.
    pub fn words(mut self, above: &'static str, below: &'static str) -> Measure {
        self.words = (above, below);
        self
    }

    /// Sets the answers of a grade, the lowest first.
    pub fn graded(mut self, grades: &[&'static str]) -> Measure {
        self.grades = grades.iter().map(|g| Cow::Borrowed(*g)).collect();
        self
    }

    /// Sets how the reading is changed.
    pub fn moved(mut self, adjuster: Adjuster) -> Measure {
        self.adjuster = Some(adjuster);
        self
    }

    /// Sets the repeatability, in the stored unit.
    pub fn repeats(mut self, within: i64) -> Measure {
        self.repeat = within;
        self
    }

    /// Makes every record mean that the work was done.
    pub fn records_work(mut self) -> Measure {
        self.records_work = true;
        self
    }

    /// Returns the range, in the stored unit, outside which no value is recorded: that of the kind, without
    /// negative values if the plausible range has none.
    ///
    /// ```
    /// use evenhand_core::trade::Instrument;
    ///
    /// let possible = |id| Instrument::Grand.measure(id).unwrap().possible();
    /// assert_eq!(possible("blow"), (0, 5_000_000_000));
    /// // A natural may lie below the straight edge.
    /// assert_eq!(possible("natural_level").0, -5_000_000_000);
    /// ```
    pub fn possible(&self) -> (i64, i64) {
        let (low, high) = self.kind.possible();
        match self.plausible {
            Some((usual, _)) if usual >= 0 => (low.max(0), high),
            _ => (low, high),
        }
    }

    /// Returns `true` if the value lies in the plausible range, or if there is none.
    pub fn is_plausible(&self, value: crate::unit::Value) -> bool {
        self.plausible
            .is_none_or(|(low, high)| (low..=high).contains(&value.base()))
    }
}
