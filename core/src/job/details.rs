//! What a job is called and for whom, what the instrument is like, and the user's own steps.

use serde::{Deserialize, Serialize};

use super::Earlier;
use crate::note::{Note, Sections};
use crate::trade::{Instrument, MeasureId, Stage, Step, StepId};
use crate::unit::{Kind, Length, LengthUnit, Turns};

/// What the job is called and for whom. As an entry, each field given replaces the earlier one.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Details {
    /// What the job is called.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The client's name or the office's reference for the client.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub client: Option<String>,
    /// Grand or vertical.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Instrument>,
    /// What the instrument is, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub described: Option<String>,
    /// Its serial number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// What was agreed to be done.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scope: Option<String>,
    /// Who works on the device that says so: the name goes with that device's entries
    /// ([`State::technician`](super::State::technician)). Of the job itself, who said so last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub technician: Option<String>,
    /// What an hour of work costs, in hundredths of the currency.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_per_hour_cents: Option<u32>,
    /// The currency of the rate, in words or letters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// Whether everything in it was invented for demonstration.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub invented: Option<bool>,
}

/// The lever of a key, from its balance point, all along the key.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeyLever {
    /// To the front edge.
    pub front_nm: Length,
    /// To the back rail.
    pub back_nm: Length,
    /// To the front pin.
    pub front_pin_nm: Length,
}

/// One deliberate turn of an adjuster, read before and after.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// What was read.
    pub measure: MeasureId,
    /// How far it was turned; the sign is that of the change in the reading.
    pub turned_64ths: Turns,
    /// The reading before.
    pub before_nm: Length,
    /// The reading after.
    pub after_nm: Length,
}

impl Trial {
    /// Whether it was turned, and the reading went the way that the turn should take it.
    pub fn agrees(&self) -> bool {
        let change = self.after_nm.cmp(&self.before_nm);
        change.is_ne() && change == self.turned_64ths.cmp(&Turns::NONE)
    }
}

/// Which length of the travel balance follows from the others; all three are good practice (C).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Floats {
    /// Dip and blow are set, the aftertouch follows.
    Aftertouch,
    /// Aftertouch and dip are set, the blow follows.
    Blow,
    /// Aftertouch and blow are set, the dip follows.
    Dip,
}

impl Floats {
    /// Whether this measure is the length that floats; the dip is that of naturals and of sharps.
    pub fn is(self, measure: &str) -> bool {
        match self {
            Floats::Aftertouch => measure == "aftertouch",
            Floats::Blow => measure == "blow",
            Floats::Dip => matches!(measure, "natural_dip" | "sharp_dip"),
        }
    }
}

/// A control note: the height of one hammer at rest, taken on the bench and at the piano.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ControlNote {
    /// The note.
    pub note: Note,
    /// Its hammer over the bench's datum.
    pub bench_nm: Length,
    /// The same over the key bed.
    pub key_bed_nm: Length,
}

/// What the instrument is like. As an entry, each field given replaces the earlier one.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Setup {
    /// The sections of the scale, as the last note below each break.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sections: Option<Sections>,
    /// The unit that lengths are typed and shown in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_unit: Option<LengthUnit>,
    /// The notes that stand for all 88 in a sample; with none, the usual ones.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub samples: Option<Vec<Note>>,
    /// The lever of a natural key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub natural_key: Option<KeyLever>,
    /// The lever of a sharp key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sharp_key: Option<KeyLever>,
    /// The thicknesses of paper at hand.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub papers_nm: Option<Vec<Length>>,
    /// Turns tried on this instrument.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trials: Option<Vec<Trial>>,
    /// What an earlier job left of this instrument.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earlier: Option<Box<Earlier>>,
    /// Which length of the travel balance follows from the others.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub floats: Option<Floats>,
    /// The control notes that tie the bench's heights to the piano's.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub control_notes: Option<Vec<ControlNote>>,
}

/// Copies into `whole` each field that `set` gives.
macro_rules! replace_given {
    ($whole:expr, $set:expr, $($field:ident),+) => {
        $(if let Some(given) = &$set.$field { $whole.$field = Some(given.clone()); })+
    };
}

impl Details {
    /// Takes over each field that `set` gives.
    pub fn take(&mut self, set: &Details) {
        replace_given!(
            self,
            set,
            name,
            client,
            instrument,
            described,
            serial,
            scope,
            technician,
            rate_per_hour_cents,
            currency,
            invented
        );
    }
}

impl Setup {
    /// Takes over each field that `set` gives.
    pub fn take(&mut self, set: &Setup) {
        replace_given!(
            self,
            set,
            sections,
            length_unit,
            samples,
            natural_key,
            sharp_key,
            papers_nm,
            trials,
            earlier,
            floats,
            control_notes
        );
    }
}

/// A step of the user's own.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnStep {
    /// Its name in the log; it must not be one of the trade's.
    pub id: StepId,
    /// Its name for people.
    pub name: String,
    /// The stage it belongs to.
    pub stage: Stage,
    /// The step it comes after; at the end without one.
    pub after: Option<StepId>,
    /// What it is taken per.
    pub per: crate::trade::Per,
    /// The kind of record.
    pub kind: Kind,
    /// Working minutes, a starting value.
    pub minutes: u32,
    /// How it is done.
    pub how: String,
}

impl OwnStep {
    /// As a step of the order.
    pub fn step(&self) -> Step {
        let mut step = Step::new("", "", self.stage, self.per, &[]);
        step.id = self.id.clone();
        step.name = self.name.clone().into();
        step.takes = vec![self.measure_id()];
        step.needs = self.after.iter().cloned().collect();
        step.minutes = self.minutes;
        step.how = self.how.clone().into();
        step
    }

    /// The measure that it takes: its own, of the same name.
    pub fn measure_id(&self) -> MeasureId {
        MeasureId(self.id.0.clone())
    }

    /// What it measures.
    pub fn measure(&self) -> crate::trade::Measure {
        let mut measure = crate::trade::Measure::new("", "", self.kind, self.per);
        measure.id = self.measure_id();
        measure.name = self.name.clone().into();
        measure
    }
}
