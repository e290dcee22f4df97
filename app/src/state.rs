//! What the screens share: the signals ([`AppState`]) and what changes them ([`Session`]). Nothing here draws.

mod app_state;
mod archive;
mod deletion;
mod demo;
mod export;
mod import;
pub mod in_parts;
mod job_list;
mod left_pass;
mod list_view;
mod open_list;
mod photos;
mod session;
mod tabs;

pub use app_state::{AppState, Busy, Notice};
pub use export::file_name;
pub use left_pass::LeftPass;
pub use list_view::{Due, ListRow, ListView, Sort, Which, list_rows, visits_of};
pub use open_list::{OpenLine, OpenList};
pub use photos::PhotoOf;
pub use session::{Session, use_session};

/// Starts the session of this visit: reads what is stored, and follows the address, the clock and other tabs until the
/// current owner ends.
pub fn start() -> Session {
    let session = Session::new();
    session.journal.on_saved(move |batch| {
        tabs::post_saved(batch);
        session.ask_to_persist();
    });
    tabs::listen(session);
    session.start();
    session
}
