//! The form for a new job, or for the next job of an instrument. What is typed is kept until the job is created.

use evenhand_core::analysis::drift::next_job;
use evenhand_core::job::{Details, EntryKind, JobId, Setup, Subject};
use evenhand_core::note::Sections;
use evenhand_core::trade::Instrument;
use evenhand_core::unit::{LengthUnit, read_cents};
use leptos::ev::SubmitEvent;
use leptos::prelude::*;

use crate::device::{self, local_time};
use crate::parts::header::Header;
use crate::parts::radio_group::RadioGroup;
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::use_session;
use crate::storage::local_storage;
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

/// What is typed into the form.
#[derive(Clone, Copy)]
struct Form {
    name: RwSignal<String>,
    client: RwSignal<String>,
    described: RwSignal<String>,
    serial: RwSignal<String>,
    scope: RwSignal<String>,
    remark: RwSignal<String>,
    breaks: RwSignal<String>,
    rate: RwSignal<String>,
    currency: RwSignal<String>,
    /// The index of the instrument: grand, upright.
    instrument: RwSignal<usize>,
    /// The index of the unit: millimeters, inches.
    unit: RwSignal<usize>,
}

const INSTRUMENTS: [Instrument; 2] = [Instrument::Grand, Instrument::Upright];
const UNITS: [LengthUnit; 2] = [LengthUnit::Millimeter, LengthUnit::Inch];

impl Form {
    /// Returns the form for a job that begins with these details and setup.
    fn of(details: &Details, setup: &Setup, inches: bool) -> Form {
        let text = |text: &Option<String>| RwSignal::new(text.clone().unwrap_or_default());
        let rate = details.rate().map(|cents| text::cents(i64::from(cents)));
        let sections = setup.sections.as_ref();
        let inches = setup
            .length_unit
            .map_or(inches, |unit| unit == LengthUnit::Inch);
        Form {
            name: text(&details.name),
            client: text(&details.client),
            described: text(&details.described),
            serial: text(&details.serial),
            scope: text(&None),
            remark: text(&None),
            breaks: text(&sections.map(|s| text::notes(s.breaks()))),
            rate: text(&rate),
            currency: text(&details.currency),
            instrument: RwSignal::new(usize::from(details.instrument == Some(Instrument::Upright))),
            unit: RwSignal::new(usize::from(inches)),
        }
    }

    fn texts(self) -> [RwSignal<String>; 9] {
        [
            self.name,
            self.client,
            self.described,
            self.serial,
            self.scope,
            self.remark,
            self.breaks,
            self.rate,
            self.currency,
        ]
    }

    fn choices(self) -> [RwSignal<usize>; 2] {
        [self.instrument, self.unit]
    }

    /// Returns all that is typed and chosen, as a draft, and tracks it.
    fn draft(self) -> Vec<String> {
        let texts = self.texts().into_iter().map(|text| text.get());
        let choices = self.choices().into_iter().map(|at| at.get().to_string());
        texts.chain(choices).collect()
    }

    /// Fills the form from a draft.
    fn fill(self, draft: &[String]) {
        let mut draft = draft.iter();
        for (signal, text) in self.texts().into_iter().zip(&mut draft) {
            signal.set(text.clone());
        }
        for (signal, at) in self.choices().into_iter().zip(&mut draft) {
            signal.set(at.parse().unwrap_or_default());
        }
    }

    /// Returns what is typed, trimmed; `None` if it is empty.
    fn typed(text: RwSignal<String>) -> Option<String> {
        Some(text.get_untracked().trim().to_owned()).filter(|t| !t.is_empty())
    }

    /// Returns what is typed; an empty text where a field is emptied that the job begins with.
    fn typed_over(text: RwSignal<String>, before: &Option<String>) -> Option<String> {
        let is_emptied = before.as_ref().is_some_and(|text| !text.is_empty());
        Form::typed(text).or_else(|| is_emptied.then(String::new))
    }

    /// Returns whether nothing says which job it is, and tracks it.
    fn is_nameless(self) -> bool {
        let is_empty = |text: RwSignal<String>| text.with(|t| t.trim().is_empty());
        is_empty(self.name) && is_empty(self.client)
    }

    /// Returns the acts that record what was typed over the details with which the job begins.
    fn acts(self, before: &Details, sections: Sections, rate: Option<u32>) -> Vec<EntryKind> {
        let at = self.instrument.get_untracked().min(1);
        let instrument = INSTRUMENTS[at];
        let client = Form::typed(self.client);
        let name = Form::typed(self.name).unwrap_or_else(|| match &client {
            Some(client) => format!("{client}, {}", instrument.name().to_lowercase()),
            None => instrument.name().to_owned(),
        });
        let details = Details {
            name: Some(name),
            client: Form::typed_over(self.client, &before.client),
            described: Form::typed_over(self.described, &before.described),
            serial: Form::typed_over(self.serial, &before.serial),
            scope: Form::typed_over(self.scope, &before.scope),
            rate_per_hour_cents: rate.or(before.rate().map(|_| 0)),
            currency: Form::typed_over(self.currency, &before.currency),
            instrument: Some(instrument),
            ..Details::default()
        };
        let setup = Setup {
            sections: Some(sections),
            length_unit: Some(UNITS[self.unit.get_untracked().min(1)]),
            ..Setup::default()
        };
        let mut acts = vec![
            EntryKind::Details {
                set: Box::new(details),
            },
            EntryKind::Setup {
                set: Box::new(setup),
            },
        ];
        acts.extend(Form::typed(self.remark).map(|text| EntryKind::Remark {
            on: Subject::Whole,
            step: None,
            fault: false,
            text,
        }));
        acts
    }
}

/// The sentences about fields that cannot be read; empty where there is none.
#[derive(Clone, Copy)]
struct Refused {
    breaks: RwSignal<String>,
    rate: RwSignal<String>,
}

impl Refused {
    /// Reads the fields that must be read. Returns `None` if one is refused, and says why.
    fn read(self, form: Form) -> Option<(Sections, Option<u32>)> {
        let sections = text::breaks(&form.breaks.get_untracked());
        let rate = read_cents(&form.rate.get_untracked()).map_err(|e| e.to_string());
        self.breaks
            .set(sections.as_ref().err().cloned().unwrap_or_default());
        self.rate
            .set(rate.as_ref().err().cloned().unwrap_or_default());
        Some((sections.ok()?, rate.ok()?))
    }

    /// Returns the first sentence with the name of its field; empty if there is none.
    fn first(self) -> String {
        let named = [
            ("Section breaks", self.breaks),
            ("Rate per hour", self.rate),
        ];
        let mut said = named.into_iter().map(|(name, said)| (name, said.get()));
        let first = said.find(|(_, said)| !said.is_empty());
        first.map_or_else(String::new, |(name, said)| format!("{name}: {said}"))
    }
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
    let inches = session.app.preferences.with_untracked(|p| p.inches);
    let form = Form::of(&details, &setup, inches);
    let draft = Draft::new(form, session.app.job_untracked());
    let refused = Refused {
        breaks: RwSignal::new(String::new()),
        rate: RwSignal::new(String::new()),
    };
    // Whether it is asked if a job without name and client is meant.
    let asks = RwSignal::new(false);
    let acts = StoredValue::new(acts);
    let details = StoredValue::new(details);
    let create = move |is_confirmed: bool| {
        let Some((sections, rate)) = refused.read(form) else {
            // The field is marked as invalid with the next paint.
            return request_animation_frame(|| device::focus_first(".form [aria-invalid='true']"));
        };
        if untrack(|| form.is_nameless()) && !is_confirmed {
            return asks.set(true);
        }
        let mut all = acts.get_value();
        all.extend(details.with_value(|details| form.acts(details, sections, rate)));
        draft.forget();
        session.create_job(all);
    };
    let submit = move |event: SubmitEvent| {
        event.prevent_default();
        create(false);
    };
    let go_back = move |_| {
        asks.set(false);
        device::focus_first(".form input");
    };
    let start_over = move |_| {
        draft.start_over();
        refused.breaks.set(String::new());
        refused.rate.set(String::new());
    };
    let choose = |of: RwSignal<usize>| Callback::new(move |at| of.set(at));
    view! {
        <Header back=Route::Jobs.href() back_label="Back to the jobs" title=Signal::stored("New job".to_owned())/>
        <form class="form" novalidate on:submit=submit>
            <main class="page">
                <Show when=move || draft.is_restored.get()>
                    <div class="reminder">
                        <p>"This was typed earlier. The job is not created yet."</p>
                        <button class="button" type="button" on:click=start_over>"Start over"</button>
                    </div>
                </Show>
                {before.map(|words| view! { <p class="quiet">{words}</p> })}
                <p class="quiet">"Everything is optional, and can be changed later in Setup."</p>
                <Field label="Name of the job" value=form.name example="Hall, stage piano"/>
                <Field label="Client, or the office’s reference" value=form.client/>
                <RadioGroup legend="Instrument" group="kind" words=&["Grand", "Upright"] chosen=form.instrument choose=choose(form.instrument)/>
                <Field label="The instrument, in words" value=form.described example="Size, age"/>
                <Field label="Serial number" value=form.serial/>
                <LongField label="Work agreed" value=form.scope example="Full regulation; let-off and drop first"/>
                <LongField label="Remark for the technician" value=form.remark/>
                <RadioGroup legend="Lengths in" group="unit" words=&["Millimeters", "Inches"] chosen=form.unit choose=choose(form.unit)/>
                <CheckedField label="Section breaks: last note of each section" name="breaks" value=form.breaks example="20, 52, 72"
                    note="Numbers or names, from the bass" refused=refused.breaks/>
                <div class="pair">
                    <CheckedField label="Rate per hour" name="rate" value=form.rate example="60.00" refused=refused.rate/>
                    <Field label="Currency" value=form.currency/>
                </div>
            </main>
            <footer class="reach">
                <p class="refused" role="alert">{move || refused.first()}</p>
                <Show
                    when=move || asks.get() && form.is_nameless()
                    fallback=|| view! { <button class="button main" type="submit">"Create job"</button> }
                >
                    <p role="alert">"No name or client yet. Create it anyway?"</p>
                    <div class="pair">
                        <button class="button" type="button" on:click=go_back>"Back to the form"</button>
                        <button class="button" type="button" on:click=move |_| create(true)>"Create it anyway"</button>
                    </div>
                </Show>
            </footer>
        </form>
    }
}

/// What is typed into the form, stored until the job is created.
#[derive(Clone, Copy)]
struct Draft {
    form: Form,
    key: StoredValue<String>,
    /// The form as it was before anything was typed.
    initial: StoredValue<Vec<String>>,
    /// Whether what is shown was typed on an earlier visit to the form.
    is_restored: RwSignal<bool>,
    /// Whether the job was created.
    is_over: StoredValue<bool>,
}

impl Draft {
    /// Restores what was typed earlier for a new job, or for the next job after `earlier`, and stores what is typed
    /// from now on.
    fn new(form: Form, earlier: Option<JobId>) -> Draft {
        let key = match earlier {
            Some(job) => format!("typed/{job}/next-job"),
            None => "typed/new-job".to_owned(),
        };
        let initial = untrack(|| form.draft());
        let stored = local_storage::draft(&key).filter(|d| d.len() == initial.len());
        if let Some(stored) = &stored {
            form.fill(stored);
        }
        let draft = Draft {
            form,
            key: StoredValue::new(key),
            initial: StoredValue::new(initial),
            is_restored: RwSignal::new(stored.is_some()),
            is_over: StoredValue::new(false),
        };
        Effect::new(move |_| draft.store(form.draft()));
        draft
    }

    fn store(self, typed: Vec<String>) {
        if self.is_over.get_value() {
            return;
        }
        self.key.with_value(|key| {
            if self.initial.with_value(|initial| *initial == typed) {
                local_storage::remove_draft(key);
            } else {
                local_storage::set_draft(key, &typed);
            }
        });
    }

    /// Empties the form.
    fn start_over(self) {
        self.initial.with_value(|initial| self.form.fill(initial));
        self.is_restored.set(false);
    }

    /// Forgets what was typed, once the job is created.
    fn forget(self) {
        self.is_over.set_value(true);
        self.key.with_value(|key| local_storage::remove_draft(key));
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
            <input type="text" autocomplete="off" maxlength="300" placeholder=example bind:value=value/>
        </label>
    }
}

/// Several lines of text with their label.
#[component]
fn LongField(
    label: &'static str,
    value: RwSignal<String>,
    #[prop(optional)] example: &'static str,
) -> impl IntoView {
    view! {
        <label>
            {label}
            <textarea rows="3" autocomplete="off" maxlength="2000" placeholder=example bind:value=value></textarea>
        </label>
    }
}

/// A line of text that may be refused, with the reason below it.
#[component]
fn CheckedField(
    label: &'static str,
    /// A name that is unique in the form.
    name: &'static str,
    value: RwSignal<String>,
    example: &'static str,
    #[prop(optional)] note: &'static str,
    /// Why it is refused; empty if it is not.
    refused: RwSignal<String>,
) -> impl IntoView {
    let invalid = move || (!refused.with(String::is_empty)).then_some("true");
    let about = format!("{name}-about");
    view! {
        <label>
            {label}
            <input class=name type="text" autocomplete="off" maxlength="300" placeholder=example aria-invalid=invalid
                aria-describedby=about.clone() bind:value=value/>
            <small id=about class:refused=move || invalid().is_some()>
                {move || if invalid().is_some() { refused.get() } else { note.to_owned() }}
            </small>
        </label>
    }
}
