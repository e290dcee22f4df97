use std::borrow::{Borrow, Cow};
use std::fmt;

use serde::{Deserialize, Serialize};

use super::{Band, Per};
use crate::unit::{Kind, Turns};

/// The short name of a measure in the log and the job file, such as `let_off`.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct MeasureId(pub Cow<'static, str>);

impl MeasureId {
    /// Of a name known when the program was made.
    pub const fn of(name: &'static str) -> MeasureId {
        MeasureId(Cow::Borrowed(name))
    }

    /// The name itself.
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

/// How a reading is moved by hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Adjuster {
    /// Something that is turned.
    Turned {
        /// What is turned: capstan, button, drop screw.
        part: &'static str,
        /// The way that makes the reading larger, and the way that makes it smaller.
        directions: (&'static str, &'static str),
        /// Reading in whole small units for one full turn, before anything is known
        /// of the instrument (M, from lever lengths and thread pitch).
        response: i64,
        /// The finest turn that a hand can do (M).
        resolution: Turns,
    },
    /// Papers under the key at the balance rail: more paper, larger reading.
    BalancePapers,
    /// Papers under the front of the key: more paper, smaller reading.
    FrontPapers,
    /// Bent, eased or set by eye; the way that makes the reading larger, and smaller.
    ByEye {
        /// What is bent or set.
        part: &'static str,
        /// The way that makes the reading larger, and the way that makes it smaller.
        directions: (&'static str, &'static str),
    },
}

/// One thing that is read or marked, with its unit, its default target and its words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Measure {
    /// Its name in the log.
    pub id: MeasureId,
    /// Its name for people.
    pub name: Cow<'static, str>,
    /// The kind of record.
    pub kind: Kind,
    /// What it is taken per.
    pub per: Per,
    /// The default target, if it has one.
    pub target: Option<super::Target>,
    /// Where the default target comes from.
    pub source: Option<super::Source>,
    /// Lowest and highest that are believed without asking, in whole small units.
    pub plausible: Option<(i64, i64)>,
    /// Digits before and after the point in the usual form: (1, 1) for let-off, so that 1 8 reads 1.8.
    pub form: (u32, u32),
    /// Words for a reading above and below its target: wide and close, long and short.
    pub words: (&'static str, &'static str),
    /// For a grade: its answers in order, lowest first.
    pub grades: Vec<Cow<'static, str>>,
    /// How it is moved, where it can be.
    pub adjuster: Option<Adjuster>,
    /// Two readings closer than this, in whole small units, are the same: nothing was changed between them (M).
    pub repeat: i64,
    /// Whether to record it is to say that its work was done (a tick, a bedding), so that
    /// every record disturbs what that work disturbs, and not only a changed one.
    pub records_work: bool,
}

impl Measure {
    /// A measure that says nothing beyond its names and kind; the tables fill in the rest.
    pub fn new(id: &'static str, name: &'static str, kind: Kind, per: Per) -> Measure {
        Measure {
            id: MeasureId::of(id),
            name: Cow::Borrowed(name),
            kind,
            per,
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

    /// With one band for every note.
    pub fn flat(mut self, band: Band) -> Measure {
        self.target = Some(super::Target::Flat(band));
        self
    }

    /// With this target.
    pub fn aimed(mut self, target: super::Target) -> Measure {
        self.target = Some(target);
        self
    }

    /// With where its target comes from.
    pub fn from(mut self, source: super::Source) -> Measure {
        self.source = Some(source);
        self
    }

    /// Believed without asking between these, in whole small units.
    pub fn plausible(mut self, low: i64, high: i64) -> Measure {
        self.plausible = Some((low, high));
        self
    }

    /// With the usual digits before and after the point.
    pub fn form(mut self, before: u32, after: u32) -> Measure {
        self.form = (before, after);
        self
    }

    /// With the words for above and below.
    pub fn words(mut self, above: &'static str, below: &'static str) -> Measure {
        self.words = (above, below);
        self
    }

    /// With the answers of a grade, lowest first.
    pub fn graded(mut self, grades: &[&'static str]) -> Measure {
        self.grades = grades.iter().map(|g| Cow::Borrowed(*g)).collect();
        self
    }

    /// Moved in this way.
    pub fn moved(mut self, adjuster: Adjuster) -> Measure {
        self.adjuster = Some(adjuster);
        self
    }

    /// Readings closer than this are the same.
    pub fn repeats(mut self, within: i64) -> Measure {
        self.repeat = within;
        self
    }

    /// To record it is to say that its work was done.
    pub fn records_work(mut self) -> Measure {
        self.records_work = true;
        self
    }

    /// Whether a value of this measure is believed without asking.
    pub fn believes(&self, value: crate::unit::Value) -> bool {
        self.plausible
            .is_none_or(|(low, high)| (low..=high).contains(&value.base()))
    }
}
