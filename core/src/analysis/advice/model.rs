//! A movement of the hand, why there is none, and how it is said.

use super::super::papers::Exchange;
use crate::job::{Correction, Item, Subject};
use crate::trade::{MeasureId, Place, Verdict};
use crate::unit::{LengthUnit, Turns};

/// What to do about a reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Advice {
    /// What was read.
    pub measure: MeasureId,
    /// What is moved: the measure itself, or the one that floats for it. A correction is entered on this.
    pub moves: MeasureId,
    /// On which note, section or whole.
    pub on: Subject,
    /// Where the action is.
    pub place: Place,
    /// Reading less aim, in whole small units.
    pub off: i64,
    /// What the reading is against its target.
    pub verdict: Verdict,
    /// What to do.
    pub movement: Movement,
    /// The readings that hold now at this place and would have to be taken again after it.
    pub disturbs: Vec<Item>,
}

/// A movement of the hand.
#[derive(Clone, Debug, PartialEq)]
pub enum Movement {
    /// None.
    Leave(Why),
    /// Turn.
    Turn {
        /// What is turned.
        part: &'static str,
        /// Which way.
        direction: &'static str,
        /// How far; positive for a larger reading, as [`Correction::Turned`].
        turns: Turns,
        /// What the measure that is moved should read after it, in whole small units.
        expected: i64,
        /// How far off that may be: one standard deviation.
        give_or_take: i64,
        /// Whether too little is known of what a turn does: turn so much to find out, and read.
        trial: bool,
    },
    /// Change papers.
    Papers {
        /// Which to take out and which to put in.
        exchange: Exchange,
        /// What the measure that is moved should read after it, in whole small units.
        expected: i64,
    },
    /// Bend, ease or set by eye.
    ByEye {
        /// What is bent or set.
        part: &'static str,
        /// Which way.
        direction: &'static str,
    },
    /// The reading no longer holds: read it again first.
    ReadAgain {
        /// What was worked on since.
        work: MeasureId,
    },
    /// Something about the instrument must be known first.
    Missing(Missing),
}

/// Why a reading is left as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// It stands in its aim band.
    OnAim,
    /// What is wanted is finer than a hand, or the papers at hand, can do.
    TooFine,
    /// It is the length that floats: the aftertouch follows from dip and blow, a dip or blow from the
    /// aftertouch once that was read.
    Floats,
}

/// What must be asked for before a movement can be computed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Missing {
    /// The lever of a natural key ([`Setup::natural_key`](crate::job::Setup::natural_key)).
    NaturalKey,
    /// The lever of a sharp key ([`Setup::sharp_key`](crate::job::Setup::sharp_key)).
    SharpKey,
    /// The thicknesses of paper at hand ([`Setup::papers_nm`](crate::job::Setup::papers_nm)).
    Papers,
    /// Which length floats ([`Setup::floats`](crate::job::Setup::floats)).
    Floats,
    /// The aftertouch of this note.
    Aftertouch,
}

impl Missing {
    /// What to ask for.
    pub const fn name(self) -> &'static str {
        match self {
            Missing::NaturalKey => "the lever lengths of a natural key",
            Missing::SharpKey => "the lever lengths of a sharp key",
            Missing::Papers => "the papers at hand",
            Missing::Floats => "which length floats",
            Missing::Aftertouch => "the aftertouch of this note",
        }
    }
}

impl Advice {
    /// The movement in the words of the trade: `button down 1/8`, `take out 0.005, put in 0.010 in`, `leave it`.
    pub fn words(&self, unit: LengthUnit) -> String {
        match &self.movement {
            Movement::Leave(Why::OnAim) => "leave it".to_owned(),
            Movement::Leave(Why::TooFine) => "leave it, no hand can do it finer".to_owned(),
            Movement::Leave(Why::Floats) => match self.measure.as_str() {
                "aftertouch" => "leave it, it follows from dip and blow".to_owned(),
                _ => "leave it, it follows from the aftertouch".to_owned(),
            },
            Movement::Turn {
                part,
                direction,
                turns,
                trial,
                ..
            } => {
                let turns = if turns.in_64ths() < 0 {
                    -*turns
                } else {
                    *turns
                };
                let then = if *trial { ", then read" } else { "" };
                format!("{part} {direction} {turns}{then}")
            }
            Movement::Papers { exchange, .. } => exchange.words(unit),
            Movement::ByEye { part, direction } => format!("{part} {direction}"),
            Movement::ReadAgain { .. } => "read it again first".to_owned(),
            Movement::Missing(what) => format!("needs {}", what.name()),
        }
    }

    /// The correction to enter, on [`Advice::moves`], when it was made as advised; nothing where there is none to make.
    pub fn made(&self) -> Option<Correction> {
        match &self.movement {
            Movement::Turn { turns, .. } => Some(Correction::Turned(*turns)),
            Movement::Papers { exchange, .. } => {
                let out = exchange.take_out.iter().map(|paper| -*paper);
                let put_in = exchange.put_in.papers.iter().copied();
                Some(Correction::Papers(out.chain(put_in).collect()))
            }
            Movement::ByEye { .. } => Some(Correction::ByEye),
            Movement::Leave(_) | Movement::ReadAgain { .. } | Movement::Missing(_) => None,
        }
    }
}
