//! One button that counts its taps: what the framework weighs before Evenhand says a word.
#![forbid(unsafe_code)]

use leptos::prelude::*;

fn main() {
    leptos::mount::mount_to_body(|| {
        let (count, set_count) = signal(0);
        view! { <button on:click=move |_| *set_count.write() += 1>{count}</button> }
    });
}
