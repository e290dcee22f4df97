//! The form for a new job, or for the next job of an instrument. What is typed is kept until the job is created.

use evenhand_core::analysis::drift::{next_job, usual_prices_beside};
use evenhand_core::analysis::targets::inch_aims;
use evenhand_core::job::{Details, EntryKind, Job, ReplicaId, Setup, State};
use evenhand_core::note::Sections;
use evenhand_core::trade::JobKind;
use evenhand_core::unit::read_cents;
use leptos::ev::SubmitEvent;
use leptos::prelude::*;
use wasm_bindgen::JsCast;

use crate::device::{self, local_time};
use crate::parts::header::Header;
use crate::parts::radio_group::RadioGroup;
use crate::parts::require_open_job::RequireOpenJob;
use crate::route::Route;
use crate::state::use_session;
use crate::storage::preferences;
use crate::text;
use draft::Draft;
use form::Form;
use kinds::{KindChoice, chosen_acts};

mod draft;
mod form;
mod kinds;

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

/// Returns the targets of a job in inches, whose aims stand on a rule; none for what the acts set by themselves.
fn inch_acts(acts: &[EntryKind]) -> Vec<EntryKind> {
    let mut job = Job::new();
    for act in acts {
        job.apply(job.draft(ReplicaId::new(1), 0, act.clone()));
    }
    inch_aims(job.state())
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
            "What was left on {} comes along to compare with: readings, targets, setup, and what a turn does.",
            local_time::long_date(earlier.left_at_ms)
        )
    });
    let inches = session.app.preferences.with_untracked(|p| p.inches);
    let form = Form::of(&details, &setup, inches);
    if !acts.is_empty() {
        // The next job is of the kind of the one before; one that has none has all steps.
        let kind = |s: &State| {
            let built_in = || JobKind::built_in(s.instrument())[2].name.clone();
            s.kind().map_or_else(built_in, |kind| kind.name.clone())
        };
        let kind = session.app.with_state_untracked(kind);
        form.kind.set(kind.unwrap_or_default());
    }
    let draft = Draft::new(form, session.app.job_untracked());
    let refused = Refused {
        breaks: RwSignal::new(String::new()),
        rate: RwSignal::new(String::new()),
    };
    // Whether all that is optional is shown.
    let unfolded = RwSignal::new(device::is_wide());
    let acts = StoredValue::new(acts);
    let details = StoredValue::new(details);
    let create = move |event: SubmitEvent| {
        event.prevent_default();
        let Some((sections, rate)) = refused.read(form) else {
            unfolded.set(true);
            // The field is marked as invalid with the next paint.
            return request_animation_frame(|| device::focus_first(".form [aria-invalid='true']"));
        };
        let mut all = acts.get_value();
        let usual = usual_prices_beside(&all, preferences::usual_prices());
        all.extend(usual);
        all.extend(chosen_acts(form));
        all.extend(details.with_value(|details| form.acts(details, sections, rate)));
        let acts = inch_acts(&all);
        all.extend(acts);
        draft.forget();
        session.create_job(all);
    };
    let start_over = move |_| {
        draft.start_over();
        refused.breaks.set(String::new());
        refused.rate.set(String::new());
    };
    let choose = |of: RwSignal<usize>| Callback::new(move |at| of.set(at));
    view! {
        <Header back=Route::Jobs.href() back_label="Back to the jobs" title=Signal::stored("New job".to_owned())/>
        <form class="form" novalidate on:submit=create>
            <main class="page">
                <Show when=move || draft.is_restored.get()>
                    <div class="reminder">
                        <p>"You typed this earlier. The job is not created yet."</p>
                        <button class="button" type="button" on:click=start_over>"Start over"</button>
                    </div>
                </Show>
                {before.map(|words| view! { <p class="quiet">{words}</p> })}
                <Field label="Piano" value=form.name example="Hall, stage piano"/>
                <KindChoice form/>
                <details class="more" prop:open=unfolded on:toggle=move |e| unfolded.set(is_open(&e))>
                    <summary>"Client, serial, upright, inches, section breaks (optional)"</summary>
                    <div class="more-in">
                        <p class="quiet">"All of it can be changed later in Setup."</p>
                        <Field label="Client, or the office’s reference" value=form.client/>
                        <RadioGroup legend="Instrument" group="instrument" words=&["Grand", "Upright"] chosen=form.instrument choose=choose(form.instrument)/>
                        <Field label="The instrument, in words" value=form.described example="Size, age"/>
                        <Field label="Serial number" value=form.serial/>
                        <RadioGroup legend="Lengths in" group="unit" words=&["Millimeters", "Inches"] chosen=form.unit choose=choose(form.unit)/>
                        <CheckedField label="Section breaks: last note of each section" name="breaks" value=form.breaks example="20, 52, 72"
                            note="Numbers or names, from the bass" refused=refused.breaks/>
                        <LongField label="Work agreed" value=form.scope example="Full regulation; let-off and drop first"/>
                        <LongField label="Remark for the technician" value=form.remark/>
                        <div class="pair">
                            <CheckedField label="Rate per hour" name="rate" value=form.rate example="60.00" refused=refused.rate/>
                            <Field label="Currency" value=form.currency/>
                        </div>
                    </div>
                </details>
            </main>
            <footer class="reach">
                <p class="refused" role="alert">{move || refused.first()}</p>
                <button class="button main" type="submit">"Create job"</button>
            </footer>
        </form>
    }
}

/// Returns whether the fold-out that an event is of is open.
fn is_open(event: &web_sys::Event) -> bool {
    let fold = event
        .target()
        .and_then(|t| t.dyn_into::<web_sys::Element>().ok());
    fold.is_some_and(|fold| fold.has_attribute("open"))
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
