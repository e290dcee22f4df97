//! Places in the app, kept after the `#` of the address.
//!
//! A static host in a sub-path serves one page and has no fallback for others, so the
//! place stands in the fragment, which never reaches the server. The browser's Back and
//! a reload work by themselves. Only random ids and the trade's step names stand there,
//! nothing of the client's.

use std::str::FromStr;

use evenhand_core::job::JobId;
use evenhand_core::note::Note;
use evenhand_core::trade::{MeasureId, StepId};
use leptos::prelude::*;
use wasm_bindgen::JsValue;

use crate::storage::local_storage;

/// One screen of the app, with what it shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Route {
    /// The jobs on this device.
    Jobs,
    /// Making a job.
    NewJob,
    /// What the user likes.
    Preferences,
    /// Making the next job of the instrument of an earlier one.
    NextJob(JobId),
    /// The stages and steps of a job.
    Order(JobId),
    /// One step through the notes.
    Pass(JobId, StepId),
    /// The same, begun at a note; from there on its place is that of [`Route::Pass`].
    PassAt(JobId, StepId, Note),
    /// What the instrument is like, opened at a part of it: one of [`SETUP_PARTS`], or empty.
    Setup(JobId, &'static str),
    /// The targets, opened at that of a measure, or with an empty name at the top.
    Targets(JobId, MeasureId),
    /// The readings of a step against their band; of one of its measures where it takes more
    /// than one, of the first with an empty name.
    Profile(JobId, StepId, MeasureId),
    /// What to do to which note of a step, or, with an empty name, of all steps.
    Corrections(JobId, StepId),
    /// What can be done now, what cures, and when the job is finished.
    Plan(JobId),
    /// Summary and export.
    Handover(JobId),
    /// The report, as a page to print.
    Report(JobId),
    /// The estimate, as a page to print.
    Estimate(JobId),
}

/// The parts of the setup that a link can lead to.
pub const SETUP_PARTS: [&str; 7] = [
    "job", "sections", "samples", "heights", "keys", "papers", "trials",
];

impl Route {
    /// Returns the job that it shows.
    pub const fn job(&self) -> Option<JobId> {
        match self {
            Route::Jobs | Route::NewJob | Route::Preferences => None,
            Route::Order(id)
            | Route::Pass(id, _)
            | Route::PassAt(id, ..)
            | Route::Setup(id, _)
            | Route::Targets(id, _)
            | Route::Profile(id, ..)
            | Route::Corrections(id, _)
            | Route::Plan(id)
            | Route::NextJob(id)
            | Route::Report(id)
            | Route::Estimate(id)
            | Route::Handover(id) => Some(*id),
        }
    }

    /// Returns the address of the order of its job, or that of the jobs if it shows none.
    pub fn order_href(&self) -> String {
        self.job().map_or(Route::Jobs, Route::Order).href()
    }

    /// Its name for the window's title.
    pub const fn title(&self) -> &'static str {
        match self {
            Route::Jobs => "Jobs",
            Route::NewJob | Route::NextJob(_) => "New job",
            Route::Preferences => "Preferences",
            Route::Order(_) => "Order",
            Route::Pass(..) | Route::PassAt(..) => "Pass",
            Route::Setup(..) => "Setup",
            Route::Targets(..) => "Targets",
            Route::Profile(..) => "Profile",
            Route::Corrections(..) => "Corrections",
            Route::Plan(_) => "Plan",
            Route::Handover(_) => "Handover",
            Route::Report(_) => "Report",
            Route::Estimate(_) => "Estimate",
        }
    }

    /// Returns the address of the screen.
    pub fn href(&self) -> String {
        match self {
            Route::Jobs => "#/".to_owned(),
            Route::NewJob => "#/new".to_owned(),
            Route::Preferences => "#/preferences".to_owned(),
            Route::NextJob(id) => format!("#/new/{id}"),
            Route::Order(id) => format!("#/{id}"),
            Route::Pass(id, step) => format!("#/{id}/pass/{step}"),
            Route::PassAt(id, step, note) => format!("#/{id}/pass/{step}/{}", note.number()),
            Route::Setup(id, "") => format!("#/{id}/setup"),
            Route::Setup(id, part) => format!("#/{id}/setup/{part}"),
            Route::Targets(id, measure) if measure.as_str().is_empty() => {
                format!("#/{id}/targets")
            }
            Route::Targets(id, measure) => format!("#/{id}/targets/{measure}"),
            Route::Profile(id, step, measure) if measure.as_str().is_empty() => {
                format!("#/{id}/profile/{step}")
            }
            Route::Profile(id, step, measure) => format!("#/{id}/profile/{step}/{measure}"),
            Route::Corrections(id, step) if step.as_str().is_empty() => {
                format!("#/{id}/corrections")
            }
            Route::Corrections(id, step) => format!("#/{id}/corrections/{step}"),
            Route::Plan(id) => format!("#/{id}/plan"),
            Route::Handover(id) => format!("#/{id}/handover"),
            Route::Report(id) => format!("#/{id}/report"),
            Route::Estimate(id) => format!("#/{id}/estimate"),
        }
    }

    /// Returns the screen that the address names; an address that names none shows the jobs.
    pub fn here() -> Route {
        let hash = window().location().hash().unwrap_or_default();
        Route::of(&hash).unwrap_or(Route::Jobs)
    }

    /// Returns whether the app was opened without a place.
    pub fn is_bare() -> bool {
        window().location().hash().unwrap_or_default().is_empty()
    }

    /// Returns where to begin: the place that the address names, or, opened without one, where
    /// the last visit was.
    pub fn first() -> Route {
        match local_storage::last_route().and_then(|(_, last)| Route::of(&last)) {
            Some(last) if Route::is_bare() => {
                last.replace();
                last
            }
            _ => Route::here(),
        }
    }

    /// Returns the screen of an address that [`Route::href`] wrote.
    pub fn of(hash: &str) -> Option<Route> {
        let mut parts = hash
            .trim_start_matches('#')
            .split('/')
            .filter(|p| !p.is_empty());
        let first = match parts.next() {
            None => return Some(Route::Jobs),
            Some("preferences") => return Some(Route::Preferences),
            Some("new") => {
                return match parts.next() {
                    Some(id) => Some(Route::NextJob(JobId::from_str(id).ok()?)),
                    None => Some(Route::NewJob),
                };
            }
            Some(id) => JobId::from_str(id).ok()?,
        };
        match (parts.next(), parts.next()) {
            (None, _) => Some(Route::Order(first)),
            (Some("pass"), Some(step)) => {
                let step = StepId::from(step);
                let number = parts.next().and_then(|n| n.parse().ok());
                Some(match number.and_then(|n| Note::new(n).ok()) {
                    Some(note) => Route::PassAt(first, step, note),
                    None => Route::Pass(first, step),
                })
            }
            (Some("setup"), part) => Some(Route::Setup(first, setup_part(part))),
            (Some("targets"), measure) => {
                let measure = MeasureId::from(measure.unwrap_or_default());
                Some(Route::Targets(first, measure))
            }
            (Some("profile"), step) => {
                let step = StepId::from(step.unwrap_or_default());
                let measure = MeasureId::from(parts.next().unwrap_or_default());
                Some(Route::Profile(first, step, measure))
            }
            (Some("corrections"), step) => {
                let step = StepId::from(step.unwrap_or_default());
                Some(Route::Corrections(first, step))
            }
            (Some("plan"), _) => Some(Route::Plan(first)),
            (Some("handover"), _) => Some(Route::Handover(first)),
            (Some("report"), _) => Some(Route::Report(first)),
            (Some("estimate"), _) => Some(Route::Estimate(first)),
            _ => None,
        }
    }

    /// Goes there, leaving the present place to Back.
    pub fn go(&self) {
        // The address is one of ours and cannot be refused.
        let _ = window().location().set_hash(&self.href());
    }

    /// Writes this place into the address in place of the present one, and draws nothing anew:
    /// for what is chosen within a screen.
    pub fn note(&self) {
        let href = self.href();
        local_storage::set_last_route(&href);
        if let Ok(history) = window().history() {
            // The address is one of ours and cannot be refused.
            let _ = history.replace_state_with_url(&JsValue::NULL, "", Some(&href));
        }
    }

    /// Goes there in place of the present screen, so that Back does not return to it.
    pub fn replace(&self) {
        let _ = window().location().replace(&self.href());
    }
}

/// Returns the part of the setup that an address names; the whole of it where it names none.
fn setup_part(named: Option<&str>) -> &'static str {
    let known = SETUP_PARTS.into_iter().find(|part| Some(*part) == named);
    known.unwrap_or_default()
}
