//! What the checks of Evenhand share: a static file server for the built app.
//!
//! The app must work from any static host, so this server adds nothing that such a host lacks: files with their media
//! types, an index for a folder, and how long a browser may keep each file.

mod site;

pub use site::{RunningSite, Site};
