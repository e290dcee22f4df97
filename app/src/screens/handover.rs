use evenhand_core::job::{Progress, State, export, open_points};
use evenhand_core::trade::{Stage, Step};
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::desk::desk;
use crate::device;
use crate::parts::gate::Gate;
use crate::parts::header::{Header, Saved};
use crate::parts::icons::{HAND_OUT, Icon};
use crate::place::Screen;
use crate::store::files;
use crate::words;

/// Summary, open points and the job file.
#[component]
pub fn Handover() -> impl IntoView {
    view! {
        <Gate>
            <HandoverOfJob/>
        </Gate>
    }
}

#[component]
fn HandoverOfJob() -> impl IntoView {
    let desk = desk();
    let job = desk.screen.with_untracked(|s| s.job());
    let back = job.map_or_else(|| Screen::Jobs.href(), |id| Screen::Order(id).href());
    let all = Memo::new(move |_| {
        let now_ms = desk.now_ms.get_untracked();
        desk.look(|s| s.progress(now_ms)).unwrap_or_default()
    });
    let name = Signal::derive(move || {
        desk.look(|s| s.details().name.clone())
            .flatten()
            .unwrap_or_default()
    });
    let whole = move || all.with(|all| State::stage_progress(all, None));
    let sum = move |count: fn(&Progress) -> usize| {
        all.with(|all| all.iter().map(|(_, p)| count(p)).sum::<usize>())
    };
    let points = move || {
        all.with(|all| desk.look(|s| open_points(s, all)))
            .unwrap_or_default()
    };
    view! {
        <Header back back_label="Back to the order" title=Signal::stored("Handover".to_owned()) line=name>
            <Saved/>
        </Header>
        <main class="page" tabindex="0">
            <dl class="figures">
                <div><dt>"Steps read"</dt><dd>{move || format!("{} of {}", whole().done, whole().steps)}</dd></div>
                <div><dt>"Working time"</dt><dd>{move || words::minutes(whole().spent_ms / 60_000)}</dd></div>
                <div><dt>"Out of tolerance"</dt><dd>{move || sum(|p| p.out)}</dd></div>
                <div><dt>"To read again"</dt><dd>{move || sum(|p| p.again)}</dd></div>
            </dl>
            <section>
                <h2>"Open points"</h2>
                {move || {
                    let points = points();
                    if points.is_empty() {
                        view! { <p class="quiet">"None: whatever was read is in tolerance."</p> }.into_any()
                    } else {
                        view! {
                            <ul class="points">{points.into_iter().map(|p| view! { <li>{p}</li> }).collect_view()}</ul>
                        }
                            .into_any()
                    }
                }}
            </section>
            <section>
                <h2>"By stage"</h2>
                <table class="table">
                    <thead><tr><th>"Stage"</th><th class="num">"Steps read"</th><th class="num">"Time"</th></tr></thead>
                    <tbody>
                        {move || Stage::ALL.map(|stage| stage_row(&all.get(), stage)).collect_view()}
                    </tbody>
                </table>
            </section>
        </main>
        <ExportCard/>
    }
}

fn stage_row(all: &[(Step, Progress)], stage: Stage) -> impl IntoView + use<> {
    let sum = State::stage_progress(all, Some(stage));
    (sum.steps > 0).then(|| {
        view! {
            <tr>
                <th scope="row">{stage.name()}</th>
                <td class="num">{format!("{} of {}", sum.done, sum.steps)}</td>
                <td class="num">{words::minutes(sum.spent_ms / 60_000)}</td>
            </tr>
        }
    })
}

/// The job file, out by download or the share sheet.
#[component]
fn ExportCard() -> impl IntoView {
    let desk = desk();
    let file = move || {
        desk.open.with_untracked(|o| {
            let o = o.as_ref()?;
            let now_ms = device::now_ms();
            let name = o.job.state().details().name.clone().unwrap_or_default();
            Some((file_name(&name, now_ms), export(&o.job, now_ms)))
        })
    };
    let download = move |_| {
        let Some((name, text)) = file() else { return };
        match files::download(&name, &text) {
            Ok(()) => {
                desk.exported();
                desk.say(&format!(
                    "{name} was handed to the downloads of this browser."
                ));
            }
            Err(_) => desk.say_trouble(
                "The browser refused the download. The job is still here; try to share it instead.",
            ),
        }
    };
    let share = move |_| {
        let Some((name, text)) = file() else { return };
        spawn_local(async move {
            if files::share(name, text).await {
                desk.exported();
            } else {
                desk.say("The file was not shared. It can be downloaded instead.");
            }
        });
    };
    view! {
        <footer class="reach">
            <button class="button main" type="button" on:click=download><Icon path=HAND_OUT/>"Download the job file"</button>
            <Show when=files::can_share>
                <button class="button" type="button" on:click=share>"Share"</button>
            </Show>
        </footer>
    }
}

/// A name that any system takes: the job's, in plain characters, with the date.
fn file_name(job: &str, now_ms: i64) -> String {
    let plain: String = job
        .chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        })
        .collect();
    let words: Vec<&str> = plain.split('-').filter(|w| !w.is_empty()).take(6).collect();
    let name = if words.is_empty() {
        "job".to_owned()
    } else {
        words.join("-")
    };
    format!("{name}-{}.job.json", device::date(now_ms))
}
