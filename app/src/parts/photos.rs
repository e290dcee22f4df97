//! Photos: the fields that take them, their thumbnails, and one of them large.

mod image;
mod viewer;

use evenhand_core::job::{Photo, PhotoHash, State, Subject};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::camera::ACCEPTED;
use crate::parts::icons::{CAMERA, Icon};
use crate::state::{PhotoOf, use_session};
use crate::storage::preferences;
use crate::text;
pub use image::{PhotoImage, words, words_here};
pub use viewer::PhotoViewer;

/// A field that looks like a button, and takes photos from the camera or from what is stored on the phone.
#[component]
pub fn TakePhoto(
    /// What they are of; asked when they are taken.
    of: Signal<Option<PhotoOf>>,
    /// Whether the camera opens at once.
    camera: bool,
    /// The class of the button.
    #[prop(default = "button")]
    class: &'static str,
    /// What it says; read aloud alone if the button has no room for words.
    label: &'static str,
    /// Whether it shows its words.
    #[prop(default = true)]
    has_words: bool,
) -> impl IntoView {
    let session = use_session();
    let chosen = move |event: web_sys::Event| {
        let input: web_sys::HtmlInputElement = event_target(&event);
        if let Some((files, of)) = input.files().zip(of.get_untracked()) {
            spawn_local(async move {
                session.add_photos(files, of).await;
                // So that the same photo can be chosen again.
                input.set_value("");
            });
        }
    };
    view! {
        <label class=format!("{class} take-photo")>
            <Icon path=CAMERA/>
            <span class:hidden=!has_words>{label}</span>
            <input type="file" accept=ACCEPTED capture=camera.then_some("environment") multiple=!camera on:change=chosen/>
        </label>
    }
}

/// The photos of one thing: thumbnails that open large, and the fields for more.
#[component]
pub fn PhotosOf(
    /// What they are of.
    of: PhotoOf,
) -> impl IntoView {
    let of = StoredValue::new(of);
    let photos = photos_where(move |photo| of.with_value(|of| of.is_of(photo)));
    view! {
        <section class="photos-of">
            <h3>"Photos"</h3>
            <Thumbnails photos/>
            <div class="pair">
                <TakePhoto of=Signal::derive(move || Some(of.get_value())) camera=true label="Take a photo"/>
                <TakePhoto of=Signal::derive(move || Some(of.get_value())) camera=false label="Choose"/>
            </div>
        </section>
    }
}

/// Returns the photos of the open job for which `is` holds.
pub fn photos_where(is: impl Fn(&Photo) -> bool + Send + Sync + 'static) -> Memo<Vec<Photo>> {
    let app = use_session().app;
    Memo::new(move |_| {
        let photos = |s: &State| s.photos().filter(|p| is(p)).cloned().collect();
        app.with_state(photos).unwrap_or_default()
    })
}

/// Thumbnails of photos; each opens large. Shows nothing if there are none.
#[component]
pub fn Thumbnails(photos: Memo<Vec<Photo>>) -> impl IntoView {
    let shown = RwSignal::new(None);
    view! {
        <Show when=move || !photos.with(Vec::is_empty)>
            <ul class="thumbnails">
                <For each=move || photos.get() key=|p| (p.position.id, p.sha256) let(photo)>
                    <Thumbnail photo shown/>
                </For>
            </ul>
        </Show>
        <PhotoViewer photos shown/>
    }
}

#[component]
fn Thumbnail(photo: Photo, shown: RwSignal<Option<evenhand_core::job::EntryId>>) -> impl IntoView {
    let words = words_here(&photo);
    let label = format!("Photo, {words}");
    let id = photo.position.id;
    let whole = matches!(photo.on, Subject::Whole);
    let on = (!whole).then(|| text::subject(photo.on));
    view! {
        <li>
            <button type="button" class="thumbnail" aria-label=label on:click=move |_| shown.set(Some(id))>
                <PhotoImage hash=photo.sha256 alt=words/>
                <span aria-hidden="true">{photo.taken.word()}{on.map(|on| format!(", {on}"))}</span>
            </button>
        </li>
    }
}

/// Returns photos for paper: two to a row, each with what it shows.
pub fn side_by_side(photos: impl IntoIterator<Item = (PhotoHash, String)>) -> impl IntoView {
    let figure = |(hash, words): (PhotoHash, String)| {
        view! { <figure><PhotoImage hash alt=words.clone()/><figcaption>{words}</figcaption></figure> }
    };
    let figures: Vec<_> = photos.into_iter().map(figure).collect();
    view! { <div class="photos-before-after">{figures}</div> }
}

/// The choice whether photos go with a job file; shown where there are any.
#[component]
pub fn WithPhotos(
    /// How many there are, and their bytes in the file; `None` where that is not known.
    size: Option<(usize, usize)>,
) -> impl IntoView {
    let with = RwSignal::new(!preferences::leaves_photos_out());
    let choose = move |event| {
        with.set(event_target_checked(&event));
        preferences::set_leaves_photos_out(!with.get_untracked());
    };
    let words = match size {
        Some((count, bytes)) => {
            let photos = text::counted(count, "1 photo", "photos");
            format!("With {photos}, {:.1} MB", bytes as f64 / 1e6)
        }
        None => "With photos".to_owned(),
    };
    view! {
        <label class="with-photos">
            <input type="checkbox" prop:checked=move || with.get() on:change=choose/>
            {words}
        </label>
    }
}
