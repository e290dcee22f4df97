//! The steps that renew parts, and those that recondition what no other step does. Each is in the order only where it is
//! decided for a section, and asks only for the notes there.
//!
//! Minutes are M for a whole set, except these, which are published (P): bushings 90 to 270
//! (<https://mmdigest.com/Archives/Digests/200512/2005.12.18.10.html>: about four hours), and hammer flanges repinned
//! in up to 4 hours (<https://www.yunspianoservice.com/restoration/re-pin-hammer-flanges>).

use super::super::Instrument;
use super::super::caution::Caution;
use super::super::part::Part;
use super::super::step::{Per, Stage, Step};

/// Glue dries overnight (C; minutes M).
const GLUE: u32 = 720;

/// Returns the steps that a decision can call for, but for the bushings, as the parts of the instrument are called.
pub(in crate::trade) fn steps(instrument: Instrument) -> Vec<Step> {
    let grand = instrument == Instrument::Grand;
    vec![
        centers(grand),
        knuckles(grand),
        checks(grand),
        cloths(grand),
        capstans(grand),
        step("back_rail_brushed", "Back-rail cloth brushed", 15).instructions(
            "Stiff brush, vacuum, mask",
            "Brush the back-rail cloth across its dents until the keys no longer settle in them.",
            "A dent left in the cloth leaves its key low when the others are leveled.",
        ),
        step("back_rail_renewed", "Back-rail cloth renewed", 60)
            .dries(GLUE)
            .instructions(
                "Scraper, cloth of the old thickness, glue, knife",
                "Take the old cloth off to bare wood and glue the new one at its back edge only. Match the thickness of unpressed cloth: it sets the height of the keys.",
                "Glued all over, the cloth turns hard; thicker than the old one, it shortens every blow.",
            ),
        step("punchings_cleaned", "Felt punchings cleaned and turned", 45).instructions(
            "Vacuum, mask, tray with numbered places",
            "Take the felt punchings off rail by rail, brush them, and put each back with its worn side down. Keep paper and card where they were.",
            "Paper put back on another pin levels the wrong key.",
        ),
        step("punchings_renewed", "Felt punchings renewed", 60).instructions(
            "Felt punchings of both rails, vacuum, mask",
            "Change the felt on the balance and front rails, and leave paper and card where they are. Lay the felt on top of the paper.",
            "New felt gives way for weeks: set level and dip after the keys are played in.",
        ),
        step("dampers_brushed", "Damper felts brushed", 45).instructions(
            "Stiff brush, needle tool, mask",
            "Brush the faces of the felts clean, and loosen the grooves that the strings have pressed. Keep each head on its wire.",
            "Felt torn at its edge buzzes on the string.",
        ),
        step("dampers_renewed", "Damper felts renewed", 240)
            .dries(GLUE)
            .instructions(
                "Set of damper felts, knife, glue, mask",
                "Renew the felts head by head in the shape of the old ones: trichord, bichord or flat. Then set the dampers again, with the key and with the tray.",
                "A wedge too wide for its strings spreads them and still rings.",
            ),
        hammers(grand),
    ]
}

/// Returns a step on parts that are out of the piano.
fn step(id: &'static str, name: &'static str, minutes: u32) -> Step {
    let per = match id.starts_with("dampers") {
        true => Per::Damped,
        false => Per::Note,
    };
    Step::new(id, name, Stage::Recondition, per, &[id])
        .after(&["action_out"])
        .takes_minutes(minutes)
        .cautions(&[Caution::Dust])
}

/// It stands before the cauls are drawn, which hold new cloth as they hold treated cloth.
pub(in crate::trade) fn bushings() -> Step {
    step(Part::Bushings.renewal(), "Key bushings renewed", 240)
        .after(&["key_pin"])
        .dries(GLUE)
        .instructions(
            "Bushing cloth, cauls, hot glue, steamer, knife",
            "Steam the old cloth out, clean the mortise, and glue strips of new cloth in with a caul of the right size. Cut them flush when they hold.",
            "Cloth too thick has to be eased until it is worn again; glue on its face grips the pin.",
        )
        .cautions(&[Caution::Heat, Caution::Blades])
}

fn centers(grand: bool) -> Step {
    let how = match grand {
        true => {
            "Push the old pin out, ream to the next size, and pin so that the hammer falls slowly under its own weight. Begin with the hammer flanges and go on where the others are loose."
        }
        false => {
            "Push the old pin out, ream to the next size, and pin so that the hammer falls slowly under its own weight. Begin with the butt flanges and go on where the others are loose."
        }
    };
    step(Part::Centers.renewal(), "Centers repinned", 240)
        .instructions(
            "Center pins by size, reamers, cutters, pliers, gram gauge",
            how,
            "A pin one size too thick makes a slow note, and reamed cloth cannot be put back.",
        )
        .cautions(&[Caution::Blades])
}

fn knuckles(grand: bool) -> Step {
    let (name, tools, how) = match grand {
        true => (
            "Knuckles renewed",
            "Knuckles of the old diameter, jig, glue, knife",
            "Break the old knuckle out of its slot, and glue the new one square to the shank and at the same distance from the center. Check a few against a straight edge before the glue takes.",
        ),
        false => (
            "Butt leather and felt renewed",
            "Leather and felt of the old thickness, glue, knife",
            "Take off the old leather and felt and glue the new ones with the same curve. Leave free what was free before.",
        ),
    };
    step(Part::Knuckles.renewal(), name, 360)
        .dries(GLUE)
        .instructions(
            tools,
            how,
            "At another distance or curve it changes blow, let-off and touch of its note.",
        )
        .cautions(&[Caution::Blades])
}

fn checks(grand: bool) -> Step {
    let name = match grand {
        true => "Back-check leather renewed",
        false => "Back-check felt and catcher leather renewed",
    };
    step(Part::Checks.renewal(), name, 360)
        .dries(GLUE)
        .instructions(
            "Leather or felt of the old thickness, glue, knife",
            "Peel the old covering off and glue the new one with its nap upward, without glue under the part that checks. Cut it flush at the sides.",
            "Thicker than the old one, it checks the hammer too early.",
        )
        .cautions(&[Caution::Blades])
}

fn cloths(grand: bool) -> Step {
    let name = match grand {
        true => "Contact cloth and let-off cloth renewed",
        false => "Wippen cloth renewed",
    };
    step(Part::Cloths.renewal(), name, 180)
        .dries(GLUE)
        .instructions(
            "Cloth of the old thickness, glue, knife",
            "Take the old cloth off to bare wood and glue the new one at its ends only, as the old one was. If another part wore it out, see to that part first.",
            "Cloth of another thickness moves every blow in the row.",
        )
        .cautions(&[Caution::Blades])
}

fn capstans(grand: bool) -> Step {
    let name = match grand {
        true => "Capstans renewed",
        false => "Capstans or stickers renewed",
    };
    step(Part::Capstans.renewal(), name, 120).instructions(
        "Capstans of the old thread, wrench, drill and tap where the hole is worn",
        "Turn the old capstan out and set the new one to about the height of the old. Keep its angle.",
        "A thread forced into old wood splits the key.",
    )
}

fn hammers(grand: bool) -> Step {
    let how = match grand {
        true => {
            "Hang a guide hammer at both ends of each section by the old strike point, then fill in between, square to the shank and in line. Let the glue dry before the tails are touched."
        }
        false => {
            "Hang a guide hammer at both ends of each section by the old strike point, then fill in between, square to the shank and in line. Let the glue dry before the hammers are moved."
        }
    };
    step(Part::Hammers.renewal(), "Hammers hung", 480)
        .dries(GLUE)
        .instructions(
            "Bored hammers, jig, glue, heat for the old glue, pliers",
            how,
            "A treble hammer hung 1 mm off its strike point sounds weak for as long as it lives.",
        )
        .cautions(&[Caution::Heat, Caution::Dust])
}
