//! What is kept on this device: the journal, preferences, files in and out.

pub mod demo;
pub mod files;
pub mod journal;
pub mod prefs;
