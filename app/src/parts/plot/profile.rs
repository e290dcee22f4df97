//! Draws the readings of a profile against their band: marks at the places of the keys, naturals and sharps each in
//! their own lane.
//!
//! The shape of a mark tells what it is before color does: round on a natural and square on a sharp; hollow as found,
//! full as it is now, ringed as left; notched and on a stem when it is out, hatched when it was disturbed. The same
//! drawing serves the screen and a printed page.

use evenhand_core::analysis::profile::{Profile, ProfileLine};
use evenhand_core::note::{Note, Sections};
use evenhand_core::trade::Band;
use evenhand_core::unit::LengthUnit;

use super::axes::{NoteAxis, ValueAxis};
use super::lane::{LEFT, Lane, OCCASION_CLASSES};
use super::pen::{HATCH, Pen};
use super::scale::{is_graded, scale};
use super::size::{Drawing, PlotSize};

/// A picture of readings, with its axis of notes.
#[derive(Clone, Debug, PartialEq)]
pub struct ProfileDrawing {
    /// The picture.
    pub drawing: Drawing,
    /// Its axis of notes.
    pub notes: NoteAxis,
}

/// Draws a profile; `shown` chooses among as found, now and as left.
pub fn draw(
    profile: &Profile,
    shown: [bool; 3],
    sections: &Sections,
    length: LengthUnit,
    size: PlotSize,
) -> ProfileDrawing {
    let (low, high) = ends(profile, shown);
    let marks = scale(profile, low, high, length);
    let longest = marks.iter().map(|(_, words)| words.chars().count()).max();
    let letter = size.em * 0.42;
    let left = longest.unwrap_or(0) as f32 * letter + 0.6 * size.em;
    let across = NoteAxis {
        left,
        note: (size.width - left - 3.0) / 88.0,
    };
    let lanes = lanes(profile);
    let head = if lanes.len() > 1 {
        size.em * 1.2
    } else {
        size.em * 0.4
    };
    let height = (size.width * if lanes.len() > 1 { 0.3 } else { 0.42 }).clamp(104.0, 220.0);
    let mut pen = Pen::default();
    pen.word(HATCH);
    let mut top = 0.0;
    for (name, lines) in &lanes {
        let along = ValueAxis {
            low,
            high,
            top: top + head,
            height,
        };
        if lanes.len() > 1 {
            pen.text("lane", (left, top + size.em * 0.85), name);
        }
        let half = if is_graded(profile.measure.kind) {
            0.5
        } else {
            0.0
        };
        let lane = Lane {
            lines,
            sections,
            across,
            along,
            half,
        };
        lane.ground(&mut pen, &marks);
        lane.series(&mut pen, profile, shown);
        top += head + height;
    }
    names(&mut pen, across, top, size.em);
    ProfileDrawing {
        drawing: Drawing {
            height: top + size.em * 1.1,
            svg: pen.0,
        },
        notes: across,
    }
}

/// Returns the lanes that have lines: naturals, with lines that are not of notes, and sharps.
fn lanes(profile: &Profile) -> Vec<(&'static str, Vec<ProfileLine>)> {
    let of = |keep: fn(&ProfileLine) -> bool| -> Vec<ProfileLine> {
        profile.lines.iter().copied().filter(keep).collect()
    };
    let is_sharp = |l: &ProfileLine| l.on.note().is_some_and(Note::is_sharp);
    let lanes = [
        ("Naturals", of(|l| !l.on.note().is_some_and(Note::is_sharp))),
        ("Sharps", of(is_sharp)),
    ];
    lanes
        .into_iter()
        .filter(|(_, lines)| !lines.is_empty())
        .collect()
}

/// Returns the lowest and highest value of the picture: the bands and the readings, but no further past the band than
/// its width, so that one outlier does not flatten the rest.
fn ends(profile: &Profile, shown: [bool; 3]) -> (f64, f64) {
    if is_graded(profile.measure.kind) {
        return (-0.6, profile.measure.grades.len().max(2) as f64 - 0.4);
    }
    let bands = || profile.lines.iter().filter_map(|l| l.band);
    let low_of = |b: Band| b.accept.0.or(b.within.0).unwrap_or(b.aim);
    let high_of = |b: Band| b.accept.1.or(b.within.1).unwrap_or(b.aim);
    let read = || {
        let marks = profile.lines.iter().flat_map(|l| l.marks.iter().zip(shown));
        marks.filter_map(|(mark, shown)| Some(mark.filter(|_| shown)?.value.base()))
    };
    let band = bands().map(low_of).min().zip(bands().map(high_of).max());
    let (low, high) = match (band, read().min().zip(read().max())) {
        (Some((low, high)), Some((least, most))) if high > low => {
            let past = high - low;
            let lowest = least.max(low.saturating_sub(past));
            let highest = most.min(high.saturating_add(past));
            (low.min(lowest), high.max(highest))
        }
        (Some((low, high)), Some((least, most))) => (low.min(least), high.max(most)),
        (Some(ends), None) | (None, Some(ends)) => ends,
        (None, None) => (0, 1),
    };
    let least = profile.measure.kind.per_shown() as f64 / 20.0;
    let (low, high) = (low as f64, high as f64);
    let margin = ((high - low) / 12.0).max(least);
    (low - margin, high + margin)
}

/// Draws the names of the Cs below the last lane, every second one if they would touch.
fn names(pen: &mut Pen, across: NoteAxis, top: f32, em: f32) {
    let every = if across.note * 12.0 < em * 1.7 {
        24
    } else {
        12
    };
    for note in Note::all().filter(|n| n.number() % every == 4) {
        let x = across.x(f32::from(note.number()));
        // C8 is at the very edge.
        let (class, x) = match note {
            Note::LAST => ("name last", across.x(88.5)),
            _ => ("name", x),
        };
        pen.text(class, (x, top + em * 0.9), &note.name());
    }
}

/// Returns the legend's mark of an occasion, 14 units square.
pub fn legend_mark(occasion: usize) -> String {
    let mut pen = Pen::default();
    let circle = |r: f32| {
        let mut d = Pen::default();
        d.circle((7.0, 7.0), r);
        d
    };
    let name = OCCASION_CLASSES[occasion];
    if occasion == LEFT {
        pen.path(&format!("ring {name}"), &circle(6.0));
    }
    pen.path(
        &format!("dots {name} in"),
        &circle(if occasion == LEFT { 3.4 } else { 4.4 }),
    );
    pen.0
}
