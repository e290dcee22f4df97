//! Mounts the app; everything else is in its modules.
use leptos::prelude::*;

fn main() {
    mount_to_body(|| view! { <main>"Evenhand"</main> });
}
