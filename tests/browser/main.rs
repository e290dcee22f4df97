//! The built app in a real browser, driven as a thumb would.
//!
//! `./evenhand test` builds the app and finds the browser; on its own this expects the release in `dist/`.

mod after_the_pass;
mod bad_input;
mod bench_by_thumb;
mod broken_updates;
mod browser;
mod by_foot;
mod changes;
mod client_letter;
mod conflicts;
mod decisions;
mod device;
mod draw;
mod engine;
mod engines;
mod faults;
mod first_visit;
mod harness;
mod hours;
mod in_parts;
mod inches;
mod installed;
mod job_kinds;
mod job_list;
mod kept;
mod keyboard_alone;
mod kills;
mod known;
mod main_job;
mod many_jobs;
mod nothing_hidden;
mod office;
mod offline;
mod order_of_job;
mod outside;
mod pages;
mod pass_and_back;
mod pass_by_hand;
mod photos;
mod pictures;
mod privacy;
mod processes;
mod put_away;
mod redrawn;
mod room;
mod screens;
mod setting_up;
mod soak;
mod sweeps;
mod touches;
mod two_tabs;
mod undo_and_drafts;
mod whole_job_offline;
#[path = "../../core/benches/worked/mod.rs"]
mod worked;
