//! The end of a pass: what is out, what was disturbed, and what is next.

use evenhand_core::analysis::belief::{doubtful, final_look, twice};
use evenhand_core::analysis::corrections::corrected;
use evenhand_core::analysis::notices::notices;
use evenhand_core::analysis::open_points::{measures_out, values_out};
use evenhand_core::analysis::suggestion::{Suggestion, suggest_next};
use evenhand_core::analysis::sweep::{BeyondSamples, beyond_samples};
use evenhand_core::job::{EntryKind, Item, Progress, State, Subject, out_of_step};
use evenhand_core::trade::{Part, Step, StepId};
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use super::correction::OfferedCorrection;
use super::minutes::Minutes;
use super::reading::Correct;
use super::state::{PassState, usual_order};
use super::undo::OfUndo;
use crate::route::Route;
use crate::state::use_session;
use crate::storage::preferences::NoteOrder;
use crate::text;

/// What is out of tolerance in the step of a pass.
#[derive(Clone, PartialEq)]
struct PassOut {
    count: usize,
    /// The measures that are out, with their counts; empty if the step has one measure.
    measures: Vec<(String, usize)>,
}

impl PassOut {
    fn of(state: &State, step: &Step) -> PassOut {
        let out = values_out(state);
        let measures = if step.yields().count() == 1 {
            Vec::new()
        } else {
            measures_out(state, &out, Some(&step.id))
        };
        PassOut {
            count: out_of_step(&out, &step.id),
            measures,
        }
    }

    /// Returns it in words: `2 out (blow 1, friction 1)`.
    fn words(&self) -> String {
        let each = self.measures.iter();
        let each = each.map(|(name, count)| format!("{} {count}", name.to_lowercase()));
        let each: Vec<String> = each.collect();
        match (self.count, each.is_empty()) {
            (0, _) => "none out".to_owned(),
            (count, true) => format!("{count} out"),
            (count, false) => format!("{count} out ({})", each.join(", ")),
        }
    }
}

/// The summary at the end of a pass: what is out, what was disturbed, and what is next.
#[component]
pub fn PassSummary(
    pass: PassState,
    /// The correction of the item that was just read.
    offer: Memo<Option<OfferedCorrection>>,
) -> impl IntoView {
    let session = use_session();
    let job = session.app.job_untracked();
    let item_state = Memo::new(move |_| {
        let now_ms = session.app.now_ms.get();
        session.app.open_job.with(|o| {
            let state = o.as_ref()?.job.state();
            let all = state.progress(now_ms);
            let own = pass.step.with_value(|s| s.id.clone());
            let progress = all
                .iter()
                .find(|(s, _)| s.id == own)
                .map(|(_, p)| p.clone())?;
            let next = next_of(state, &all, now_ms, &own);
            let (out, taken, notices) = pass.step.with_value(|step| {
                let said = notices(state, step, None).join(" ");
                (PassOut::of(state, step), text::taken(state, step), said)
            });
            Some((progress, next, out, taken, notices))
        })
    });
    let words = move || {
        item_state.with(|s| {
            let Some((p, _, out, taken, _)) = s else {
                return String::new();
            };
            let left = not_begun(p);
            let measured = p.read - p.swept;
            let mut words = match p.swept - p.turned {
                n if n > 0 && n == p.read => vec![format!("{n} of {} swept", p.expected)],
                0 => vec![format!("{measured} of {} {taken}", p.expected)],
                n => vec![format!("{n} swept, {measured} of {} {taken}", p.expected)],
            };
            if p.turned > 0 {
                words.push(format!("{} not measured again", p.turned));
            }
            if left > 0 {
                words.push(format!("{left} not {taken}"));
            }
            if out.count > 0 || p.marked_out == 0 {
                words.push(out.words());
            }
            if p.marked_out > 0 {
                words.push(format!("{} to come back to", p.marked_out));
            }
            if p.to_remeasure > 0 {
                words.push(format!("{} to re-measure", p.to_remeasure));
            }
            words.join(", ") + "."
        })
    };
    let minutes = pass.step.with_value(|s| s.drying_minutes);
    let may_dry = move || {
        let may = |p: &Progress| minutes > 0 && p.drying.is_none() && p.is_read();
        item_state.with(|s| s.as_ref().is_some_and(|(p, ..)| may(p)))
    };
    let drying = move || {
        may_dry().then(|| {
            let step = pass.step.with_value(|s| s.id.clone());
            view! {
                <button class="button main" type="button"
                    on:click=move |_| { session.record(EntryKind::DryingStarted { step: step.clone(), minutes }); }>
                    {format!("Start the {} drying time", text::minutes(i64::from(minutes)))}
                </button>
            }
        })
    };
    // A memo of its own, so that a reason being typed is not lost at a tick of the clock.
    let runs = Memo::new(move |_| {
        let now_ms = session.app.now_ms.get();
        item_state.with(|s| {
            let wait = s.as_ref().and_then(|(p, ..)| p.drying.as_ref());
            wait.is_some_and(|w| !w.is_over(now_ms))
        })
    });
    let dries = move || {
        item_state
            .with(|s| s.as_ref().and_then(|(p, ..)| p.drying.clone()))
            .map(|w| {
                let words = text::wait(&w, session.app.now_ms.get());
                view! { <p>"This step: "{words}"."</p> }
            })
    };
    let notices = move || {
        let said = item_state.with(|s| s.as_ref().map(|(.., said)| said.clone()));
        said.filter(|s| !s.is_empty())
            .map(|said| view! { <p>{said}</p> })
    };
    let some = move |count: fn(&Progress) -> usize| {
        item_state.with(|s| s.as_ref().is_some_and(|(p, ..)| count(p) > 0))
    };
    // What was gone through is not offered as the first thing again.
    let went_through = move || pass.order.get() == NoteOrder::OnlyOut;
    let out = Memo::new(move |_| {
        let count = |s: &Option<(Progress, _, PassOut, _, _)>| {
            s.as_ref()
                .map_or(0, |(p, _, out, ..)| out.count + p.marked_out)
        };
        item_state.with(|s| count(s))
    });
    // What is left of the pass comes first; a pass through samples leaves the rest on purpose.
    let asks = move || {
        let left = |p: &Progress| match pass.order.get() {
            NoteOrder::Samples => p.to_remeasure > 0,
            _ => p.left() > p.marked_out || p.turned > 0,
        };
        item_state.with(|s| s.as_ref().is_some_and(|(p, ..)| left(p)))
    };
    // Worn parts are not set right in the survey: what is decided on them comes next.
    let grades_wear = pass.step.with_value(|s| {
        let mut takes = s.takes.iter();
        takes.any(|m| Part::of_wear(m.as_str()).is_some())
    });
    let leads_out =
        move || out.get() > 0 && !asks() && !may_dry() && !went_through() && !grades_wear;
    let can_go_on =
        move || item_state.with(|s| s.as_ref().is_some_and(|(_, next, ..)| next.is_some()));
    let unmeasured = Memo::new(move |_| pass.out_unmeasured());
    // What was set by hand needs no touch of each.
    let settle = move || {
        let items = unmeasured.get();
        let words = match (items.len(), out.get()) {
            (0, _) => return None,
            (1, 1) => "It is right now".to_owned(),
            (count, all) if count == all => format!("All {count} now right"),
            (count, _) => format!("The {count} not measured: now right"),
        };
        // Where nothing else is left, one touch says so and leads on.
        let leads = items.len() == out.get() && !asks() && !may_dry();
        let all = items.clone();
        let lead_on = (leads && can_go_on()).then(|| {
            let go_on = move |_| {
                pass.all_now_right(&all);
                pass.next_if_done();
            };
            view! { <button class="button" type="button" on:click=go_on>"Now right, next step"</button> }
        });
        Some(view! {
            <div class="pair">
                <button class="button settle" type="button" on:click=move |_| pass.all_now_right(&items)>{words}</button>
                {lead_on}
            </div>
        })
    };
    let list = job.filter(|_| {
        let is = |s: &State| {
            pass.step
                .with_value(|step| corrected(s).iter().any(|c| c.id == step.id))
        };
        session.app.with_state_untracked(is) == Some(true)
    });
    let corrections = move || {
        let step = pass.step.with_value(|s| s.id.clone());
        let href = list.map(|job| Route::Corrections(job, step).href())?;
        Some(view! { <a class="button" href=href>"Corrections as a list"</a> })
    };
    let beyond = move || {
        let beyond = |s: &State| pass.step.with_value(|step| beyond_samples(s, step));
        let beyond = session.app.with_state(beyond).flatten()?;
        Some(view! { <Beyond pass beyond/> })
    };
    let next = move || {
        item_state
            .with(|s| s.as_ref().and_then(|(_, next, ..)| next.clone()))
            .zip(job)
            .map(|((id, name), job)| {
                let main = !may_dry() && !asks() && !leads_out();
                view! { <a class="button" class:main=main href=Route::Pass(job, id).href()>"Next: "{name}</a> }
            })
    };
    let handover = move || {
        let is_last = item_state.with(|s| s.as_ref().is_some_and(|(_, next, ..)| next.is_none()));
        job.filter(|_| is_last && !asks() && !may_dry()).map(
            |job| view! { <a class="button" href=Route::Handover(job).href()>"Next: Handover"</a> },
        )
    };
    // The last item’s correction, or what was undone.
    let said = move || {
        let refused = pass.refused.get();
        match offer.get() {
            _ if !refused.is_empty() => {
                view! { <p class="message refused" role="alert">{refused}</p> }.into_any()
            }
            _ if pass.says_of_undo() => view! { <OfUndo pass/> }.into_any(),
            Some(offer) => view! { <Correct pass offer right=true/> }.into_any(),
            None => ().into_any(),
        }
    };
    let leads = move || asks() && !some(|p| p.to_remeasure);
    let is_last = Signal::derive(move || !some(not_begun) && !some(|p| p.to_remeasure));
    view! {
        <div class="through">
            <div class="how-it-stands">
                <h2>"End of the pass"</h2>
                <p>{words}</p>
                {notices}
                {dries}
            </div>
            <div aria-live="polite">{said}</div>
            {drying}
            <Show when=move || runs.get()>
                <EndEarly pass/>
            </Show>
            <Show when=move || some(|p| p.to_remeasure)>
                <button class="button main" type="button" on:click=move |_| pass.arrange(NoteOrder::OnlyAgain)>"Re-measure these"</button>
            </Show>
            <Show when=move || { out.get() > 0 && !grades_wear }>
                <button class="button" class:main=leads_out type="button" on:click=move |_| pass.arrange(NoteOrder::OnlyOut)>
                    {move || match out.get() {
                        1 => "1 out: go through it".to_owned(),
                        out => format!("{out} out: go through them"),
                    }}
                </button>
                {settle}
                {corrections}
            </Show>
            {beyond}
            <Known pass is_last/>
            <Show when=move || some(not_begun)>
                <button class="button" class:main=leads type="button" on:click=move |_| pass.arrange(usual_order(session))>"Go to the first to do"</button>
            </Show>
            <Minutes pass/>
            {next}
            {handover}
            <button class="button" type="button" on:click=move |_| pass.undo()>"Undo the last"</button>
            <a class="button" href=session.app.route.with_untracked(Route::order_href)>"Back to the order"</a>
        </div>
    }
}

/// Returns the step to do after a step, and its name. `None` if nothing can be done.
fn next_of(
    state: &State,
    all: &[(Step, Progress)],
    now_ms: i64,
    own: &StepId,
) -> Option<(StepId, String)> {
    let all = suggest_next(state, all, now_ms);
    let mut next = all.iter().filter(|n| n.step != *own);
    let decisions = |n: &&Suggestion| own.as_str() == "wear" && n.step.as_str() == "decisions";
    let next = next.clone().find(decisions).or_else(|| next.next())?;
    let next = next.step.clone();
    let name = state.step(next.as_str())?.name.to_string();
    Some((next, name))
}

/// Returns the step to do after that of a pass, and its name. `None` if nothing can be done.
pub fn next_step(pass: PassState) -> Option<(StepId, String)> {
    let now_ms = pass.session.app.now_ms.get();
    let own = pass.step.with_value(|s| s.id.clone());
    let next = |s: &State| next_of(s, &s.progress(now_ms), now_ms, &own);
    pass.session.app.with_state(next)?
}

/// What the samples propose for the notes between them: to measure those that they point to, and to say of the rest that
/// it was tried by hand.
#[component]
fn Beyond(pass: PassState, beyond: BeyondSamples) -> impl IntoView {
    let BeyondSamples { pointed_to, rest } = beyond;
    let counted = |count| text::counted(count, "1 note", "notes");
    let mut notes: Vec<Subject> = pointed_to.iter().map(|i| i.on).collect();
    notes.sort_unstable();
    notes.dedup();
    let measure = (!notes.is_empty()).then(|| {
        let words = format!("Measure around those out, {}", counted(notes.len()));
        view! { <button class="button" type="button" on:click=move |_| pass.join(pointed_to.clone())>{words}</button> }
    });
    let most = rest.iter().map(|(_, sweep)| sweep.count).max();
    let sweep = most.map(|most| {
        let words = format!("Rest tried by hand, in tolerance, {}", counted(most));
        view! { <button class="button" type="button" on:click=move |_| pass.sweep_all(&rest)>{words}</button> }
    });
    view! { {measure}{sweep} }
}

/// What was not measured again: the notes to measure after all, and the look along the row that ends the step. And the
/// offer to see how well readings repeat.
#[component]
fn Known(
    pass: PassState,
    /// Whether nothing else of the step is left.
    is_last: Signal<bool>,
) -> impl IntoView {
    let of = Memo::new(move |_| {
        let of = |s: &State| {
            pass.step.with_value(|step| {
                let twice = twice(s, step);
                (doubtful(s, step), final_look(s, step), twice)
            })
        };
        pass.session.app.with_state(of)
    });
    let join = move |words: String, items: Vec<Item>| {
        view! { <button class="button" type="button" on:click=move |_| pass.join(items.clone())>{words}</button> }
    };
    move || {
        let (doubtful, last, twice) = of.get()?;
        let notes = |items: &[Item]| text::counted(items.len(), "1 note", "notes");
        let once_more = (!doubtful.is_empty()).then(|| {
            join(
                format!("At the edge: measure {} once more", notes(&doubtful)),
                doubtful,
            )
        });
        let last = last.map(|last| {
            let says = last.sentence();
            let measure = join(format!("Measure {} instead", notes(&last.items)), last.items.clone());
            view! {
                <p>{says}</p>
                <button class="button" class:main=is_last type="button"
                    on:click=move |_| pass.sweep_all(&[(last.items[0].clone(), last.sweep.clone())])>
                    "None stands out"
                </button>
                {measure}
            }
        });
        let twice = twice.map(|twice| match twice {
            Ok(says) => view! { <p>{says}</p> }.into_any(),
            Err(items) => join(
                "Measure 12 again: see how well you repeat".to_owned(),
                items,
            )
            .into_any(),
        });
        Some(view! { {once_more}{last}{twice} })
    }
}

/// Returns how many items of a step were neither measured nor marked.
fn not_begun(progress: &Progress) -> usize {
    progress.left() - progress.to_remeasure - progress.marked_out
}

/// A form to end a drying early, with the reason.
#[component]
fn EndEarly(pass: PassState) -> impl IntoView {
    let asked = RwSignal::new(false);
    let reason = RwSignal::new(String::new());
    let end = move |event: SubmitEvent| {
        event.prevent_default();
        let reason = reason.get_untracked().trim().to_owned();
        if !reason.is_empty() {
            let step = pass.step.with_value(|s| s.id.clone());
            pass.session.record(EntryKind::DryingEnded { step, reason });
        }
    };
    let empty = move || reason.with(|r| r.trim().is_empty());
    view! {
        <Show
            when=move || asked.get()
            fallback=move || view! {
                <button class="button" type="button" on:click=move |_| asked.set(true)>"End drying early"</button>
            }
        >
            <form class="line" on:submit=end>
                <label>
                    "Reason to end it now"
                    <input type="text" autocomplete="off" maxlength="200" placeholder="Dry by touch" bind:value=reason/>
                </label>
                <button class="button" type="submit" disabled=empty>"End it"</button>
            </form>
        </Show>
    }
}
