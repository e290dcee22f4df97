//! One photo large, what it shows, and before and after beside each other.

use evenhand_core::job::{EntryId, Photo, State, Taken};
use leptos::prelude::*;

use super::image::{PhotoImage, words_here};
use crate::parts::icons::{BACK, CLOSE, Icon, SKIP};
use crate::parts::radio_group::RadioGroup;
use crate::parts::sheet::modal;
use crate::state::use_session;

/// A photo over the whole screen. It is enlarged by two fingers, or by a tap; the browser closes it on Escape.
#[component]
pub fn PhotoViewer(
    /// The photos that can be gone through.
    photos: Memo<Vec<Photo>>,
    /// The one that is shown.
    shown: RwSignal<Option<EntryId>>,
) -> impl IntoView {
    let photo = Memo::new(move |_| {
        let id = shown.get()?;
        photos.with(|all| all.iter().find(|p| p.position.id == id).cloned())
    });
    view! {
        {move || photo.get().map(|photo| view! { <Large photo photos shown/> })}
    }
}

#[component]
fn Large(
    photo: Photo,
    photos: Memo<Vec<Photo>>,
    shown: RwSignal<Option<EntryId>>,
) -> impl IntoView {
    let session = use_session();
    let dialog = modal();
    let id = photo.position.id;
    let is_enlarged = RwSignal::new(false);
    let compares = RwSignal::new(false);
    let pair = session.app.with_state_untracked(|s: &State| {
        let pairs = s.photo_pairs().into_iter();
        let mut of_photo =
            pairs.filter(|(before, after)| before.position.id == id || after.position.id == id);
        of_photo
            .next()
            .map(|(before, after)| (before.clone(), after.clone()))
    });
    let pair = StoredValue::new(pair.flatten());
    let can_compare = pair.with_value(Option::is_some);
    let step_by = move |by: isize| {
        photos.with_untracked(|all| {
            let at = all.iter().position(|p| p.position.id == id);
            let next = at.and_then(|at| all.get(at.checked_add_signed(by)?));
            if let Some(next) = next {
                shown.set(Some(next.position.id));
            }
        });
    };
    let has = move |by: isize| {
        photos.with(|all| {
            let at = all.iter().position(|p| p.position.id == id);
            at.and_then(|at| all.get(at.checked_add_signed(by)?))
                .is_some()
        })
    };
    let title = words_here(&photo);
    let label = title.clone();
    let kept = StoredValue::new(photo.clone());
    let of = StoredValue::new((photo.sha256, title.clone()));
    let remove = move |_| {
        shown.set(None);
        kept.with_value(|photo| session.remove_photo(photo));
    };
    let closed = move |_| {
        // The event comes later, when another photo may be shown.
        if shown.try_get_untracked().flatten() == Some(id) {
            shown.set(None);
        }
    };
    view! {
        <dialog node_ref=dialog class="photo-view" aria-label=label on:close=closed>
            <header>
                <button class="tool" type="button" aria-label="The photo before" disabled=move || !has(-1) on:click=move |_| step_by(-1)>
                    <Icon path=BACK/>
                </button>
                <p>{title}</p>
                <button class="tool" type="button" aria-label="The next photo" disabled=move || !has(1) on:click=move |_| step_by(1)>
                    <Icon path=SKIP/>
                </button>
                <button class="tool" type="button" aria-label="Close" on:click=move |_| shown.set(None)>
                    <Icon path=CLOSE/>
                </button>
            </header>
            {move || match pair.get_value().filter(|_| compares.get()) {
                Some((before, after)) => view! { <Compared before after/> }.into_any(),
                None => {
                    let (hash, alt) = of.get_value();
                    view! {
                        <div class="photo-large" class:enlarged=move || is_enlarged.get() on:click=move |_| is_enlarged.update(|e| *e = !*e)>
                            <PhotoImage hash alt/>
                        </div>
                    }
                    .into_any()
                }
            }}
            <footer>
                {can_compare.then(|| view! {
                    <button class="button" type="button" aria-pressed=move || compares.get().to_string()
                        on:click=move |_| compares.update(|c| *c = !*c)>"Before and after"</button>
                })}
                <About photo shown/>
                <button class="button" type="button" on:click=remove>"Remove the photo"</button>
            </footer>
        </dialog>
    }
}

/// The caption, and whether the photo is from before or after.
#[component]
fn About(photo: Photo, shown: RwSignal<Option<EntryId>>) -> impl IntoView {
    let session = use_session();
    let at = Taken::ALL
        .iter()
        .position(|t| *t == photo.taken)
        .unwrap_or(0);
    let (chosen, caption) = (RwSignal::new(at), RwSignal::new(photo.caption.clone()));
    let photo = StoredValue::new(photo);
    let save = move || {
        let taken = Taken::ALL[chosen.get_untracked()];
        let caption = caption.get_untracked().trim().to_owned();
        let photo = photo.get_value();
        session.change_photo(&photo, taken, caption);
        // The changed one is another entry.
        let latest = |s: &State| {
            let mut all = s.photos();
            all.rfind(|p| p.sha256 == photo.sha256 && p.on == photo.on)
                .map(|p| p.position.id)
        };
        if shown.try_get_untracked().flatten().is_some() {
            shown.set(session.app.with_state_untracked(latest).flatten());
        }
    };
    view! {
        <div class="photo-about">
            <RadioGroup legend="It shows the piano" group="taken" words=&["Before", "After", "As it is"] chosen=chosen
                choose=Callback::new(move |at| { chosen.set(at); save(); })/>
            <label>
                "Caption"
                <input type="text" maxlength="300" autocomplete="off" bind:value=caption on:change=move |_| save()/>
            </label>
        </div>
    }
}

/// Two photos of the same, with a slider between them, and side by side where there is room.
#[component]
fn Compared(before: Photo, after: Photo) -> impl IntoView {
    let percent = RwSignal::new(50u32);
    let beside = RwSignal::new(false);
    let slide = move |event| percent.set(event_target_value(&event).parse().unwrap_or(50));
    let clip = move || format!("inset(0 0 0 {}%)", percent.get());
    view! {
        <div class="photo-compared" class:beside=move || beside.get()>
            <div class="photo-pair">
                <figure><PhotoImage hash=before.sha256 alt=words_here(&before)/><figcaption>"Before"</figcaption></figure>
                <figure class="after" style:clip-path=move || if beside.get() { String::new() } else { clip() }>
                    <PhotoImage hash=after.sha256 alt=words_here(&after)/><figcaption>"After"</figcaption>
                </figure>
            </div>
            <div class="photo-slide">
                <label class:hidden=move || beside.get()>
                    <span class="hidden">"How much of before is shown"</span>
                    <input type="range" min="0" max="100" prop:value=move || percent.get().to_string() on:input=slide/>
                </label>
                <button class="button" type="button" aria-pressed=move || beside.get().to_string()
                    on:click=move |_| beside.update(|b| *b = !*b)>"Side by side"</button>
            </div>
        </div>
    }
}
