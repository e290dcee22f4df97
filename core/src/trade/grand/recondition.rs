//! The steps of reconditioning: cleaning, bushing, polishing and pinning all surfaces that rub, parts
//! that travel straight, and the hammers.

use super::super::Instrument;
use super::super::caution::Caution;
use super::super::step::{Per, Place, Stage, Step};
use super::renewal;

pub(super) fn steps() -> Vec<Step> {
    let before = vec![
        key_bed(),
        dust(),
        key_pin(),
        renewal::bushings(),
        cauls_in(),
        cauls_out(),
        pins_polished(),
        capstans_polished(),
        key_tops(),
        screws(),
        centre_pins(),
        hammer_swings(),
    ];
    let after = vec![
        travelled(),
        hammers_shaped(),
        hammer_felt(),
        blown_out(),
        checks_brushed(),
        knuckles_brushed(),
        cloth_brushed(),
        buttons_brushed(),
        stack_lubricated(),
    ];
    [before, renewal::steps(Instrument::Grand), after].concat()
}

/// Returns a step of one measure with the same id, on parts that are out of the piano.
fn part(id: &'static str, name: &'static str, per: Per) -> Step {
    Step::new(id, name, Stage::Recondition, per, &[id]).after(&["action_out"])
}

/// The bare key bed is reached only with the action out (C; minutes M).
fn key_bed() -> Step {
    part(
        "key_bed",
        "Key bed, frame studs and glides cleaned",
        Per::Whole,
    )
    .at(Some(Place::Piano))
    .takes_minutes(10)
    .instructions(
        "Vacuum, cloths, fine abrasive, dry lubricant, mask",
        "Clean the key bed where the frame slides, the studs and the heads of the glides, and rub them with dry lubricant. Look for glides that have cut into the wood and for a key bed that has cracked or sunk.",
        "Grit under the frame makes the shift rough, and it knocks however you set the glides.",
    )
    .cautions(&[Caution::Dust])
}

pub(in crate::trade) fn dust() -> Step {
    part("dust", "Dust and vacuum", Per::Whole)
        .takes_minutes(30)
        .instructions(
            "Vacuum with a soft brush, dry brushes, mask, eye protection",
            "Clean the key bed, the key frame, the keys and the stack from the top down. Look for what does not belong there: coins, moth, loose key leads, broken springs.",
            "Blown about, dust settles in the centers and the bushings; a hard nozzle lifts felt and bends springs.",
        )
        .cautions(&[Caution::Dust, Caution::Lead])
}

/// Front-rail pins are measured too: they usually differ in thickness from the balance-rail pins (C).
pub(in crate::trade) fn key_pin() -> Step {
    Step::new(
        "key_pin",
        "Key pins measured, cauls chosen",
        Stage::Recondition,
        Per::Section,
        &["key_pin", "front_pin"],
    )
    .after(&["action_out"])
    .takes_minutes(10)
    .instructions(
        "Caliper that reads 0.01 mm, set of cauls",
        "Measure two or three pins of each section across the key, just beside the worn place. Choose the caul that is 0.05 mm over the pin.",
        "If you measure at the worn place, the caul is too thin and the keys too tight.",
    )
}

pub(in crate::trade) fn cauls_in() -> Step {
    part("cauls_in", "Key bushings treated, cauls in", Per::Note)
        .after(&["key_pin"])
        .takes_minutes(120)
        .dries(720)
        .instructions(
            "Cauls, sizing or bushing treatment, small brush, gloves",
            "Wet the cloth of both bushings evenly and push the caul in square, to the same depth in every key. Start the drying time when the last caul is in, and let the keys lie overnight.",
            "If it is too wet, the wood of the mortise swells; a crooked caul makes a bushing tight at one end.",
        )
        .cautions(&[Caution::Solvents])
}

pub(in crate::trade) fn cauls_out() -> Step {
    part("cauls_out", "Cauls out", Per::Note)
        .after(&["cauls_in", "bushings_renewed"])
        .takes_minutes(30)
        .instructions(
            "Pliers with smooth jaws",
            "Draw each caul straight out along the key. Check whether the cloth stayed glued at its edges.",
            "If you rock it sideways, the caul widens the bushing; if you draw it damp, the cloth comes with it.",
        )
}

pub(in crate::trade) fn pins_polished() -> Step {
    part("pins_polished", "Key pins polished and dry-lubricated", Per::Note)
        .takes_minutes(60)
        .instructions(
            "Metal polish, cloths, dry lubricant, gloves",
            "Polish balance and front pins until a cloth runs without catching, wipe off every trace of polish, then lubricate dry. Turn back a front pin that stands crooked.",
            "Polish left on the pin works into the bushing and makes it grip; oil does the same and never comes out.",
        )
        .cautions(&[Caution::Heat, Caution::Solvents])
}

fn capstans_polished() -> Step {
    part("capstans_polished", "Capstans polished and lubricated", Per::Note)
        .takes_minutes(60)
        .instructions(
            "Metal polish, cloths, dry lubricant, gloves",
            "Polish the head of each capstan bright and rub it with dry lubricant. Hold the key firmly so that the capstan does not turn.",
            "A rough head cuts the contact cloth and feels gritty in a soft stroke. A capstan that turns while you polish changes its blow.",
        )
        .cautions(&[Caution::Heat, Caution::Solvents])
}

fn key_tops() -> Step {
    Step::new(
        "key_tops",
        "Key tops cleaned",
        Stage::Recondition,
        Per::Note,
        &["key_tops"],
    )
    .takes_minutes(30)
    .instructions(
        "Soft cloths, mild soap, water, mild polish",
        "Find out what the tops are made of before anything wet touches them, then wipe along the key with a cloth that is barely damp. Scrape dirt from the fronts and edges with wood, and look for loose tops.",
        "Alcohol and solvents craze plastic and take the finish off the sharps; water under a top lifts it.",
    )
    .cautions(&[Caution::Ivory, Caution::Solvents])
}

/// It stands after the screws, because a flange that is tightened later moves again, and before the
/// hammers are shaped: a crown is filed to the line that it travels.
pub(in crate::trade) fn travelled() -> Step {
    Step::new(
        "travelled",
        "Shanks and wippens traveled, hammers squared and spaced",
        Stage::Recondition,
        Per::Note,
        &["travelled"],
    )
    .after(&["action_out", "hammers_renewed", "centers_renewed"])
    .takes_minutes(90)
    .instructions(
        "Traveling paper, heat source for burning in, square, screwdriver",
        "Raise a few hammers together and watch the gaps: each must rise straight and stand square. Put traveling paper behind one side of the flange to turn its path, burn in a shank that leans, then space the hammers evenly and the wippens to their knuckles.",
        "Paper on the wrong side doubles the error; too much heat chars the shank, and no flame belongs near solvents.",
    )
    .cautions(&[Caution::Heat, Caution::Solvents])
}

pub(in crate::trade) fn hammers_shaped() -> Step {
    part("hammers_shaped", "Hammers shaped", Per::Note)
        .after(&["action_out", "hammers_renewed"])
        .takes_minutes(120)
        .instructions(
            "Sandpaper files in falling grit, mask, eye protection",
            "Draw the file from the shoulder to the crown, the same number of strokes on both sides, until the string cuts are gone and the crown lies in the middle. Keep the row in one line.",
            "Filed over the crown, the hammer goes flat. Filed crooked, it strikes its strings one after the other.",
        )
        .cautions(&[Caution::Dust])
}

/// A record means that the hammer was shaped, as in jobs from before shaping was ticked off.
fn hammer_felt() -> Step {
    part("hammer_felt", "Felt over the wood measured", Per::Sample)
        .takes_minutes(10)
        .instructions(
            "Rule, mask",
            "Measure the felt left over the wood at the crown, where it is thin or has to be on record.",
            "Too little felt makes a hard tone that no needle can open.",
        )
        .cautions(&[Caution::Dust])
}

/// Filings in the centers and on the contact surfaces would be rubbed in by the lubricant (C; minutes M).
pub(in crate::trade) fn blown_out() -> Step {
    part("blown_out", "Blown out again after filing", Per::Whole)
        .after(&["hammers_shaped"])
        .takes_minutes(10)
        .instructions(
            "Compressed air or bellows, vacuum, soft brush, mask, eye protection",
            "Carry the action outdoors or hold the vacuum beside it, and blow the filings out from the top down. Go through it before anything is powdered or lubricated.",
            "Filings left in the action settle in the centers, and the lubricant rubs them in.",
        )
        .cautions(&[Caution::Dust])
}

fn stack_lubricated() -> Step {
    part("stack_lubricated", "Stack contact surfaces lubricated", Per::Whole)
        .takes_minutes(30)
        .instructions(
            "Dry lubricant, small brushes, gloves",
            "Lubricate the jack tops, the lever slots, the spring slots and the drop-screw contacts, thin and dry. Wipe off what lands on wood or felt.",
            "Anything that flows runs into a center bushing and swells it.",
        )
        .cautions(&[Caution::Heat, Caution::Solvents])
}

fn checks_brushed() -> Step {
    part("checks_brushed", "Back-check leather brushed", Per::Note)
        .takes_minutes(30)
        .instructions(
            "Brass or stiff nylon brush, mask",
            "Raise the nap of each back check with short strokes from below upward. Mark leather that is cut or glazed through.",
            "Brushed downward, the nap lets the tail slip through the check.",
        )
        .cautions(&[Caution::Dust])
}

fn knuckles_brushed() -> Step {
    part(
        "knuckles_brushed",
        "Knuckles brushed, smoothed, powdered",
        Per::Note,
    )
    .takes_minutes(60)
    .instructions(
        "Brass brush, smooth stick, dry lubricant powder, mask",
        "Brush each knuckle across its flat until it stands round, smooth the leather the way the jack moves, and rub in powder. Look at the core: a knuckle that has sunk lowers its hammer.",
        "A flat under the jack makes let-off jerky. Loose powder squeaks.",
    )
    .cautions(&[Caution::Heat, Caution::Dust])
}

fn cloth_brushed() -> Step {
    part(
        "cloth_brushed",
        "Contact cloth brushed and powdered",
        Per::Note,
    )
    .takes_minutes(30)
    .instructions(
        "Stiff brush, dry lubricant powder, mask",
        "Brush the wippen cloth across the dent of the capstan and rub in powder. Mark cloth that is worn through to its backing.",
        "Brushed unevenly, the cloth slopes and pushes the wippen sideways.",
    )
    .cautions(&[Caution::Heat, Caution::Dust])
}

fn buttons_brushed() -> Step {
    part(
        "buttons_brushed",
        "Let-off buttons brushed and powdered",
        Per::Note,
    )
    .takes_minutes(30)
    .instructions(
        "Small stiff brush, dry lubricant powder, mask",
        "Brush the felt or leather of each button where the jack tender meets it, and rub in powder. Hold the button so that it does not turn.",
        "A hardened button clicks at let-off. One that turns while you brush loses its setting.",
    )
    .cautions(&[Caution::Heat, Caution::Dust])
}

fn centre_pins() -> Step {
    Step::new(
        "centre_pins",
        "Center-pin friction",
        Stage::Recondition,
        Per::Sample,
        &["hammer_friction", "wippen_centre", "jack_centre", "lever_centre"],
    )
    .after(&["action_out"])
    .takes_minutes(90)
    .instructions(
        "Gram gauge, center pins by size, reamers, broaches, pliers, center lubricant, gloves",
        "Push the hammer with the gauge 23 mm from its pin and measure the force that keeps it moving; feel the other centers. Measure the sample notes, then go where they point. Pin the next size for a loose center, ease or treat a tight one.",
        "Loose: the part wanders sideways and clicks. Tight: the note repeats slowly, and a spring set strong only hides it.",
    )
    .cautions(&[Caution::Blades, Caution::Solvents])
}

/// For technicians who count swings and use no gauge, on the sample notes (C).
fn hammer_swings() -> Step {
    Step::new(
        "hammer_swings",
        "Hammer swings",
        Stage::Recondition,
        Per::Sample,
        &["hammer_swings"],
    )
    .after(&["action_out"])
    .takes_minutes(10)
    .instructions(
        "None",
        "Hold the shank level with its flange, let the hammer drop, and count the swings until it rests. Leave this step out of the job where a gauge was used.",
        "Many swings mean a loose center, few a tight one; a heavy bass hammer swings longer at the same friction.",
    )
}

pub(in crate::trade) fn screws() -> Step {
    part("screws", "Screws tightened", Per::Whole)
        .takes_minutes(30)
        .instructions(
            "Screwdrivers that fill the slot",
            "Tighten the flange, bracket and rail screws from the middle outward, until they are firm and no further. Check whether a flange turned with its screw and set it straight again.",
            "A loose flange clicks and lets its hammer wander; if you force it, the thread in the rail strips.",
        )
}
