//! What is true of the trade: the orders, the measures with their targets,
//! what disturbs what, the cautions.
//!
//! Everything here is a starting value. The technician's own figures, the
//! instrument's papers and the player's wish come first, so every target can
//! be changed for a job, a section and a note (see [`crate::job`]).

mod band;
mod caution;
mod disturb;
mod grand;
mod measure;
mod measures;
mod order;
mod sample;
mod source;
mod step;
#[cfg(test)]
mod tests;
mod typing;
mod vertical;

pub use band::{Band, Shape, Target, TargetRefused, Verdict};
pub use caution::Caution;
pub use disturb::{Disturbance, Reach, TABLE, causes_of, disturbed_by};
pub use measure::{Adjuster, Measure, MeasureId};
pub use measures::targets::{
    afloat, balance_weight_target, damper_lift_target, friction_target, let_off_taper,
};
pub use order::{Order, OrderRefused};
pub use sample::{Sampled, Why, sample_plan};
pub use source::Source;
pub use step::{Occasion, Per, Place, Stage, Step, StepId};

use std::sync::LazyLock;

use serde::{Deserialize, Serialize};

/// The two kinds of instrument that have an order here.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Instrument {
    /// The action slides out; hammers rise to the strings.
    #[default]
    Grand,
    /// The action stands upright; hammers swing forward.
    Vertical,
}

impl Instrument {
    /// The trade's word.
    pub const fn name(self) -> &'static str {
        match self {
            Instrument::Grand => "Grand",
            Instrument::Vertical => "Vertical",
        }
    }

    /// The steps of this instrument's order, in the order of the trade.
    pub fn steps(self) -> &'static [Step] {
        static GRAND: LazyLock<Vec<Step>> = LazyLock::new(grand::steps);
        static VERTICAL: LazyLock<Vec<Step>> = LazyLock::new(vertical::steps);
        match self {
            Instrument::Grand => &GRAND,
            Instrument::Vertical => &VERTICAL,
        }
    }

    /// The measures that this instrument's steps take.
    pub fn measures(self) -> &'static [Measure] {
        static GRAND: LazyLock<Vec<Measure>> = LazyLock::new(measures::measures);
        static VERTICAL: LazyLock<Vec<Measure>> = LazyLock::new(|| {
            let own = vertical::measures();
            let shared = measures::measures();
            let not_own = |m: &Measure| own.iter().all(|o| o.id != m.id);
            let shared: Vec<Measure> = shared.into_iter().filter(not_own).collect();
            own.into_iter().chain(shared).collect()
        });
        match self {
            Instrument::Grand => &GRAND,
            Instrument::Vertical => &VERTICAL,
        }
    }

    /// The measure with this id.
    pub fn measure(self, id: &str) -> Option<&'static Measure> {
        self.measures().iter().find(|m| m.id.as_str() == id)
    }
}
