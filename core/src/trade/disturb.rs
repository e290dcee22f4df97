//! The disturbance table: which readings no longer hold, or should be looked at, after work on
//! another measure.

use super::Place;
use crate::unit::Turns;

/// Which notes work on one note disturbs.
///
/// Work on a section or the whole action disturbs all notes in it, whatever the reach.
///
/// ```
/// use evenhand_core::trade::{Reach, disturbed_by};
///
/// // Leveling a natural moves the level of the sharps beside it, which stand over it.
/// let mut rows = disturbed_by("natural_level");
/// let sharps = rows.find(|row| row.reach == Reach::NeighboringSharps).unwrap();
/// assert_eq!(sharps.disturbs, ["sharp_level"]);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// The note itself.
    Note,
    /// The sharps directly beside a natural.
    NeighboringSharps,
    /// All notes of its section.
    Section,
}

/// How strongly work disturbs a reading.
///
/// ```
/// use evenhand_core::trade::{Strength, disturbed_by};
///
/// // A weak spring makes drop unreadable, but regulating it does not void the drop.
/// let row = disturbed_by("spring").find(|row| row.disturbs.contains(&"drop")).unwrap();
/// assert_eq!(row.strength, Strength::Look);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strength {
    /// The reading no longer holds until it is taken again.
    Voids,
    /// The reading still holds; it should be looked at on the sample notes, or on the notes worked on.
    Look,
}

/// One row of the disturbance table: work on one measure disturbs readings of others.
///
/// ```
/// use evenhand_core::trade::{causes_of, disturbed_by};
///
/// assert!(disturbed_by("blow").any(|row| row.disturbs.contains(&"aftertouch")));
/// let causes: Vec<&str> = causes_of("spring").map(|row| row.work).collect();
/// assert!(causes.contains(&"drop") && causes.contains(&"checking"));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Disturbance {
    /// The measure that is worked on.
    pub work: &'static str,
    /// Which notes work on one note disturbs; work on the whole action disturbs every note.
    pub reach: Reach,
    /// The measures whose readings no longer hold, or should be looked at.
    pub disturbs: &'static [&'static str],
    /// The only place whose readings are disturbed; `None` for both.
    pub only: Option<Place>,
    /// Whether the readings no longer hold.
    pub strength: Strength,
    /// Turns, together, up to which an adjustment disturbs nothing; `None` if all work does.
    pub more_than: Option<Turns>,
}

/// Returns a row that voids the readings of the same note, in the piano and on the bench.
const fn row(work: &'static str, disturbs: &'static [&'static str]) -> Disturbance {
    Disturbance {
        work,
        reach: Reach::Note,
        disturbs,
        only: None,
        strength: Strength::Voids,
        more_than: None,
    }
}

/// Returns a row after which the readings of the same note should be looked at.
const fn look(work: &'static str, disturbs: &'static [&'static str]) -> Disturbance {
    Disturbance {
        strength: Strength::Look,
        ..row(work, disturbs)
    }
}

/// The measures that move with the key frame: every height, dip and blow.
const MOVES_WITH_KEY_FRAME: &[&str] = &[
    "key_height",
    "natural_level",
    "sharp_level",
    "natural_dip",
    "sharp_dip",
    "blow",
];

/// What changes with the shape of the hammer.
const FOLLOWS_THE_HAMMER: &[&str] = &[
    "blow",
    "let_off",
    "drop",
    "checking",
    "aftertouch",
    "mating",
    "down_weight",
    "up_weight",
];

/// What changes with the height and surface of the knuckle.
const FOLLOWS_THE_KNUCKLE: &[&str] = &[
    "blow",
    "jack_position",
    "let_off",
    "drop",
    "down_weight",
    "up_weight",
];

/// What changes with the friction of the parts.
const FOLLOWS_FRICTION: &[&str] = &["down_weight", "up_weight", "spring"];

/// The disturbance table. After work on a note, the readings of the measures named do not hold
/// until they are taken again ([`Strength::Voids`]), or should be looked at ([`Strength::Look`]).
/// The rows that void run in no circle, so re-measuring in the proposed order ends.
///
/// **Source**: common practice (C), except these, which are published (P): key height and key dip
/// directly affect the checking distance, checking affects the repetition spring and nothing else,
/// and the spring affects drop (grand regulation article series, part XXII); what follows
/// respaced hammers, a capstan turned by more than half a turn, the damper stop, and leveled strings.
///
/// The key frame is bedded twice, and each has its row. Bedding it on the bench (`bedding_bench`)
/// changes how it lies there, so readings on the bench and earlier readings in the piano no longer
/// hold. Bedding it in the piano (`bedding`) disturbs the readings there only: work in the piano
/// does not disturb readings on the bench. Sliding the action in disturbs nothing by itself.
pub const TABLE: &[Disturbance] = &[
    row("bedding", MOVES_WITH_KEY_FRAME),
    row("bedding_bench", MOVES_WITH_KEY_FRAME),
    Disturbance {
        reach: Reach::Section,
        ..row(
            "key_height",
            &[
                "natural_level",
                "sharp_level",
                "natural_dip",
                "sharp_dip",
                "blow",
                "aftertouch",
            ],
        )
    },
    Disturbance {
        reach: Reach::Section,
        only: Some(Place::Bench),
        ..row("stand_in", &["blow", "let_off", "drop", "checking"])
    },
    row(
        "natural_level",
        &[
            "natural_dip",
            "blow",
            "aftertouch",
            "checking",
            "damper_key",
        ],
    ),
    Disturbance {
        reach: Reach::NeighboringSharps,
        ..row("natural_level", &["sharp_level"])
    },
    row(
        "sharp_level",
        &["sharp_dip", "blow", "aftertouch", "checking", "damper_key"],
    ),
    row("natural_dip", &["aftertouch", "checking"]),
    row("sharp_dip", &["aftertouch", "checking"]),
    row("hammers_shaped", FOLLOWS_THE_HAMMER),
    row("hammer_felt", FOLLOWS_THE_HAMMER),
    row("hammers_filed", FOLLOWS_THE_HAMMER),
    // New parts disturb what the work on the old ones does (C).
    row("hammers_renewed", FOLLOWS_THE_HAMMER),
    row(
        "hammers_renewed",
        &["travelled", "checks_squared", "hammers_spaced", "voicing"],
    ),
    row("knuckles_renewed", FOLLOWS_THE_KNUCKLE),
    row("bushings_renewed", &["keys_eased"]),
    row("bushings_renewed", FOLLOWS_FRICTION),
    row("checks_renewed", &["checks_squared", "checking"]),
    row("centers_renewed", FOLLOWS_FRICTION),
    row("centers_renewed", &["travelled"]),
    row(
        "cloths_renewed",
        &["blow", "let_off", "aftertouch", "damper_key"],
    ),
    row("capstans_renewed", &["blow", "aftertouch", "damper_key"]),
    row("punchings_renewed", MOVES_WITH_KEY_FRAME),
    row("punchings_cleaned", MOVES_WITH_KEY_FRAME),
    // Published: a change of the back-rail cloth moves key height and blow.
    row("back_rail_renewed", &["key_height", "blow"]),
    row("back_rail_brushed", &["key_height", "blow"]),
    row("dampers_renewed", &["damper_key", "damper_tray"]),
    row("dampers_brushed", &["damper_key", "damper_tray"]),
    row("travelled", &["checks_squared", "hammers_spaced", "mating"]),
    row("knuckles_brushed", FOLLOWS_THE_KNUCKLE),
    row("cloth_brushed", &["blow", "aftertouch", "damper_key"]),
    row("capstans_polished", &["blow", "aftertouch", "damper_key"]),
    row("jack_position", &["let_off", "lever_height"]),
    row("lever_height", &["blow", "drop", "spring"]),
    row("blow", &["aftertouch", "damper_key"]),
    // On the upright the capstan takes up lost motion; moving the rail or the key changes it again (C).
    row("rail_set", &["blow", "lost_motion"]),
    row("blow", &["lost_motion"]),
    row("natural_level", &["lost_motion"]),
    row("sharp_level", &["lost_motion"]),
    row("lost_motion", &["aftertouch", "damper_key"]),
    row("let_off", &["drop", "aftertouch"]),
    row("drop", &["spring"]),
    row("checking", &["spring"]),
    row("checks_squared", &["checking"]),
    row("hammer_friction", FOLLOWS_FRICTION),
    row("wippen_friction", FOLLOWS_FRICTION),
    row("jack_friction", FOLLOWS_FRICTION),
    row("lever_friction", FOLLOWS_FRICTION),
    row("wippen_centre", FOLLOWS_FRICTION),
    row("jack_centre", FOLLOWS_FRICTION),
    row("lever_centre", FOLLOWS_FRICTION),
    row("keys_eased", FOLLOWS_FRICTION),
    row(
        "strings_levelled",
        &["blow", "let_off", "drop", "checking", "mating"],
    ),
    // Mating takes felt off; before the strings were a step of their own it leveled them too.
    row("mating", &["blow", "let_off", "drop", "checking"]),
    row("damper_key", &["damper_tray"]),
    look("play_in", &["blow", "let_off", "aftertouch"]),
    look("screws", &["travelled", "hammers_spaced"]),
    look("spring", &["drop", "lever_height", "jack_position"]),
    look("hammers_spaced", &["travelled"]),
    Disturbance {
        more_than: Some(HALF_A_TURN),
        ..look("blow", &["let_off", "drop"])
    },
    look("stop_rails", &["sostenuto"]),
    look("damper_tray", &["damper_key"]),
    look("strings_levelled", &["damper_key", "voicing"]),
];

const HALF_A_TURN: Turns = Turns::from_64ths(32);

/// Returns the rows for work on a measure, by its id. Empty if it disturbs nothing or does not exist.
pub fn disturbed_by(work: &str) -> impl Iterator<Item = &'static Disturbance> {
    TABLE.iter().filter(move |row| row.work == work)
}

/// Returns the rows that disturb a measure, by its id. Empty if nothing does or it does not exist.
pub fn causes_of(measure: &str) -> impl Iterator<Item = &'static Disturbance> {
    TABLE
        .iter()
        .filter(move |row| row.disturbs.contains(&measure))
}
