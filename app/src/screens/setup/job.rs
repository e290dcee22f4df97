//! The details of a job: all that a new job asks for can be changed here, each change as an entry.

use evenhand_core::job::{Details, EntryId, EntryKind, Remark, State, Subject};
use evenhand_core::trade::Instrument;
use evenhand_core::unit::read_cents;
use leptos::prelude::*;

use super::part::Part;
use crate::parts::fields::{FieldSpec, Fields, InputKind, Validation};
use crate::parts::kinds::KindOfJob;
use crate::parts::prices::ForClient;
use crate::parts::radio_group::RadioGroup;
use crate::state::{Session, use_session};
use crate::storage::local_storage;
use crate::text;

/// One field of the details: its key, label, kind, getter and setter.
type Detail = (
    &'static str,
    &'static str,
    InputKind,
    fn(&Details) -> &Option<String>,
    fn(&mut Details) -> &mut Option<String>,
);

const DETAILS: [Detail; 6] = [
    (
        "name",
        "Name of the job",
        InputKind::Text,
        |d| &d.name,
        |d| &mut d.name,
    ),
    (
        "client",
        "Client, or the office’s reference",
        InputKind::Text,
        |d| &d.client,
        |d| &mut d.client,
    ),
    (
        "described",
        "The instrument, in words",
        InputKind::Text,
        |d| &d.described,
        |d| &mut d.described,
    ),
    (
        "serial",
        "Serial number",
        InputKind::Text,
        |d| &d.serial,
        |d| &mut d.serial,
    ),
    (
        "scope",
        "Work agreed",
        InputKind::MultilineText,
        |d| &d.scope,
        |d| &mut d.scope,
    ),
    (
        "technician",
        "Technician",
        InputKind::Text,
        |d| &d.technician,
        |d| &mut d.technician,
    ),
];

/// The details of the job.
#[component]
pub fn JobPart(opened: &'static str) -> impl IntoView {
    let session = use_session();
    let summary = Signal::derive(move || {
        let details = session
            .app
            .with_state(|s| s.details().clone())
            .unwrap_or_default();
        let words: Vec<String> = [details.client, details.described]
            .into_iter()
            .flatten()
            .filter(|w| !w.is_empty())
            .collect();
        match words.is_empty() {
            true => "no name yet".to_owned(),
            false => words.join(", "),
        }
    });
    let chosen = Signal::derive(move || {
        let vertical = session
            .app
            .with_state(|s| s.instrument() == Instrument::Upright);
        usize::from(vertical.unwrap_or_default())
    });
    let choose = Callback::new(move |at: usize| {
        let instrument = [Instrument::Grand, Instrument::Upright][at.min(1)];
        let set = Details {
            instrument: Some(instrument),
            ..Details::default()
        };
        session.record(EntryKind::Details { set: Box::new(set) });
    });
    view! {
        <Part name="job" title="Job and instrument" opened summary>
            {DETAILS.map(|detail| detail_field(session, detail)).collect_view()}
            <KindOfJob/>
            <Rate/>
            <Remarks/>
            <ForClient/>
            <RadioGroup
                legend="Instrument"
                group="instrument"
                words=&["Grand", "Upright"]
                chosen
                choose
                note="The order of the other kind begins with what both share; no reading is lost."
            />
        </Part>
    }
}

/// Returns the technician of this phone, or, if it was not said here, the latest of another phone.
fn technician(session: Session, state: &State) -> Option<String> {
    let mut own = vec![session.replica()];
    own.extend(local_storage::own_replicas().iter().rev());
    let here = own.into_iter().find_map(|device| state.technician(device));
    here.map(str::to_owned)
        .or_else(|| state.details().technician.clone())
}

fn detail_field(session: Session, (key, label, kind, get, of): Detail) -> impl IntoView {
    let now = Signal::derive(move || {
        let text = |s: &State| match key {
            "technician" => technician(session, s),
            _ => get(s.details()).clone(),
        };
        vec![session.app.with_state(text).flatten().unwrap_or_default()]
    });
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let text = typed[0].trim().to_owned();
        if now.get_untracked() != [text.clone()] {
            let mut set = Details::default();
            *of(&mut set) = Some(text);
            session.record(EntryKind::Details { set: Box::new(set) });
        }
        Validation::Accepted
    });
    let spec = FieldSpec {
        kind,
        ..FieldSpec::text(label)
    };
    view! { <Fields key=key.to_owned() specs=vec![spec] now record/> }
}

/// The rate for an hour of work, and its currency.
#[component]
fn Rate() -> impl IntoView {
    let session = use_session();
    let rate = move || {
        let rate = session.app.with_state(|s| s.details().rate()).flatten();
        rate.map_or_else(String::new, |cents| text::cents(i64::from(cents)))
    };
    let currency = move || {
        let currency = session.app.with_state(|s| s.details().currency.clone());
        currency.flatten().unwrap_or_default()
    };
    let now = Signal::derive(move || vec![rate(), currency()]);
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let cents = match read_cents(&typed[0]) {
            Ok(cents) => cents,
            Err(error) => return Validation::Refused(error.to_string()),
        };
        let typed = typed[1].trim().to_owned();
        let (before, before_typed) = untrack(|| {
            let before = session.app.with_state(|s| s.details().rate());
            (before.flatten(), currency())
        });
        let set = Details {
            // An emptied field says that no rate is agreed.
            rate_per_hour_cents: (cents != before).then(|| cents.unwrap_or(0)),
            currency: (typed != before_typed).then_some(typed),
            ..Details::default()
        };
        if set != Details::default() {
            session.record(EntryKind::Details { set: Box::new(set) });
        }
        Validation::Accepted
    });
    let specs = vec![
        FieldSpec::number("Rate per hour", ""),
        FieldSpec::text("Currency"),
    ];
    view! { <Fields key="rate".to_owned() legend="Rate" specs now record/> }
}

/// The remarks on the whole job, each in a field, and a field for one more.
#[component]
fn Remarks() -> impl IntoView {
    let session = use_session();
    let remarks = Memo::new(move |_| {
        let of = |s: &State| -> Vec<EntryId> {
            let of_job = s.remarks().filter(|r| is_of_job(r));
            of_job.map(|r| r.position.id).collect()
        };
        session.app.with_state(of).unwrap_or_default()
    });
    let add = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let text = typed[0].trim().to_owned();
        if !text.is_empty() {
            session.record(EntryKind::Remark {
                on: Subject::Whole,
                step: None,
                fault: false,
                text,
            });
        }
        Validation::Accepted
    });
    let is_first = Memo::new(move |_| remarks.with(Vec::is_empty));
    let label = move || match is_first.get() {
        true => "Remark for the technician",
        false => "Another remark",
    };
    view! {
        <For each=move || remarks.get() key=|id| *id let(id)>
            <RemarkField id/>
        </For>
        {move || {
            let spec = FieldSpec { kind: InputKind::MultilineText, ..FieldSpec::text(label()) };
            let now = Signal::stored(vec![String::new()]);
            view! { <Fields key="new-remark".to_owned() specs=vec![spec] now record=add/> }
        }}
    }
}

/// Returns whether a remark is on the job as a whole, as one of a new job is.
fn is_of_job(remark: &Remark) -> bool {
    remark.on == Subject::Whole && remark.step.is_none() && !remark.fault
}

/// A remark that can be changed; emptied, it is withdrawn.
#[component]
fn RemarkField(id: EntryId) -> impl IntoView {
    let session = use_session();
    let text = move || {
        let of = |s: &State| {
            let found = s.remarks().find(|r| r.position.id == id);
            found.map(|r| r.text.clone())
        };
        session.app.with_state(of).flatten().unwrap_or_default()
    };
    let now = Signal::derive(move || vec![text()]);
    let record = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let typed = typed[0].trim().to_owned();
        if untrack(text) != typed {
            session.record(EntryKind::RemarkChanged {
                remark: id,
                text: typed,
            });
        }
        Validation::Accepted
    });
    let spec = FieldSpec {
        kind: InputKind::MultilineText,
        ..FieldSpec::text("Remark for the technician")
    };
    let key = format!("remark-{}-{}", id.replica, id.seq);
    view! { <Fields key specs=vec![spec] now record/> }
}
