use evenhand_core::job::{Act, Details, Setup};
use evenhand_core::trade::Instrument;
use evenhand_core::unit::LengthUnit;
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use crate::desk::desk;
use crate::parts::header::Header;
use crate::place::Screen;
use crate::words;

/// Making a job: nothing here is mandatory.
#[component]
pub fn NewJob() -> impl IntoView {
    let desk = desk();
    let name = RwSignal::new(String::new());
    let client = RwSignal::new(String::new());
    let described = RwSignal::new(String::new());
    let breaks = RwSignal::new(String::new());
    let vertical = RwSignal::new(false);
    let inches = RwSignal::new(desk.preferences.with_untracked(|p| p.inches));
    let refused = RwSignal::new(String::new());
    let make = move |event: SubmitEvent| {
        event.prevent_default();
        let sections = match words::breaks(&breaks.get_untracked()) {
            Ok(sections) => sections,
            Err(sentence) => return refused.set(sentence),
        };
        let text = |s: RwSignal<String>| {
            Some(s.get_untracked().trim().to_owned()).filter(|t| !t.is_empty())
        };
        let instrument = if vertical.get_untracked() {
            Instrument::Vertical
        } else {
            Instrument::Grand
        };
        let details = Details {
            name: text(name).or_else(|| Some(instrument.name().to_owned())),
            client: text(client),
            described: text(described),
            instrument: Some(instrument),
            ..Details::default()
        };
        let setup = Setup {
            sections: Some(sections),
            length_unit: Some(if inches.get_untracked() {
                LengthUnit::Inch
            } else {
                LengthUnit::Millimetre
            }),
            ..Setup::default()
        };
        desk.make(vec![
            Act::Details {
                set: Box::new(details),
            },
            Act::Setup {
                set: Box::new(setup),
            },
        ]);
    };
    view! {
        <Header back=Screen::Jobs.href() back_label="Back to the jobs" title=Signal::stored("New job".to_owned())/>
        <form class="form" on:submit=make>
            <main class="page">
                <label>
                    "Name of the job"
                    <input type="text" autocomplete="off" maxlength="120" placeholder="Hall, stage piano" bind:value=name/>
                </label>
                <label>
                    "Client, or the office’s reference"
                    <input type="text" autocomplete="off" maxlength="120" bind:value=client/>
                </label>
                <OneOfTwo legend="Instrument" group="kind" words=["Grand", "Vertical"] second=vertical/>
                <label>
                    "What it is, in words"
                    <input type="text" autocomplete="off" maxlength="120" placeholder="Size, age, serial number" bind:value=described/>
                </label>
                <OneOfTwo legend="Lengths in" group="unit" words=["Millimetres", "Inches"] second=inches/>
                <label>
                    "Last note below each break"
                    <input type="text" autocomplete="off" inputmode="text" placeholder="20, 52, 72" bind:value=breaks/>
                    <small>"Numbers or names, from the bass. May stay empty."</small>
                </label>
                <p class="refused" role="alert">{refused}</p>
            </main>
            <footer class="reach">
                <button class="button main" type="submit">"Make the job"</button>
            </footer>
        </form>
    }
}

/// A choice of one of two, the first chosen to begin with.
#[component]
fn OneOfTwo(
    legend: &'static str,
    group: &'static str,
    words: [&'static str; 2],
    /// Whether the second is chosen.
    second: RwSignal<bool>,
) -> impl IntoView {
    view! {
        <fieldset>
            <legend>{legend}</legend>
            <div class="choice">
                <label><input type="radio" name=group checked=!second.get_untracked() on:change=move |_| second.set(false)/>{words[0]}</label>
                <label><input type="radio" name=group checked=second.get_untracked() on:change=move |_| second.set(true)/>{words[1]}</label>
            </div>
        </fieldset>
    }
}
