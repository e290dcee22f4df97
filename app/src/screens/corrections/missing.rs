//! What has to be entered or read before the corrections hold.

use evenhand_core::analysis::advice::{Missing, Movement};
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, StepId};
use leptos::prelude::*;

use super::state::CorrectionsState;
use crate::route::Route;
use crate::text;

/// Why something is needed, the text of the link, and its address.
type Asks = (&'static str, &'static str, String);

/// The values that the corrections still need, each with a link to enter it.
#[component]
pub fn MissingData(corrections: CorrectionsState) -> impl IntoView {
    let asked = move |missing: Missing| {
        let job = corrections.job?;
        Some(match missing {
            Missing::NaturalKey | Missing::SharpKey => (
                "Punchings are worked out from them: front edge, front pin and back of one key, each from the balance pin.",
                "Enter the key levers",
                Route::Setup(job, "keys").href(),
            ),
            Missing::Punchings => (
                "Enter the thicknesses that you have, and the punchings are chosen from them.",
                "Enter the punching stock",
                Route::Setup(job, "punchings").href(),
            ),
            Missing::FollowingLength => (
                "Aftertouch has no adjuster of its own: change blow or dip, whichever is left to follow on this job.",
                "Choose what is left to follow",
                Route::Targets(job, MeasureId::of("aftertouch")).href(),
            ),
            Missing::Aftertouch => (
                "The sharp dip follows from the aftertouch, so measure that first.",
                "Measure the aftertouch",
                corrections.pass_of(&MeasureId::of("aftertouch"))?,
            ),
        })
    };
    let card = |((words, link, href), names): (Asks, Vec<&'static str>)| {
        view! {
            <section class="asked">
                <h2>"Missing: "{names.join(", ")}</h2>
                <p>{words}</p>
                <a class="button" href=href>{link}</a>
            </section>
        }
    };
    (move || {
        // Values that are entered in one place share a card.
        let mut cards: Vec<(Asks, Vec<&'static str>)> = Vec::new();
        for missing in corrections.found.with(|f| f.missing.clone()) {
            let Some(asks) = asked(missing) else { continue };
            match cards.iter_mut().find(|(known, _)| *known == asks) {
                Some((_, names)) => names.push(missing.name()),
                None => cards.push((asks, vec![missing.name()])),
            }
        }
        cards.into_iter().map(card).collect_view()
    })
    .into_any()
}

/// The notes on which the length left to follow is out of range, and what to do about it.
#[component]
pub fn StrayedLine(corrections: CorrectionsState) -> impl IntoView {
    (move || {
        let items = corrections.strayed.get();
        let first = items.first()?;
        let following = corrections
            .session
            .app
            .with_state(|s| text::following(s, first.measure.as_str()))??;
        let names: Vec<String> = items.iter().map(|i| text::subject(i.on)).collect();
        let pass = corrections.pass_of(&first.measure);
        Some(view! {
            <section class="asked">
                <h2>{corrections.name(&first.measure)}" too far off: "{names.join(", ")}</h2>
                <p>{following}" Its pass says by how much."</p>
                {pass.map(|href| view! { <a class="button" href=href>"See it in the pass"</a> })}
            </section>
        })
    })
    .into_any()
}

/// The notes that were found out and not measured: nothing can be worked out for them until they are.
#[component]
pub fn MarkedOut(corrections: CorrectionsState) -> impl IntoView {
    let group = move |(step, measure, notes): (StepId, MeasureId, Vec<Note>)| {
        let name = corrections.name(&measure);
        let names: Vec<String> = notes.iter().map(|n| n.name()).collect();
        let first = notes.first().copied();
        let href = corrections
            .job
            .zip(first)
            .map(|(job, note)| Route::PassAt(job, step, note).href());
        view! {
            <li>
                <span><b>{name.clone()}</b>": "{names.join(", ")}</span>
                {href.map(|href| view! { <a class="button" href=href>"Measure"<span class="hidden">" "{name}</span></a> })}
            </li>
        }
    };
    (move || {
        let groups = corrections.marked.get();
        (!groups.is_empty()).then(|| {
            view! {
                <section class="marked-out">
                    <h2>"Out, not measured"</h2>
                    <p class="quiet">"Measure them to see what to turn. Set by hand already? Say “Now right” in the pass."</p>
                    <ul class="points again">{groups.into_iter().map(group).collect_view()}</ul>
                </section>
            }
        })
    })
    .into_any()
}

/// The readings that later work disturbed, which must be taken again before anything is moved by them.
#[component]
pub fn ReadFirst(corrections: CorrectionsState) -> impl IntoView {
    let groups = move || {
        let mut groups: Vec<(MeasureId, Vec<String>)> = Vec::new();
        corrections.found.with(|found| {
            for advice in &found.rows {
                let Movement::Remeasure { work } = &advice.movement else {
                    continue;
                };
                // A row that was ticked is shown in the list.
                let own = *work == advice.moves
                    && corrections
                        .ticked
                        .with(|t| t.iter().any(|(r, _)| r.on == advice.on && r.moves == *work));
                if own {
                    continue;
                }
                let name = text::subject(advice.on);
                match groups.iter_mut().find(|(m, _)| *m == advice.measure) {
                    Some((_, names)) => names.push(name),
                    None => groups.push((advice.measure.clone(), vec![name])),
                }
            }
        });
        groups
    };
    let line = move |(measure, names): (MeasureId, Vec<String>)| {
        let name = corrections.name(&measure);
        let pass = corrections.pass_of(&measure);
        view! {
            <li>
                <span><b>{name.clone()}</b>": "{names.join(", ")}</span>
                {pass.map(|href| view! { <a class="button" href=href>"Measure"<span class="hidden">" "{name}</span></a> })}
            </li>
        }
    };
    (move || {
        let groups = groups();
        (!groups.is_empty()).then(|| {
            view! {
                <section>
                    <h2>"Re-measure first"</h2>
                    <p class="quiet">"Later work changed these. What to do follows from the new reading."</p>
                    <ul class="points again">{groups.into_iter().map(line).collect_view()}</ul>
                </section>
            }
        })
    })
    .into_any()
}
