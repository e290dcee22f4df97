//! Pieces that more than one screen uses.

pub mod choice;
pub mod disclosure;
pub mod fields;
pub mod header;
pub mod icons;
pub mod installed;
pub mod letter;
pub mod note_select;
pub mod notices;
pub mod pad;
pub mod plot;
pub mod progress;
pub mod require_open_job;
pub mod sheet;
pub mod strip;
pub mod undo;
