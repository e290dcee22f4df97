//! The outlines of the bars of the note strip, as paths.

use evenhand_core::note::Note;

use super::{BAND, BarShape, Bars, MIDDLE};

/// Returns the bars of one shape, as the outline of all of them, in tenths of the picture's unit: whole numbers are
/// short and fast to format. One path for all bars costs the browser a small part of what 88 elements would at every
/// reading.
pub fn outlines(bars: &Bars, shape: BarShape) -> String {
    let high = |note: Note| if note.is_sharp() { 60 } else { 100 };
    match shape {
        BarShape::Swept => {
            shapes(bars, shape, |note| (5, high(note))) + &shapes(bars, shape, |_| (16, 8))
        }
        _ => shapes(bars, shape, |note| (15, high(note))),
    }
}

/// Returns the notches in the bars that are out.
pub fn notches(bars: &Bars) -> String {
    shapes(bars, BarShape::Notched, |_| (19, 12)) + &shapes(bars, BarShape::Marked, |_| (21, 24))
}

/// Returns a rectangle around the middle of each bar of a shape; `half` gives half its width and half its height.
fn shapes(bars: &Bars, shape: BarShape, half: impl Fn(Note) -> (i32, i32)) -> String {
    let mut path = String::new();
    let drawn = Note::all().zip(bars);
    for (note, bar) in
        drawn.filter_map(|(note, bar)| Some((note, bar.filter(|b| b.shape == shape)?)))
    {
        let (wide, high) = half(note);
        let x = i32::from(note.number()) * 40 - 20 - wide;
        let y = (10.0 * (MIDDLE - bar.off * BAND)).round() as i32 - high;
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
