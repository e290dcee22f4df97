//! The kinds of part that the survey grades, and what is decided, done and ordered for each.

use serde::Serialize;

use super::Instrument;
use super::measure::TakenWhere;

/// A kind of part that the survey grades by section. The kinds compare in the order of their variants; there is no
/// default. In the job file it is [`Part::key`].
///
/// ```
/// use evenhand_core::trade::{Instrument, Part};
///
/// // Every note has one hammer and, in pairs at two rails, four key bushings.
/// let per_note = |part: Part| part.per_note(Instrument::Grand);
/// assert_eq!([Part::Hammers, Part::Bushings].map(per_note), [1, 4]);
/// assert_eq!(Part::of_wear("wear_hammers"), Some(Part::Hammers));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Hammers.
    Hammers,
    /// Knuckles; on an upright the butt leather and felt.
    Knuckles,
    /// Key bushings.
    Bushings,
    /// Back checks.
    Checks,
    /// Center pins.
    Centers,
    /// Contact cloths and the felt of the let-off; on an upright the wippen cloths.
    Cloths,
    /// Capstans; on an upright also stickers.
    Capstans,
    /// Punchings at the balance and front rails.
    Punchings,
    /// The cloth of the back rail.
    BackRail,
    /// Damper felts.
    Dampers,
}

/// What is decided for a kind of part in a section. In the log it is the grade of the measure
/// [`Part::decision`], from 0; there is no default.
///
/// ```
/// use evenhand_core::trade::Decision;
/// use evenhand_core::unit::Value;
///
/// assert_eq!(Decision::of(Value::Grade(2)), Some(Decision::Renew));
/// assert_eq!(Decision::of(Value::Grade(3)), None);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Decision {
    /// It stays as it is.
    Leave,
    /// It is reconditioned.
    Recondition,
    /// It is replaced.
    Renew,
}

impl Decision {
    /// The words for people, in the order of the grades.
    pub const WORDS: [&'static str; 3] = ["leave", "recondition", "renew"];

    /// Returns the decision that a recorded grade means, or `None` if it means none.
    pub const fn of(value: crate::unit::Value) -> Option<Decision> {
        match value {
            crate::unit::Value::Grade(0) => Some(Decision::Leave),
            crate::unit::Value::Grade(1) => Some(Decision::Recondition),
            crate::unit::Value::Grade(2) => Some(Decision::Renew),
            _ => None,
        }
    }
}

impl Part {
    /// All kinds, in the order in which the survey asks for them.
    pub const ALL: [Part; 10] = [
        Part::Hammers,
        Part::Knuckles,
        Part::Bushings,
        Part::Checks,
        Part::Centers,
        Part::Cloths,
        Part::Capstans,
        Part::Punchings,
        Part::BackRail,
        Part::Dampers,
    ];

    /// Returns the measures of its wear, of what is decided, and of its renewal.
    const fn measures(self) -> [&'static str; 3] {
        match self {
            Part::Hammers => ["wear_hammers", "decide_hammers", "hammers_renewed"],
            Part::Knuckles => ["wear_knuckles", "decide_knuckles", "knuckles_renewed"],
            Part::Bushings => ["wear_bushings", "decide_bushings", "bushings_renewed"],
            Part::Checks => ["wear_checks", "decide_checks", "checks_renewed"],
            Part::Centers => ["wear_centres", "decide_centers", "centers_renewed"],
            Part::Cloths => ["wear_cloths", "decide_cloths", "cloths_renewed"],
            Part::Capstans => ["wear_capstans", "decide_capstans", "capstans_renewed"],
            Part::Punchings => ["wear_punchings", "decide_punchings", "punchings_renewed"],
            Part::BackRail => ["wear_back_rail", "decide_back_rail", "back_rail_renewed"],
            Part::Dampers => ["wear_dampers", "decide_dampers", "dampers_renewed"],
        }
    }

    /// Returns the id of the measure of its wear.
    pub const fn wear(self) -> &'static str {
        self.measures()[0]
    }

    /// Returns the id of the measure of what is decided for it ([`Decision`]).
    pub const fn decision(self) -> &'static str {
        self.measures()[1]
    }

    /// Returns the id of the measure that its renewal is ticked off with; its step has the same id.
    pub const fn renewal(self) -> &'static str {
        self.measures()[2]
    }

    /// Returns the key of its size in the job file.
    pub const fn key(self) -> &'static str {
        match self {
            Part::Hammers => "hammers",
            Part::Knuckles => "knuckles",
            Part::Bushings => "bushings",
            Part::Checks => "checks",
            Part::Centers => "centers",
            Part::Cloths => "cloths",
            Part::Capstans => "capstans",
            Part::Punchings => "punchings",
            Part::BackRail => "back_rail",
            Part::Dampers => "dampers",
        }
    }

    /// Returns the measures of the steps that recondition it.
    pub const fn treatments(self) -> &'static [&'static str] {
        match self {
            Part::Hammers => &["hammers_shaped", "hammer_felt"],
            Part::Knuckles => &["knuckles_brushed"],
            Part::Bushings => &["key_pin", "cauls_in", "cauls_out"],
            Part::Checks => &["checks_brushed"],
            Part::Centers => &["hammer_friction"],
            Part::Cloths => &["cloth_brushed"],
            Part::Capstans => &["capstans_polished"],
            Part::Punchings => &["punchings_cleaned"],
            Part::BackRail => &["back_rail_brushed"],
            Part::Dampers => &["dampers_brushed"],
        }
    }

    /// Returns the part whose wear a measure is, or `None` if it is no measure of wear.
    pub fn of_wear(measure: &str) -> Option<Part> {
        Part::ALL.into_iter().find(|part| part.wear() == measure)
    }

    /// Returns the part whose decision a measure is, or `None` if it is no decision.
    pub fn of_decision(measure: &str) -> Option<Part> {
        Part::ALL
            .into_iter()
            .find(|part| part.decision() == measure)
    }

    /// Returns the name for people, in the plural.
    pub const fn name(self, instrument: Instrument) -> &'static str {
        match (self, instrument) {
            (Part::Hammers, _) => "hammers",
            (Part::Knuckles, Instrument::Grand) => "knuckles",
            (Part::Knuckles, Instrument::Upright) => "butt leather and felt",
            (Part::Bushings, _) => "key bushings",
            (Part::Checks, Instrument::Grand) => "back-check leather",
            (Part::Checks, Instrument::Upright) => "back-check felt and catcher leather",
            (Part::Centers, _) => "center pins",
            (Part::Cloths, Instrument::Grand) => "contact cloth and let-off cloth",
            (Part::Cloths, Instrument::Upright) => "wippen cloth",
            (Part::Capstans, Instrument::Grand) => "capstans",
            (Part::Capstans, Instrument::Upright) => "capstans or stickers",
            (Part::Punchings, _) => "felt punchings",
            (Part::BackRail, _) => "back-rail cloth",
            (Part::Dampers, _) => "damper felts",
        }
    }

    /// Returns what is done to recondition it, and what is done to renew it (C, our own wording).
    pub const fn remedies(self, instrument: Instrument) -> (&'static str, &'static str) {
        match (self, instrument) {
            (Part::Hammers, _) => ("shape the hammers", "new hammers"),
            (Part::Knuckles, Instrument::Grand) => {
                ("brush, smooth and powder the knuckles", "new knuckles")
            }
            (Part::Knuckles, Instrument::Upright) => (
                "brush and powder the butt leather",
                "new butt leather and felt",
            ),
            (Part::Bushings, _) => ("treat the key bushings, cauls in", "new key bushings"),
            (Part::Checks, Instrument::Grand) => {
                ("brush the back-check leather", "new back-check leather")
            }
            (Part::Checks, Instrument::Upright) => (
                "brush the back-check felt and catcher leather",
                "new back-check felt and catcher leather",
            ),
            (Part::Centers, _) => ("ease or tighten the centers", "new center pins"),
            (Part::Cloths, Instrument::Grand) => (
                "brush and powder the contact cloth",
                "new contact cloth and let-off cloth",
            ),
            (Part::Cloths, Instrument::Upright) => {
                ("brush and powder the wippen cloth", "new wippen cloth")
            }
            (Part::Capstans, Instrument::Grand) => ("polish the capstans", "new capstans"),
            (Part::Capstans, Instrument::Upright) => (
                "polish the capstans or stickers",
                "new capstans or stickers",
            ),
            (Part::Punchings, _) => ("clean and turn the felt punchings", "new felt punchings"),
            (Part::BackRail, _) => ("brush the back-rail cloth", "new back-rail cloth"),
            (Part::Dampers, _) => ("brush the damper felts", "new damper felts"),
        }
    }

    /// Returns how many of it a note has: key bushings come in pairs at the balance and front
    /// rails; a felt punching lies at each of the two rails; centers are at the hammer flange, wippen flange, jack and
    /// repetition lever of a grand, and at the butt flange, wippen flange and jack of an upright (C). Those of the
    /// dampers are not counted.
    pub const fn per_note(self, instrument: Instrument) -> u32 {
        match (self, instrument) {
            (Part::Centers, Instrument::Upright) => 3,
            (Part::Bushings | Part::Centers, _) => 4,
            (Part::Punchings, _) => 2,
            _ => 1,
        }
    }

    /// Returns the size that an order needs of it, as a question.
    pub const fn size(self) -> &'static str {
        match self {
            Part::Hammers => "Felt weight and bore of the hammers",
            Part::Knuckles => "Diameter of the knuckles, or thickness of the butt leather",
            Part::Bushings => "Thickness of the bushing cloth",
            Part::Checks => "Thickness of the check leather or felt",
            Part::Centers => "Number of the center pins",
            Part::Cloths => "Thickness of the cloths",
            Part::Capstans => "Thread of the capstans",
            Part::Punchings => "Thickness of the felt punchings, balance and front",
            Part::BackRail => "Thickness and width of the back-rail cloth",
            Part::Dampers => "Set of damper felts",
        }
    }

    /// Returns where its decision is taken: in sections that are graded worn or worn out.
    pub(super) const fn decided_where(self) -> TakenWhere {
        TakenWhere::graded(self.wear(), 1, 2)
    }

    /// Returns where its renewal is done: in sections for which that is decided.
    pub(super) const fn renewed_where(self) -> TakenWhere {
        TakenWhere::graded(self.decision(), 2, 2)
    }

    /// Returns where it is reconditioned: everywhere but in sections for which something else is decided.
    pub(super) const fn treated_where(self) -> TakenWhere {
        TakenWhere::graded(self.decision(), 1, 1).or_ungraded()
    }

    /// Returns where it is reconditioned if that must be decided first.
    pub(super) const fn treated_if_decided(self) -> TakenWhere {
        TakenWhere::graded(self.decision(), 1, 1)
    }
}
