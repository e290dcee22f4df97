//! Evenhand in the browser: mounts the app; everything else is in its modules.
// Only where the program is loaded in parts: screens/in_parts.rs and state/in_parts.rs.
#![deny(unsafe_code)]

mod app;
mod device;
mod parts;
mod route;
mod screens;
mod state;
mod storage;
mod text;

fn main() {
    device::shell::note_where_it_stops();
    leptos::mount::mount_to_body(app::App);
}
