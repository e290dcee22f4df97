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

use crate::store::prefs;

/// One screen of the app, with what it shows.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Screen {
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
    /// The same, begun at a note; from there on its place is that of [`Screen::Pass`].
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

impl Screen {
    /// The job that it shows.
    pub const fn job(&self) -> Option<JobId> {
        match self {
            Screen::Jobs | Screen::NewJob | Screen::Preferences => None,
            Screen::Order(id)
            | Screen::Pass(id, _)
            | Screen::PassAt(id, ..)
            | Screen::Setup(id, _)
            | Screen::Targets(id, _)
            | Screen::Profile(id, ..)
            | Screen::Corrections(id, _)
            | Screen::Plan(id)
            | Screen::NextJob(id)
            | Screen::Report(id)
            | Screen::Estimate(id)
            | Screen::Handover(id) => Some(*id),
        }
    }

    /// Its name for the window's title.
    pub const fn title(&self) -> &'static str {
        match self {
            Screen::Jobs => "Jobs",
            Screen::NewJob | Screen::NextJob(_) => "New job",
            Screen::Preferences => "Preferences",
            Screen::Order(_) => "Order",
            Screen::Pass(..) | Screen::PassAt(..) => "Pass",
            Screen::Setup(..) => "Setup",
            Screen::Targets(..) => "Targets",
            Screen::Profile(..) => "Profile",
            Screen::Corrections(..) => "Corrections",
            Screen::Plan(_) => "Plan",
            Screen::Handover(_) => "Handover",
            Screen::Report(_) => "Report",
            Screen::Estimate(_) => "Estimate",
        }
    }

    /// The address of the screen.
    pub fn href(&self) -> String {
        match self {
            Screen::Jobs => "#/".to_owned(),
            Screen::NewJob => "#/new".to_owned(),
            Screen::Preferences => "#/preferences".to_owned(),
            Screen::NextJob(id) => format!("#/new/{id}"),
            Screen::Order(id) => format!("#/{id}"),
            Screen::Pass(id, step) => format!("#/{id}/pass/{step}"),
            Screen::PassAt(id, step, note) => format!("#/{id}/pass/{step}/{}", note.number()),
            Screen::Setup(id, "") => format!("#/{id}/setup"),
            Screen::Setup(id, part) => format!("#/{id}/setup/{part}"),
            Screen::Targets(id, measure) if measure.as_str().is_empty() => {
                format!("#/{id}/targets")
            }
            Screen::Targets(id, measure) => format!("#/{id}/targets/{measure}"),
            Screen::Profile(id, step, measure) if measure.as_str().is_empty() => {
                format!("#/{id}/profile/{step}")
            }
            Screen::Profile(id, step, measure) => format!("#/{id}/profile/{step}/{measure}"),
            Screen::Corrections(id, step) if step.as_str().is_empty() => {
                format!("#/{id}/corrections")
            }
            Screen::Corrections(id, step) => format!("#/{id}/corrections/{step}"),
            Screen::Plan(id) => format!("#/{id}/plan"),
            Screen::Handover(id) => format!("#/{id}/handover"),
            Screen::Report(id) => format!("#/{id}/report"),
            Screen::Estimate(id) => format!("#/{id}/estimate"),
        }
    }

    /// The screen that the address names; an address that names none shows the jobs.
    pub fn here() -> Screen {
        let hash = window().location().hash().unwrap_or_default();
        Screen::of(&hash).unwrap_or(Screen::Jobs)
    }

    /// Whether the app was opened without a place.
    pub fn is_bare() -> bool {
        window().location().hash().unwrap_or_default().is_empty()
    }

    /// Where to begin: the place that the address names, or, opened without one, where
    /// the last visit was.
    pub fn first() -> Screen {
        match prefs::last_place().and_then(|(_, last)| Screen::of(&last)) {
            Some(last) if Screen::is_bare() => {
                last.replace();
                last
            }
            _ => Screen::here(),
        }
    }

    /// The screen of an address that [`Screen::href`] wrote.
    pub fn of(hash: &str) -> Option<Screen> {
        let mut parts = hash
            .trim_start_matches('#')
            .split('/')
            .filter(|p| !p.is_empty());
        let first = match parts.next() {
            None => return Some(Screen::Jobs),
            Some("preferences") => return Some(Screen::Preferences),
            Some("new") => {
                return match parts.next() {
                    Some(id) => Some(Screen::NextJob(JobId::from_str(id).ok()?)),
                    None => Some(Screen::NewJob),
                };
            }
            Some(id) => JobId::from_str(id).ok()?,
        };
        match (parts.next(), parts.next()) {
            (None, _) => Some(Screen::Order(first)),
            (Some("pass"), Some(step)) => {
                let step = StepId::from(step);
                let number = parts.next().and_then(|n| n.parse().ok());
                Some(match number.and_then(|n| Note::new(n).ok()) {
                    Some(note) => Screen::PassAt(first, step, note),
                    None => Screen::Pass(first, step),
                })
            }
            (Some("setup"), part) => Some(Screen::Setup(first, setup_part(part))),
            (Some("targets"), measure) => {
                let measure = MeasureId::from(measure.unwrap_or_default());
                Some(Screen::Targets(first, measure))
            }
            (Some("profile"), step) => {
                let step = StepId::from(step.unwrap_or_default());
                let measure = MeasureId::from(parts.next().unwrap_or_default());
                Some(Screen::Profile(first, step, measure))
            }
            (Some("corrections"), step) => {
                let step = StepId::from(step.unwrap_or_default());
                Some(Screen::Corrections(first, step))
            }
            (Some("plan"), _) => Some(Screen::Plan(first)),
            (Some("handover"), _) => Some(Screen::Handover(first)),
            (Some("report"), _) => Some(Screen::Report(first)),
            (Some("estimate"), _) => Some(Screen::Estimate(first)),
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
        prefs::keep_place(&href);
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

/// The part of the setup that an address names; the whole of it where it names none.
fn setup_part(named: Option<&str>) -> &'static str {
    let known = SETUP_PARTS.into_iter().find(|part| Some(*part) == named);
    known.unwrap_or_default()
}
