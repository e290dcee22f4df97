//! The form for a new job, or for the next job of an instrument.

use evenhand_core::analysis::drift::next_job;
use evenhand_core::job::{Details, EntryKind, Setup, Subject};
use evenhand_core::trade::Instrument;
use evenhand_core::unit::LengthUnit;
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use crate::device::local_time;
use crate::parts::header::Header;
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::use_session;
use crate::text;

/// The form for a new job; every field is optional.
#[component]
pub fn NewJobScreen() -> impl IntoView {
    view! { <NewJobForm acts=Vec::new()/> }
}

/// The form for the next job of an instrument, filled from the open job.
#[component]
pub fn NextJobScreen() -> impl IntoView {
    view! {
        <RequireOpenJob>
            <FormOfNext/>
        </RequireOpenJob>
    }
}

#[component]
fn FormOfNext() -> impl IntoView {
    let session = use_session();
    let acts = session
        .app
        .open_job
        .with_untracked(|o| o.as_ref().map(|o| next_job(&o.job)));
    view! { <NewJobForm acts=acts.unwrap_or_default()/> }
}

/// The fields of a new job.
#[component]
fn NewJobForm(
    /// The acts with which the job begins.
    acts: Vec<EntryKind>,
) -> impl IntoView {
    let session = use_session();
    let mut details = Details::default();
    let mut setup = Setup::default();
    for act in &acts {
        match act {
            EntryKind::Details { set } => details.take(set),
            EntryKind::Setup { set } => setup.take(set),
            _ => {}
        }
    }
    let before = setup.earlier.as_ref().map(|earlier| {
        format!(
            "What was left on {} comes along, to compare with what is found now: readings, targets, setup, and what a turn does.",
            local_time::long_date(earlier.left_at_ms)
        )
    });
    let first = |text: &Option<String>| RwSignal::new(text.clone().unwrap_or_default());
    let name = first(&details.name);
    let client = first(&details.client);
    let described = first(&details.described);
    let serial = first(&details.serial);
    let scope = RwSignal::new(String::new());
    let remark = RwSignal::new(String::new());
    let rate = first(
        &details
            .rate_per_hour_cents
            .map(|cents| text::cents(i64::from(cents))),
    );
    let currency = first(&details.currency);
    let breaks = first(&setup.sections.as_ref().map(|s| text::notes(s.breaks())));
    let vertical = RwSignal::new(details.instrument == Some(Instrument::Upright));
    let inches = RwSignal::new(setup.length_unit.map_or_else(
        || session.app.preferences.with_untracked(|p| p.inches),
        |unit| unit == LengthUnit::Inch,
    ));
    let refused = RwSignal::new(String::new());
    let acts = StoredValue::new(acts);
    let make = move |event: SubmitEvent| {
        event.prevent_default();
        let read = text::breaks(&breaks.get_untracked())
            .and_then(|sections| Ok((sections, read_rate(&rate.get_untracked())?)));
        let (sections, rate) = match read {
            Ok(read) => read,
            Err(sentence) => return refused.set(sentence),
        };
        let text = |s: RwSignal<String>| {
            Some(s.get_untracked().trim().to_owned()).filter(|t| !t.is_empty())
        };
        let instrument = if vertical.get_untracked() {
            Instrument::Upright
        } else {
            Instrument::Grand
        };
        let details = Details {
            name: text(name).or_else(|| Some(instrument.name().to_owned())),
            client: text(client),
            described: text(described),
            serial: text(serial),
            scope: text(scope),
            rate_per_hour_cents: rate,
            currency: text(currency),
            instrument: Some(instrument),
            ..Details::default()
        };
        let setup = Setup {
            sections: Some(sections),
            length_unit: Some(if inches.get_untracked() {
                LengthUnit::Inch
            } else {
                LengthUnit::Millimeter
            }),
            ..Setup::default()
        };
        let mut all = acts.get_value();
        all.push(EntryKind::Details {
            set: Box::new(details),
        });
        all.push(EntryKind::Setup {
            set: Box::new(setup),
        });
        all.extend(text(remark).map(|text| EntryKind::Remark {
            on: Subject::Whole,
            step: None,
            fault: false,
            text,
        }));
        session.create_job(all);
    };
    view! {
        <Header back=Route::Jobs.href() back_label="Back to the jobs" title=Signal::stored("New job".to_owned())/>
        <form class="form" on:submit=make>
            <main class="page">
                {before.map(|words| view! { <p class="quiet">{words}</p> })}
                <Field label="Name of the job" value=name example="Hall, stage piano"/>
                <Field label="Client, or the office’s reference" value=client/>
                <OneOfTwo legend="Instrument" group="kind" words=["Grand", "Vertical"] second=vertical/>
                <Field label="What it is, in words" value=described example="Size, age"/>
                <Field label="Serial number" value=serial/>
                <Field label="What is to be done" value=scope example="Full regulation; let-off and drop first"/>
                <Field label="A remark for whoever does it" value=remark/>
                <OneOfTwo legend="Lengths in" group="unit" words=["Millimetres", "Inches"] second=inches/>
                <label>
                    "Last note below each break"
                    <input class="breaks" type="text" autocomplete="off" inputmode="text" placeholder="20, 52, 72" bind:value=breaks/>
                    <small>"Numbers or names, from the bass. May stay empty."</small>
                </label>
                <div class="pair">
                    <Field label="Rate per hour" value=rate example="60.00"/>
                    <Field label="Currency" value=currency/>
                </div>
                <p class="refused" role="alert">{refused}</p>
            </main>
            <footer class="reach">
                <button class="button main" type="submit">"Make the job"</button>
            </footer>
        </form>
    }
}

/// A line of text with its label.
#[component]
pub fn Field(
    label: &'static str,
    value: RwSignal<String>,
    #[prop(optional)] example: &'static str,
) -> impl IntoView {
    view! {
        <label>
            {label}
            <input type="text" autocomplete="off" maxlength="200" placeholder=example bind:value=value/>
        </label>
    }
}

/// A switch between two choices.
#[component]
fn OneOfTwo(
    legend: &'static str,
    group: &'static str,
    words: [&'static str; 2],
    /// Whether the second is chosen.
    second: RwSignal<bool>,
) -> impl IntoView {
    let is_second = second.get_untracked();
    view! {
        <fieldset>
            <legend>{legend}</legend>
            <div class="choice">
                <label><input type="radio" name=group checked=!is_second on:change=move |_| second.set(false)/>{words[0]}</label>
                <label><input type="radio" name=group checked=is_second on:change=move |_| second.set(true)/>{words[1]}</label>
            </div>
        </fieldset>
    }
}

/// Returns a typed rate in hundredths. `None` if nothing was typed.
fn read_rate(text: &str) -> Result<Option<u32>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let hundredths = evenhand_core::unit::Exact::read(text).map_err(|e| e.to_string())?;
    let cents = hundredths.scaled(100).and_then(|c| u32::try_from(c).ok());
    cents
        .map(Some)
        .ok_or_else(|| "The rate per hour must be a sum of money such as 60 or 72.50.".to_owned())
}
