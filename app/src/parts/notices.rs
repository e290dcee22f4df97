use leptos::prelude::*;

use super::icons::{AWAY, Icon};
use crate::desk::{Notice, desk};
use crate::parts::header::Saved;
use crate::place::Screen;
use crate::store::journal::NOT_SAVING;

/// The sentences that stay until they no longer hold or are put away.
#[component]
pub fn Notices() -> impl IntoView {
    let desk = desk();
    let lines = move || desk.notices.get();
    view! {
        <div class="notices" role="status" aria-live="polite">
            <For each=lines key=|n| n.text.clone() let(notice)>
                <NoticeLine notice/>
            </For>
        </div>
    }
}

#[component]
fn NoticeLine(notice: Notice) -> impl IntoView {
    let desk = desk();
    let Notice { text, trouble } = notice;
    let lasting = text == NOT_SAVING;
    let away = text.clone();
    let handover = move || {
        desk.screen
            .with(|s| s.job())
            .map(|id| Screen::Handover(id).href())
    };
    view! {
        <div class="notice" class:trouble=trouble>
            <p>{text}</p>
            {if lasting {
                view! {
                    <Saved/>
                    {move || handover().map(|href| view! { <a class="button" href=href>"Export"</a> })}
                }
                    .into_any()
            } else {
                view! {
                    <button class="tool" aria-label="Put this away" on:click=move |_| desk.put_away(&away)>
                        <Icon path=AWAY/>
                    </button>
                }
                    .into_any()
            }}
        </div>
    }
}
