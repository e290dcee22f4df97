//! Evenhand in the browser: mounts the app; everything else is in its modules.
#![forbid(unsafe_code)]

mod app;
mod desk;
mod device;
mod parts;
mod place;
mod screens;
mod store;
mod words;

fn main() {
    device::shell::note_where_it_stops();
    leptos::mount::mount_to_body(app::App);
}
