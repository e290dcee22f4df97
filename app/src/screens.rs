//! One file a screen.

pub mod handover;
pub mod jobs;
pub mod new_job;
pub mod order;
pub mod pass;
pub mod setup;
pub mod targets;
