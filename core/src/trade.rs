//! Data of piano regulation, the same for every job: steps, measures, targets, disturbances, cautions.
//!
//! All numbers are starting values. The technician's own figures, the maker's figures and
//! the wish of the player come first, so a job can change every target for itself, for a section and
//! for a note. Comments give the source of a number as P (published), C (common practice, no source)
//! or M (from memory).

mod band;
mod caution;
mod disturb;
mod grand;
mod kinds;
mod measure;
mod measures;
mod order;
mod part;
mod sample;
mod source;
mod step;
#[cfg(test)]
mod tests;
mod typing;
mod upright;

pub use band::{Band, Shape, Target, TargetRefused, Verdict};
pub use caution::Caution;
pub use disturb::{Disturbance, Reach, Strength, TABLE, causes_of, disturbed_by};
pub use kinds::JobKind;
pub use measure::{Adjuster, Measure, MeasureId, TakenWhere};
pub use measures::targets::{
    HOUSE_PITCHES, PLAUSIBLE_RATIO, balance_weight_target, damper_lift_target, derived_range,
    friction_target, inch_targets, let_off_taper, pitch_target,
};
pub use order::{Order, OrderRefused};
pub use part::{Decision, Part};
pub use sample::{SampleReason, Sampled, drawn_sample, sample_plan};
pub use source::Source;
pub use step::{Occasion, Per, Place, Stage, Step, StepId};

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

/// The kind of instrument, which decides the steps and the measures of a job.
///
/// The default is the grand. In the job file it is `grand` or `vertical`.
///
/// ```
/// use evenhand_core::trade::Instrument;
///
/// assert!(Instrument::Grand.measure("drop").is_some());
/// assert!(Instrument::Grand.measure("lost_motion").is_none());
/// assert!(Instrument::Upright.measure("lost_motion").is_some());
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Instrument {
    /// A grand: the action slides out and the hammers rise to the strings.
    #[default]
    Grand,
    /// An upright: the action stands and the hammers swing forward.
    #[serde(rename = "vertical")]
    Upright,
}

impl Instrument {
    /// Returns the name for people.
    pub const fn name(self) -> &'static str {
        match self {
            Instrument::Grand => "Grand",
            Instrument::Upright => "Upright",
        }
    }

    /// Returns the steps of this instrument in their usual order.
    pub fn steps(self) -> &'static [Step] {
        static GRAND: LazyLock<Vec<Step>> = LazyLock::new(grand::steps);
        static VERTICAL: LazyLock<Vec<Step>> = LazyLock::new(upright::steps);
        match self {
            Instrument::Grand => &GRAND,
            Instrument::Upright => &VERTICAL,
        }
    }

    /// Returns the steps that are in an order only where a grade calls for them, such as a renewal: everything that they
    /// take is taken only with some grade of another measure.
    ///
    /// ```
    /// use evenhand_core::trade::Instrument;
    ///
    /// let steps = Instrument::Grand.conditional_steps();
    /// assert!(steps.iter().any(|s| s.id.as_str() == "knuckles_renewed"));
    /// assert!(steps.iter().all(|s| s.id.as_str() != "knuckles_brushed"));
    /// ```
    pub fn conditional_steps(self) -> &'static [&'static Step] {
        static GRAND: LazyLock<Vec<&'static Step>> =
            LazyLock::new(|| conditional(Instrument::Grand));
        static UPRIGHT: LazyLock<Vec<&'static Step>> =
            LazyLock::new(|| conditional(Instrument::Upright));
        match self {
            Instrument::Grand => &GRAND,
            Instrument::Upright => &UPRIGHT,
        }
    }

    /// Returns the measures that the steps of this instrument take.
    ///
    /// The upright has its own measures first, then those of the grand that it does not define itself.
    pub fn measures(self) -> &'static [Measure] {
        static GRAND: LazyLock<Vec<Measure>> = LazyLock::new(measures::measures);
        static VERTICAL: LazyLock<Vec<Measure>> = LazyLock::new(|| {
            let own = upright::measures();
            let shared = measures::measures();
            let not_own = |m: &Measure| own.iter().all(|o| o.id != m.id);
            let shared: Vec<Measure> = shared.into_iter().filter(not_own).collect();
            own.into_iter().chain(shared).collect()
        });
        match self {
            Instrument::Grand => &GRAND,
            Instrument::Upright => &VERTICAL,
        }
    }

    /// Returns the measure with this id, or `None` if this instrument has none.
    pub fn measure(self, id: &str) -> Option<&'static Measure> {
        self.measures().iter().find(|m| m.id.as_str() == id)
    }
}

fn conditional(instrument: Instrument) -> Vec<&'static Step> {
    let called_for = |id: &MeasureId| {
        let measure = instrument.measure(id.as_str());
        measure.is_some_and(|m| m.called_for().is_some())
    };
    let steps = instrument.steps().iter();
    steps.filter(|s| s.takes.iter().all(called_for)).collect()
}
