//! Line icons of our own, 24 units square.

use leptos::prelude::*;

/// An icon drawn as one path.
#[component]
pub fn Icon(
    /// What it draws.
    path: &'static str,
) -> impl IntoView {
    view! {
        <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">
            <path d=path/>
        </svg>
    }
}

/// Back.
pub const BACK: &str = "M15 5l-7 7 7 7";
/// Undo: an arrow that turns back.
pub const UNDO: &str = "M9 7L4 12l5 5M4 12h10a6 6 0 016 6";
/// Erase the last digit.
pub const ERASE: &str = "M9 6h11v12H9l-6-6zM12 10l4 4M16 10l-4 4";
/// A step's sheet of paper.
pub const SHEET: &str = "M5 4h11l3 3v13H5zM9 11h6M9 15h6";
/// More: three dots.
pub const MORE: &str = "M5 12h.01M12 12h.01M19 12h.01";
/// Go past it.
pub const SKIP: &str = "M7 6l7 6-7 6M18 6v12";
/// Done.
pub const DONE: &str = "M5 13l4 4L19 7";
/// To re-measure.
pub const AGAIN: &str = "M19 12a7 7 0 11-2-5M19 4v4h-4";
/// A drying time that runs: an hourglass.
pub const DRYING: &str = "M7 4h10M7 20h10M8 4c0 4 8 12 8 16M16 4c0 4-8 12-8 16";
/// The pages of a job.
pub const PAGES: &str = "M4 7h16M4 12h16M4 17h16";
/// One up.
pub const UP: &str = "M6 14l6-6 6 6";
/// One down.
pub const DOWN: &str = "M6 10l6 6 6-6";
/// Not begun.
pub const OPEN: &str = "M12 5a7 7 0 100 14 7 7 0 000-14";
/// Begun.
pub const BEGUN: &str = "M12 5a7 7 0 100 14 7 7 0 000-14M12 5v14";
/// Export: an arrow out of a tray.
pub const EXPORT: &str = "M12 15V4M7 9l5-5 5 5M5 15v5h14v-5";
/// Close: a cross.
pub const CLOSE: &str = "M6 6l12 12M18 6L6 18";
/// More.
pub const ADD: &str = "M12 5v14M5 12h14";
/// Expand: it opens below.
pub const EXPAND: &str = "M6 9l6 6 6-6";
/// A camera.
pub const CAMERA: &str = "M4 8h4l2-3h4l2 3h4v11H4zM12 10a3.5 3.5 0 100 7 3.5 3.5 0 000-7";
/// A printer.
pub const PRINT: &str = "M7 9V4h10v5M7 17H4v-8h16v8h-3M7 14h10v6H7z";
