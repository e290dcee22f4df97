//! Parsing of what is typed on the keypad, where the decimal point can be omitted, and printing of values.

use super::{Band, Measure};
use crate::unit::{InchForm, Kind, LengthUnit, Value, ValueError, has_fraction};

impl Measure {
    /// Returns the typed text with the decimal point or the unit that it omits, so that for let-off
    /// `18` is `1.8`.
    ///
    /// Digits without a point get as few decimals as make the reading plausible, at most those of the
    /// usual form (three in inches). Lengths that are always under an inch are typed in thousandths in a job in inches:
    /// `3` is `0.003` and `30` is `0.030`. A leading zero stands before the point, so `05` is `0.5` and not 5.
    /// Text with a point, a comma or a unit is returned unchanged, and so is text that is plausible in
    /// no form. In a job in millimeters a fraction gets the unit `in` if only inches are divided so
    /// (8ths and finer), or if only the reading in inches is plausible (halves and quarters).
    ///
    /// ```
    /// use evenhand_core::trade::{Measure, Per};
    /// use evenhand_core::unit::{Kind, LengthUnit};
    ///
    /// let mm = LengthUnit::Millimeter;
    /// let dip = Measure::new("dip", "Dip", Kind::Length, Per::Natural)
    ///     .form(2, 1)
    ///     .plausible(7_000_000, 13_000_000);
    /// assert_eq!(dip.pointed("98", mm), "9.8");
    /// assert_eq!(dip.pointed("105", mm), "10.5");
    /// assert_eq!(dip.pointed("10", mm), "10");
    /// assert_eq!(dip.pointed("9.", mm), "9.");
    /// assert_eq!(dip.pointed("3/8", mm), "3/8 in");
    /// assert_eq!(dip.pointed("9 1/2", mm), "9 1/2");
    /// let level = Measure::new("level", "Level", Kind::Length, Per::Natural)
    ///     .form(1, 2)
    ///     .plausible(-1_000_000, 1_000_000);
    /// assert_eq!(level.pointed("15", mm), "0.15");
    /// assert_eq!(level.pointed("-05", mm), "-0.5");
    /// assert_eq!(level.pointed("005", mm), "0.05");
    /// assert_eq!(level.pointed("3", LengthUnit::Inch), "0.003");
    /// assert_eq!(level.pointed("12", LengthUnit::Inch), "0.012");
    /// ```
    pub fn pointed(&self, typed: &str, length: LengthUnit) -> String {
        let digits = typed.strip_prefix(['-', '−']).unwrap_or(typed);
        let bare = !digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit());
        if self.kind == Kind::Length && !bare {
            return self.with_inches(typed, length);
        }
        if !self.kind.is_number() || !bare {
            return typed.to_owned();
        }
        if self.kind == Kind::Temperature && digits.len() == 2 && typed == digits {
            // Two digits are whole degrees. Where lengths are in inches, what is too warm for a room in °C is in °F.
            let is_warm = digits > "45";
            return match length {
                LengthUnit::Inch if is_warm => format!("{digits} °F"),
                _ => digits.to_owned(),
            };
        }
        let sign = &typed[..typed.len() - digits.len()];
        let with_point = |decimals: usize| {
            let padded = format!("{digits:0>width$}", width = decimals + 1);
            let (whole, part) = padded.split_at(padded.len() - decimals);
            match decimals {
                0 => format!("{sign}{whole}"),
                _ => format!("{sign}{whole}.{part}"),
            }
        };
        // A reading in inches needs up to three decimals, whatever the form in millimeters is.
        let max_decimals = match length {
            LengthUnit::Inch if self.kind == Kind::Length => 3,
            _ => self.form.1 as usize,
        };
        if length == LengthUnit::Inch && self.is_under_an_inch() {
            return with_point(3);
        }
        let zero_first = (max_decimals > 0 && digits.len() > 1 && digits.starts_with('0'))
            .then_some(digits.len() - 1);
        zero_first
            .into_iter()
            .chain(0..=max_decimals)
            .map(with_point)
            .find(|text| {
                self.plausible.is_some()
                    && self
                        .kind
                        .read(text, length)
                        .is_ok_and(|v| self.is_plausible(v))
            })
            .unwrap_or_else(|| typed.to_owned())
    }

    /// Returns `true` if digits alone, typed in a job in inches, came to so few thousandths that a fraction may be meant: under
    /// a quarter of what is acceptable, where 3 for let-off is 0.003 in and not 3/32.
    ///
    /// ```
    /// use evenhand_core::trade::{Band, Instrument};
    /// use evenhand_core::unit::LengthUnit;
    ///
    /// let let_off = Instrument::Grand.measure("let_off").unwrap();
    /// let band = Band::mm(200, 30, 50);
    /// let is_slip = |typed| {
    ///     let value = let_off.read_typed(typed, LengthUnit::Inch).unwrap();
    ///     let_off.is_slip_in_thousandths(typed, value, &band, LengthUnit::Inch)
    /// };
    /// assert!(is_slip("3") && !is_slip("30") && !is_slip("3/32") && !is_slip("0"));
    /// ```
    pub fn is_slip_in_thousandths(
        &self,
        typed: &str,
        value: Value,
        band: &Band,
        length: LengthUnit,
    ) -> bool {
        let bare = typed.bytes().all(|b| b.is_ascii_digit());
        let few = |(low, _): (Option<i64>, Option<i64>)| {
            low.is_some_and(|low| (1..low / 4).contains(&value.base()))
        };
        length == LengthUnit::Inch && bare && self.is_under_an_inch() && few(band.accept)
    }

    /// Returns `true` for a length that is plausible under an inch only.
    fn is_under_an_inch(&self) -> bool {
        let inch = LengthUnit::Inch.nanometers();
        let is_under = |(_, high): (i64, i64)| high < inch;
        self.kind == Kind::Length && self.plausible.is_some_and(is_under)
    }

    /// Returns what is typed as a fraction with this denominator: the last digits become its numerator, so that `13` and
    /// quarters are `1 3/4`. Where the digits can be split in two ways, as `13` and sixteenths, the plausible reading
    /// wins, then the proper fraction without a whole number. A fraction that is typed already gets the denominator
    /// instead of its own; without digits it is one part.
    ///
    /// ```
    /// use evenhand_core::trade::Instrument;
    /// use evenhand_core::unit::LengthUnit;
    ///
    /// let inch = LengthUnit::Inch;
    /// let blow = Instrument::Grand.measure("blow").unwrap();
    /// assert_eq!(blow.with_fraction("13", 4, inch), "1 3/4");
    /// assert_eq!(blow.with_fraction("1 3/4", 8, inch), "1 3/8");
    /// assert_eq!(blow.with_fraction("113", 16, inch), "1 13/16");
    /// let let_off = Instrument::Grand.measure("let_off").unwrap();
    /// assert_eq!(let_off.with_fraction("", 16, inch), "1/16");
    /// assert_eq!(let_off.with_fraction("3", 32, inch), "3/32");
    /// let height = Instrument::Grand.measure("string_height").unwrap();
    /// assert_eq!(height.with_fraction("81", 16, inch), "8 1/16");
    /// ```
    pub fn with_fraction(&self, typed: &str, denominator: u32, length: LengthUnit) -> String {
        let sign = if typed.starts_with(['-', '−']) {
            "-"
        } else {
            ""
        };
        let digits = typed.split('/').next().unwrap_or_default();
        let digits = digits.trim_start_matches(['-', '−']).trim();
        // What is typed with a space is split already.
        if let Some((whole, numerator)) = digits.split_once(' ') {
            return format!("{sign}{whole} {numerator}/{denominator}");
        }
        if digits.is_empty() {
            return format!("{sign}1/{denominator}");
        }
        if !digits.bytes().all(|b| b.is_ascii_digit()) {
            return typed.to_owned();
        }
        let is_proper = |numerator: &str| {
            let parts = numerator.parse::<u32>().unwrap_or(0);
            !numerator.starts_with('0') && (1..denominator).contains(&parts)
        };
        let splits = (0..digits.len()).map(|at| digits.split_at(at));
        let texts: Vec<String> = splits
            .filter(|(_, numerator)| is_proper(numerator))
            .map(|(whole, numerator)| match whole {
                "" => format!("{sign}{numerator}/{denominator}"),
                whole => format!("{sign}{whole} {numerator}/{denominator}"),
            })
            .collect();
        let is_believed = |text: &&String| {
            let read = self.read_typed(text, length);
            read.is_ok_and(|value| self.is_plausible(value))
        };
        let text = texts.iter().find(is_believed).or(texts.first());
        text.cloned()
            .unwrap_or_else(|| format!("{sign}{digits} 1/{denominator}"))
    }

    /// Returns what is typed with the other unit of length, and its value, if it is not plausible in the unit of the job
    /// and is in the other one: `45` in a job in inches is `45 mm`.
    ///
    /// ```
    /// use evenhand_core::trade::Instrument;
    /// use evenhand_core::unit::LengthUnit;
    ///
    /// let blow = Instrument::Grand.measure("blow").unwrap();
    /// let (text, value) = blow.in_other_unit("45", LengthUnit::Inch).unwrap();
    /// assert_eq!((text.as_str(), value.base()), ("45 mm", 45_000_000));
    /// assert!(blow.in_other_unit("45", LengthUnit::Millimeter).is_none());
    /// ```
    pub fn in_other_unit(&self, typed: &str, length: LengthUnit) -> Option<(String, Value)> {
        let other = match length {
            LengthUnit::Millimeter => LengthUnit::Inch,
            LengthUnit::Inch => LengthUnit::Millimeter,
        };
        let is_believed = |value: Value| self.is_plausible(value);
        if self.kind != Kind::Length || self.read_typed(typed, length).is_ok_and(is_believed) {
            return None;
        }
        let text = format!("{} {}", typed.trim(), other.symbol());
        let value = self.kind.read(&text, length).ok()?;
        is_believed(value).then_some((text, value))
    }

    /// Returns the text with the unit `in` if it is a fraction of an inch typed in a job in millimeters,
    /// otherwise unchanged.
    fn with_inches(&self, typed: &str, length: LengthUnit) -> String {
        let inches = format!("{typed} in");
        let read = |text: &str| self.kind.read(text, length).ok();
        let (plain, of_inch) = (read(typed), read(&inches));
        let believed = |value: Option<Value>| value.is_some_and(|v| self.is_plausible(v));
        let alone = has_fraction(typed) && !believed(plain) && believed(of_inch);
        if length == LengthUnit::Millimeter && of_inch.is_some() && (plain == of_inch || alone) {
            return inches;
        }
        typed.to_owned()
    }

    /// Parses what was typed, with the decimal point put in by [`Measure::pointed`].
    ///
    /// # Errors
    /// Returns [`ValueError`] if the text is not a number of this kind, or one that no piano can have
    /// ([`Measure::possible`]).
    ///
    /// ```
    /// use evenhand_core::trade::Instrument;
    /// use evenhand_core::unit::LengthUnit;
    ///
    /// let blow = Instrument::Grand.measure("blow").unwrap();
    /// let refused = blow.read_typed("-1 3/4", LengthUnit::Inch).unwrap_err();
    /// assert_eq!(
    ///     refused.to_string(),
    ///     "−1 3/4 in cannot be: no piano has it. Blow is 0 to 197 in. Nothing was recorded; type it again.",
    /// );
    /// ```
    pub fn read_typed(&self, typed: &str, length: LengthUnit) -> Result<Value, ValueError> {
        let value = self.kind.read(&self.pointed(typed, length), length)?;
        let (low, high) = self.possible();
        if (low..=high).contains(&value.base()) {
            return Ok(value);
        }
        let [least, most] = [low, high].map(|base| self.kind.shown(base, length, 0));
        Err(ValueError::Impossible {
            measure: self.name.to_string(),
            value: self.with_unit(&self.shown(value, length), length),
            range: self.with_unit(&format!("{least} to {most}"), length),
        })
    }

    /// Returns a number in words with the unit of this measure after it, if it has one: `2.0 mm`, `6`.
    ///
    /// ```
    /// use evenhand_core::trade::Instrument;
    /// use evenhand_core::unit::LengthUnit;
    ///
    /// let mm = LengthUnit::Millimeter;
    /// let measure = |id| Instrument::Grand.measure(id).unwrap();
    /// assert_eq!(measure("let_off").with_unit("2.0", mm), "2.0 mm");
    /// assert_eq!(measure("hammer_swings").with_unit("6", mm), "6");
    /// ```
    pub fn with_unit(&self, number: &str, length: LengthUnit) -> String {
        match self.kind.symbol(length) {
            "" => number.to_owned(),
            symbol => format!("{number} {symbol}"),
        }
    }

    /// Returns a value of this measure as text, without its unit: a number with the usual decimals, one
    /// more if the reading is finer, or the word of a grade, good or tick.
    pub fn shown(&self, value: Value, length: LengthUnit) -> String {
        self.shown_in(InchForm::Fraction, value, length)
    }

    /// As [`Measure::shown`], with inches in one form, for the columns of a table.
    pub fn shown_in(&self, form: InchForm, value: Value, length: LengthUnit) -> String {
        match value {
            Value::Grade(grade) => self
                .grades
                .get(usize::from(grade))
                .map_or_else(|| grade.to_string(), |word| word.to_string()),
            Value::Good(true) => "good".to_owned(),
            Value::Good(false) => "needs work".to_owned(),
            Value::Done(true) => "done".to_owned(),
            Value::Done(false) => "not done".to_owned(),
            number => {
                let decimals = self.decimals(number, length);
                self.kind.shown_in(form, number.base(), length, decimals)
            }
        }
    }

    /// Returns how many decimals to print: those of the usual form, one more if the value is finer than
    /// that, so that printing hides no part of the reading. Three for inches.
    fn decimals(&self, value: Value, length: LengthUnit) -> u32 {
        if length == LengthUnit::Inch && self.kind == Kind::Length {
            return 3;
        }
        let usual = self.form.1.min(5);
        let finest = self.kind.per_shown() / 10i64.pow(usual).min(self.kind.per_shown()).max(1);
        usual + u32::from(value.base() % finest.max(1) != 0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::Per;
    use crate::unit::Length;

    fn let_off() -> Measure {
        Measure::new("let_off", "Let-off", Kind::Length, Per::Note)
            .form(1, 1)
            .plausible(500_000, 8_000_000)
    }

    #[test]
    fn digits_alone_take_the_point_of_the_usual_form() {
        let mm = LengthUnit::Millimeter;
        assert_eq!(let_off().pointed("18", mm), "1.8");
        assert_eq!(let_off().pointed("2", mm), "2");
        assert_eq!(
            let_off().read_typed("20", mm),
            Ok(Value::Nm(Length::from_nm(2_000_000)))
        );
    }

    #[test]
    fn a_zero_typed_first_stands_before_the_point() {
        let mm = LengthUnit::Millimeter;
        for (typed, read) in [("05", "0.5"), ("08", "0.8"), ("075", "0.75"), ("0", "0")] {
            let blocks = let_off().plausible(0, 8_000_000);
            assert_eq!(blocks.pointed(typed, mm), read);
        }
        // If the result is not plausible, the leading zero means nothing.
        let blow = Measure::new("blow", "Blow", Kind::Length, Per::Note);
        let blow = blow.form(2, 1).plausible(30_000_000, 60_000_000);
        assert_eq!(blow.pointed("045", mm), "045");
        let weight = Measure::new("weight", "Weight", Kind::Force, Per::Note);
        let weight = weight.form(2, 0).plausible(0, 60_000);
        assert_eq!(weight.pointed("05", mm), "05");
    }

    #[test]
    fn a_typed_point_or_fraction_or_unit_wins() {
        let mm = LengthUnit::Millimeter;
        for typed in [
            "1.8", "18.", "1 1/2", "18mm", "1/16 in", "1,8", "", "-", "abc",
        ] {
            assert_eq!(let_off().pointed(typed, mm), typed);
        }
    }

    #[test]
    fn a_fraction_of_an_inch_rule_is_inches_in_a_job_in_millimeters() {
        let mm = LengthUnit::Millimeter;
        for (typed, shown, nm) in [
            ("1/16", "1/16 in", 1_587_500),
            ("3/32", "3/32 in", 2_381_250),
            ("⅛", "⅛ in", 3_175_000),
            // Not plausible: the user is asked, and the text is not read as something else.
            ("1 1/8", "1 1/8 in", 28_575_000),
            // Halves and quarters are said of millimeters too.
            ("1/2", "1/2", 500_000),
            ("1 3/4", "1 3/4", 1_750_000),
            ("½", "½", 500_000),
        ] {
            assert_eq!(let_off().pointed(typed, mm), shown);
            let read = let_off().read_typed(typed, mm);
            assert_eq!(read, Ok(Value::Nm(Length::from_nm(nm))), "{typed}");
        }
        let blow = Measure::new("blow", "Blow", Kind::Length, Per::Note);
        let blow = blow.form(2, 1).plausible(30_000_000, 60_000_000);
        assert_eq!(blow.pointed("1 3/4", mm), "1 3/4 in");
        assert_eq!(blow.pointed("1 3/4 in", mm), "1 3/4 in");
        assert_eq!(blow.pointed("２", mm), "２");
        assert_eq!(blow.pointed("1 3/4", LengthUnit::Inch), "1 3/4");
    }

    #[test]
    fn what_no_piano_can_have_is_refused_and_what_is_only_unusual_is_not() {
        use crate::trade::Instrument;
        let read = |id: &str, typed: &str, unit| {
            let measure = Instrument::Grand.measure(id).unwrap();
            measure
                .read_typed(typed, unit)
                .map(|v| measure.is_plausible(v))
        };
        let (mm, inch) = (LengthUnit::Millimeter, LengthUnit::Inch);
        for (id, typed, unit) in [
            ("blow", "9999999", inch),
            ("blow", "9999999", mm),
            ("blow", "-1 3/4", inch),
            ("let_off", "-0.1", mm),
            ("natural_level", "-6000.5", mm),
            ("down_weight", "-50", mm),
            ("hammer_swings", "-6", mm),
            ("humidity", "101", mm),
            ("temperature", "75.5", mm),
            // Not 6.8 °C.
            ("temperature", "68", mm),
            ("pitch_a4", "99999", mm),
        ] {
            let refused = read(id, typed, unit);
            assert!(
                matches!(refused, Err(ValueError::Impossible { .. })),
                "{id} {typed}"
            );
        }
        for (id, typed, unit, plausible) in [
            ("blow", "45", inch, false),
            ("blow", "4500", mm, false),
            ("blow", "0", mm, false),
            ("blow", "1 3/4", inch, true),
            ("natural_level", "-0.25", mm, true),
            ("natural_level", "-3.5", mm, false),
            ("humidity", "100", mm, false),
            ("temperature", "-20.5", mm, false),
            ("temperature", "50", mm, false),
            ("temperature", "21", mm, true),
            ("temperature", "215", mm, true),
            ("temperature", "68", inch, true),
            ("temperature", "68 °F", mm, true),
        ] {
            assert_eq!(read(id, typed, unit), Ok(plausible), "{id} {typed}");
        }
    }

    #[test]
    fn every_plausible_value_is_possible() {
        use crate::trade::Instrument;
        for instrument in [Instrument::Grand, Instrument::Upright] {
            for measure in instrument.measures() {
                let (least, most) = measure.possible();
                let (low, high) = measure.plausible.unwrap_or((least, most));
                assert!(least <= low && high <= most, "{}", measure.id);
            }
        }
    }

    #[test]
    fn what_is_plausible_in_no_form_stays_as_typed() {
        assert_eq!(let_off().pointed("999", LengthUnit::Millimeter), "999");
    }

    #[test]
    fn a_finer_reading_is_shown_with_one_more_decimal() {
        let mm = LengthUnit::Millimeter;
        let shown = |nm| let_off().shown(Value::Nm(Length::from_nm(nm)), mm);
        assert_eq!(shown(1_800_000), "1.8");
        assert_eq!(shown(1_850_000), "1.85");
        assert_eq!(shown(1_587_500), "1.59");
    }
}
