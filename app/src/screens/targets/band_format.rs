//! A band as it is typed: an aim with two widths around it, or each limit separately.

use evenhand_core::trade::{Band, Measure};
use evenhand_core::unit::{LengthUnit, Value};

use crate::parts::fields::{FieldSpec, Validation};
use crate::text;

/// How the bands of a measure are typed.
#[derive(Clone, Copy)]
pub struct BandFormat<'a> {
    /// The measure of the bands.
    pub measure: &'a Measure,
    /// The unit of bare lengths.
    pub length: LengthUnit,
    /// Whether each limit is typed separately.
    pub limits: bool,
}

impl BandFormat<'_> {
    /// Returns the fields of a band.
    pub fn specs(&self) -> Vec<FieldSpec> {
        let unit = text::unit(self.measure, self.length);
        let labels: &[&str] = match self.limits {
            false => &["Aim", "On target ±", "Acceptable ±"],
            true => &["Aim", "On target from", "to", "Acceptable from", "to"],
        };
        labels.iter().map(|l| FieldSpec::number(*l, unit)).collect()
    }

    fn shown(&self, base: i64) -> String {
        let value = Value::from_base(self.measure.kind, base);
        self.measure.shown(value, self.length)
    }

    /// Returns the texts of the fields of a band, or empty texts without one.
    pub fn texts(&self, band: Option<&Band>) -> Vec<String> {
        let Some(band) = band else {
            return vec![String::new(); self.specs().len()];
        };
        let limit = |limit: Option<i64>| limit.map_or_else(String::new, |l| self.shown(l));
        let mut texts = vec![self.shown(band.aim)];
        match (self.limits, band.widths()) {
            (false, Some((within, accept))) => {
                texts.extend([within, accept].map(|w| self.shown(w)))
            }
            (false, None) => texts.extend([String::new(), String::new()]),
            (true, _) => {
                let (within, accept) = (band.within, band.accept);
                texts.extend([within.0, within.1, accept.0, accept.1].map(limit));
            }
        }
        texts
    }

    /// Returns the band that was typed; asks once if the aim is not plausible.
    pub fn read(&self, texts: &[String], confirmed: bool) -> Result<Band, Validation> {
        let no = |sentence: String| Validation::Refused(sentence);
        let aim = self
            .measure
            .read_typed(&texts[0], self.length)
            .map_err(|e| no(e.to_string()))?;
        if !confirmed && !self.measure.is_plausible(aim) {
            return Err(Validation::Confirm(text::doubt(
                self.measure,
                aim,
                self.length,
            )));
        }
        let number = |text: &String| {
            let read = self.measure.kind.read(text, self.length);
            read.map(Value::base).map_err(|e| no(e.to_string()))
        };
        let limit = |text: &String| match text.trim().is_empty() {
            true => Ok(None),
            false => number(text).map(Some),
        };
        let band = match self.limits {
            false => Band::even(aim.base(), number(&texts[1])?, number(&texts[2])?),
            true => Band {
                aim: aim.base(),
                within: (limit(&texts[1])?, limit(&texts[2])?),
                accept: (limit(&texts[3])?, limit(&texts[4])?),
            },
        };
        band.check().map_err(|e| no(e.to_string()))?;
        Ok(band)
    }
}
