//! The bars of the note strip, and their outlines as paths.

use evenhand_core::job::Judged;
use evenhand_core::note::Note;
use evenhand_core::trade::Verdict;

pub const MIDDLE: f32 = 58.0;
/// From the center line to the edge of the accept band.
pub const BAND: f32 = 21.0;

/// The shape of a bar, which tells its state before color does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BarShape {
    /// Not read: hollow.
    Hollow,
    /// In tolerance: solid.
    Solid,
    /// Looked along, or done in one stroke: a thin cross on the center line, for there is no number.
    Swept,
    /// Turned and not measured again: the two ends of a bar, where it should read.
    Known,
    /// Out: notched.
    Notched,
    /// Disturbed: hatched.
    Hatched,
    /// Out and not measured: hollow and notched, on the center line, for there is no number.
    Marked,
}

impl BarShape {
    pub const ALL: [BarShape; 7] = [
        BarShape::Hollow,
        BarShape::Solid,
        BarShape::Swept,
        BarShape::Known,
        BarShape::Notched,
        BarShape::Hatched,
        BarShape::Marked,
    ];

    /// Returns the shape of a reading that is valid.
    pub fn of(judged: Option<&Judged>) -> BarShape {
        match judged {
            Some(j) if j.verdict == Verdict::Out => BarShape::Notched,
            _ => BarShape::Solid,
        }
    }

    pub const fn class(self) -> &'static str {
        match self {
            BarShape::Hollow => "hollow",
            BarShape::Solid => "solid",
            BarShape::Swept => "swept",
            BarShape::Known => "known",
            BarShape::Notched => "notched",
            BarShape::Hatched => "hatched",
            BarShape::Marked => "marked",
        }
    }
}

/// One note's bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bar {
    pub shape: BarShape,
    /// How far off the center line, as a share of the accept band: 1 is its edge.
    pub off: f32,
}

impl Bar {
    pub fn new(shape: BarShape, judged: Option<Judged>) -> Bar {
        let off = judged.as_ref().map_or(0.0, off);
        Bar { shape, off }
    }
}

/// The bars of one measure of a step, by note from the lowest; a note without one is not part of it.
pub type Bars = Vec<Option<Bar>>;

/// Returns the distance from the aim, as a fraction of the accept band's width on that side, from −2 to 2.
fn off(judged: &Judged) -> f32 {
    let (low, high) = judged.band.accept;
    let edge = if judged.off > 0 { high } else { low };
    // On a side without a limit any reading is on target.
    let Some(edge) = edge else { return 0.0 };
    let width = edge.abs_diff(judged.band.aim).max(1);
    // Beyond twice the band the bar is at the edge of the picture.
    (judged.off as f32 / width as f32).clamp(-2.0, 2.0)
}

/// Returns the bars of one shape, as the outline of all of them, in tenths of the picture's unit: whole numbers are
/// short and fast to format. One path for all bars costs the browser a small part of what 88 elements would at every
/// reading.
pub fn outlines(bars: &Bars, shape: BarShape) -> String {
    let high = |note: Note| if note.is_sharp() { 60 } else { 100 };
    match shape {
        BarShape::Swept => {
            shapes(bars, shape, |note| (5, high(note), 0)) + &shapes(bars, shape, |_| (16, 8, 0))
        }
        BarShape::Known => {
            let end =
                |side: i32| shapes(bars, shape, move |note| (15, 16, side * (high(note) - 16)));
            end(-1) + &end(1) + &shapes(bars, shape, |note| (3, high(note), 0))
        }
        _ => shapes(bars, shape, |note| (15, high(note), 0)),
    }
}

/// Returns the notches in the bars that are out.
pub fn notches(bars: &Bars) -> String {
    shapes(bars, BarShape::Notched, |_| (19, 12, 0))
        + &shapes(bars, BarShape::Marked, |_| (21, 24, 0))
}

/// Returns a rectangle in each bar of a shape; `half` gives half its width, half its height, and how far below the middle of
/// the bar its own middle lies.
fn shapes(bars: &Bars, shape: BarShape, half: impl Fn(Note) -> (i32, i32, i32)) -> String {
    let mut path = String::new();
    let drawn = Note::all().zip(bars);
    for (note, bar) in
        drawn.filter_map(|(note, bar)| Some((note, bar.filter(|b| b.shape == shape)?)))
    {
        let (wide, high, below) = half(note);
        let x = i32::from(note.number()) * 40 - 20 - wide;
        let y = (10.0 * (MIDDLE - bar.off * BAND)).round() as i32 + below - high;
        let (across, down) = (2 * wide, 2 * high);
        for (command, n) in [
            ("M", x),
            (" ", y),
            ("h", across),
            ("v", down),
            ("h-", across),
        ] {
            path.push_str(command);
            path.push_str(&n.to_string());
        }
        path.push('z');
    }
    path
}
