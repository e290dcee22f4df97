//! Components that more than one screen uses.

pub mod busy_bar;
pub mod conflicts;
pub mod disclosure;
pub mod fields;
pub mod header;
pub mod hint;
pub mod icons;
pub mod installation;
pub mod kinds;
pub mod letter;
pub mod note_select;
pub mod notices;
pub mod opened_jobs;
pub mod pad;
pub mod photos;
pub mod plot;
pub mod prices;
pub mod radio_group;
pub mod refusal;
pub mod require_open_job;
pub mod sheet;
pub mod strip;
pub mod undo;
