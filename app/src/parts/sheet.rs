//! A modal sheet over the lower part of the screen.

use leptos::html;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use super::icons::{CLOSE, Icon};

/// A modal sheet over the lower part of the screen. The browser keeps the focus inside it, and closes it on Escape.
#[component]
pub fn Sheet(
    /// What it is about.
    #[prop(into)]
    title: String,
    /// Called when it is closed.
    close: Callback<()>,
    /// What it shows.
    children: Children,
) -> impl IntoView {
    let dialog = modal();
    // Closed before it leaves the page: by that the browser gives the focus back to what opened it.
    on_cleanup(move || {
        if let Some(dialog) = dialog.try_get_untracked().flatten() {
            dialog.close();
        }
    });
    let beside = move |event: web_sys::MouseEvent| {
        let target = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::HtmlDialogElement>().ok());
        if target.is_some() {
            close.run(());
        }
    };
    // The event comes later, when the sheet may be disposed of.
    let closed = move |_| {
        close.try_run(());
    };
    let label = title.clone();
    view! {
        <dialog node_ref=dialog class="sheet" aria-label=label on:close=closed on:click=beside>
            <div class="sheet-in">
                <header>
                    <h2>{title}</h2>
                    <button class="tool" type="button" aria-label="Close" on:click=move |_| close.run(())>
                        <Icon path=CLOSE/>
                    </button>
                </header>
                {children()}
            </div>
        </dialog>
    }
}

/// Returns the reference of a dialog that opens as a modal one as soon as it is in the page.
pub fn modal() -> NodeRef<html::Dialog> {
    let dialog = NodeRef::<html::Dialog>::new();
    Effect::new(move |_| {
        if let Some(dialog) = dialog.get().filter(|d| !d.open()) {
            // It is in the page and not open, so this cannot fail.
            let _ = dialog.show_modal();
        }
    });
    dialog
}
