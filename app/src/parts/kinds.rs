//! The kinds of job that this phone offers, and keeping a job as one.

use evenhand_core::analysis::kept_kind::{acts, kept_kind, kind_of, lines};
use evenhand_core::job::{EntryKind, State};
use evenhand_core::trade::{Instrument, JobKind};
use leptos::prelude::*;

use super::fields::{FieldSpec, Fields, Validation};
use crate::state::use_session;
use crate::storage::preferences;
use crate::text;

/// A kind of job that is offered.
#[derive(Clone, PartialEq)]
pub struct OfferedKind {
    /// The kind.
    pub kind: JobKind,
    /// What it does, in a few words; empty for one of the user's own.
    pub about: &'static str,
    /// About how long it takes.
    pub time: String,
    /// What a job of it begins with.
    pub acts: Vec<EntryKind>,
    /// Whether it is the user's own.
    pub is_own: bool,
}

/// Returns the kinds of job on an instrument: those to begin with, then the user's own.
pub fn offered(instrument: Instrument) -> Vec<OfferedKind> {
    let offer = |kind: JobKind, about, acts: Option<Vec<EntryKind>>| OfferedKind {
        time: text::about_time(kind.minutes()),
        about,
        is_own: acts.is_some(),
        acts: acts.unwrap_or_else(|| {
            let kind = Box::new(kind.clone());
            vec![EntryKind::KindChosen { kind }]
        }),
        kind,
    };
    let built_in = JobKind::built_in(instrument).into_iter();
    let built_in = built_in.zip(JobKind::about(instrument));
    let built_in = built_in.map(|(kind, about)| offer(kind, about, None));
    let own = preferences::own_kinds().into_iter().filter_map(|lines| {
        let acts = acts(&lines);
        let kind = kind_of(&acts).filter(|k| k.instrument == instrument)?;
        Some(offer(kind.clone(), "", Some(acts)))
    });
    built_in.chain(own).collect()
}

/// The kind of the open job, to change, and a field to keep the job as a kind.
#[component]
pub fn KindOfJob() -> impl IntoView {
    let session = use_session();
    let name = Memo::new(move |_| {
        let name = |s: &State| s.kind().map(|kind| kind.name.clone());
        session.app.with_state(name).flatten().unwrap_or_default()
    });
    let instrument = move || {
        session
            .app
            .with_state(State::instrument)
            .unwrap_or_default()
    };
    let choose = move |event| {
        let name = event_target_value(&event);
        let kinds = offered(untrack(instrument));
        let kind = kinds.into_iter().find(|k| k.kind.name == name);
        for act in kind.into_iter().flat_map(|kind| kind.acts) {
            session.record(act);
        }
    };
    let option = move |kind: String| {
        let (own, own_words) = (kind.clone(), kind.clone());
        view! { <option value=kind selected=move || name.get() == own>{own_words}</option> }
            .into_any()
    };
    let options = move || {
        let offered = offered(instrument());
        let mut kinds: Vec<String> = offered.into_iter().map(|k| k.kind.name).collect();
        // A job without a kind has all steps; that of another phone may not be kept here.
        let now = name.get();
        if !kinds.contains(&now) {
            kinds.insert(0, now);
        }
        kinds.into_iter().map(option).collect_view()
    };
    let keep = Callback::new(move |(typed, _): (Vec<String>, bool)| {
        let name = typed[0].trim().to_owned();
        let instrument = untrack(instrument);
        if name.is_empty() {
            return Validation::Refused(
                "Type a name for the kind first. Nothing was saved.".to_owned(),
            );
        }
        if JobKind::built_in(instrument).iter().any(|k| k.name == name) {
            return Validation::Refused(format!(
                "“{name}” is built in. Type another name. Nothing was saved."
            ));
        }
        let kept = session
            .app
            .open_job
            .with_untracked(|open| open.as_ref().map(|open| kept_kind(&open.job, &name)));
        let Some(kept) = kept else {
            return Validation::Accepted;
        };
        preferences::keep_kind(lines(kept.clone()));
        session.record(kept[0].clone());
        session.app.notify(&format!(
            "“{name}” is saved: a new job can be of this kind."
        ));
        Validation::Accepted
    });
    let own = Signal::derive(move || vec![String::new()]);
    let words = move || match name.get() {
        name if name.is_empty() => "Kind of job: all steps".to_owned(),
        name => format!("Kind of job: {name}"),
    };
    view! {
        <details class="more">
            <summary>{words}</summary>
            <div class="more-in">
                <label class="field">
                    "Kind of job"
                    <select on:change=choose>{options}</select>
                </label>
                <Fields key="kind".to_owned() specs=vec![FieldSpec::text("Save this job as a kind, called")] now=own record=keep button="Keep"/>
            </div>
        </details>
    }
}
