//! The disturbance table: which readings no longer hold after work on another measure.

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
    /// The measures whose readings no longer hold.
    pub disturbs: &'static [&'static str],
    /// Whether only readings in the piano are disturbed; readings on the bench still hold there.
    pub piano_only: bool,
}

/// Returns a row that reaches the same note, in the piano and on the bench.
const fn row(work: &'static str, disturbs: &'static [&'static str]) -> Disturbance {
    Disturbance {
        work,
        reach: Reach::Note,
        disturbs,
        piano_only: false,
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

/// The disturbance table. After work on a note, the readings of the measures named do not hold
/// until they are taken again.
///
/// **Source**: common practice (C), except two rules that are published (P: grand regulation
/// article series, part XXII): key height and key dip directly affect the checking distance, and
/// checking affects the repetition spring and nothing else.
///
/// The key frame is bedded twice, and each has its row. Bedding it on the bench (`bedding_bench`)
/// changes how it lies there, so readings on the bench and earlier readings in the piano no longer
/// hold. Bedding it in the piano (`bedding`) disturbs the readings there only: work in the piano
/// does not disturb readings on the bench.
pub const TABLE: &[Disturbance] = &[
    row("bedding", MOVES_WITH_KEY_FRAME),
    row("bedding_bench", MOVES_WITH_KEY_FRAME),
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
    row(
        "hammer_felt",
        &[
            "blow",
            "let_off",
            "drop",
            "checking",
            "aftertouch",
            "mating",
            "down_weight",
            "up_weight",
        ],
    ),
    row(
        "knuckles_brushed",
        &[
            "blow",
            "jack_position",
            "let_off",
            "drop",
            "down_weight",
            "up_weight",
        ],
    ),
    row("cloth_brushed", &["blow", "aftertouch", "damper_key"]),
    row("capstans_polished", &["blow", "aftertouch", "damper_key"]),
    row("jack_position", &["let_off", "lever_height"]),
    row("lever_height", &["blow", "drop", "spring"]),
    row("blow", &["aftertouch", "damper_key"]),
    // On the upright the capstan takes up lost motion; moving the rail or the key changes it again (C).
    row("blow", &["lost_motion"]),
    row("natural_level", &["lost_motion"]),
    row("sharp_level", &["lost_motion"]),
    row("lost_motion", &["aftertouch", "damper_key"]),
    row("let_off", &["drop", "aftertouch"]),
    row("drop", &["spring"]),
    row("checking", &["spring"]),
    row("checks_squared", &["checking"]),
    row("hammer_friction", &["down_weight", "up_weight", "spring"]),
    row("wippen_friction", &["down_weight", "up_weight", "spring"]),
    row("jack_friction", &["down_weight", "up_weight", "spring"]),
    row("lever_friction", &["down_weight", "up_weight", "spring"]),
    row("keys_eased", &["down_weight", "up_weight", "spring"]),
    row("mating", &["blow", "let_off", "drop", "checking"]),
    Disturbance {
        piano_only: true,
        ..row(
            "action_in",
            &[
                "blow",
                "let_off",
                "drop",
                "checking",
                "aftertouch",
                "damper_key",
                "damper_tray",
            ],
        )
    },
];

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
