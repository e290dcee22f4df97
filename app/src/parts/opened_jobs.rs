//! The jobs in opened files: first to be chosen, then what became of each.

use leptos::prelude::*;

use super::sheet::Sheet;
use crate::state::{OpenLine, OpenList, use_session};

/// Shows the list of the jobs in opened files, while there is one.
#[component]
pub fn OpenedJobs() -> impl IntoView {
    let session = use_session();
    move || {
        let list = session.app.open_list.get()?;
        Some(view! { <OpenedList list/> })
    }
}

#[component]
fn OpenedList(list: OpenList) -> impl IntoView {
    let session = use_session();
    let close = Callback::new(move |()| session.app.open_list.set(None));
    let title = if list.is_done { "Opened" } else { "Open jobs" };
    let can_choose = |line: &&(usize, &OpenLine)| line.1.source.is_some();
    let choosable: Vec<usize> = {
        let lines = list.lines.iter().enumerate();
        lines.filter(|l| can_choose(&l)).map(|(at, _)| at).collect()
    };
    let chosen = RwSignal::new(choosable.clone());
    let notices = list
        .notices
        .iter()
        .map(|n| view! { <p class="quiet">{n.clone()}</p> });
    let notices = notices.collect_view();
    let lines = list.lines.iter().cloned().enumerate();
    let lines = lines.map(|(at, line)| view! { <OpenedLine at line chosen/> });
    let lines = lines.collect_view();
    let counts = list.counts();
    let keys = (!choosable.is_empty()).then(|| {
        let list = StoredValue::new_local(list.clone());
        let open = move |_| session.open_chosen(list.get_value(), chosen.get_untracked());
        let words = move || match chosen.with(Vec::len) {
            0 => "Choose a job to open".to_owned(),
            1 => "Open 1 job".to_owned(),
            n => format!("Open {n} jobs"),
        };
        view! {
            <div class="pair">
                <button class="button" type="button" on:click=move |_| chosen.set(choosable.clone())>"All"</button>
                <button class="button" type="button" on:click=move |_| chosen.set(Vec::new())>"None"</button>
            </div>
            <button class="button main" type="button" disabled=move || chosen.with(Vec::is_empty) on:click=open>{words}</button>
        }
    });
    view! {
        <Sheet title close>
            <p role="status">{counts}</p>
            {notices}
            <ul class="open-list">{lines}</ul>
            {keys}
        </Sheet>
    }
}

#[component]
fn OpenedLine(at: usize, line: OpenLine, chosen: RwSignal<Vec<usize>>) -> impl IntoView {
    let choose = move |_| {
        chosen.update(|chosen| match chosen.iter().position(|c| *c == at) {
            Some(place) => drop(chosen.remove(place)),
            None => {
                chosen.push(at);
                chosen.sort_unstable();
            }
        });
    };
    let name = line.name();
    let label = format!("Open {name}");
    let has_notices = !line.notices.is_empty();
    // The line of a refused file has its name already.
    let file = line.judged.is_ok().then(|| line.file.clone());
    let notices = line.notices.clone().into_iter();
    view! {
        <li>
            {line.source.is_some().then(|| view! {
                <label class="choose">
                    <input type="checkbox" prop:checked=move || chosen.with(|c| c.contains(&at)) on:change=choose aria-label=label/>
                </label>
            })}
            <div class="opened" class:not-opened=line.judged.is_err()>
                <p class="job-name" dir="auto">{name}</p>
                <p class="quiet">{line.words()}{file.map(|file| view! { <small dir="auto">{file}</small> })}</p>
                {has_notices.then(|| view! {
                    <details>
                        <summary>"To check"</summary>
                        {notices.map(|notice| view! { <p>{notice}</p> }).collect_view()}
                    </details>
                })}
            </div>
        </li>
    }
}
