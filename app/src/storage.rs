//! Storage on this device: the journal of all entries, and in local storage what may be lost. Knows neither screens nor
//! state.

mod indexed_db;
pub mod job_summary;
pub mod journal;
pub mod local_storage;
pub mod photos;
pub mod preferences;
pub mod put_aside;
