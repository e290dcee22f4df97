//! The screens: a file each, and a folder for the parts of a larger one.

pub mod corrections;
pub mod estimate;
pub mod handover;
pub mod hours;
pub mod in_parts;
pub mod instrument;
pub mod jobs;
pub mod letter;
pub mod new_job;
pub mod order;
pub mod pass;
pub mod plan;
pub mod preferences;
pub mod profile;
pub mod report;
pub mod setup;
pub mod targets;
