use leptos::prelude::*;
use leptos::task::spawn_local;
use wasm_bindgen::JsCast;

use crate::desk::desk;
use crate::device;
use crate::parts::header::Header;
use crate::parts::icons::{ADD, HAND_OUT, Icon, SLIDES};
use crate::place::Screen;
use crate::store::demo;
use crate::store::files;
use crate::store::prefs::Listed;

/// The jobs on this device.
#[component]
pub fn Jobs() -> impl IntoView {
    let desk = desk();
    let empty = move || desk.list.with(Vec::is_empty);
    let known = move || desk.list_known.get();
    view! {
        <Header title=Signal::stored("Evenhand".to_owned()) line=Signal::stored("Jobs on this device".to_owned())>
            <a class="tool" href=Screen::Preferences.href() aria-label="Preferences"><Icon path=SLIDES/></a>
        </Header>
        <main class="page">
            <Show when=move || !empty()>
                <ul class="jobs">
                    <For each=move || desk.list.get() key=|l| (l.id, l.entries, l.exported) let(line)>
                        <JobLine line/>
                    </For>
                </ul>
            </Show>
            <Show when=move || empty() && known()>
                <div class="teach">
                    <h2>"No job is here yet"</h2>
                    <p>"A job holds one instrument: its readings, what is out, what to do next. Make one, or open a file that the office sent."</p>
                    <p>"To look around first, open the demo job. Everything in it is invented."</p>
                </div>
            </Show>
            <Show when=move || empty() && !known()>
                <p class="quiet" role="status">"Looking for jobs on this device…"</p>
            </Show>
        </main>
        <footer class="reach">
            <a class="button main" href=Screen::NewJob.href()><Icon path=ADD/>"New job"</a>
            <div class="pair">
                <FileButton/>
                <button class="button" type="button" on:click=move |_| demo::open(desk)>"Demo job"</button>
            </div>
        </footer>
    }
}

#[component]
fn JobLine(line: Listed) -> impl IntoView {
    let (done, steps) = line.done;
    let newer = line.entries > line.exported;
    let exported = match (line.exported, newer) {
        (0, _) => "not exported yet".to_owned(),
        (_, true) => "newer than its last export".to_owned(),
        (_, false) => "exported".to_owned(),
    };
    let mark = line
        .invented
        .then(|| view! { <span class="mark">"invented"</span> });
    let about = if line.described.is_empty() {
        String::new()
    } else {
        format!("{}, ", line.described)
    };
    view! {
        <li>
            <a class="job" href=Screen::Order(line.id).href()>
                <span class="job-name">{line.name.clone()} {mark}</span>
                <span class="quiet">{about}{format!("{}, {exported}", device::day_and_time(line.last_ms))}</span>
                <span class="progress-line">
                    <progress max=steps.max(1) value=done aria-label=format!("{done} of {steps} steps")></progress>
                    <span class="num">{format!("{done} of {steps}")}</span>
                </span>
                <span class="quiet">"Next: "{line.next.clone()}</span>
            </a>
        </li>
    }
}

/// Opens a job file that is chosen.
#[component]
fn FileButton() -> impl IntoView {
    let desk = desk();
    let chosen = move |event: web_sys::Event| {
        let Some(input) = event
            .target()
            .and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok())
        else {
            return;
        };
        let Some(file) = input.files().and_then(|f| f.get(0)) else {
            return;
        };
        spawn_local(async move {
            match files::read(file).await {
                Ok(bytes) => desk.open_file(bytes),
                Err(sentence) => desk.say_trouble(&sentence),
            }
            // So that the same file can be chosen again.
            input.set_value("");
        });
    };
    view! {
        <label class="button file">
            <Icon path=HAND_OUT/>
            "Open a file"
            <input type="file" accept=".json,application/json" on:change=chosen/>
        </label>
    }
}
