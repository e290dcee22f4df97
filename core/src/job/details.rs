//! What a job is called and for whom, what the instrument is like, and the user's own steps.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Earlier;
use crate::note::{Note, Sections};
use crate::trade::{Instrument, MeasureId, Stage, Step, StepId};
use crate::unit::{Kind, Length, LengthUnit, Turns};

/// What the job is called, for whom it is, and what the instrument is.
///
/// Every field is optional; the default has none. As an entry ([`EntryKind::Details`](super::EntryKind::Details)) it
/// carries the fields that changed, and each replaces the earlier value. A field cannot be removed, only
/// replaced, for example by an empty text. In the job file an absent field is omitted.
///
/// ```
/// use evenhand_core::job::Details;
///
/// let text = |text: &str| Some(text.to_owned());
/// let mut all = Details { name: text("Studio"), serial: text("123"), ..Details::default() };
/// all.take(&Details { name: text("Hall"), ..Details::default() });
/// assert_eq!(all.name.as_deref(), Some("Hall"));
/// assert_eq!(all.serial.as_deref(), Some("123"));
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Details {
    /// The name of the job.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The client's name or the office's reference for the client.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub client: Option<String>,
    /// Grand or upright; a grand if absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Instrument>,
    /// The instrument in the technician's own words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub described: Option<String>,
    /// The serial number of the instrument.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub serial: Option<String>,
    /// The work agreed with the client.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scope: Option<String>,
    /// The technician who works on the replica that makes the entry; the name belongs to the entries of
    /// that replica ([`State::technician`](super::State::technician)). For the job as a whole, the latest name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub technician: Option<String>,
    /// The rate for an hour of work, in hundredths of the currency; 0 says that none is agreed
    /// ([`Details::rate`]).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rate_per_hour_cents: Option<u32>,
    /// The currency of the rate, in words or letters.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub currency: Option<String>,
    /// `true` for the demo job, in which everything is made up.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub invented: Option<bool>,
    /// The remark for the client, at most 300 characters: the technician's own sentence in the letter. Remarks for the
    /// technician are entries of their own ([`EntryKind::Remark`](super::EntryKind::Remark)) and are in no letter.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub for_client: Option<String>,
    /// The price of the travel, in hundredths of the currency; 0 is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub travel_cents: Option<u32>,
    /// The tax on all prices, in hundredths of a percent, 0 (none) to [`Details::MAX_TAX`].
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tax_percent_hundredths: Option<u32>,
    /// For how many days the estimate holds; [`Details::VALID_DAYS`] if absent or 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub valid_days: Option<u32>,
    /// The price agreed for the whole job, tax included, in hundredths of the currency, in place of the one that is
    /// computed; 0 says that it is computed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub price_cents: Option<u32>,
}

/// The lengths of a key lever, each measured along the key from the balance point.
///
/// It has no default and no order. In the job file each length is a whole number of nanometers.
///
/// ```
/// use evenhand_core::job::KeyLever;
/// use evenhand_core::unit::Length;
///
/// let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
/// let key = KeyLever { front_nm: mm(250), back_nm: mm(150), front_pin_nm: mm(225) };
/// assert!(key.front_pin_nm < key.front_nm);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeyLever {
    /// From the balance point to the front edge.
    pub front_nm: Length,
    /// From the balance point to the back rail.
    pub back_nm: Length,
    /// From the balance point to the front pin.
    pub front_pin_nm: Length,
}

impl KeyLever {
    /// The shortest and the longest that each of its lengths usually is (M, from a small upright to a concert grand).
    pub const PLAUSIBLE: [Length; 2] = [Length::from_nm(80_000_000), Length::from_nm(400_000_000)];

    /// Returns `true` if each of its lengths is within [`KeyLever::PLAUSIBLE`].
    ///
    /// ```
    /// use evenhand_core::job::KeyLever;
    /// use evenhand_core::unit::Length;
    ///
    /// let mm = |mm: i64| Length::from_mm_hundredths(100 * mm);
    /// let key = KeyLever { front_nm: mm(250), back_nm: mm(150), front_pin_nm: mm(225) };
    /// assert!(key.is_plausible());
    /// assert!(!KeyLever { front_nm: mm(2_500), ..key }.is_plausible());
    /// ```
    pub fn is_plausible(&self) -> bool {
        let [low, high] = KeyLever::PLAUSIBLE;
        let all = [self.front_nm, self.back_nm, self.front_pin_nm];
        all.iter().all(|l| (low..=high).contains(l))
    }
}

/// One trial turn of an adjuster, with the reading before and after it.
///
/// It has no default and no order. Any values are valid; [`Trial::agrees`] says whether they
/// are usable.
///
/// ```
/// use evenhand_core::job::Trial;
/// use evenhand_core::trade::MeasureId;
/// use evenhand_core::unit::{Length, Turns};
///
/// let trial = |turned| Trial {
///     measure: MeasureId::of("let_off"),
///     turned_64ths: Turns::from_64ths(turned),
///     before_nm: Length::from_nm(1_800_000),
///     after_nm: Length::from_nm(2_000_000),
/// };
/// assert!(trial(16).agrees());
/// assert!(!trial(-16).agrees());
/// assert!(!trial(0).agrees());
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trial {
    /// The measure that was taken.
    pub measure: MeasureId,
    /// How far it was turned, in 64ths of a turn; the sign is that of the expected change in the reading.
    pub turned_64ths: Turns,
    /// The reading before.
    pub before_nm: Length,
    /// The reading after.
    pub after_nm: Length,
}

impl Trial {
    /// Returns `true` if the adjuster was turned and the reading changed in the expected direction.
    pub fn agrees(&self) -> bool {
        let change = self.after_nm.cmp(&self.before_nm);
        change.is_ne() && change == self.turned_64ths.cmp(&Turns::NONE)
    }
}

/// Which length of the travel balance is left to follow from the other two.
///
/// It has no default and no order; a job without one sets all three lengths. In the job file it is
/// `aftertouch`, `blow` or `dip`.
///
/// **Rule** (C): all three are common practice.
///
/// ```
/// use evenhand_core::job::FollowingLength;
///
/// assert!(FollowingLength::Dip.is("natural_dip"));
/// assert!(FollowingLength::Dip.is("sharp_dip"));
/// assert!(!FollowingLength::Dip.is("blow"));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FollowingLength {
    /// Dip and blow are set; the aftertouch follows.
    Aftertouch,
    /// Aftertouch and dip are set; the blow follows.
    Blow,
    /// Aftertouch and blow are set; the dip follows.
    Dip,
}

impl FollowingLength {
    /// Returns `true` if this measure is the length left to follow. The dip includes both naturals and sharps.
    pub fn is(self, measure: &str) -> bool {
        match self {
            FollowingLength::Aftertouch => measure == "aftertouch",
            FollowingLength::Blow => measure == "blow",
            FollowingLength::Dip => matches!(measure, "natural_dip" | "sharp_dip"),
        }
    }
}

/// A control note: the height of one hammer at rest, measured on the bench and in the piano.
///
/// The difference of the two ties heights on the bench to heights in the piano. It has no default and
/// no order. In the job file each height is a whole number of nanometers.
///
/// ```
/// use evenhand_core::job::ControlNote;
/// use evenhand_core::note::Note;
/// use evenhand_core::unit::Length;
///
/// let control = ControlNote {
///     note: Note::FIRST,
///     bench_nm: Length::from_nm(148_000_000),
///     key_bed_nm: Length::from_nm(150_000_000),
/// };
/// assert_eq!(control.key_bed_nm.nm() - control.bench_nm.nm(), 2_000_000);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ControlNote {
    /// The note.
    pub note: Note,
    /// The height of its hammer above the datum of the bench.
    pub bench_nm: Length,
    /// The height of the same hammer above the key bed, in the piano.
    pub key_bed_nm: Length,
}

/// The setup of an instrument: sections, units, levers, stock and what was learned about it.
///
/// Every field is optional; the default has none. As an entry ([`EntryKind::Setup`](super::EntryKind::Setup)) it
/// carries the fields that changed, and each replaces the earlier value whole. In the job file an absent
/// field is omitted.
///
/// ```
/// use evenhand_core::job::{FollowingLength, Setup};
/// use evenhand_core::unit::LengthUnit;
///
/// let mut all = Setup { length_unit: Some(LengthUnit::Inch), ..Setup::default() };
/// all.take(&Setup { following: Some(FollowingLength::Blow), ..Setup::default() });
/// assert_eq!(all.length_unit, Some(LengthUnit::Inch));
/// assert_eq!(all.following, Some(FollowingLength::Blow));
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Setup {
    /// The sections of the scale, given by the last note below each break; one section if absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sections: Option<Sections>,
    /// The unit in which lengths are typed and shown.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_unit: Option<LengthUnit>,
    /// The sample notes, which stand for all 88; the trade's sample plan if absent or empty.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub samples: Option<Vec<Note>>,
    /// What the as-found and the as-left sample measure; what the kind of the job says if absent, all if empty.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sample_measures: Option<Vec<MeasureId>>,
    /// Whether a sample goes note by note, with all its measures; measure by measure if absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sample_by_note: Option<bool>,
    /// The lever lengths of a natural key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub natural_key: Option<KeyLever>,
    /// The lever lengths of a sharp key.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sharp_key: Option<KeyLever>,
    /// The thicknesses of the punchings in stock, in nanometers.
    #[serde(rename = "papers_nm", skip_serializing_if = "Option::is_none")]
    pub punchings_nm: Option<Vec<Length>>,
    /// The trial turns made on this instrument.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub trials: Option<Vec<Trial>>,
    /// The final readings of an earlier job on this instrument.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earlier: Option<Box<Earlier>>,
    /// The length of the travel balance that is left to follow from the others.
    #[serde(rename = "floats", skip_serializing_if = "Option::is_none")]
    pub following: Option<FollowingLength>,
    /// The control notes that tie heights on the bench to heights in the piano.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub control_notes: Option<Vec<ControlNote>>,
    /// The sizes of the parts to order as typed, by [`Part::key`](crate::trade::Part::key).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part_sizes: Option<BTreeMap<String, String>>,
    /// The price of one piece of each kind of part, in hundredths of the currency, by
    /// [`Part::key`](crate::trade::Part::key). An entry of its own carries it, since releases before 0.5 cannot read it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part_prices_cents: Option<BTreeMap<String, u32>>,
    /// The seed with which the sample notes are drawn, so that they can be drawn again; without one they are
    /// chosen as releases before 0.4 did.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sample_seed: Option<u32>,
    /// `true` if every note is measured again after a turn; otherwise one whose turn is known well is not.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measure_all: Option<bool>,
    /// How many percent of the notes of each step the earlier job worked on. An entry of its own carries it, since
    /// releases before 0.4 cannot read it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earlier_fixed: Option<Vec<(StepId, u8)>>,
}

/// Copies into `whole` each field that is present in `set`.
macro_rules! replace_given {
    ($whole:expr, $set:expr, $($field:ident),+) => {
        $(if let Some(given) = &$set.$field { $whole.$field = Some(given.clone()); })+
    };
}

impl Details {
    /// The days that an estimate holds if none are set (C).
    pub const VALID_DAYS: u32 = 30;
    /// The largest tax: 100 %, in hundredths of a percent.
    pub const MAX_TAX: u32 = 10_000;

    /// Returns the rate for an hour of work, in hundredths of the currency, or `None` if none is agreed.
    ///
    /// ```
    /// use evenhand_core::job::Details;
    ///
    /// let mut details = Details { rate_per_hour_cents: Some(6_000), ..Details::default() };
    /// assert_eq!(details.rate(), Some(6_000));
    /// details.take(&Details { rate_per_hour_cents: Some(0), ..Details::default() });
    /// assert_eq!(details.rate(), None);
    /// ```
    pub fn rate(&self) -> Option<u32> {
        self.rate_per_hour_cents.filter(|cents| *cents > 0)
    }

    /// Replaces each field that is present in `set`; the others stay.
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
            invented,
            for_client,
            travel_cents,
            tax_percent_hundredths,
            valid_days,
            price_cents
        );
    }
}

impl Setup {
    /// Replaces each field that is present in `set`; the others stay.
    pub fn take(&mut self, set: &Setup) {
        replace_given!(
            self,
            set,
            sections,
            length_unit,
            samples,
            sample_measures,
            sample_by_note,
            natural_key,
            sharp_key,
            punchings_nm,
            trials,
            earlier,
            following,
            control_notes,
            part_sizes,
            part_prices_cents,
            sample_seed,
            measure_all,
            earlier_fixed
        );
    }
}

/// A step of the user's own.
///
/// It has no default and no order. The step takes one measure, which has the same id and name. A step
/// whose id is one of the trade's is kept in the log but is not part of the order ([`State::order`](super::State::order)).
///
/// ```
/// use evenhand_core::job::OwnStep;
/// use evenhand_core::trade::{Per, Stage, StepId};
/// use evenhand_core::unit::Kind;
///
/// let own = OwnStep {
///     id: StepId("own_backchecks".into()),
///     name: "Back checks cleaned".into(),
///     stage: Stage::Recondition,
///     after: None,
///     per: Per::Note,
///     kind: Kind::Good,
///     minutes: 20,
///     how: "Brush the leather.".into(),
/// };
/// assert_eq!(own.measure_id().as_str(), "own_backchecks");
/// assert_eq!(own.step().takes, [own.measure_id()]);
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OwnStep {
    /// The unique id; it must not be one of the trade's steps or measures.
    pub id: StepId,
    /// The name shown to people.
    pub name: String,
    /// The stage that it belongs to.
    pub stage: Stage,
    /// The step that it needs and comes after; at the end of the order if `None`.
    pub after: Option<StepId>,
    /// What it is taken on: each note, each section, the whole.
    pub per: crate::trade::Per,
    /// The kind of value that is recorded.
    pub kind: Kind,
    /// The expected working time in minutes.
    pub minutes: u32,
    /// The instruction text.
    pub how: String,
}

impl OwnStep {
    /// Returns it as a step of the order.
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

    /// Returns the id of the measure that it takes, which is the same as its own.
    pub fn measure_id(&self) -> MeasureId {
        MeasureId(self.id.0.clone())
    }

    /// Returns the measure that it takes.
    pub fn measure(&self) -> crate::trade::Measure {
        let mut measure = crate::trade::Measure::new("", "", self.kind, self.per);
        measure.id = self.measure_id();
        measure.name = self.name.clone().into();
        measure
    }
}
