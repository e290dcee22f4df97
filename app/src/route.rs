//! The routes of the app, in the fragment of the address.
//!
//! A static host in a sub-path serves one page and has no fallback for others, so the route is in the fragment, which
//! never reaches the server. The browser's Back and a reload work by themselves. A route contains only random ids and
//! ids of the trade, nothing of the client's.

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
    /// The preferences.
    Preferences,
    /// Making the next job of the instrument of an earlier job.
    NextJob(JobId),
    /// The stages and steps of a job.
    Order(JobId),
    /// One step through the notes.
    Pass(JobId, StepId),
    /// The same, begun at a note; once open, its route becomes [`Route::Pass`].
    PassAt(JobId, StepId, Note),
    /// The setup, opened at one of [`SETUP_PARTS`], or empty for the top.
    Setup(JobId, &'static str),
    /// The targets, opened at that of a measure, or at the top if its id is empty.
    Targets(JobId, MeasureId),
    /// The readings of a step against their band, of one of its measures, or of the first if its id is empty.
    Profile(JobId, StepId, MeasureId),
    /// What to do to which note of a step, or of all steps if its id is empty.
    Corrections(JobId, StepId),
    /// What can be done now, what dries, and when the job is finished.
    Plan(JobId),
    /// Whose time, on which day, at which step: to see and correct.
    Hours(JobId),
    /// Summary and export.
    Handover(JobId),
    /// The report, as a page to print.
    Report(JobId),
    /// The estimate, as a page to print.
    Estimate(JobId),
    /// The letter to the client, to send or print.
    Letter(JobId),
    /// The instrument of a job: its visits.
    Instrument(JobId),
}

/// The parts of the setup that a link can lead to.
pub const SETUP_PARTS: [&str; 9] = [
    "job",
    "prices",
    "sections",
    "samples",
    "heights",
    "keys",
    "punchings",
    "trials",
    "archive",
];

impl Route {
    /// Returns the job that it shows; `None` if it shows none.
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
            | Route::Hours(id)
            | Route::NextJob(id)
            | Route::Report(id)
            | Route::Instrument(id)
            | Route::Estimate(id)
            | Route::Letter(id)
            | Route::Handover(id) => Some(*id),
        }
    }

    /// Returns the address of the order of its job, or that of the jobs if it shows none.
    pub fn order_href(&self) -> String {
        self.job().map_or(Route::Jobs, Route::Order).href()
    }

    /// Returns its name for the window's title.
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
            Route::Hours(_) => "Hours",
            Route::Handover(_) => "Handover",
            Route::Report(_) => "Report",
            Route::Estimate(_) => "Estimate",
            Route::Letter(_) => "Client letter",
            Route::Instrument(_) => "Instrument",
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
            Route::Hours(id) => format!("#/{id}/hours"),
            Route::Handover(id) => format!("#/{id}/handover"),
            Route::Report(id) => format!("#/{id}/report"),
            Route::Estimate(id) => format!("#/{id}/estimate"),
            Route::Letter(id) => format!("#/{id}/letter"),
            Route::Instrument(id) => format!("#/{id}/instrument"),
        }
    }

    /// Returns the route of the address, or [`Route::Jobs`] if the address names none.
    pub fn here() -> Route {
        let hash = window().location().hash().unwrap_or_default();
        Route::of(&hash).unwrap_or(Route::Jobs)
    }

    /// Returns whether the address has no route.
    pub fn is_bare() -> bool {
        window().location().hash().unwrap_or_default().is_empty()
    }

    /// Returns where to begin: the route of the address, or, without one, that of the last visit.
    pub fn first() -> Route {
        match local_storage::last_route().and_then(|(_, last)| Route::of(&last)) {
            Some(last) if Route::is_bare() => {
                last.replace();
                last
            }
            _ => Route::here(),
        }
    }

    /// Returns the route of an address that [`Route::href`] wrote; `None` if it is not one.
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
            (Some("hours"), _) => Some(Route::Hours(first)),
            (Some("handover"), _) => Some(Route::Handover(first)),
            (Some("report"), _) => Some(Route::Report(first)),
            (Some("estimate"), _) => Some(Route::Estimate(first)),
            (Some("letter"), _) => Some(Route::Letter(first)),
            (Some("instrument"), _) => Some(Route::Instrument(first)),
            _ => None,
        }
    }

    /// Goes there; Back returns to the present screen.
    pub fn go(&self) {
        // The address is valid and cannot be refused.
        let _ = window().location().set_hash(&self.href());
    }

    /// Replaces the route in the address without showing another screen: for what is chosen within a screen.
    pub fn note(&self) {
        let href = self.href();
        local_storage::set_last_route(&href);
        if let Ok(history) = window().history() {
            // The address is valid and cannot be refused.
            let _ = history.replace_state_with_url(&JsValue::NULL, "", Some(&href));
        }
    }

    /// Goes there; Back does not return to the present screen.
    pub fn replace(&self) {
        let _ = window().location().replace(&self.href());
    }
}

/// Returns the part of the setup that an address names; empty if it names none.
fn setup_part(named: Option<&str>) -> &'static str {
    let known = SETUP_PARTS.into_iter().find(|part| Some(*part) == named);
    known.unwrap_or_default()
}
