//! What is typed and chosen in the form for a new job, and the acts that it makes.

use evenhand_core::job::{Details, EntryKind, Setup, Subject};
use evenhand_core::note::Sections;
use evenhand_core::trade::Instrument;
use evenhand_core::unit::LengthUnit;
use leptos::prelude::*;

use crate::device::local_time;
use crate::text;

/// What is typed into the form.
#[derive(Clone, Copy)]
pub struct Form {
    /// The name of the job.
    pub name: RwSignal<String>,
    /// The client.
    pub client: RwSignal<String>,
    /// The instrument, in words.
    pub described: RwSignal<String>,
    /// The serial number.
    pub serial: RwSignal<String>,
    /// The work agreed.
    pub scope: RwSignal<String>,
    /// A remark for the technician.
    pub remark: RwSignal<String>,
    /// The section breaks.
    pub breaks: RwSignal<String>,
    /// The rate for an hour.
    pub rate: RwSignal<String>,
    /// Its currency.
    pub currency: RwSignal<String>,
    /// The name of the kind of job.
    pub kind: RwSignal<String>,
    /// The steps that are not as the kind has them: ids with spaces between them.
    pub other_steps: RwSignal<String>,
    /// The index of the instrument: grand, upright.
    pub instrument: RwSignal<usize>,
    /// The index of the unit: millimeters, inches.
    pub unit: RwSignal<usize>,
}

/// The instruments that are offered.
pub const INSTRUMENTS: [Instrument; 2] = [Instrument::Grand, Instrument::Upright];
const UNITS: [LengthUnit; 2] = [LengthUnit::Millimeter, LengthUnit::Inch];

impl Form {
    /// Returns the form for a job that begins with these details and setup.
    pub fn of(details: &Details, setup: &Setup, inches: bool) -> Form {
        let text = |text: &Option<String>| RwSignal::new(text.clone().unwrap_or_default());
        let rate = details.rate().map(|cents| text::cents(i64::from(cents)));
        let sections = setup.sections.as_ref();
        let inches = setup
            .length_unit
            .map_or(inches, |unit| unit == LengthUnit::Inch);
        Form {
            name: text(&details.name),
            client: text(&details.client),
            described: text(&details.described),
            serial: text(&details.serial),
            scope: text(&None),
            remark: text(&None),
            breaks: text(&sections.map(|s| text::notes(s.breaks()))),
            rate: text(&rate),
            currency: text(&details.currency),
            kind: text(&None),
            other_steps: text(&None),
            instrument: RwSignal::new(usize::from(details.instrument == Some(Instrument::Upright))),
            unit: RwSignal::new(usize::from(inches)),
        }
    }

    fn texts(self) -> [RwSignal<String>; 11] {
        [
            self.name,
            self.client,
            self.described,
            self.serial,
            self.scope,
            self.remark,
            self.breaks,
            self.rate,
            self.currency,
            self.kind,
            self.other_steps,
        ]
    }

    fn choices(self) -> [RwSignal<usize>; 2] {
        [self.instrument, self.unit]
    }

    /// Returns all that is typed and chosen, as a draft, and tracks it.
    pub fn draft(self) -> Vec<String> {
        let texts = self.texts().into_iter().map(|text| text.get());
        let choices = self.choices().into_iter().map(|at| at.get().to_string());
        texts.chain(choices).collect()
    }

    /// Fills the form from a draft.
    pub fn fill(self, draft: &[String]) {
        let mut draft = draft.iter();
        for (signal, text) in self.texts().into_iter().zip(&mut draft) {
            signal.set(text.clone());
        }
        for (signal, at) in self.choices().into_iter().zip(&mut draft) {
            signal.set(at.parse().unwrap_or_default());
        }
    }

    /// Returns what is typed, trimmed; `None` if it is empty.
    fn typed(text: RwSignal<String>) -> Option<String> {
        Some(text.get_untracked().trim().to_owned()).filter(|t| !t.is_empty())
    }

    /// Returns what is typed; an empty text where a field is emptied that the job begins with.
    fn typed_over(text: RwSignal<String>, before: &Option<String>) -> Option<String> {
        let is_emptied = before.as_ref().is_some_and(|text| !text.is_empty());
        Form::typed(text).or_else(|| is_emptied.then(String::new))
    }

    /// Returns the acts that record what was typed over the details with which the job begins.
    pub fn acts(self, before: &Details, sections: Sections, rate: Option<u32>) -> Vec<EntryKind> {
        let at = self.instrument.get_untracked().min(1);
        let instrument = INSTRUMENTS[at];
        let client = Form::typed(self.client);
        let name = Form::typed(self.name).unwrap_or_else(|| match &client {
            Some(client) => format!("{client}, {}", instrument.name().to_lowercase()),
            None => {
                let today = local_time::long_date(local_time::now_ms());
                format!("{}, {today}", instrument.name())
            }
        });
        let details = Details {
            name: Some(name),
            client: Form::typed_over(self.client, &before.client),
            described: Form::typed_over(self.described, &before.described),
            serial: Form::typed_over(self.serial, &before.serial),
            scope: Form::typed_over(self.scope, &before.scope),
            rate_per_hour_cents: rate.or(before.rate().map(|_| 0)),
            currency: Form::typed_over(self.currency, &before.currency),
            instrument: Some(instrument),
            ..Details::default()
        };
        let setup = Setup {
            sections: Some(sections),
            length_unit: Some(UNITS[self.unit.get_untracked().min(1)]),
            ..Setup::default()
        };
        let mut acts = vec![
            EntryKind::Details {
                set: Box::new(details),
            },
            EntryKind::Setup {
                set: Box::new(setup),
            },
        ];
        acts.extend(Form::typed(self.remark).map(|text| EntryKind::Remark {
            on: Subject::Whole,
            step: None,
            fault: false,
            text,
        }));
        acts
    }
}
