//! A photo as an image, and what it shows in words.

use evenhand_core::job::{Photo, PhotoHash, State, Subject, Taken};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::camera;
use crate::state::use_session;
use crate::text;

/// Returns what a photo shows, as it is read: `Before, let-off, F3: flange`.
pub fn words(state: &State, photo: &Photo) -> String {
    let taken = match photo.taken {
        Taken::Before => "Before",
        Taken::After => "After",
        Taken::AsItIs => "As it is",
    };
    let step = photo.step.as_ref().and_then(|id| state.step(id.as_str()));
    let step = step.map(|step| step.name.to_lowercase());
    let on = (photo.on != Subject::Whole).then(|| text::subject(photo.on));
    let of: Vec<String> = [Some(taken.to_owned()), step, on]
        .into_iter()
        .flatten()
        .collect();
    match photo.caption.as_str() {
        "" => of.join(", "),
        caption => format!("{}: {caption}", of.join(", ")),
    }
}

/// As [`words`], of a photo of the open job.
pub fn words_here(photo: &Photo) -> String {
    let words = use_session().app.with_state_untracked(|s| words(s, photo));
    words.unwrap_or_default()
}

/// A photo, once it is read. Says so where it is not on this device.
#[component]
pub fn PhotoImage(
    /// Which photo.
    hash: PhotoHash,
    /// What it shows.
    alt: String,
) -> impl IntoView {
    let photos = use_session().photos;
    let url = RwSignal::new(None::<String>);
    let is_missing = RwSignal::new(false);
    let read = move || {
        spawn_local(async move {
            let photo = photos.get(hash).await;
            let made = photo.and_then(|p| camera::url_of(&p.bytes, p.format.media_type()));
            // The screen may be closed before the photo is read.
            if let Some(made) = &made
                && url.try_get_untracked().is_none_or(|shown| shown.is_some())
            {
                return camera::revoke(made);
            }
            let _ = is_missing.try_set(made.is_none());
            let _ = url.try_set(made);
        });
    };
    Effect::new(move |_| {
        photos.changed.track();
        if url.with_untracked(Option::is_none) {
            read();
        }
    });
    on_cleanup(move || {
        if let Some(url) = url.try_get_untracked().flatten() {
            camera::revoke(&url);
        }
    });
    let alt = StoredValue::new(alt);
    move || {
        match (url.get(), is_missing.get()) {
        (Some(url), _) => view! { <img src=url alt=alt.get_value() decoding="async"/> }.into_any(),
        (None, true) => view! {
            <span class="photo-missing">{alt.get_value()}": this photo is not on this phone. Open a file of the job that was exported with photos."</span>
        }
        .into_any(),
        (None, false) => view! { <span class="photo-missing">"Opening the photo…"</span> }.into_any(),
    }
    }
}
