//! What disturbs what: the table as one structure.

/// How far the work on one note reaches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reach {
    /// The same note.
    Note,
    /// The sharps beside a natural.
    NeighbouringSharps,
}

/// One row of the table: work on a measure disturbs others.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Disturbance {
    /// The measure whose work disturbs.
    pub work: &'static str,
    /// How far it reaches; whole-action work reaches every note whatever stands here.
    pub reach: Reach,
    /// The measures that no longer hold.
    pub disturbs: &'static [&'static str],
    /// Whether only readings in the piano are disturbed: the bench readings stand as bench readings.
    pub piano_only: bool,
}

const fn row(work: &'static str, disturbs: &'static [&'static str]) -> Disturbance {
    Disturbance {
        work,
        reach: Reach::Note,
        disturbs,
        piano_only: false,
    }
}

/// Every height, dip and blow: what follows the key frame.
const BEDDED: &[&str] = &[
    "key_height",
    "natural_level",
    "sharp_level",
    "natural_dip",
    "sharp_dip",
    "blow",
];

/// What disturbs what.
///
/// Source: common practice, except two rows that are published (grand regulation
/// article series, part XXII): key height and key dip directly affect the checking
/// distance; and checking affects the repetition spring and nothing else.
/// After work on a note, the readings named no longer hold until taken again.
///
/// The frame is bedded twice, and each has its row. Made steady anew on the bench, it lies
/// otherwise there: what was read on the bench goes, and what was read in the piano before with
/// it. Bedded in the piano, it lies otherwise in the piano alone: the readings there go, and
/// those of the bench stand as bench readings, since no work in the piano reaches them.
pub const TABLE: &[Disturbance] = &[
    row("bedding", BEDDED),
    row("bedding_bench", BEDDED),
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
        reach: Reach::NeighbouringSharps,
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
    // On the vertical the capstan takes up lost motion, and what moves rail or key gives it back (C).
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

/// What work on a measure disturbs.
pub fn disturbed_by(work: &str) -> impl Iterator<Item = &'static Disturbance> {
    TABLE.iter().filter(move |row| row.work == work)
}

/// Whose work disturbs a measure.
pub fn causes_of(measure: &str) -> impl Iterator<Item = &'static Disturbance> {
    TABLE
        .iter()
        .filter(move |row| row.disturbs.contains(&measure))
}
