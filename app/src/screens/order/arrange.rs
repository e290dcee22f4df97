//! Arranging the steps of a job: move, leave out, put back, and add steps of the user's own.

use evenhand_core::job::{EntryKind, OwnStep, State, Topic};
use evenhand_core::trade::{Per, Step, StepId};
use evenhand_core::unit::Kind;
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use crate::device;
use crate::parts::conflicts::{OpenConflicts, open_conflicts};
use crate::parts::icons::{ADD, DOWN, Icon, UP};
use crate::parts::kinds::KindOfJob;
use crate::parts::refusal::Refusal;
use crate::parts::sheet::Sheet;
use crate::parts::undo::UndoTool;
use crate::state::{Session, use_session};

/// The list while it is arranged.
#[component]
pub fn Arrange(
    /// Called when it is arranged.
    done: Callback<()>,
) -> impl IntoView {
    let session = use_session();
    let refused = RwSignal::new(String::new());
    let adding = RwSignal::new(false);
    let steps = Memo::new(move |_| {
        let steps = session.app.with_state(|s| s.order().steps().to_vec());
        steps.unwrap_or_default()
    });
    let not_done = Memo::new(move |_| {
        let steps = session.app.with_state(State::steps_not_done);
        steps.unwrap_or_default()
    });
    // The steps that were left out here, and not by another kind of job.
    let touched = RwSignal::new(Vec::<StepId>::new());
    // What is left out on this visit stays where it stood, so that nothing moves under the finger.
    let lines = Memo::new(move |before: Option<&Vec<(StepId, String)>>| {
        let now = steps.with(|steps| named(steps));
        let mut out = not_done.get();
        out.retain(|(id, _)| touched.with(|touched| touched.contains(id)));
        in_place(before.map_or(&[][..], Vec::as_slice), now, &out)
    });
    let line = move |(id, name): (StepId, String)| {
        let (up, down, out, own) = (id.clone(), id.clone(), id.clone(), id.clone());
        let is_out = Memo::new(move |_| not_done.with(|out| out.iter().any(|(id, _)| *id == own)));
        let words = move || {
            if is_out.get() {
                "Take back in"
            } else {
                "Leave out"
            }
        };
        let label = name.clone();
        let label = move || match is_out.get() {
            true => format!("{label}: take back in"),
            false => format!("{label}: leave out"),
        };
        view! {
            <li class="arranged" class:left-out=move || is_out.get() data-step=id.to_string()>
                <span>{name.clone()}</span>
                <button class="tool" type="button" aria-label=format!("{name}: up") disabled=move || is_out.get()
                    on:click=move |_| shift(session, refused, &up, -1)><Icon path=UP/></button>
                <button class="tool" type="button" aria-label=format!("{name}: down") disabled=move || is_out.get()
                    on:click=move |_| shift(session, refused, &down, 1)><Icon path=DOWN/></button>
                <button class="leave" type="button" aria-label=label
                    on:click=move |_| {
                        touched.update(|touched| touched.push(out.clone()));
                        leave_out(session, &out, !is_out.get_untracked());
                    }>{words}</button>
            </li>
        }
    };
    let left_out = Memo::new(move |_| {
        let is_shown = |id: &StepId| lines.with(|lines| lines.iter().any(|(own, _)| own == id));
        let mut steps = not_done.get();
        steps.retain(|(id, _)| !is_shown(id));
        steps
    });
    let back = move |(id, name): (StepId, String)| {
        view! {
            <li class="arranged">
                <span>{name}</span>
                <button class="button" type="button" on:click=move |_| leave_out(session, &id, false)>"Take back in"</button>
            </li>
        }
    };
    view! {
        <main class="page order">
            <p class="quiet">"Move a step, leave it out, or add one. A step cannot come before one that it needs."</p>
            <OpenConflicts open=open_conflicts(session, is_of_order)/>
            <KindOfJob/>
            <ul>
                <For each=move || lines.get() key=|s| s.0.clone() children=line/>
            </ul>
            <Show when=move || left_out.with(|l| !l.is_empty())>
                <section>
                    <h2>"Left out of this job"</h2>
                    <ul>{move || left_out.get().into_iter().map(back).collect_view()}</ul>
                </section>
            </Show>
        </main>
        <footer class="reach">
            <p class="refused" role="alert">{refused}</p>
            <div class="with-undo">
                <UndoTool/>
                <button class="button" type="button" on:click=move |_| adding.set(true)><Icon path=ADD/>"Own step"</button>
                <button class="button main" type="button" on:click=move |_| done.run(())>"Done"</button>
            </div>
        </footer>
        <Show when=move || adding.get()>
            <OwnStepSheet steps close=Callback::new(move |()| adding.set(false))/>
        </Show>
    }
}

fn named(steps: &[Step]) -> Vec<(StepId, String)> {
    let name = |s: &Step| (s.id.clone(), s.name.to_string());
    steps.iter().map(name).collect()
}

/// Returns the steps as they are now, and between them those that stood there before and are left out now.
fn in_place(
    before: &[(StepId, String)],
    mut now: Vec<(StepId, String)>,
    out: &[(StepId, String)],
) -> Vec<(StepId, String)> {
    for (at, step) in before.iter().enumerate() {
        let is_out = out.iter().any(|(id, _)| *id == step.0);
        if !is_out || now.iter().any(|(id, _)| *id == step.0) {
            continue;
        }
        // After the nearest step that stood before it and is there.
        let stood = before[..at].iter().rev();
        let place = stood.filter_map(|(id, _)| now.iter().position(|(own, _)| own == id));
        now.insert(
            place.take(1).last().map_or(0, |place| place + 1),
            step.clone(),
        );
    }
    now
}

fn is_of_order(topic: &Topic) -> bool {
    matches!(
        topic,
        Topic::Kind | Topic::LeftOut(_) | Topic::OwnStep(_) | Topic::Arranged
    )
}

/// Moves a step by one place, or notifies which prerequisite that would break.
fn shift(session: Session, refused: RwSignal<String>, id: &StepId, by: isize) {
    let arranged = session.app.with_state_untracked(|state| {
        let order = state.order();
        let mut ids: Vec<StepId> = order.steps().iter().map(|s| s.id.clone()).collect();
        let from = ids.iter().position(|i| i == id)?;
        let to = from.checked_add_signed(by).filter(|to| *to < ids.len())?;
        ids.swap(from, to);
        let said = order.arranged(&ids).map(|_| ids);
        Some(said.map_err(|error| error.to_string()))
    });
    refused.set(String::new());
    match arranged.flatten() {
        Some(Ok(steps)) => drop(session.record(EntryKind::Arranged { steps })),
        Some(Err(sentence)) => refused.set(sentence),
        None => {}
    }
}

fn leave_out(session: Session, id: &StepId, out: bool) {
    let step = id.clone();
    session.record(EntryKind::LeftOut { step, out });
}

const PER: [(Per, &str); 6] = [
    (Per::Whole, "the whole piano"),
    (Per::Section, "each section"),
    (Per::Note, "each note"),
    (Per::Natural, "each natural"),
    (Per::Sharp, "each sharp"),
    (Per::Sample, "the sample notes"),
];

const KIND: [(Kind, &str); 7] = [
    (Kind::Tick, "done"),
    (Kind::Good, "good, or needs work"),
    (Kind::Length, "a length"),
    (Kind::Force, "a weight in gf"),
    (Kind::Mass, "a mass in g"),
    (Kind::Count, "a count"),
    (Kind::Frequency, "a frequency in Hz"),
];

/// A step of the user's own.
#[component]
fn OwnStepSheet(steps: Memo<Vec<Step>>, close: Callback<()>) -> impl IntoView {
    let session = use_session();
    let (name, how) = (RwSignal::new(String::new()), RwSignal::new(String::new()));
    let minutes = RwSignal::new(String::new());
    let last = steps.with_untracked(Vec::len).saturating_sub(1);
    // The places chosen in the lists.
    let (after, per, kind) = (
        RwSignal::new(last),
        RwSignal::new(2usize),
        RwSignal::new(0usize),
    );
    let refused = RwSignal::new(String::new());
    let add = move |event: SubmitEvent| {
        event.prevent_default();
        let typed = minutes.get_untracked();
        let minutes = match typed.trim() {
            "" => 0,
            typed => match typed.parse() {
                Ok(minutes) => minutes,
                Err(_) => {
                    return refused.set(format!(
                        "“{typed}” is not a number of minutes. Type whole minutes, such as 20, or leave it empty. The step is not added yet."
                    ));
                }
            },
        };
        let name = name.get_untracked().trim().to_owned();
        let before = steps.with_untracked(|s| s.get(after.get_untracked()).cloned());
        let Some(before) = before.filter(|_| !name.is_empty()) else {
            return;
        };
        let step = OwnStep {
            id: StepId::from(format!("own_{:x}", device::random()).as_str()),
            name,
            stage: before.stage,
            after: Some(before.id),
            per: PER[per.get_untracked()].0,
            kind: KIND[kind.get_untracked()].0,
            minutes,
            how: how.get_untracked().trim().to_owned(),
        };
        session.record(EntryKind::OwnStep {
            step: Box::new(step),
        });
        close.run(());
    };
    let names = steps.with_untracked(|s| s.iter().map(|s| s.name.to_string()).collect());
    view! {
        <Sheet title="A step of your own" close>
            <form class="own" on:submit=add>
                <label>"Name"<input type="text" autocomplete="off" maxlength="80" bind:value=name/></label>
                <OneOf label="After" chosen=after words=names/>
                <OneOf label="Taken on" chosen=per words=PER.map(|p| p.1.to_owned()).to_vec()/>
                <OneOf label="Recorded as" chosen=kind words=KIND.map(|k| k.1.to_owned()).to_vec()/>
                <label>"Working minutes, about"<input type="text" inputmode="numeric" autocomplete="off" maxlength="4" bind:value=minutes/></label>
                <label>"How it is done"<input type="text" autocomplete="off" maxlength="400" bind:value=how/></label>
                <Refusal words=refused/>
                <button class="button main" type="submit" disabled=move || name.with(|n| n.trim().is_empty())>"Add the step"</button>
            </form>
        </Sheet>
    }
}

/// One of a list.
#[component]
fn OneOf(label: &'static str, chosen: RwSignal<usize>, words: Vec<String>) -> impl IntoView {
    let choose = move |event| chosen.set(event_target_value(&event).parse().unwrap_or(0));
    let option = move |(at, word): (usize, String)| {
        view! { <option value=at.to_string() selected=at == chosen.get_untracked()>{word}</option> }
    };
    view! {
        <label>{label}<select on:change=choose>{words.into_iter().enumerate().map(option).collect_view()}</select></label>
    }
}
