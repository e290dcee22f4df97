//! A row of notes before and after, as the letter shows it: in black and gray, so that it prints.

use std::fmt::Write;

use evenhand_core::analysis::letter::LetterPicture;
use evenhand_core::note::Note;

/// The size of the drawing: four units a note, and two rows.
pub const VIEW_BOX: &str = "0 0 352 60";

/// The height of half a tolerance.
const HALF: f32 = 5.0;

/// Draws both rows with the tolerance as a gray band; notes beyond its ends are drawn there.
pub fn draw(picture: &LetterPicture) -> String {
    let mut svg = String::new();
    row(&mut svg, 15.0, &picture.before, &[]);
    row(&mut svg, 45.0, &picture.after, &picture.swept);
    svg
}

fn row(svg: &mut String, y: f32, notes: &[(Note, f32)], swept: &[Note]) {
    // Writing to a text cannot fail.
    let _ = write!(
        svg,
        "<rect width=\"352\" y=\"{}\" height=\"{}\" fill=\"#ddd\"/><path d=\"M0 {y}H352\" stroke=\"#999\" stroke-width=\".4\"/>",
        y - HALF,
        2.0 * HALF,
    );
    for (note, off) in notes {
        // A larger reading stands higher.
        let (x, y) = (note.index() as f32 * 4.0 + 1.0, y - off * HALF - 1.5);
        let _ = write!(
            svg,
            "<rect x=\"{x}\" y=\"{y:.1}\" width=\"2\" height=\"3\"/>"
        );
    }
    for note in swept {
        let x = note.index() as f32 * 4.0 + 1.3;
        let _ = write!(
            svg,
            "<rect x=\"{x}\" y=\"{}\" width=\"1.4\" height=\"2.4\" fill=\"#fff\" stroke=\"#111\" stroke-width=\".5\"/>",
            y - 1.2,
        );
    }
}
