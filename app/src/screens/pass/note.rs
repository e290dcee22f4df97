//! The sheet of the current note: go to another, record an adjustment, add a remark or a fault.

use evenhand_core::analysis::punchings::COMMON;
use evenhand_core::job::{Correction, EntryKind, Item, Remark, State, Subject};
use evenhand_core::note::Note;
use evenhand_core::trade::{Adjuster, Measure};
use evenhand_core::unit::{Length, Turns};
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use super::correction;
use super::reading::length;
use super::state::{OpenSheet, PassState};
use crate::parts;
use crate::parts::photos::{PhotosOf, TakePhoto, Thumbnails, photos_where};
use crate::parts::refusal::Refusal;
use crate::state::PhotoOf;
use crate::text;

/// What can be done with the current note other than reading it.
#[component]
pub fn NoteSheet(pass: PassState) -> impl IntoView {
    let close = Callback::new(move |()| pass.sheet.set(OpenSheet::None));
    let Some((item, measure)) = pass.item_untracked().zip(pass.measure()) else {
        close.run(());
        return ().into_any();
    };
    let title = text::subject(item.on);
    let on = item.on;
    let goes = on.note().is_some();
    view! {
        <parts::sheet::Sheet title close=close>
            {goes.then(|| view! { <GoTo pass/> })}
            <Adjusted pass item measure/>
            <Remarks pass on/>
            <PhotosOf of=pass.photo_of(on)/>
        </parts::sheet::Sheet>
    }
    .into_any()
}

/// Goes to a note by its number or name.
#[component]
fn GoTo(pass: PassState) -> impl IntoView {
    let typed = RwSignal::new(String::new());
    let refused = RwSignal::new(String::new());
    let go = move |event: SubmitEvent| {
        event.prevent_default();
        match typed.get_untracked().parse::<Note>() {
            Ok(note) => {
                pass.sheet.set(OpenSheet::None);
                pass.go_to_any(note);
            }
            Err(error) => refused.set(error.to_string()),
        }
    };
    view! {
        <form class="line" on:submit=go>
            <label>
                "Go to note"
                <input type="text" autocomplete="off" autocapitalize="characters" maxlength="6" placeholder="49 or A4" bind:value=typed/>
            </label>
            <button class="button" type="submit">"Go"</button>
        </form>
        <Refusal words=refused/>
    }
}

/// Records what was turned, put in or set, if it is not what was advised.
#[component]
fn Adjusted(pass: PassState, item: Item, measure: Measure) -> impl IntoView {
    let hint = pass
        .session
        .app
        .with_state_untracked(|s| correction::hint(pass, s, &item))
        .flatten();
    // If another length is left to follow, that one may be moved in place of this one.
    let moved = hint.as_ref().filter(|a| a.moves != measure.id);
    let moved = moved.and_then(|a| {
        pass.session
            .app
            .with_state_untracked(|s| s.measure(a.moves.as_str()).cloned())?
    });
    let measure = moved.unwrap_or(measure);
    let kept = StoredValue::new((item, measure.id.clone()));
    let made = Callback::new(move |made: Correction| {
        pass.sheet.set(OpenSheet::None);
        kept.with_value(|(item, moves)| pass.adjust(item, moves.clone(), made));
    });
    let means = match measure.adjuster {
        None => return ().into_any(),
        Some(Adjuster::Turned { resolution, .. }) => {
            let begin = match hint.and_then(|a| a.done) {
                Some((_, Correction::Turned(turns))) => turns,
                _ => resolution,
            };
            view! { <Turn measure begin resolution made/> }.into_any()
        }
        Some(Adjuster::BalancePunchings | Adjuster::FrontPunchings) => {
            let own = pass
                .session
                .app
                .with_state_untracked(|s| s.setup().punchings_nm.clone());
            let stock = own.flatten().unwrap_or_else(|| COMMON.to_vec());
            view! { <Punchings stock made/> }.into_any()
        }
        Some(Adjuster::ByEye { .. }) => ().into_any(),
    };
    view! {
        <section>
            <h3>"Adjusted"</h3>
            {means}
            <button class="button" type="button" on:click=move |_| made.run(Correction::ByEye)>"Set by eye"</button>
        </section>
    }
    .into_any()
}

/// Records a turn of another amount, in steps of the adjuster's resolution.
#[component]
fn Turn(
    measure: Measure,
    begin: Turns,
    resolution: Turns,
    made: Callback<Correction>,
) -> impl IntoView {
    let turn = RwSignal::new(begin.in_64ths());
    let by = resolution.in_64ths().max(1);
    // Two turns are more than any adjuster takes at once.
    let most = 128;
    let change = move |by: i64| turn.update(|t| *t = (*t + by).clamp(-most, most));
    let words = move || text::turn(&measure, Turns::from_64ths(turn.get()));
    view! {
        <div class="stepper">
            <button class="button" type="button" aria-label="Less, or the other way" on:click=move |_| change(-by)>"−"</button>
            <output aria-live="polite">{words}</output>
            <button class="button" type="button" aria-label="More" on:click=move |_| change(by)>"+"</button>
        </div>
        <button class="button main" type="button" disabled=move || turn.get() == 0
            on:click=move |_| made.run(Correction::Turned(Turns::from_64ths(turn.get_untracked())))>
            "Turned"
        </button>
    }
}

/// Punchings put in or taken out, by their thickness.
#[component]
fn Punchings(stock: Vec<Length>, made: Callback<Correction>) -> impl IntoView {
    let length = length();
    // Each thickness with how many were put in, or, below zero, taken out.
    let counts = RwSignal::new(vec![0i32; stock.len()]);
    let kept = StoredValue::new(stock.clone());
    let line = move |(at, thickness): (usize, Length)| {
        let change = move |by: i32| counts.update(|c| c[at] = (c[at] + by).clamp(-6, 6));
        let words = move || {
            let thick = text::thickness(thickness, length.get());
            match counts.with(|c| c[at]) {
                0 => thick,
                n if n > 0 => format!("{thick}: {n} in"),
                n => format!("{thick}: {} out", -n),
            }
        };
        view! {
            <div class="stepper">
                <button class="button" type="button" aria-label="One out" on:click=move |_| change(-1)>"−"</button>
                <output aria-live="polite">{words}</output>
                <button class="button" type="button" aria-label="One in" on:click=move |_| change(1)>"+"</button>
            </div>
        }
    };
    let punchings = move || {
        let mut punchings = Vec::new();
        kept.with_value(|stock| {
            counts.with_untracked(|counts| {
                for (thickness, count) in stock.iter().zip(counts) {
                    let one = if *count < 0 { -*thickness } else { *thickness };
                    punchings.extend(std::iter::repeat_n(one, count.unsigned_abs() as usize));
                }
            });
        });
        punchings
    };
    view! {
        <p class="quiet">"Punchings put in, or taken out"</p>
        {stock.into_iter().enumerate().map(line).collect_view()}
        <button class="button main" type="button" disabled=move || counts.with(|c| c.iter().all(|n| *n == 0))
            on:click=move |_| made.run(Correction::Punchings(punchings()))>
            "Punchings changed"
        </button>
    }
}

/// Frequent remarks.
const QUICK: [&str; 6] = [
    "sluggish",
    "clicks",
    "double strikes",
    "loose",
    "worn",
    "broken",
];

/// The remarks and faults of the note, and a field for a new one.
#[component]
fn Remarks(pass: PassState, on: Subject) -> impl IntoView {
    let session = pass.session;
    let text = RwSignal::new(String::new());
    let noted = move || {
        let of = |s: &State| {
            let of_note = s.remarks().filter(|r| r.on == on);
            of_note
                .map(|r| (r.clone(), s.fixed(r).is_some()))
                .collect::<Vec<(Remark, bool)>>()
        };
        session.app.with_state(of).unwrap_or_default()
    };
    let line = move |(remark, fixed): (Remark, bool)| {
        let entry = remark.position.id;
        let mend = (remark.fault && !fixed).then(|| {
            let mend = move |_| {
                let how = text.get_untracked().trim().to_owned();
                text.set(String::new());
                session.record(EntryKind::FaultFixed { fault: entry, how });
            };
            view! { <button class="button" type="button" on:click=mend>"Fixed"</button> }
        });
        let photos = remark.fault.then(|| {
            let of = PhotoOf {
                fault: Some(entry),
                ..pass.photo_of(on)
            };
            let photos = photos_where(move |photo| photo.fault == Some(entry));
            view! {
                <TakePhoto of=Signal::stored(Some(of)) camera=true label="Photo"/>
                <Thumbnails photos/>
            }
        });
        view! {
            <li>
                <span>{text::remark(&remark)}{fixed.then_some(", fixed")}</span>
                {photos}
                {mend}
                <button class="button" type="button" on:click=move |_| { session.record(EntryKind::Undo { entry }); }>"Take back"</button>
            </li>
        }
    };
    let record = move |words: String, fault: bool| {
        session.record(EntryKind::Remark {
            on,
            step: Some(pass.step.with_value(|s| s.id.clone())),
            fault,
            text: words,
        });
    };
    let keep = move |fault: bool| {
        let words = text.get_untracked().trim().to_owned();
        text.set(String::new());
        record(words, fault);
        pass.sheet.set(OpenSheet::None);
    };
    // What was typed and not kept is a remark when the sheet is closed: it can be taken back there.
    on_cleanup(move || {
        let words = text.try_get_untracked().unwrap_or_default();
        if !words.trim().is_empty() {
            record(words.trim().to_owned(), false);
        }
    });
    let add = move |word: &str| {
        // As long as it can be typed; a longer remark would not be shown.
        if text.with_untracked(|t| t.len() + word.len() > 1_990) {
            return;
        }
        text.update(|t| {
            if !t.trim().is_empty() {
                t.push_str(", ");
            }
            t.push_str(word);
        });
    };
    let empty = move || text.with(|t| t.trim().is_empty());
    view! {
        <section>
            <h3>"Remark or fault"</h3>
            <ul class="noted">{move || noted().into_iter().map(line).collect_view()}</ul>
            <label class="hidden" for="remark">"In words"</label>
            <input id="remark" type="text" autocomplete="off" maxlength="2000" placeholder="In words" bind:value=text/>
            <div class="quick">
                {QUICK.map(|word| view! { <button class="button" type="button" on:click=move |_| add(word)>{word}</button> })}
            </div>
            <p class="quiet">"Faults are printed for the client; remarks are not."</p>
            <div class="pair">
                <button class="button" type="button" disabled=empty on:click=move |_| keep(false)>"Keep as a remark"</button>
                <button class="button" type="button" disabled=empty on:click=move |_| keep(true)>"Keep as a fault"</button>
            </div>
        </section>
    }
}
