use evenhand_core::job::{Act, Now, Progress, Reason, State};
use evenhand_core::trade::{Stage, Step, StepId};
use leptos::prelude::*;

use crate::desk::desk;
use crate::parts::gate::Gate;
use crate::parts::header::{Header, Saved};
use crate::parts::icons::{AGAIN, BEGUN, CURE, DONE, HAND_OUT, Icon, OPEN};
use crate::place::Screen;
use crate::words;

/// The stages and steps of one job, and what to do now.
#[component]
pub fn OrderScreen() -> impl IntoView {
    view! {
        <Gate>
            <OrderOfJob/>
        </Gate>
    }
}

/// One step's line as it stands.
#[derive(Clone, PartialEq)]
struct Line {
    step: Step,
    progress: Progress,
    words: String,
}

impl Line {
    /// What a line is drawn from: it is drawn again when this changes.
    fn key(&self) -> (StepId, [usize; 4], String) {
        let p = &self.progress;
        (
            self.step.id.clone(),
            [p.expected, p.read, p.out, p.again],
            self.words.clone(),
        )
    }
}

#[component]
fn OrderOfJob() -> impl IntoView {
    let desk = desk();
    let all = Memo::new(move |_| {
        let now_ms = desk.now_ms.get();
        desk.look(|s| s.progress(now_ms)).unwrap_or_default()
    });
    let now = Memo::new(move |_| {
        let now_ms = desk.now_ms.get();
        all.with(|all| desk.look(|s| s.now(all, now_ms)))
            .unwrap_or_default()
    });
    let title = Signal::derive(move || {
        let name = desk.look(|s| s.details().name.clone()).flatten();
        name.unwrap_or_else(|| "Job".to_owned())
    });
    let line = Signal::derive(move || {
        let details = desk.look(|s| s.details().clone()).unwrap_or_default();
        match (details.invented, details.client) {
            (Some(true), _) => "invented demo job".to_owned(),
            (_, client) => client.unwrap_or_default(),
        }
    });
    let handover = desk
        .screen
        .with_untracked(|s| s.job())
        .map(|id| Screen::Handover(id).href());
    view! {
        <Header back=Screen::Jobs.href() back_label="Back to the jobs" title line>
            <Saved/>
            <a class="tool" href=handover aria-label="Handover"><Icon path=HAND_OUT/></a>
        </Header>
        <main class="page order">
            {Stage::ALL.map(|stage| view! { <StageLines stage all now/> }).collect_view()}
        </main>
        <NowCard all now/>
    }
}

#[component]
fn StageLines(
    stage: Stage,
    all: Memo<Vec<(Step, Progress)>>,
    now: Memo<Vec<Now>>,
) -> impl IntoView {
    let desk = desk();
    let lines = Memo::new(move |_| {
        let of_stage = all.with(|all| {
            all.iter()
                .filter(|(s, _)| s.stage == stage)
                .cloned()
                .collect::<Vec<_>>()
        });
        let now_ms = desk.now_ms.get();
        let lines = desk.look(|state| {
            let line = |(step, progress): (Step, Progress)| Line {
                words: line_words(state, &step, &progress, now_ms),
                step,
                progress,
            };
            of_stage.into_iter().map(line).collect::<Vec<_>>()
        });
        lines.unwrap_or_default()
    });
    let count = move || {
        let sum = all.with(|all| State::stage_progress(all, Some(stage)));
        format!("{} of {} steps", sum.done, sum.steps)
    };
    view! {
        <Show when=move || lines.with(|l| !l.is_empty())>
            <section class="stage" aria-label=stage.name()>
                <h2><span>{stage.name()}</span><span class="num">{count}</span></h2>
                <ul>
                    <For each=move || lines.get() key=Line::key let(line)>
                        <StepLine line now/>
                    </For>
                </ul>
            </section>
        </Show>
    }
}

/// What stands small below a step: its cure, what was disturbed, what is out, what it waits for.
fn line_words(state: &State, step: &Step, progress: &Progress, now_ms: i64) -> String {
    if let Some(wait) = progress.wait.as_ref().filter(|_| progress.is_read()) {
        return words::wait(wait, now_ms);
    }
    if progress.again > 0 {
        let first =
            state
                .items(step)
                .into_iter()
                .find_map(|item| match state.item_state(step, &item) {
                    evenhand_core::job::ItemState::Again(.., cause) => Some((item, cause)),
                    _ => None,
                });
        let why = first.and_then(|(item, cause)| {
            let work = state.measure(cause.work.as_str())?;
            Some(if cause.work == item.measure {
                "adjusted since".to_owned()
            } else {
                format!("{} was changed after", work.name.to_lowercase())
            })
        });
        return format!(
            "{} to read again, {}",
            progress.again,
            why.unwrap_or_default()
        );
    }
    if progress.out > 0 {
        return format!("{} out", progress.out);
    }
    let missing = progress.blocked_by.first().filter(|_| !progress.is_begun());
    match missing.and_then(|id| state.step(id.as_str())) {
        Some(needed) => format!("after {}", needed.name.to_lowercase()),
        None => String::new(),
    }
}

#[component]
fn StepLine(line: Line, now: Memo<Vec<Now>>) -> impl IntoView {
    let desk = desk();
    let Line {
        step,
        progress,
        words,
    } = line;
    let id = step.id.clone();
    let href = desk
        .screen
        .with_untracked(|s| s.job())
        .map(|job| Screen::Pass(job, id).href());
    let curing = progress
        .wait
        .as_ref()
        .is_some_and(|w| !w.is_over(desk.now_ms.get_untracked()));
    let (icon, tone, state) = if progress.again > 0 {
        (AGAIN, "again", "to read again")
    } else if progress.is_read() && curing {
        (CURE, "curing", "curing")
    } else if progress.is_read() {
        (DONE, "done", "read")
    } else if progress.is_begun() {
        (BEGUN, "begun", "begun")
    } else {
        (OPEN, "open", "not begun")
    };
    let own = step.id.clone();
    let is_now = move || now.with(|n| n.first().is_some_and(|n| n.step == own));
    let count = if progress.is_begun() && !progress.is_read() {
        format!("{} of {}", progress.read, progress.expected)
    } else {
        progress.expected.to_string()
    };
    let bar = (progress.is_begun() && !progress.is_read()).then(|| {
        view! { <progress max=progress.expected value=progress.read aria-hidden="true"></progress> }
    });
    let out = progress.again == 0 && progress.out > 0;
    view! {
        <li>
            <a class=format!("step {tone}") class:now=is_now href=href>
                <Icon path=icon/>
                <span class="step-words">
                    {step.name.to_string()}
                    <span class="hidden">", "{state}</span>
                    {(!words.is_empty()).then(|| view! { <small class:out=out>{words}</small> })}
                    {bar}
                </span>
                <span class="num">{count}</span>
            </a>
        </li>
    }
}

/// What to do now, in reach of the thumb.
#[component]
fn NowCard(all: Memo<Vec<(Step, Progress)>>, now: Memo<Vec<Now>>) -> impl IntoView {
    let desk = desk();
    let job = desk.screen.with_untracked(|s| s.job());
    let first = Memo::new(move |_| now.with(|n| n.first().cloned()));
    let step_name = move |n: &Now| {
        all.with(|all| {
            all.iter()
                .find(|(s, _)| s.id == n.step)
                .map(|(s, _)| s.name.to_string())
        })
        .unwrap_or_default()
    };
    let reason = move |n: &Now| {
        desk.look(|s| words::reason(s, &n.reason))
            .unwrap_or_default()
    };
    let act = move |n: Now| {
        match n.reason {
        Reason::BeginCure { minutes } => {
            let step = n.step;
            view! {
                <button
                    class="button main"
                    type="button"
                    on:click=move |_| desk.record(Act::WaitStarted { step: step.clone(), minutes })
                >
                    "Begin the cure"
                </button>
            }
                .into_any()
        }
        Reason::Curing { .. } => view! { <p class="quiet">"Nothing else is ready. Any step above can still be opened."</p> }.into_any(),
        reason => {
            let words = match reason {
                Reason::GoOn { .. } => "Go on",
                Reason::ReadAgain { .. } => "Read again",
                _ => "Begin",
            };
            let href = job.map(|job| Screen::Pass(job, n.step).href());
            view! { <a class="button main" href=href>{words}</a> }.into_any()
        }
    }
    };
    let others = move || {
        now.get()
            .into_iter()
            .skip(1)
            .filter(|n| !matches!(n.reason, Reason::Curing { .. }))
            .take(2)
            .map(|n| {
                let name = step_name(&n);
                let href = job.map(|job| Screen::Pass(job, n.step.clone()).href());
                view! { <a class="button" href=href>{name}</a> }
            })
            .collect_view()
    };
    view! {
        <section class="reach card" aria-label="What to do now">
            {move || match first.get() {
                Some(n) => {
                    view! {
                        <h2>{step_name(&n)}</h2>
                        <p class="quiet">{reason(&n)}</p>
                        {act(n)}
                        <div class="pair">{others}</div>
                    }
                        .into_any()
                }
                None => {
                    view! {
                        <h2>"Everything is read"</h2>
                        <p class="quiet">"Look at the summary, and hand the job to the office."</p>
                        <a class="button main" href=job.map(|id| Screen::Handover(id).href())>"Handover"</a>
                    }
                        .into_any()
                }
            }}
        </section>
    }
}
