//! Pictures of readings, corrections and days, drawn as the text of an SVG.

mod axes;
pub mod calendar;
mod lane;
pub mod movements;
mod pen;
pub mod profile;
mod scale;
mod size;

pub use pen::escaped;
pub use size::{PlotSize, plot_size};
