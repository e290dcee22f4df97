//! The setup of a job: its sections, units and sample notes; the other parts have their own files.

use evenhand_core::job::{Setup, State};
use evenhand_core::note::Note;
use evenhand_core::trade::MeasureId;
use evenhand_core::unit::LengthUnit;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use crate::device;
use crate::parts::conflicts::open_conflicts;
use crate::parts::fields::{FieldSpec, Fields, Validation};
use crate::parts::header::{Header, Saved};
use crate::parts::prices::{PartPrices, PriceAgreed, Prices};
use crate::parts::radio_group::RadioGroup;
use crate::parts::require_open_job::RequireOpenJob;
use crate::parts::undo::UndoTool;
use crate::state::use_session;
use crate::text;

mod heights;
mod job;
mod key_levers;
mod part;
mod punchings;
mod put_away;
mod strings;
mod trials;

use part::{Part, SetupConflicts, part_of};

/// The setup of the job and its instrument; every field is optional.
#[component]
pub fn SetupScreen(
    /// The part that is open.
    part: &'static str,
) -> impl IntoView {
    view! {
        <RequireOpenJob>
            <SetupOfJob part/>
        </RequireOpenJob>
    }
}

#[component]
fn SetupOfJob(part: &'static str) -> impl IntoView {
    let session = use_session();
    let (back, back_label) = session.app.way_back();
    let title = Signal::stored("Setup".to_owned());
    let line = Signal::derive(move || session.app.job_name());
    Effect::new(move |_| device::show_part(part));
    provide_context(SetupConflicts(open_conflicts(session, |topic| {
        part_of(topic).is_some()
    })));
    view! {
        <Header back back_label title line>
            <Saved/>
            <UndoTool/>
        </Header>
        <main class="page setup">
            <p class="quiet lead">
                "Everything here is optional. A field is saved when you leave it; Undo takes the latest change back."
            </p>
            <div class="parts">
                <job::JobPart opened=part/>
                <PricesPart opened=part/>
                <SectionsPart opened=part/>
                <SamplesPart opened=part/>
                <strings::StringsPart opened=part/>
                <key_levers::KeyLeversPart opened=part/>
                <punchings::PunchingsPart opened=part/>
                <trials::TrialsPart opened=part/>
                <put_away::PutAwayPart opened=part/>
            </div>
        </main>
    }
}

/// Travel, tax, the price of parts, and the price agreed.
#[component]
fn PricesPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let summary = Signal::derive(move || {
        let known = session.app.setup().part_prices_cents.unwrap_or_default();
        match known.len() {
            0 => "travel, tax, parts".to_owned(),
            count => text::counted(count, "one part priced", "parts priced"),
        }
    });
    view! {
        <Part name="prices" title="Prices" opened summary>
            <Prices/>
            <PartPrices/>
            <PriceAgreed note="For the whole job, in the letter. Empty: the hours at your rate."/>
        </Part>
    }
}

/// The sections and the unit of lengths.
#[component]
fn SectionsPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let sections = Memo::new(move |_| session.app.sections());
    let summary = Signal::derive(move || {
        let lengths = match session.app.length_unit() {
            LengthUnit::Millimeter => "lengths in millimeters",
            LengthUnit::Inch => "lengths in inches",
        };
        let count = sections.with(|s| s.count());
        let count = text::counted(count, "one section", "sections");
        format!("{count}, {lengths}")
    });
    let now = Signal::derive(move || vec![sections.with(|s| text::notes(s.breaks()))]);
    let record =
        Callback::new(
            move |(typed, _): (Vec<String>, bool)| match text::breaks(&typed[0]) {
                Err(sentence) => Validation::Refused(sentence),
                Ok(read) => {
                    if sections.with_untracked(|s| *s != read) {
                        session.record_setup(Setup {
                            sections: Some(read),
                            ..Setup::default()
                        });
                    }
                    Validation::Accepted
                }
            },
        );
    let list = move || {
        let sections = sections.get();
        (0..sections.count())
            .filter_map(|at| sections.ends(at))
            .enumerate()
            .map(|(at, (low, high))| {
                let notes = high.number() - low.number() + 1;
                view! { <li><span>{format!("Section {}", at + 1)}</span><span class="num">{format!("{low} to {high}, {notes} notes")}</span></li> }
            })
            .collect_view()
    };
    let chosen = Signal::derive(move || usize::from(session.app.length_unit() == LengthUnit::Inch));
    let choose = Callback::new(move |at: usize| {
        let unit = [LengthUnit::Millimeter, LengthUnit::Inch][at.min(1)];
        session.record_setup(Setup {
            length_unit: Some(unit),
            ..Setup::default()
        });
    });
    view! {
        <Part name="sections" title="Sections and units" opened summary>
            <Fields
                key="breaks".to_owned()
                specs=vec![FieldSpec::text("Last note below each break")]
                now
                record
                note="Numbers or names, from the bass: 20, 52, 72. Empty for one section."
            />
            <ul class="rows">{list}</ul>
            <RadioGroup
                legend="Lengths in"
                group="unit"
                words=&["Millimeters", "Inches"]
                chosen
                choose
                note="A unit that is typed, as in 1/16in or 45mm, wins everywhere."
            />
        </Part>
    }
}

/// The sample notes.
#[component]
fn SamplesPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let chosen = Memo::new(move |_| session.app.setup().samples.unwrap_or_default());
    let in_effect = Memo::new(move |_| {
        session
            .app
            .with_state(|s| s.samples().to_vec())
            .unwrap_or_default()
    });
    let summary = Signal::derive(move || {
        let count = in_effect.with(Vec::len);
        match chosen.with(Vec::is_empty) {
            true => format!("the usual {count}"),
            false => format!("{count} chosen"),
        }
    });
    let now = Signal::derive(move || vec![chosen.with(|c| text::notes(c))]);
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let read = match Note::read_list(&typed[0]) {
            Ok(read) => read,
            Err(error) => return Validation::Refused(error.to_string()),
        };
        if chosen.with_untracked(|c| *c != read) {
            session.record_setup(Setup {
                samples: Some(read),
                ..Setup::default()
            });
        }
        Validation::Accepted
    });
    let note =
        Signal::derive(move || format!("In effect: {}.", in_effect.with(|n| text::notes(n))));
    let refused = RwSignal::new("");
    let choices = move || {
        let choices = session.app.with_state(sample_choices);
        choices.unwrap_or_default()
    };
    let measure = move |(id, name, _): (MeasureId, String, bool)| {
        let own = id.clone();
        let is_taken = move || choices().iter().any(|(id, _, taken)| *taken && *id == own);
        let take = move |event: web_sys::Event| {
            let mut all = untrack(choices);
            all.retain(|(own, _, taken)| *taken != (*own == id));
            let is_none = all.is_empty();
            refused.set(match is_none {
                true => "One measure at least makes a sample. It was left as it was.",
                false => "",
            });
            if is_none {
                let input = event.target();
                let input = input.and_then(|t| t.dyn_into::<web_sys::HtmlInputElement>().ok());
                return input.into_iter().for_each(|input| input.set_checked(true));
            }
            session.record_setup(Setup {
                sample_measures: Some(all.into_iter().map(|(id, ..)| id).collect()),
                ..Setup::default()
            });
        };
        view! {
            <label>
                <input type="checkbox" prop:checked=is_taken on:change=take/>
                {name}
            </label>
        }
        .into_any()
    };
    let measures = move || untrack(choices).into_iter().map(measure).collect_view();
    let by_note =
        Signal::derive(move || usize::from(session.app.setup().sample_by_note == Some(true)));
    let choose = Callback::new(move |at| {
        session.record_setup(Setup {
            sample_by_note: Some(at == 1),
            ..Setup::default()
        });
    });
    let all_again =
        Signal::derive(move || usize::from(session.app.setup().measure_all == Some(true)));
    let choose_again = Callback::new(move |at| {
        session.record_setup(Setup {
            measure_all: Some(at == 1),
            ..Setup::default()
        });
    });
    view! {
        <Part name="samples" title="Sample notes" opened summary>
            <p class="quiet">
                "They stand for all 88 notes in the survey and the final check. Leave empty, and they are drawn at random from each section, naturals and sharps apart. To add notes, list all of them."
            </p>
            <Fields
                key="samples".to_owned()
                specs=vec![FieldSpec::text("Sample notes, numbers or names")]
                now
                record
                note
            />
            <fieldset class="measured">
                <legend>"What the as-found and as-left samples measure"</legend>
                <div class="choice">{measures}</div>
                <p class="refused" role="alert">{refused}</p>
            </fieldset>
            <RadioGroup
                legend="Go through the samples"
                group="by-note"
                words=&["Measure by measure", "Note by note"]
                chosen=by_note
                choose
            />
            <RadioGroup
                legend="After a turn, measure again"
                group="measure-all"
                words=&["Only what is not known well", "Every note"]
                chosen=all_again
                choose=choose_again
            />
        </Part>
    }
}

/// Returns each measure that the samples can take, with its name and whether they do.
fn sample_choices(state: &State) -> Vec<(MeasureId, String, bool)> {
    let taken = state.sample_measures();
    let steps = state.instrument().steps().iter();
    let found = steps.filter(|s| s.id.as_str() == "found_sample");
    let choice = |id: &MeasureId| {
        let name = state.measure(id.as_str())?.name.to_string();
        Some((id.clone(), name, taken.is_empty() || taken.contains(id)))
    };
    found.flat_map(|s| &s.takes).filter_map(choice).collect()
}
