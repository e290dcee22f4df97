//! What a hand does in a pass until the program is killed: each act, how the screen shows it, and what the journal
//! should hold of it.

use serde_json::{Value, json};

use super::{Kind, name_of};
use crate::draw::Draw;

/// One thing that a hand does.
pub struct Act {
    /// The note that must be in hand before.
    pub note: Option<u64>,
    pub how: How,
    /// What a script finds true once the screen shows it as taken.
    pub shown_by: String,
    /// What the journal should hold of it (`rows::work_in`).
    pub stored: Value,
}

pub enum How {
    Keys(String),
    Tap(&'static str),
    /// A photo of this color.
    Photo(String),
}

/// The sections that are swept: eight of eleven notes.
pub const BREAKS: &str = "11, 22, 33, 44, 55, 66, 77";
const SECTION: u64 = 11;
const SECTIONS: usize = 8;
const ENTER: char = '\u{e007}';
/// Clears what is typed: what a kill left half typed is there again in the next visit.
const CLEAR: char = '\u{e00c}';
/// So many acts of a kind fit into one job.
const MOST: usize = 80;
/// A visit in which this many have been is enough, whatever the killer does.
pub const OF_A_VISIT: usize = 24;

/// The step that a kind of work is done in.
pub fn step(kind: Kind) -> &'static str {
    match kind {
        Kind::Sweep => "blow",
        _ => "let_off",
    }
}

/// Whether one more visit fits into the job.
pub fn has_room(kind: Kind, done: &[Value]) -> bool {
    let most = match kind {
        Kind::Sweep => return standing(done).len() < SECTIONS - 3,
        Kind::Photo => 40,
        // Opened again, a pass with corrected notes shows those alone.
        Kind::Correction => return done.is_empty(),
        _ => MOST,
    };
    done.len() + OF_A_VISIT < most
}

/// The places, among what was done, of what was not taken back since.
fn standing(done: &[Value]) -> Vec<usize> {
    let mut standing = Vec::new();
    for (at, act) in done.iter().enumerate() {
        match act[0] == "undo" {
            true => drop(standing.pop()),
            false => standing.push(at),
        }
    }
    standing
}

/// What is done next, after all that was done in the job, `began` of it in earlier visits; nothing if all is done.
pub fn next(kind: Kind, done: &[Value], began: usize, draw: &mut Draw) -> Option<Act> {
    let act = match kind {
        Kind::Reading | Kind::Update | Kind::Import => reading(done, draw),
        Kind::Correction => match done.last().filter(|_| done.len() > began) {
            Some(last) if last[0] == "reading" => correction(last, draw),
            _ => out(done, draw),
        },
        Kind::Mark => mark(done, began, draw),
        // The last section is left, so that the pass goes on.
        Kind::Sweep if standing(done).len() == SECTIONS - 1 => return None,
        Kind::Sweep => sweep(done, began, draw),
        Kind::Photo => photo(done, draw),
    };
    Some(act)
}

/// What the screen shows of all that was done, to be found true by a script.
pub fn shown(kind: Kind, done: &[Value]) -> String {
    let standing = standing(done).len();
    match kind {
        Kind::Reading | Kind::Update | Kind::Import => {
            format!("caption.startsWith('{} of 88 measured')", done.len())
        }
        Kind::Correction => {
            let corrected = done.iter().filter(|act| act[0] == "correction").count();
            let measured = done.len() - 2 * corrected;
            let again = match corrected {
                0 => "!caption.includes('re-measure')".to_owned(),
                count => format!("caption.includes(', {count} to re-measure')"),
            };
            format!("caption.startsWith('{measured} of 88 measured') && {again}")
        }
        Kind::Mark if standing == 0 => "!caption.includes('to come back to')".to_owned(),
        Kind::Mark => format!("caption.includes(', {standing} to come back to')"),
        Kind::Sweep if standing == 0 => "caption.startsWith('0 of 88 measured')".to_owned(),
        Kind::Sweep => {
            let swept = standing as u64 * SECTION;
            format!("caption.startsWith('{swept} swept, {} left')", 88 - swept)
        }
        // Each is looked for in the store (`Life::look`).
        Kind::Photo => "caption.startsWith('0 of 88 measured')".to_owned(),
    }
}

fn typed(from: u64, below: u64, draw: &mut Draw) -> String {
    let tenths = from + draw.below(below);
    format!("{}.{}", tenths / 10, tenths % 10)
}

fn reading(done: &[Value], draw: &mut Draw) -> Act {
    let note = done.len() as u64 + 1;
    let typed = typed(10, 20, draw);
    Act {
        note: Some(note),
        how: How::Keys(format!("{CLEAR}{typed}{ENTER}")),
        shown_by: format!("parseInt(caption) === {note}"),
        stored: json!(["reading", note, typed]),
    }
}

/// A let-off that is far too wide.
fn out(done: &[Value], draw: &mut Draw) -> Act {
    let note = done.iter().filter_map(|act| act[1].as_u64()).max();
    let note = note.unwrap_or(0) + 1;
    let typed = typed(26, 8, draw);
    Act {
        note: Some(note),
        how: How::Keys(format!("{CLEAR}{typed}{ENTER}")),
        shown_by: "document.querySelector('.message .turned') !== null".to_owned(),
        stored: json!(["reading", note, typed]),
    }
}

fn correction(read: &Value, draw: &mut Draw) -> Act {
    let how = match draw.below(2) {
        0 => How::Keys("t".to_owned()),
        _ => How::Tap(".message .turned"),
    };
    Act {
        note: None,
        how,
        shown_by: "document.querySelector('.message .turned') === null".to_owned(),
        stored: json!(["correction", read[1]]),
    }
}

/// What takes the latest back, if there is something of this visit and the dice say so.
///
/// Of what a visit before has done the program may not know that it was done here: the list of visits is in local
/// storage, which the browser writes when it likes. `Undo` leaves it alone then.
fn undo(kind: Kind, done: &[Value], began: usize, draw: &mut Draw) -> Option<Act> {
    let latest = *standing(done).last()?;
    if latest < began || draw.below(3) > 0 {
        return None;
    }
    let stored = json!(["undo", latest]);
    let mut then = done.to_vec();
    then.push(stored.clone());
    Some(Act {
        note: None,
        how: How::Keys("u".to_owned()),
        shown_by: shown(kind, &then),
        stored,
    })
}

fn mark(done: &[Value], began: usize, draw: &mut Draw) -> Act {
    undo(Kind::Mark, done, began, draw).unwrap_or_else(|| {
        let note = standing(done).len() as u64 + 1;
        Act {
            note: Some(note),
            how: How::Keys("o".to_owned()),
            shown_by: format!("caption.includes(', {note} to come back to')"),
            stored: json!(["marked_out", note]),
        }
    })
}

fn sweep(done: &[Value], began: usize, draw: &mut Draw) -> Act {
    undo(Kind::Sweep, done, began, draw).unwrap_or_else(|| {
        let swept = standing(done).len() as u64 * SECTION;
        let stored = json!(["swept", swept + 1, swept + SECTION]);
        let mut then = done.to_vec();
        then.push(stored.clone());
        Act {
            note: Some(swept + 1),
            how: How::Tap(".sweeps .sweep"),
            shown_by: shown(Kind::Sweep, &then),
            stored,
        }
    })
}

fn photo(done: &[Value], draw: &mut Draw) -> Act {
    let note = done.len() as u64 + 1;
    let says = format!("Photo kept: before, {}.", name_of(note));
    Act {
        note: Some(note),
        how: How::Photo(format!("hsl({} 50% 40%)", draw.below(360))),
        shown_by: format!(
            "[...document.querySelectorAll('.notice p')].some(n => n.innerText.includes('{says}'))"
        ),
        stored: json!(["photographed", note]),
    }
}
