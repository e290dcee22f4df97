//! Trials of the adjusters: what a turn does on this instrument.

use evenhand_core::analysis::learned::learned;
use evenhand_core::job::{Setup, Trial};
use evenhand_core::trade::{Adjuster, Measure};
use evenhand_core::unit::{Length, LengthUnit, Turns, Value};
use leptos::prelude::*;

use super::part::Part;
use crate::parts::fields::{FieldSpec, Fields, Validation};
use crate::parts::icons::{CLOSE, Icon};
use crate::state::{Session, use_session};
use crate::text;

/// The trials on this instrument, and the learned effect of a turn.
#[component]
pub fn TrialsPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let trials = Memo::new(move |_| session.app.setup().trials.unwrap_or_default());
    let summary = Signal::derive(move || match trials.with(Vec::len) {
        0 => "none yet".to_owned(),
        count => text::counted(count, "one trial", "trials"),
    });
    let turned = StoredValue::new(turned_measures(session));
    let rows = move || {
        trials
            .get()
            .into_iter()
            .enumerate()
            .map(|(at, trial)| trial_row(session, trials, at, &trial))
            .collect_view()
    };
    let learned = move || {
        let rows = |all: &Vec<Measure>| {
            all.iter()
                .filter_map(|m| response_row(session, m))
                .collect_view()
        };
        turned.with_value(rows)
    };
    view! {
        <Part name="trials" title="Adjuster trials" opened summary>
            <p class="quiet">
                "Measure a note, turn its adjuster by 1/4 turn, re-measure. Evenhand then starts from your figure, and learns from every turn that you enter in a pass."
            </p>
            {new_trial(session, trials, turned)}
            <ul class="rows">{rows}</ul>
            <h3>"What one turn does"</h3>
            <ul class="rows">{learned}</ul>
        </Part>
    }
}

/// Returns the measures that are moved by turning, on this kind of instrument.
fn turned_measures(session: Session) -> Vec<Measure> {
    let all = session
        .app
        .with_state_untracked(|s| s.instrument())
        .unwrap_or_default()
        .measures();
    let turned = |m: &&Measure| matches!(m.adjuster, Some(Adjuster::Turned { .. }));
    all.iter().filter(turned).cloned().collect()
}

/// Returns the part that is turned for a measure, and the ways that make the reading larger and smaller.
fn turned(measure: &Measure) -> (&'static str, [&'static str; 2]) {
    match measure.adjuster {
        Some(Adjuster::Turned {
            part, directions, ..
        }) => (part, [directions.0, directions.1]),
        _ => ("", ["", ""]),
    }
}

fn set_trials(session: Session, trials: Vec<Trial>) {
    session.record_setup(Setup {
        trials: Some(trials),
        ..Setup::default()
    });
}

fn new_trial(
    session: Session,
    trials: Memo<Vec<Trial>>,
    all: StoredValue<Vec<Measure>>,
) -> impl IntoView {
    // Two options for each measure: toward a larger reading, then toward a smaller one.
    let chosen = RwSignal::new(0usize);
    let options = all.with_value(|all| {
        let ways = all.iter().flat_map(|m| {
            let (part, directions) = turned(m);
            directions.map(|way| format!("{}: {part} turned {way}", m.name))
        });
        ways.enumerate()
            .map(|(at, words)| view! { <option value=at.to_string()>{words}</option> })
            .collect_view()
    });
    let choose = move |event| chosen.set(event_target_value(&event).parse().unwrap_or(0));
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let at = chosen.get_untracked();
        let measure = all.with_value(|all| all.get(at / 2).cloned());
        let Some(measure) = measure else {
            return Validation::Refused("Nothing of this instrument is turned.".to_owned());
        };
        let unit = session.app.length_unit_untracked();
        match read_trial(&measure, at % 2 == 1, &typed, unit) {
            Err(sentence) => Validation::Refused(sentence),
            Ok(trial) => {
                let mut trials = trials.get_untracked();
                trials.push(trial);
                set_trials(session, trials);
                Validation::Accepted
            }
        }
    });
    let unit = session.app.length_unit().symbol();
    let specs = vec![
        FieldSpec::number("Turned", "turns"),
        FieldSpec::number("Before", unit),
        FieldSpec::number("After", unit),
    ];
    view! {
        <label class="field"><span>"What was turned, and which way"</span><select on:change=choose>{options}</select></label>
        <Fields
            key="trial".to_owned()
            legend="A new trial"
            specs
            now=Signal::stored(vec![String::new(); 3])
            record
            button="Add the trial"
            note="A turn as 1/4 or 0.25."
        />
    }
}

/// Returns the trial that was typed; `smaller` says whether it was turned toward a smaller reading.
fn read_trial(
    measure: &Measure,
    smaller: bool,
    typed: &[String],
    unit: LengthUnit,
) -> Result<Trial, String> {
    let turned = Turns::read(&typed[0]).map_err(|e| e.to_string())?;
    let read = |text: &String| measure.read_typed(text, unit).map_err(|e| e.to_string());
    let length = |value: Value| value.length().unwrap_or_default();
    let (before, after) = (length(read(&typed[1])?), length(read(&typed[2])?));
    let trial = Trial {
        measure: measure.id.clone(),
        turned_64ths: if smaller { -turned } else { turned },
        before_nm: before,
        after_nm: after,
    };
    if turned.in_64ths() <= 0 || !trial.agrees() {
        return Err(
            "The reading went the other way, or nothing was turned. Choose the other direction, or re-measure. What you typed stays."
                .to_owned(),
        );
    }
    Ok(trial)
}

fn trial_row(
    session: Session,
    trials: Memo<Vec<Trial>>,
    at: usize,
    trial: &Trial,
) -> impl IntoView + use<> {
    let unit = session.app.length_unit();
    let measure = session
        .app
        .with_state_untracked(|s| s.measure(trial.measure.as_str()).cloned())
        .flatten();
    let (name, (part, ways)) = match &measure {
        Some(measure) => (measure.name.to_string(), turned(measure)),
        None => (trial.measure.to_string(), ("", ["", ""])),
    };
    let way = ways[usize::from(trial.turned_64ths < Turns::NONE)];
    let far = trial.turned_64ths.max(-trial.turned_64ths);
    let shown = |l: Length| text::length(l, unit);
    let readings = format!(
        "{} to {} {}",
        shown(trial.before_nm),
        shown(trial.after_nm),
        unit.symbol()
    );
    let remove = move |_| {
        let mut trials = trials.get_untracked();
        if at < trials.len() {
            trials.remove(at);
            set_trials(session, trials);
        }
    };
    let label = format!("Take out the trial of {name}, {part} {way} {far}");
    view! {
        <li>
            <span>{name} <small>{format!("{part} {way} {far}")}</small></span>
            <span class="num">{readings}</span>
            <button class="tool" type="button" aria-label=label on:click=remove><Icon path=CLOSE/></button>
        </li>
    }
}

/// The learned effect of a turn.
fn response_row(session: Session, measure: &Measure) -> Option<impl IntoView + use<>> {
    let unit = session.app.length_unit();
    let whole = session
        .app
        .with_state(|s| learned(s, measure.id.as_str())?.whole())??;
    let from = match whole.used {
        0 => "the starting figure and the trials".to_owned(),
        used => text::counted(used, "one turn in the passes", "turns in the passes"),
    };
    let figure = whole.figure(unit);
    Some(view! {
        <li>
            <span>{measure.name.to_string()} <small>{format!("{}, from {from}", turned(measure).0)}</small></span>
            <span class="num">{figure}</span>
        </li>
    })
}
