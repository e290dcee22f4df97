//! What the user prefers, and the storage of this device.

use evenhand_core::trade::Caution;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::device::files;
use crate::device::{persistence, speech, vibration, wake_lock};
use crate::parts::header::Header;
use crate::parts::icons::{EXPORT, Icon};
use crate::parts::installation::Installation;
use crate::parts::radio_group::RadioGroup;
use crate::parts::refusal::Refusal;
use crate::route::Route;
use crate::state::use_session;
use crate::storage::job_summary::JobSummary;
use crate::storage::preferences::{NoteOrder, Preferences, Theme, pedal_keys, set_pedal_keys};

const THEMES: [Theme; 3] = [Theme::Device, Theme::Light, Theme::Dark];
const ORDERS: [NoteOrder; 3] = [NoteOrder::Up, NoteOrder::Down, NoteOrder::NaturalsFirst];

/// The preferences, what this browser can do, and about this program.
#[component]
pub fn PreferencesScreen() -> impl IntoView {
    let session = use_session();
    let of = move |read: fn(&Preferences) -> usize| {
        Signal::derive(move || session.app.preferences.with(read))
    };
    let change = move |set: fn(&mut Preferences, usize)| {
        Callback::new(move |at| session.app.change_preferences(|p| set(p, at)))
    };
    let (speaks, vibrates) = (speech::can_speak(), vibration::can_vibrate());
    view! {
        <Header back=Route::Jobs.href() back_label="Back to the jobs" title=Signal::stored("Preferences".to_owned())
            line=Signal::stored("For this phone and every job".to_owned())/>
        <main class="page form preferences">
            <RadioGroup legend="Colors" group="theme" words=&["As the phone", "Light", "Dark"]
                chosen=of(|p| place(&THEMES, p.theme)) choose=change(|p, at| p.theme = THEMES[at])/>
            <RadioGroup legend="The hand that taps" group="hand" words=&["Right", "Left"]
                chosen=of(|p| usize::from(p.left_hand)) choose=change(|p, at| p.left_hand = at == 1)
                note="For the left hand the keys of the pad change sides; the digits keep their order."/>
            <RadioGroup legend="Lengths of new jobs in" group="unit" words=&["Millimeters", "Inches"]
                chosen=of(|p| usize::from(p.inches)) choose=change(|p, at| p.inches = at == 1)
                note="A job keeps its own unit; a unit that is typed with a reading always wins."/>
            <RadioGroup legend="A pass goes" group="order" words=&["Up", "Down", "Naturals first"]
                chosen=of(|p| place(&ORDERS, p.order)) choose=change(|p, at| p.order = ORDERS[at])
                note="Each pass can be given another order on its sheet."/>
            <RadioGroup legend="Say readings aloud" group="speech" words=&["No", "Yes"] can=speaks
                chosen=of(|p| usize::from(p.speech))
                choose=Callback::new(move |at| {
                    session.app.change_preferences(|p| p.speech = at == 1);
                    if at == 1 {
                        speech::say("Readings are said aloud.");
                    }
                })
                note=if speaks { "Says the verdict, the correction and the next note in six words at most." } else { "This browser has no voice." }/>
            <RadioGroup legend="Vibrate" group="vibration" words=&["Yes", "No"] can=vibrates
                chosen=of(|p| usize::from(p.still))
                choose=Callback::new(move |at| {
                    session.app.change_preferences(|p| p.still = at == 1);
                    if at == 0 {
                        vibration::pulse();
                    }
                })
                note=if vibrates { "One short pulse: in tolerance. Three: out." } else { "This browser cannot vibrate." }/>
            <Pedal/>
            {(!wake_lock::can_stay_awake()).then(|| view! {
                <p>"This browser cannot keep the screen awake. Set the phone’s own screen lock to a long time for a pass."</p>
            })}
            {(!files::can_share()).then(|| view! {
                <p>"This browser cannot share a job file with another app. Export downloads it instead."</p>
            })}
            <Room/>
            <Installation/>
            <About/>
        </main>
    }
}

/// The two keys of a page-turn pedal or remote, each learned by pressing it.
#[component]
fn Pedal() -> impl IntoView {
    let keys = RwSignal::new(pedal_keys());
    let learns = RwSignal::new(None::<usize>);
    let refused = RwSignal::new(String::new());
    let handle = window_event_listener(leptos::ev::keydown, move |event| {
        let Some(which) = learns.get_untracked() else {
            return;
        };
        let key = event.key();
        if matches!(key.as_str(), "Shift" | "Control" | "Alt" | "Meta" | "Tab") {
            return;
        }
        event.prevent_default();
        learns.set(None);
        let is_typed = key.chars().count() == 1 && key != " ";
        let other = keys.with_untracked(|k| k[1 - which] == key);
        refused.set(match key.as_str() {
            "Escape" => String::new(),
            _ if is_typed => "Digits and letters are for typing. Press another key.".to_owned(),
            _ if other => "That key is taken by the other answer. Press another.".to_owned(),
            _ => {
                keys.update(|k| k[which] = key);
                keys.with_untracked(set_pedal_keys);
                String::new()
            }
        });
    });
    on_cleanup(move || handle.remove());
    let key = move |(which, does): (usize, &'static str)| {
        let says = move || match learns.get() == Some(which) {
            true => format!("Press the key for “{does}”"),
            false => format!("{does}: {}", keys.with(|k| name_of_key(&k[which]))),
        };
        view! {
            <button class="button" type="button" data-pedal=which aria-pressed=move || (learns.get() == Some(which)).to_string()
                on:click=move |_| { refused.set(String::new()); learns.set(Some(which)); }>{says}</button>
        }
    };
    view! {
        <fieldset class="pedal">
            <legend>"Pedal or remote"</legend>
            <div class="choices">{[(0, "Good, next"), (1, "Out, next")].map(key).collect_view()}</div>
            <Refusal words=refused/>
            <small>"A page-turn pedal works a pass without hands: one key for good or on target, one for out. Tap one of these, then press the pedal. Volume keys work on few phones."</small>
        </fieldset>
    }
}

/// Returns the name of a key as it is read: `Page down`, `Space`.
fn name_of_key(key: &str) -> String {
    match key {
        "PageDown" => "Page down".to_owned(),
        "PageUp" => "Page up".to_owned(),
        " " => "Space".to_owned(),
        key => match key.strip_prefix("Arrow") {
            Some(way) => format!("Arrow {}", way.to_lowercase()),
            None => key.to_owned(),
        },
    }
}

fn place<T: Copy + PartialEq>(all: &[T], one: T) -> usize {
    all.iter().position(|a| *a == one).unwrap_or(0)
}

/// How much is stored, and whether the browser persists it.
#[component]
fn Room() -> impl IntoView {
    let session = use_session();
    let export_all = move |_| {
        let ids = |list: &Vec<JobSummary>| list.iter().map(|line| line.id).collect();
        let ids = session.app.jobs.with_untracked(ids);
        spawn_local(session.export_jobs(ids, false));
    };
    let used = RwSignal::new(None::<(f64, f64)>);
    let persisted = RwSignal::new(None::<bool>);
    spawn_local(async move {
        let answer = (
            persistence::used_bytes().await,
            persistence::is_granted().await,
        );
        // The screen may be closed before the browser answers.
        let _ = used.try_set(answer.0);
        let _ = persisted.try_set(answer.1);
    });
    let ask = move |_| {
        spawn_local(async move {
            let answer = persistence::request().await;
            let _ = persisted.try_set(answer);
        });
    };
    let room = move || match used.get() {
        Some((used, most)) => format!(
            "{} used of {} that the browser allows.",
            bytes(used),
            bytes(most)
        ),
        None => "This browser does not say how much room there is.".to_owned(),
    };
    let keeps = move || match persisted.get() {
        Some(true) => "The browser keeps it, even when the phone is short of room.",
        Some(false) => {
            "The browser may clear it when the phone is short of room, and some do after a week without a visit. Export a job when a stage is done."
        }
        None => {
            "This browser does not say whether it keeps what is stored. Export a job when a stage is done."
        }
    };
    view! {
        <section>
            <h2>"Storage"</h2>
            <p>{room}</p>
            <p>{keeps}</p>
            <p>"A private window loses everything when it closes. Evenhand cannot tell whether it is in one."</p>
            <Show when=move || persisted.get() == Some(false)>
                <button class="button" type="button" on:click=ask>"Ask the browser to keep it"</button>
            </Show>
            <Show when=move || session.app.jobs.with(|list| !list.is_empty())>
                <button class="button backup" type="button" on:click=export_all>
                    <Icon path=EXPORT/>"Export everything on this device"
                </button>
                <p>"One file with all jobs, as a backup. “Open a file” on the first screen opens it again, here or on another device."</p>
            </Show>
        </section>
    }
}

/// Returns a size as people read it: `340 KB`, `12 MB`.
fn bytes(size: f64) -> String {
    let kilobytes = (size / 1000.0).ceil() as u64;
    match kilobytes {
        0..1_000 => format!("{kilobytes} KB"),
        1_000..1_000_000 => format!("{} MB", kilobytes / 1_000),
        _ => format!("{} GB", kilobytes / 1_000_000),
    }
}

/// About this program.
#[component]
fn About() -> impl IntoView {
    view! {
        <section>
            <h2>"About"</h2>
            <p>{concat!("Evenhand ", env!("CARGO_PKG_VERSION"), ". Free software, under MIT or Apache-2.0 at your option.")}</p>
            <p>"It runs on this phone alone. Nothing leaves it unless you export it."</p>
            <p>"Its targets are starting values. The instrument, the player and your own figures come first."</p>
        </section>
        <section class="cautions">
            <h2>"Cautions"</h2>
            <p>{Caution::FIRST}</p>
            {Caution::ALL.map(|c| view! { <p>{c.text()}</p> }).collect_view()}
        </section>
    }
}
