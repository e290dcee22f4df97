//! The target in effect, and its changes.

use evenhand_core::analysis::profile::{Profile, ProfileLine};
use evenhand_core::unit::LengthUnit;
use leptos::prelude::*;

use super::state::ProfileState;
use crate::device::local_time;
use crate::route::Route;
use crate::text;

/// The target in effect, by runs of notes if it differs, and its changes.
#[component]
pub fn TargetInForce(profile: ProfileState) -> impl IntoView {
    let lines = move || profile.with(|p| bands(p, profile.length));
    let history = move || {
        let measure = profile.chosen.get()?.1;
        profile.session.app.with_state(|state| {
            let name = measure.as_str();
            let changes = state.target_history(name).iter().filter(|c| c.is_alive());
            let said = changes.map(|c| {
                let target = text::target(state, name, c.target.as_ref(), profile.length);
                format!(
                    "{}, {}: {target}",
                    local_time::date(c.at_ms),
                    text::scope(c.scope)
                )
            });
            said.collect::<Vec<_>>()
        })
    };
    let change = move || {
        let job = profile.session.app.job_untracked()?;
        Some(Route::Targets(job, profile.chosen.get()?.1).href())
    };
    let list = |lines: Vec<String>| {
        lines
            .into_iter()
            .map(|l| view! { <li>{l}</li> })
            .collect_view()
    };
    view! {
        <section aria-label="Target">
            <h2>"Target in force"</h2>
            <ul class="points">{move || list(lines())}</ul>
            {move || {
                let history = history().filter(|h| !h.is_empty())?;
                Some(view! { <h2>"Changes of the target"</h2><ul class="points">{list(history)}</ul> })
            }}
            <a class="button" href=change>"Change the target"</a>
        </section>
    }
}

/// Returns the bands in words: each run of notes with one band, or, if there are more than eight, the ends of a taper.
fn bands(profile: &Profile, length: LengthUnit) -> Vec<String> {
    let said = |line: &ProfileLine| match &line.band {
        Some(band) => text::band(&profile.measure, band, length),
        None => "no target".to_owned(),
    };
    let mut runs: Vec<(&ProfileLine, &ProfileLine)> = Vec::new();
    for line in &profile.lines {
        match runs.last_mut() {
            Some((first, last)) if first.band == line.band => *last = line,
            _ => runs.push((line, line)),
        }
    }
    let name = |line: &ProfileLine| text::subject(line.on);
    match runs.as_slice() {
        [] => Vec::new(),
        [(only, _)] => vec![said(only)],
        [(first, _), .., (_, last)] if runs.len() > 8 => vec![format!(
            "from {} at {} to {} at {}",
            said(first),
            name(first),
            said(last),
            name(last)
        )],
        runs => runs
            .iter()
            .map(|(first, last)| match first.on == last.on {
                true => format!("{}: {}", name(first), said(first)),
                false => format!("{} to {}: {}", name(first), name(last), said(first)),
            })
            .collect(),
    }
}
