//! The steps of aligning: keys that move freely and straight.

use super::super::caution::Caution;
use super::super::step::{Per, Place, Stage, Step};

pub(super) fn steps() -> Vec<Step> {
    vec![keys_eased(), keys_squared(), bedding_bench()]
}

pub(in crate::trade) fn keys_eased() -> Step {
    Step::new(
        "keys_eased",
        "Keys eased",
        Stage::Align,
        Per::Note,
        &["keys_eased"],
    )
    .after(&["cauls_out"])
    .takes_minutes(90)
    .instructions(
        "Key easing pliers, balance-hole tool, mandrel",
        "Lift the front of the key and let go: it falls under its own weight and has no play fore and aft. Press a tight bushing back a little at a time, and ease the balance hole from below.",
        "Eased too far, the key rocks and knocks, and only a new bushing helps. Left too tight, it spoils every weight and spring set after it.",
    )
    .cautions(&[Caution::Lead])
}

pub(in crate::trade) fn keys_squared() -> Step {
    Step::new(
        "keys_squared",
        "Keys squared and spaced",
        Stage::Align,
        Per::Note,
        &["keys_squared"],
    )
    .after(&["action_out"])
    .takes_minutes(45)
    .instructions(
        "Key spacing tool, small square, light",
        "Look along the fronts: every top level from side to side, every gap the same. Bend the balance pin sideways to square a key, and the front pin to space it.",
        "A front pin turned to take up play presses on the bushing and wears it out; a pin bent at its root loosens in the rail.",
    )
}

/// In the piano the frame takes the shape of the key bed; on the bench it has to be given that shape.
fn bedding_bench() -> Step {
    Step::new(
        "bedding_bench",
        "Key frame made steady on the bench",
        Stage::Align,
        Per::Whole,
        &["bedding_bench"],
    )
    .at(Some(Place::Bench))
    .after(&["action_out"])
    .takes_minutes(30)
    .instructions(
        "Flat bench, shims, straight edge, clamps",
        "Set the frame on the bench in the shape that it has on the key bed, and tap along the front, balance and back rails. Shim whatever knocks, and raise the glides clear until the frame lies still.",
        "If the frame does not lie as in the piano, heights and dips are gone when the action is back.",
    )
    .cautions(&[Caution::HeavyAction])
}
