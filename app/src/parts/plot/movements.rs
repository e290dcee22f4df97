//! The picture of the corrections: which notes are to be moved, and which way.

use evenhand_core::note::{Note, Sections};

use super::axes::{NoteAxis, last_below_breaks};
use super::pen::Pen;

/// Draws a bar for each note to be moved: up if its reading must grow and down if it must shrink, in proportion to the
/// change, hollow once it is done. 360 units wide and 44 high.
pub fn draw(bars: &[(Note, i64, bool)], sections: &Sections) -> String {
    const MIDDLE: f32 = 22.0;
    let across = NoteAxis {
        left: 4.0,
        note: 4.0,
    };
    let mut pen = Pen::default();
    let mut ground = Pen::default();
    ground.line((4.0, MIDDLE), (356.0, MIDDLE));
    pen.path("grid", &ground);
    let mut breaks = Pen::default();
    for note in last_below_breaks(sections) {
        let x = across.x(f32::from(note.number()) + 0.5);
        breaks.line((x, 2.0), (x, 42.0));
    }
    pen.path("break", &breaks);
    let most = bars.iter().map(|(_, way, _)| way.unsigned_abs()).max();
    let most = most.unwrap_or(1).max(1) as f32;
    let [mut stems, mut open, mut done] = [(); 3].map(|()| Pen::default());
    for (note, way, is_done) in bars {
        let x = across.x(f32::from(note.number()));
        let far = *way as f32 / most * 14.0;
        let y = MIDDLE - far - 3.0 * far.signum();
        stems.line((x, MIDDLE), (x, y));
        let d = if *is_done { &mut done } else { &mut open };
        match note.is_sharp() {
            true => d.square((x, y), 2.7),
            false => d.circle((x, y), 3.0),
        }
    }
    pen.path("stem found", &stems);
    pen.path("dots now in", &open);
    pen.path("dots found", &done);
    pen.0
}
