//! The stages and steps of a job.

use evenhand_core::analysis::notices::notices;
use evenhand_core::analysis::open_points::values_out;
use evenhand_core::analysis::suggestion::{Reason, Suggestion, suggest_next};
use evenhand_core::job::{EntryKind, Progress, State, Subject, ValueOut, out_of_step};
use evenhand_core::trade::{MeasureId, Stage, Step, StepId};
use leptos::prelude::*;

use crate::parts::header::{Header, Saved};
use crate::parts::hint::Hint;
use crate::parts::icons::{AGAIN, BEGUN, DONE, DRYING, Icon, OPEN, PAGES};
use crate::parts::require_open_job::RequireOpenJob;
use crate::parts::sheet::Sheet;
use crate::route::Route;
use crate::state::use_session;
use crate::text;
use arrange::Arrange;
use wasm_bindgen::JsCast;

mod arrange;

/// The stages and steps of one job, and what to do now.
#[component]
pub fn OrderScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <OrderOfJob/>
        </RequireOpenJob>
    }
}

/// One step's line in the list.
#[derive(Clone, PartialEq)]
struct StepRow {
    step: Step,
    progress: Progress,
    /// How many values are out of tolerance in it.
    out: usize,
    words: String,
}

impl StepRow {
    /// Returns what a line depends on; the line is made again when this changes.
    fn key(&self) -> (StepId, [usize; 4], String) {
        let p = &self.progress;
        (
            self.step.id.clone(),
            [p.expected, p.read, self.out, p.to_remeasure],
            self.words.clone(),
        )
    }
}

#[component]
fn OrderOfJob() -> impl IntoView {
    let session = use_session();
    session.app.forget_left_pass();
    let all = Memo::new(move |_| {
        let now_ms = session.app.now_ms.get();
        session
            .app
            .with_state(|s| s.progress(now_ms))
            .unwrap_or_default()
    });
    let out = Memo::new(move |_| session.app.with_state(values_out).unwrap_or_default());
    let now = Memo::new(move |_| {
        let now_ms = session.app.now_ms.get();
        all.with(|all| session.app.with_state(|s| suggest_next(s, all, now_ms)))
            .unwrap_or_default()
    });
    let title = Signal::derive(move || {
        let name = session.app.job_name();
        if name.is_empty() {
            "Job".to_owned()
        } else {
            name
        }
    });
    let line = Signal::derive(move || {
        let details = session
            .app
            .with_state(|s| s.details().clone())
            .unwrap_or_default();
        let archived = session.app.with_state(State::is_archived);
        let archived = archived.filter(|a| *a).map(|_| "archived".to_owned());
        let about = match details.invented {
            Some(true) => Some("demo job".to_owned()),
            _ => details.client.filter(|c| !c.is_empty()),
        };
        let kind = |s: &State| s.kind().map(|kind| kind.name.clone());
        let kind = session.app.with_state(kind).flatten();
        archived
            .into_iter()
            .chain(about)
            .chain(kind)
            .collect::<Vec<_>>()
            .join(", ")
    });
    let handover = session
        .app
        .job_untracked()
        .map(|id| Route::Handover(id).href());
    let arranging = RwSignal::new(false);
    view! {
        <Header back=Route::Jobs.href() back_label="Back to the jobs" title line>
            <Saved/>
            <a class="tool-word" href=handover>"Handover"</a>
        </Header>
        {move || {
            if arranging.get() {
                view! { <Arrange done=Callback::new(move |()| arranging.set(false))/> }.into_any()
            } else {
                request_animation_frame(show_now);
                view! {
                    // First for the keyboard; it stands at the bottom, under the thumb.
                    <NowCard all now arranging/>
                    <main class="page order">
                        {move || session.app.with_state(remarks_of_job).unwrap_or_default().into_iter().map(|text| view! {
                            <details class="job-remark"><summary>{text}</summary></details>
                        }).collect_view()}
                        {move || {
                            let new = all.with(|all| session.app.with_state(|s| s.new_steps(all)));
                            new.filter(|n| !n.is_empty()).map(|n| view! {
                                <p class="quiet">"New steps since this job began: "{n.join("; ")}". Do them or leave them out."</p>
                            })
                        }}
                        {Stage::ALL.map(|stage| view! { <StageLines stage all out now/> }).collect_view()}
                    </main>
                }
                .into_any()
            }
        }}
    }
}

/// Returns the remarks for the technician on the job as a whole, which a new job and the setup ask for.
fn remarks_of_job(state: &State) -> Vec<String> {
    let of_job = state
        .remarks()
        .filter(|r| r.on == Subject::Whole && r.step.is_none() && !r.fault);
    of_job.map(|r| r.text.clone()).collect()
}

/// Scrolls the list to the current step.
fn show_now() {
    let found = |selector| {
        let element = document().query_selector(selector).ok()??;
        element.dyn_into::<web_sys::HtmlElement>().ok()
    };
    if let (Some(list), Some(step)) = (found("main.order"), found(".step.now")) {
        list.set_scroll_top(step.offset_top() - list.client_height() / 2);
    }
}

/// The steps of one stage.
#[component]
fn StageLines(
    stage: Stage,
    all: Memo<Vec<(Step, Progress)>>,
    /// The values out of tolerance.
    out: Memo<Vec<ValueOut>>,
    now: Memo<Vec<Suggestion>>,
) -> impl IntoView {
    let session = use_session();
    let lines = Memo::new(move |_| {
        let of_stage = all.with(|all| {
            all.iter()
                .filter(|(s, p)| s.stage == stage && !p.is_empty())
                .cloned()
                .collect::<Vec<_>>()
        });
        let now_ms = session.app.now_ms.get();
        let lines = session.app.with_state(|state| {
            let line = |(step, progress): (Step, Progress)| {
                let out = out.with(|out| out_of_step(out, &step.id));
                StepRow {
                    words: line_words(state, &step, &progress, out, now_ms),
                    step,
                    progress,
                    out,
                }
            };
            of_stage.into_iter().map(line).collect::<Vec<_>>()
        });
        lines.unwrap_or_default()
    });
    let count = move || {
        let sum = all.with(|all| State::stage_progress(all, Some(stage)));
        let of = text::counted(sum.steps, "1 step", "steps");
        format!("{} of {of}", sum.done)
    };
    view! {
        <Show when=move || lines.with(|l| !l.is_empty())>
            <section class="stage" aria-label=stage.name()>
                <h2><span>{stage.name()}</span><span class="num">{count}</span></h2>
                <ul>
                    <For each=move || lines.get() key=StepRow::key let(line)>
                        <StepLine line now/>
                    </For>
                </ul>
            </section>
        </Show>
    }
}

/// Returns the small print below a step: its drying time, what is to re-measure, what to look at, what is out, and
/// what it waits for.
fn line_words(state: &State, step: &Step, progress: &Progress, out: usize, now_ms: i64) -> String {
    let marked = match progress.marked_out {
        0 => String::new(),
        marked => format!("{marked} to come back to"),
    };
    let out = match (out, marked.as_str()) {
        (0, "") => None,
        (0, _) => Some(marked),
        (out, "") => Some(format!("{out} out")),
        (out, _) => Some(format!("{out} out, {marked}")),
    };
    if let Some(wait) = progress.drying.as_ref().filter(|_| progress.is_read()) {
        let wait = text::wait(wait, now_ms);
        return std::iter::once(wait)
            .chain(out)
            .collect::<Vec<_>>()
            .join("; ");
    }
    if progress.to_remeasure > 0 {
        let first = state.items(step).into_iter().find_map(|item| {
            let cause = state.item_state(step, &item).cause()?;
            Some((item, cause))
        });
        let why = first.and_then(|(item, cause)| {
            let work = state.measure(cause.work.as_str())?;
            Some(if cause.work == item.measure {
                "adjusted since".to_owned()
            } else {
                format!("{} changed since", work.name.to_lowercase())
            })
        });
        let again = format!(
            "{} to re-measure, {}",
            progress.to_remeasure,
            why.unwrap_or_default()
        );
        return std::iter::once(again)
            .chain(out)
            .collect::<Vec<_>>()
            .join("; ");
    }
    let looks = state.looks_of(step).into_iter();
    let begun = progress.is_begun();
    let notices = begun
        .then(|| notices(state, step, None))
        .into_iter()
        .flatten();
    let looks = looks.map(|l| l.sentence(state)).chain(notices);
    let looks: Vec<String> = looks.chain(out).collect();
    if !looks.is_empty() {
        return looks.join(" ");
    }
    if let (true, Some(id)) = (progress.too_late, &step.only_before) {
        let done = state.step(id.as_str()).and_then(|s| s.takes.first());
        let done = done.and_then(|id| state.measure(id.as_str()));
        let done = done.map(|m| m.name.to_lowercase());
        return format!("too late: {}", done.unwrap_or_default());
    }
    let missing = progress.blocked_by.first().filter(|_| !progress.is_begun());
    match missing.and_then(|id| state.step(id.as_str())) {
        Some(needed) => format!("after {}", needed.name.to_lowercase()),
        None => String::new(),
    }
}

/// One step of the list, as a link into its pass.
#[component]
fn StepLine(line: StepRow, now: Memo<Vec<Suggestion>>) -> impl IntoView {
    let session = use_session();
    let StepRow {
        step,
        progress,
        out,
        words,
    } = line;
    let id = step.id.clone();
    let href = session
        .app
        .job_untracked()
        .map(|job| Route::Pass(job, id).href());
    let drying = progress
        .drying
        .as_ref()
        .is_some_and(|w| !w.is_over(session.app.now_ms.get_untracked()));
    let (icon, tone, state) = if progress.to_remeasure > 0 {
        (AGAIN, "again", "to re-measure")
    } else if progress.is_read() && drying {
        (DRYING, "drying", "drying")
    } else if progress.is_read() {
        (DONE, "done", "done")
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
    let out = progress.to_remeasure == 0 && out > 0;
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

/// What to do now, in reach of the thumb, and the way to the other pages of the job.
#[component]
fn NowCard(
    all: Memo<Vec<(Step, Progress)>>,
    now: Memo<Vec<Suggestion>>,
    /// Set to `true` to arrange the steps.
    arranging: RwSignal<bool>,
) -> impl IntoView {
    let session = use_session();
    let job = session.app.job_untracked();
    let first = Memo::new(move |_| now.with(|n| n.first().cloned()));
    let pages = RwSignal::new(false);
    let is_demo = Memo::new(move |_| {
        let invented = session.app.with_state(|s| s.details().invented);
        invented.flatten() == Some(true)
    });
    let words = move || {
        first.with(|first| {
            let Some(n) = first else {
                let said = "Open Handover, and export the job for the office.";
                let out = session
                    .app
                    .with_state(values_out)
                    .map_or(0, |out| out.len());
                let done = match out {
                    0 => "Everything is done".to_owned(),
                    out => format!("All steps done, {out} still out"),
                };
                return (done, said.to_owned());
            };
            let name = all.with(|all| {
                let step = all.iter().find(|(s, _)| s.id == n.step);
                step.map(|(s, _)| s.name.to_string())
            });
            let reason = session.app.with_state(|s| text::reason(s, &n.reason));
            (name.unwrap_or_default(), reason.unwrap_or_default())
        })
    };
    // Other steps that can be done now, for a technician who waits or lacks the tool.
    let other = Memo::new(move |_| {
        let waits = |n: &&Suggestion| matches!(n.reason, Reason::Drying { .. });
        let step = now.with(|n| n.get(1).filter(|n| !waits(n)).map(|n| n.step.clone()))?;
        let name = |all: &Vec<(Step, Progress)>| {
            let step = all.iter().find(|(s, _)| s.id == step);
            step.map(|(s, _)| s.name.to_string())
        };
        Some((job?, all.with(name)?, step))
    });
    let other = move || {
        other.get().map(|(job, name, step)| {
            view! { <a class="or" href=Route::Pass(job, step).href()>"Or: "{name}</a> }
        })
    };
    let act = move || {
        let link = |screen: fn(evenhand_core::job::JobId, StepId) -> Route, step, words| {
            let href = job.map(|job| screen(job, step).href());
            view! { <a class="button main" href=href>{words}</a> }.into_any()
        };
        let Some(Suggestion { step, reason }) = first.get() else {
            return link(|job, _| Route::Handover(job), StepId::of(""), "Handover");
        };
        match reason {
            Reason::StartDrying { minutes } => view! {
                <button class="button main" type="button"
                    on:click=move |_| { session.record(EntryKind::DryingStarted { step: step.clone(), minutes }); }>
                    "Start drying"
                </button>
            }
            .into_any(),
            Reason::Drying { of, .. } => link(Route::Pass, of, "See the drying time"),
            Reason::GoOn { .. } => link(Route::Pass, step, "Go on"),
            Reason::Look { .. } => link(Route::Pass, step, "Check"),
            Reason::Remeasure { .. } => link(Route::Pass, step, "Re-measure"),
            _ => link(Route::Pass, step, "Begin"),
        }
    };
    view! {
        <section class="reach card" aria-label="What to do now">
            {move || if is_demo.get() {
                view! { <Hint name="demo" words="Demo: half done, all made up. Try the key below, then Pages: Profile shows how even it is."/> }.into_any()
            } else {
                view! { <Hint name="order" words="Start with the step below. Pages has Setup, Targets, Corrections and Plan."/> }.into_any()
            }}
            <h2>{move || words().0}</h2>
            <p class="quiet">{move || words().1}</p>
            {other}
            <div class="card-keys">
                <button class="button" type="button" aria-label="Pages of this job" on:click=move |_| pages.set(true)>
                    <Icon path=PAGES/>"Pages"
                </button>
                {act}
            </div>
        </section>
        <Show when=move || pages.get()>
            <Pages pages arranging/>
        </Show>
    }
}

/// The other pages of the job.
#[component]
fn Pages(pages: RwSignal<bool>, arranging: RwSignal<bool>) -> impl IntoView {
    let job = use_session().app.job_untracked();
    let links = job.map(|id| {
        let links = [
            Route::Setup(id, ""),
            Route::Targets(id, MeasureId::of("")),
            Route::Profile(id, StepId::of(""), MeasureId::of("")),
            Route::Corrections(id, StepId::of("")),
            Route::Plan(id),
            Route::Hours(id),
            Route::Handover(id),
            Route::Instrument(id),
        ];
        let link =
            |screen: Route| view! { <a class="button" href=screen.href()>{screen.title()}</a> };
        links.map(link).collect_view()
    });
    let arrange = move |_| {
        pages.set(false);
        arranging.set(true);
    };
    view! {
        <Sheet title="Pages of this job" close=Callback::new(move |()| pages.set(false))>
            <nav class="choices" aria-label="Pages of this job">{links}</nav>
            <button class="button" type="button" on:click=arrange>"Arrange the steps"</button>
        </Sheet>
    }
}
