//! The state of an editor of one target: which scope it is for, and how it is typed and recorded.

use evenhand_core::analysis::targets::target_of;
use evenhand_core::job::{EntryKind, Scope};
use evenhand_core::note::Sections;
use evenhand_core::trade::{Band, Measure, MeasureId, Per, Target};
use leptos::prelude::*;

use super::super::band_format::BandFormat;
use crate::parts::fields::Validation;
use crate::state::Session;

/// The editor of one target. Signals only, so it is copied freely.
#[derive(Clone, Copy)]
pub struct Editor {
    /// The session of the app.
    pub session: Session,
    /// The measure whose target is edited.
    pub measure: StoredValue<Measure>,
    /// The job, section or note that the target is for.
    pub scope: RwSignal<Scope>,
    /// The target in effect for the scope.
    pub target: Memo<Option<Target>>,
    /// Whether each limit is typed separately.
    pub limits: RwSignal<bool>,
}

impl Editor {
    /// Returns the editor of a measure's target for the job.
    pub fn new(session: Session, measure: StoredValue<Measure>) -> Editor {
        let scope = RwSignal::new(Scope::Job);
        let id = move || measure.with_value(|m| m.id.clone());
        let target = Memo::new(move |_| {
            session
                .app
                .with_state(|s| target_of(s, id().as_str(), scope.get()))
                .flatten()
        });
        let is_uneven = target.with_untracked(|t| t.as_ref().is_some_and(is_uneven));
        Editor {
            session,
            measure,
            scope,
            target,
            limits: RwSignal::new(is_uneven),
        }
    }

    /// Returns the id of the measure.
    pub fn id(self) -> MeasureId {
        self.measure.with_value(|m| m.id.clone())
    }

    /// Returns what the measure is taken on.
    pub fn per(self) -> Per {
        self.measure.with_value(|m| m.per)
    }

    /// Records a target for the scope, if it is valid and differs from the present one.
    pub fn set(self, target: Target) -> Validation {
        if let Err(refused) = target.check() {
            return Validation::Refused(refused.to_string());
        }
        if self.target.get_untracked().as_ref() != Some(&target) {
            self.record(Some(target));
        }
        Validation::Accepted
    }

    /// Records a target for the scope, or its removal.
    pub fn record(self, target: Option<Target>) {
        self.session.record(EntryKind::Target {
            measure: self.id(),
            scope: self.scope.get_untracked(),
            target,
        });
    }

    /// Calls `read` with the format in which bands are typed.
    pub fn with_format<T>(self, read: impl FnOnce(BandFormat<'_>) -> T) -> T {
        let length = self.session.app.length_unit_untracked();
        let limits = self.limits.get_untracked();
        self.measure.with_value(|measure| {
            read(BandFormat {
                measure,
                length,
                limits,
            })
        })
    }

    /// Returns a name for fields that is unique to this measure and scope.
    pub fn key(self, what: &str) -> String {
        let scope = match self.scope.get_untracked() {
            Scope::Job => "job".to_owned(),
            Scope::Section(s) => format!("s{s}"),
            Scope::Note(n) => format!("n{}", n.number()),
        };
        format!("{}-{scope}-{what}", self.id())
    }

    /// Returns the sections of the instrument.
    pub fn sections(self) -> Sections {
        self.session
            .app
            .with_state_untracked(|s| s.sections().clone())
            .unwrap_or_default()
    }
}

/// Returns whether some band reaches further to one side than to the other.
fn is_uneven(target: &Target) -> bool {
    let uneven = |band: &Band| band.widths().is_none();
    match target {
        Target::Flat(band) => uneven(band),
        Target::BySection(bands) => bands.iter().any(uneven),
        Target::Tapered(points) => points.iter().any(|(_, band)| uneven(band)),
        Target::ShareOf { .. } => false,
    }
}

/// Returns the bands of a target, in order.
pub fn bands(target: &Target) -> Vec<Band> {
    match target {
        Target::Flat(band) => vec![*band],
        Target::BySection(bands) => bands.clone(),
        Target::Tapered(points) => points.iter().map(|(_, band)| *band).collect(),
        Target::ShareOf { .. } => Vec::new(),
    }
}
